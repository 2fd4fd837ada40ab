"""Two people at the same moment: one wins, the other is told so, and nothing is there twice.

Each thread has a connection of its own. The last tests take a guard away and show the double that it prevents.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, transaction
from django.utils import timezone

from orders.cutsheets.actions import save_cut_sheet
from orders.floor.block import open_animal
from orders.floor.grind import start_grind
from orders.floor.skin import hang_up
from orders.intake.actions import new_order, record_tag
from orders.intake.models import Animal, Order
from orders.ledger.entry import Answer, By
from orders.ledger.holds import open_hold
from orders.ledger.models import Event, Movement, Piece, Run
from orders.ledger.refusal import Refusal
from orders.packing.actions import bring_to_wrap, pack, put_in_box
from orders.packing.models import Package
from orders.pickup.actions import release
from shop.counters import take
from shop.models import Choice, Counter, Part, Person, Role
from tests.scenario import Scenario, lb

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(*jobs: Callable[[], Any]) -> list[Any]:
    """Do all jobs at the same moment, each in its own thread; what each returned or raised, in order."""
    start = threading.Barrier(len(jobs))
    results: list[Any] = [None] * len(jobs)

    def work(n: int, job: Callable[[], Any]) -> None:
        try:
            start.wait(20)
            results[n] = job()
        except Exception as error:
            results[n] = error
        finally:
            connection.close()

    threads = [threading.Thread(target=work, args=(n, job)) for n, job in enumerate(jobs)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    return results


def refused(results: list[Any]) -> list[str]:
    """The codes of the refusals; anything that is neither an answer nor a refusal fails the test."""
    faults = [each for each in results if not isinstance(each, Answer | Refusal)]
    assert faults == []
    return [each.code for each in results if isinstance(each, Refusal)]


@pytest.fixture
def second_cutter(people: Any) -> Person:
    return Person.objects.create_user("bram", first_name="Bram", last_name="Holloway", role=Role.FLOOR)


@pytest.mark.parametrize("attempt", range(3))
def test_two_cutters_open_the_same_animal(
    scenario: Scenario, by: Callable[[str], By], second_cutter: Person, attempt: int
) -> None:
    animal = scenario.hung(scenario.deer())
    save_cut_sheet(animal, by=by("counter"))
    block = by("block").station
    cutters = (by("block").person, second_cutter)
    results = at_once(
        *(
            lambda cutter=cutter: open_animal(Animal.objects.get(pk=animal.pk), by=By(cutter, None, block))
            for cutter in cutters
        )
    )
    assert refused(results) == ["already_open"]
    winner = cutters[[isinstance(each, Answer) for each in results].index(True)]
    told = next(each.sentence for each in results if isinstance(each, Refusal))
    assert told.startswith(f"{winner} has had 26-0001 open at Block 1 since ")
    assert Run.objects.filter(kind="cut").count() == 1
    assert (
        Movement.objects.filter(piece__animal=animal, state_to="table", event__verb="open_animal").count()
        == 1
    )


def test_four_clerks_write_new_orders(scenario: Scenario, people: Any, by: Callable[[str], By]) -> None:
    def five() -> list[str]:
        orders = (new_order(scenario.season, by=by("counter")).fetch(Order) for _ in range(5))
        return [order.number for order in orders]

    results = at_once(five, five, five, five)
    numbers = sorted(number for each in results for number in each)
    assert numbers == [f"26-{n:04d}" for n in range(1, 21)]
    assert len(set(Order.objects.values_list("code", flat=True))) == 20


def test_the_same_sending_arrives_twice(scenario: Scenario, by: Callable[[str], By]) -> None:
    uid = uuid4()
    results = at_once(*[lambda: new_order(scenario.season, by=by("counter"), sender_id=uid)] * 3)
    assert refused(results) == []
    assert {(each.shown, each.refs["order"]) for each in results} == {
        (results[0].shown, results[0].refs["order"])
    }
    assert sorted(each.repeated for each in results) == [False, True, True]
    assert (Event.objects.filter(uid=uid).count(), Order.objects.count()) == (1, 1)


def test_the_same_refused_sending_arrives_twice(scenario: Scenario, by: Callable[[str], By]) -> None:
    carcass, uid = scenario.deer().pieces.get(), uuid4()
    door = scenario.places.door
    results = at_once(
        *[lambda: hang_up(Piece.objects.get(pk=carcass.pk), by=by("cooler"), sender_id=uid, place=door)] * 2
    )
    assert refused(results) == ["not_cold", "not_cold"]
    assert Event.objects.filter(uid=uid).count() == 1


def test_two_hunters_meat_at_one_grinder(scenario: Scenario, by: Callable[[str], By]) -> None:
    lugs = [scenario.cut(scenario.deer(tag=tag))["grind_trim"] for tag in ("T-1", "T-2")]
    results = at_once(
        *(lambda lug=lug: start_grind(Piece.objects.get(pk=lug.pk), by=by("grind")) for lug in lugs)
    )
    assert refused(results) in (["grinder_busy"], ["somebody_was_faster"])
    assert Run.objects.filter(kind="grind", closed_at=None).count() == 1


def test_two_hunters_meat_at_one_wrap_table(scenario: Scenario, by: Callable[[str], By]) -> None:
    lugs = [scenario.cut(scenario.deer(tag=tag))["whole_cuts"] for tag in ("T-1", "T-2")]
    results = at_once(
        *(lambda lug=lug: bring_to_wrap(Piece.objects.get(pk=lug.pk), by=by("wrap")) for lug in lugs)
    )
    assert refused(results) == ["table_busy"]
    assert Run.objects.filter(kind="wrap", closed_at=None).count() == 1


def test_two_lugs_of_one_hunter_come_to_the_same_table(scenario: Scenario, by: Callable[[str], By]) -> None:
    animal = scenario.deer()
    lugs = [*scenario.ground(animal).values(), animal.pieces.get(kind="tenderloin")]
    results = at_once(
        *(lambda lug=lug: bring_to_wrap(Piece.objects.get(pk=lug.pk), by=by("wrap")) for lug in lugs)
    )
    assert refused(results) == []
    assert {each.refs["run"] for each in results} == {Run.objects.get(kind="wrap").pk}


def test_two_wrappers_number_their_packs(scenario: Scenario, by: Callable[[str], By]) -> None:
    run = bring_to_wrap(scenario.ground(scenario.deer())["ground"], by=by("wrap")).fetch(Run)
    part, choice = Part.objects.get(code="grind-trim"), Choice.objects.get(code="ground")

    def four() -> Answer:
        mine = Run.objects.get(pk=run.pk)
        return pack(mine, by=by("wrap"), part=part, choice=choice, weights=(lb("1"),) * 4)

    assert refused(at_once(four, four, four)) == []
    assert sorted(Package.objects.values_list("n", flat=True)) == list(range(1, 13))
    assert Piece.objects.filter(kind="package").values("code").distinct().count() == 12


def test_the_last_pounds_are_packed_once(scenario: Scenario, by: Callable[[str], By]) -> None:
    """Each would be within what hung, both together not."""
    run = bring_to_wrap(scenario.ground(scenario.deer())["ground"], by=by("wrap")).fetch(Run)
    part, choice = Part.objects.get(code="grind-trim"), Choice.objects.get(code="ground")

    def sixty() -> Answer:
        mine = Run.objects.get(pk=run.pk)
        return pack(mine, by=by("wrap"), part=part, choice=choice, weights=(lb("20"),) * 3)

    assert refused(at_once(sixty, sixty)) == ["packed_beyond_hung"]


def test_a_box_is_handed_over_once(scenario: Scenario, by: Callable[[str], By]) -> None:
    animal = scenario.deer()
    box = scenario.stored(animal)

    def hand_over() -> Answer:
        order = Order.objects.get(pk=animal.order_id)
        return release(order, by=by("counter"), pieces=(box,), collector="Rowan Sedgewick", initials="RS")

    assert refused(at_once(hand_over, hand_over)) == ["collected_already"]
    assert animal.order.releases.count() == 1


def test_a_hold_and_a_handing_over(scenario: Scenario, by: Callable[[str], By]) -> None:
    """Whichever is first: either the hold stops it, or it had left already."""
    animal = scenario.deer()
    box = scenario.stored(animal)

    def hand_over() -> Answer:
        order = Order.objects.get(pk=animal.order_id)
        return release(order, by=by("counter"), pieces=(box,), collector="Rowan Sedgewick", initials="RS")

    results = at_once(hand_over, lambda: open_hold(animal, by=by("counter"), kind="recall"))
    codes = refused(results)
    verbs = list(Event.objects.filter(outcome="ok").order_by("-id").values_list("verb", flat=True)[:2])
    box.refresh_from_db()
    if codes:
        assert (codes, box.state, verbs[0]) == (["on_hold"], "stored", "open_hold")
    else:
        assert (box.state, verbs) == ("collected", ["open_hold", "release"])


def test_one_tag_is_one_animal(scenario: Scenario, by: Callable[[str], By]) -> None:
    animals = [scenario.deer(tag="") for _ in range(2)]
    results = at_once(
        *(lambda each=each: record_tag(each, by=by("counter"), tag_no="WT-77") for each in animals)
    )
    assert refused(results) == ["tag_taken"]
    assert Animal.objects.filter(tag_no="WT-77").count() == 1


def test_packs_go_into_a_box_and_are_not_lost(scenario: Scenario, by: Callable[[str], By]) -> None:
    """Two boxes, the same packs, at once: they end in one box, all together, with one chain of movements."""
    from orders.packing.actions import new_box

    animal = scenario.deer()
    packages = tuple(scenario.packed(animal))
    boxes = [new_box(animal.order, by=by("wrap")).fetch(Piece) for _ in range(2)]
    results = at_once(*(lambda box=box: put_in_box(box, by=by("wrap"), packages=packages) for box in boxes))
    refused(results)
    inside = [box.inside.count() for box in boxes]
    assert sorted(inside) == [0, len(packages)]


# --- why the guards are there -----------------------------------------------------------------------------------


def test_without_the_counter_two_orders_get_one_number(db: None) -> None:
    """Read, then write: both read the same number. `take` gives two."""
    Counter.objects.create(name="season-1", next=7)
    between = threading.Barrier(2)

    def read_then_write() -> int:
        number = Counter.objects.get(name="season-1").next
        between.wait(20)
        Counter.objects.filter(name="season-1").update(next=number + 1)
        return number

    def taken() -> int:
        with transaction.atomic():
            return take("season-1")

    assert at_once(read_then_write, read_then_write) == [7, 7]
    assert sorted(at_once(taken, taken)) == [8, 9]


@pytest.mark.spoils_ledger
def test_without_compare_and_set_a_piece_leaves_twice(scenario: Scenario) -> None:
    """Both see it hanging; plainly written both believe to have moved it, with the old state asked only one does."""
    carcass = scenario.hung(scenario.deer()).pieces.get(kind="carcass")

    def moved(*, ask: bool) -> Callable[[], int]:
        between = threading.Barrier(2)

        def job() -> int:
            seen = Piece.objects.get(pk=carcass.pk)
            between.wait(20)
            mine = Piece.objects.filter(pk=carcass.pk)
            if ask:
                mine = mine.filter(state=seen.state, place=seen.place_id)
            return mine.update(state="table", place=scenario.places.door)

        return job

    plainly, asking = moved(ask=False), moved(ask=True)
    assert at_once(plainly, plainly) == [1, 1]
    Piece.objects.filter(pk=carcass.pk).update(state="hanging", place=scenario.places.rail)
    assert sorted(at_once(asking, asking)) == [0, 1]


@pytest.mark.spoils_ledger
def test_without_the_constraint_an_animal_is_open_twice(scenario: Scenario, by: Callable[[str], By]) -> None:
    """Both look and find nothing open. The database's own rule stops the second; without it there are two runs."""
    animal = scenario.hung(scenario.deer())
    rule = next(each for each in Run._meta.constraints if each.name == "run_one_open_of_a_kind")

    def look_then_open() -> Callable[[int], int]:
        between = threading.Barrier(2)

        def job(n: int) -> int:
            free = not Run.objects.filter(animal=animal, kind="cut", closed_at=None).exists()
            between.wait(20)
            assert free
            who = by("block")
            return Run.objects.create(
                code=f"899999999{n}",
                kind="cut",
                animal=animal,
                station=who.station,
                opened_by=who.person,
                opened_at=timezone.now(),
            ).pk

        return job

    job = look_then_open()
    results = at_once(lambda: job(1), lambda: job(2))
    assert sum(isinstance(each, IntegrityError) for each in results) == 1
    Run.objects.filter(kind="cut").delete()
    with connection.schema_editor() as editor:
        editor.remove_constraint(Run, rule)
    try:
        job = look_then_open()
        results = at_once(lambda: job(3), lambda: job(4))
        assert all(isinstance(each, int) for each in results)
        assert Run.objects.filter(animal=animal, kind="cut", closed_at=None).count() == 2
    finally:
        Run.objects.filter(kind="cut").delete()
        with connection.schema_editor() as editor:
            editor.add_constraint(Run, rule)
