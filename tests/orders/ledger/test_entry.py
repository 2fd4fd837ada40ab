"""The engine: one action, one transaction, one event; a repeat is harmless, a refusal leaves nothing but itself."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.utils import timezone

from orders.floor.block import fill_lug, open_animal
from orders.floor.skin import finish_skinning, hang_up, start_skinning, take_off
from orders.intake.actions import add_animal, end_animal, new_order, record_order, weigh_received
from orders.intake.models import Animal, Order
from orders.ledger.action import action
from orders.ledger.entry import Answer, By, Entry
from orders.ledger.models import Event, Movement, Piece, Run, RunLine, Weighing
from orders.ledger.payload import digest, plain
from orders.ledger.refusal import Refusal
from shop.models import Counter, Species
from tests.scenario import DEER, lb


def counts() -> dict[str, int]:
    tables: tuple[Any, ...] = (Order, Animal, Piece, Run, RunLine, Weighing, Movement)
    return {table.__name__: table.objects.count() for table in tables}


def test_the_same_id_gets_the_first_answer_and_changes_nothing(scenario: Any, by: Any) -> None:
    uid = uuid4()
    first = new_order(scenario.season, by=by("counter"), sender_id=uid)
    before = counts()
    again = new_order(scenario.season, by=by("counter"), sender_id=uid)
    assert (first.repeated, again.repeated) == (False, True)
    assert (again.shown, again.refs, again.uid) == (first.shown, first.refs, first.uid)
    assert counts() == before
    assert Event.objects.filter(uid=uid).count() == 1


def test_the_same_id_with_another_payload_is_refused(scenario: Any, by: Any) -> None:
    uid = uuid4()
    new_order(scenario.season, by=by("counter"), sender_id=uid)
    before = counts()
    with pytest.raises(Refusal) as refused:
        new_order(scenario.season, by=by("counter"), sender_id=uid, rush=True)
    assert refused.value.code == "same_id_other_payload"
    assert counts() == before
    assert Event.objects.get(uid=uid).outcome == "ok"


def test_the_same_id_of_another_verb_is_refused(scenario: Any, by: Any) -> None:
    uid, order = uuid4(), scenario.order()
    record_order(order, by=by("counter"), sender_id=uid)
    with pytest.raises(Refusal) as refused:
        new_order(scenario.season, by=by("counter"), sender_id=uid)
    assert refused.value.code == "same_id_other_payload"


def test_a_refusal_comes_again_word_by_word(scenario: Any, by: Any) -> None:
    """Though it could be done by now: the sender asks what became of that one request."""
    animal, uid = scenario.deer(weight=""), uuid4()
    carcass = animal.pieces.get()
    said = []
    for _ in range(2):
        with pytest.raises(Refusal) as refused:
            weigh_received(carcass, by=by("counter"), sender_id=uid, weight=lb("0"))
        said.append((refused.value.code, refused.value.sentence, refused.value.field))
    assert said[0] == said[1]
    assert said[0][::2] == ("weight_zero", "weight")
    assert Event.objects.filter(uid=uid).count() == 1


def test_a_refusal_is_recorded_and_undone_whole(scenario: Any, by: Any) -> None:
    """`finish_skinning` weighs and writes lines before it refuses the place: nothing of that stays."""
    animal = scenario.deer()
    run = start_skinning(animal.pieces.get(), by=by("skin")).fetch(Run)
    take_off(run, by=by("skin"), what="antlers", keep=True)
    before = counts()
    with pytest.raises(Refusal) as refused:
        finish_skinning(run, by=by("skin"), place=scenario.places.door, weight=lb("98.4"), left_in="later")
    assert refused.value.code == "not_cold"
    assert counts() == before
    event = Event.objects.latest("id")
    assert (event.verb, event.outcome, event.refusal) == ("finish_skinning", "refused", "not_cold")
    assert event.shown == refused.value.sentence
    assert (event.order, event.animal, event.run) == (animal.order, animal, run)
    assert (event.person, event.station) == (by("skin").person, by("skin").station)
    assert event.data["payload"]["weight"]["gross"] == {"value": 984, "unit": "lb", "decimals": 1}


def test_a_refusal_that_made_its_own_subject_names_what_is_left_of_it(scenario: Any, by: Any) -> None:
    """The animal was made inside the refused savepoint: the event keeps the order and drops the animal."""
    order = scenario.order()
    with pytest.raises(Refusal) as refused:
        scenario.deer(order, weight="900")
    assert refused.value.code == "weight_impossible"
    event = Event.objects.latest("id")
    assert (event.order, event.animal) == (order, None)
    assert Animal.objects.count() == 0


def test_a_refusal_gives_its_numbers_back(scenario: Any, by: Any) -> None:
    order = scenario.order()
    before = dict(Counter.objects.values_list("name", "next"))
    with pytest.raises(Refusal):
        scenario.deer(order, weight="900")
    assert dict(Counter.objects.values_list("name", "next")) == before


def test_a_fault_records_nothing(scenario: Any, by: Any) -> None:
    """What is not a refusal is a fault of ours: it goes up, and leaves neither changes nor an event."""

    @action("stumble")
    def stumble(entry: Entry, order: Order) -> Answer:
        Order.objects.filter(pk=entry.about(order).pk).update(note="half done")
        raise ZeroDivisionError

    order, events = scenario.order(), Event.objects.count()
    with pytest.raises(ZeroDivisionError):
        stumble(order, by=by("counter"))
    order.refresh_from_db()
    assert order.note == ""
    assert Event.objects.count() == events


def test_an_action_inside_an_action_is_a_fault(scenario: Any, by: Any) -> None:
    @action("nest")
    def nest(entry: Entry, order: Order) -> Answer:
        return record_order(order, by=entry.by)

    with pytest.raises(RuntimeError, match="cannot be part of another"):
        nest(scenario.order(), by=by("counter"))
    record_order(scenario.order(), by=by("counter"))


def test_a_clock_that_runs_ahead_is_not_believed(scenario: Any, by: Any) -> None:
    now = timezone.now()
    new_order(scenario.season, by=by("counter"), at=now + timedelta(hours=3))
    event = Event.objects.latest("id")
    assert now <= event.at <= timezone.now()


def test_a_clock_a_minute_ahead_is_believed(scenario: Any, by: Any) -> None:
    ahead = timezone.now() + timedelta(minutes=1)
    new_order(scenario.season, by=by("counter"), at=ahead)
    assert Event.objects.latest("id").at == ahead


def test_what_comes_late_keeps_the_time_it_happened(scenario: Any, by: Any, at: Any) -> None:
    then = at(30)
    order = new_order(scenario.season, by=by("counter"), at=then).fetch(Order)
    event = Event.objects.latest("id")
    assert (order.created_at, event.at) == (then, then)
    assert event.received_at > then + timedelta(hours=29)


@pytest.mark.parametrize("step", ["counter", "skin", "cooler", "grind", "wrap", "freezer"])
def test_the_wrong_station_is_refused_and_the_right_one_named(scenario: Any, by: Any, step: str) -> None:
    animal = scenario.hung(scenario.deer())
    with pytest.raises(Refusal) as refused:
        open_animal(animal, by=by(step))
    assert refused.value.code == "wrong_station"
    assert "the block" in refused.value.sentence
    assert by(step).station.name in refused.value.sentence


def test_no_station_is_refused(scenario: Any, by: Any) -> None:
    carcass = scenario.deer().pieces.get()
    with pytest.raises(Refusal) as refused:
        hang_up(carcass, by=By(by("skin").person), place=scenario.places.rail)
    assert refused.value.code == "no_station"


def test_compare_and_set_refuses_what_has_moved_meanwhile(scenario: Any, by: Any) -> None:
    """A piece looked at before somebody else moved it."""

    @action("move_stale")
    def move_stale(entry: Entry, order: Order, *, stale: Piece) -> Answer:
        entry.about(order)
        entry.move(stale, state=stale.state, place=scenario.places.rack, cold=True)
        return Answer("moved")

    animal = scenario.deer()
    stale = animal.pieces.get()
    hang_up(animal.pieces.get(), by=by("cooler"), place=scenario.places.rail)
    with pytest.raises(Refusal) as refused:
        move_stale(animal.order, by=by("cooler"), stale=stale)
    assert refused.value.code == "moved_meanwhile"
    assert animal.pieces.get().place == scenario.places.rail


def test_what_has_ended_moves_no_more(scenario: Any, by: Any) -> None:
    @action("move_ended")
    def move_ended(entry: Entry, piece: Piece) -> Answer:
        entry.about(piece)
        entry.move(piece, state="hanging", place=scenario.places.rail, cold=True)
        return Answer("moved")

    animal = scenario.deer()
    scenario.cut(animal)
    carcass = animal.pieces.get(kind="carcass")
    assert carcass.state == "used"
    with pytest.raises(Refusal) as refused:
        move_ended(carcass, by=by("cooler"))
    assert refused.value.code == "piece_ended"


def test_an_animal_without_a_tag_is_not_worked_on(scenario: Any, by: Any) -> None:
    animal = scenario.deer(tag="")
    assert animal.state == "not_received"
    with pytest.raises(Refusal) as refused:
        start_skinning(animal.pieces.get(), by=by("skin"))
    assert refused.value.code == "not_received"


@pytest.mark.parametrize("ending", ["refused", "spoiled", "void"])
def test_an_animal_that_ended_is_not_worked_on(scenario: Any, by: Any, ending: str) -> None:
    animal = scenario.deer()
    end_animal(animal, by=by("counter"), ending=ending, reason="sour through")
    animal.refresh_from_db()
    assert animal.state == ending
    with pytest.raises(Refusal) as refused:
        start_skinning(animal.pieces.get(), by=by("skin"))
    assert refused.value.code == "animal_ended"


def test_two_runs_cannot_be_open_even_if_the_guard_is_passed(scenario: Any, by: Any) -> None:
    """The constraint in the database turns into a refusal, recorded like any other."""

    @action("open_blindly")
    def open_blindly(entry: Entry, animal: Animal) -> Answer:
        entry.about(animal)
        assert entry.by.station is not None
        run = Run.objects.create(
            code="8999999991",
            kind="cut",
            animal=animal,
            station=entry.by.station,
            opened_by=entry.by.person,
            opened_at=entry.at,
        )
        return Answer("open", {"run": run.pk})

    run = scenario.opened(scenario.deer())
    with pytest.raises(Refusal) as refused:
        open_blindly(run.animal, by=by("block"))
    assert refused.value.code == "somebody_was_faster"
    assert Event.objects.latest("id").refusal == "somebody_was_faster"
    assert Run.objects.filter(kind="cut").count() == 1


def test_the_number_of_an_order_follows_the_season(scenario: Any, by: Any) -> None:
    numbers = [new_order(scenario.season, by=by("counter")).fetch(Order).number for _ in range(3)]
    assert numbers == ["26-0001", "26-0002", "26-0003"]


def test_the_event_keeps_the_scanned_code_cut_to_its_column(scenario: Any, by: Any) -> None:
    new_order(scenario.season, by=by("counter"), raw_code="9" * 200)
    assert Event.objects.latest("id").raw_code == "9" * 60


def test_lugs_are_numbered_on_after_one_was_taken_back(scenario: Any, by: Any) -> None:
    from orders.ledger.voids import void_lug

    run = scenario.opened(scenario.deer())
    first = fill_lug(run, by=by("block"), contents="whole_cuts", weight=lb("5")).fetch(Piece)
    void_lug(first, by=by("block"), reason="the wrong animal's")
    second = fill_lug(run, by=by("block"), contents="whole_cuts", weight=lb("5")).fetch(Piece)
    assert (first.n, second.n) == (1, 2)


def test_a_set_has_one_fingerprint_whatever_its_order() -> None:
    names = [f"part-{n}" for n in range(50)]
    assert plain(set(names)) == plain(set(reversed(names))) == sorted(names)
    assert digest("v", plain({"b": 1, "a": 2})) == digest("v", plain({"a": 2, "b": 1}))
    assert digest("v", plain({"a": 1})) != digest("w", plain({"a": 1}))


def test_a_piece_of_anothers_order_is_not_taken_for_ones_own(scenario: Any, by: Any) -> None:
    """The event of a piece is about the order that the piece is of."""
    deer = scenario.deer()
    add_animal(
        scenario.order("Juniper Vale", "406-555-0118"),
        by=by("counter"),
        species=Species.objects.get(code="mule-deer"),
        arrived_as="whole",
        facts=DEER,
        place=scenario.places.door,
        tag_no="MD-7",
    )
    hang_up(deer.pieces.get(), by=by("cooler"), place=scenario.places.rail)
    event = Event.objects.latest("id")
    assert (event.order, event.animal) == (deer.order, deer)
