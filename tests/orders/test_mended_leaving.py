"""What must not leave does not, what must leave can, and nothing leaves twice."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from orders.billing.actions import mark_paid, set_amount, unmark_paid
from orders.floor.grind import start_grind, take_from_grinder
from orders.intake.actions import correct_animal, end_animal
from orders.intake.models import Animal
from orders.ledger.entry import By
from orders.ledger.holds import open_hold, release_hold
from orders.ledger.models import Piece, Run
from orders.ledger.weights import packed_mg
from orders.packing.actions import (
    bring_to_wrap,
    finish_wrap,
    new_box,
    pack,
    put_in_box,
    store,
    void_package,
)
from orders.packing.models import Package
from orders.packing.queries import wrap_groups
from orders.pickup.actions import close_order, hand_back_ended, haul_ended, release, reopen_order
from orders.pickup.queries import leaving, pieces_left
from shop.models import Choice, Part
from shop.weights import pounds
from tests.orders.floor.tablet import refused
from tests.orders.pools import grind_together, pool_in_box, pool_on_table, taken_in, two_deer
from tests.scenario import DEER, Scenario, lb

Stations = Callable[[str], By]
SOMEBODY = {"collector": "Rowan Sedgewick", "initials": "RS"}


def fresh(thing: Any) -> Any:
    return type(thing)._default_manager.get(pk=thing.pk)


# --- holds on meat that was ground together ---------------------------------------------------------------------


def test_a_hold_on_one_animal_stops_the_box_of_the_pool(scenario: Scenario, by: Stations) -> None:
    order, first, second = two_deer(scenario)
    grind_together(scenario, first, second)
    box = pool_in_box(scenario, order)
    hold = open_hold(second, by=by("counter"), kind="disease_test", note="sample 12").refs["hold"]
    (shown,) = (row for row in leaving(order) if row.piece == box)
    assert shown.stopped == f"{second.label} on hold: disease test pending"
    with refused("on_hold"):
        release(order, by=by("counter"), pieces=(box,), **SOMEBODY)
    release_hold(second.holds.get(pk=hold), by=by("counter"), note="not detected")
    release(order, by=by("counter"), pieces=(box,), **SOMEBODY)
    assert fresh(box).state == "collected"


def test_a_hold_on_one_animal_stops_boxing_and_packing_the_pool(scenario: Scenario, by: Stations) -> None:
    order, first, second = two_deer(scenario)
    grind_together(scenario, first, second)
    run = pool_on_table(scenario, order)
    ids = scenario.pack(run, "grind-trim", "ground", "10")
    box = new_box(order, by=by("wrap")).fetch(Piece)
    packages = tuple(Package.objects.filter(pk__in=ids))
    open_hold(first, by=by("counter"), kind="recall")
    with refused("on_hold"):
        put_in_box(box, by=by("wrap"), packages=packages)
    with refused("on_hold"):
        scenario.pack(run, "grind-trim", "ground", "10")
    release_hold(first.holds.get(), by=by("counter"), note="another lot")
    put_in_box(box, by=by("wrap"), packages=packages)
    assert box.inside.count() == 1


def test_a_hold_on_an_animal_that_is_not_in_the_pool_does_not_stop_it(
    scenario: Scenario, by: Stations
) -> None:
    order, first, second = two_deer(scenario)
    third = scenario.deer(order, tag="WT-3")
    grind_together(scenario, first, second)
    open_hold(third, by=by("counter"), kind="recall")
    (group,) = (group for group in wrap_groups() if group.owner == order)
    assert group.why_not == ""
    box = pool_in_box(scenario, order)
    assert [row.stopped for row in leaving(order) if row.piece == box] == [""]
    release(order, by=by("counter"), pieces=(box,), **SOMEBODY)
    assert fresh(box).state == "collected"


def test_the_wrap_queue_says_that_the_pool_is_held(scenario: Scenario, by: Stations) -> None:
    order, first, second = two_deer(scenario)
    grind_together(scenario, first, second)
    open_hold(first, by=by("counter"), kind="recall")
    (group,) = (group for group in wrap_groups() if group.owner == order)
    assert group.why_not == f"{first.label} is on hold: recall"


def test_an_animal_in_the_pool_is_held_not_ended(scenario: Scenario, by: Stations) -> None:
    order, first, second = two_deer(scenario)
    grind_together(scenario, first, second)
    with refused("pooled_already"):
        end_animal(first, by=by("counter"), ending="spoiled", reason="smells")
    open_hold(first, by=by("counter"), kind="spoiled", note="smells")
    with refused("on_hold"):
        pool_on_table(scenario, order)


def test_an_animal_in_the_open_grinder_is_not_ended_and_the_grinder_goes_on(
    scenario: Scenario, by: Stations
) -> None:
    _, first, second = two_deer(scenario)
    lugs = [scenario.cut(animal)["grind_trim"] for animal in (first, second)]
    run = [start_grind(lug, by=by("grind")).fetch(Run) for lug in lugs][-1]
    with refused("pooled_already"):
        end_animal(first, by=by("counter"), ending="spoiled", reason="smells")
    take_from_grinder(run, by=by("grind"), weight=lb("50"))
    assert first.pieces.get(contents="grind_trim").state == "table"


def test_an_animal_alone_in_the_grinder_can_be_ended_and_leaves_it_free(
    scenario: Scenario, by: Stations
) -> None:
    deer = scenario.deer()
    lug = scenario.cut(deer)["grind_trim"]
    start_grind(lug, by=by("grind"))
    end_animal(deer, by=by("counter"), ending="spoiled", reason="smells")
    assert fresh(lug).state == "waiting"
    other = scenario.cut(scenario.deer(tag="WT-2"))["grind_trim"]
    start_grind(other, by=by("grind"))
    assert fresh(other).state == "table"


# --- what has left ----------------------------------------------------------------------------------------------


def test_a_pack_that_left_in_its_box_is_not_boxed_again(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    box = scenario.stored(deer)
    order, packs = deer.order, list(deer.packages.order_by("n"))
    second = new_box(order, by=by("wrap")).fetch(Piece)
    put_in_box(second, by=by("wrap"), packages=(packs[0],))
    store(second, by=by("freezer"), place=scenario.places.shelf)
    release(order, by=by("counter"), pieces=(fresh(box),), **SOMEBODY)
    for pack_gone in packs[1:3]:
        with refused("piece_ended"):
            put_in_box(second, by=by("freezer"), packages=(pack_gone,))
    release(order, by=by("counter"), pieces=(fresh(second), deer.pieces.get(kind="kept")), **SOMEBODY)
    assert fresh(order).state == "collected"


def test_a_pack_that_left_is_not_voided_nor_its_pounds_packed_again(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    run = bring_to_wrap(scenario.ground(deer)["whole_cuts"], by=by("wrap")).fetch(Run)
    gone, here = (
        Package.objects.get(pk=pk) for pk in scenario.pack(run, "backstrap", "steaks", "5", "4", count=4)
    )
    box = new_box(deer.order, by=by("wrap")).fetch(Piece)
    put_in_box(box, by=by("wrap"), packages=(gone,))
    store(box, by=by("freezer"), place=scenario.places.shelf)
    release(deer.order, by=by("counter"), pieces=(fresh(box),), **SOMEBODY)
    with refused("piece_ended"):
        void_package(gone, by=by("wrap"), reason="torn")
    assert packed_mg(deer) == pounds(9)
    void_package(here, by=by("wrap"), reason="torn")
    assert packed_mg(deer) == pounds(5)


def test_a_stored_single_pack_can_still_be_boxed(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    single = scenario.packed(deer)[0]
    store(single.piece, by=by("freezer"), place=scenario.places.shelf)
    box = new_box(deer.order, by=by("wrap")).fetch(Piece)
    put_in_box(box, by=by("wrap"), packages=(single,))
    assert (fresh(single.piece).state, fresh(single.piece).container) == ("packed", box)


# --- a second disease test --------------------------------------------------------------------------------------


def test_a_later_disease_test_holds_again(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer(facts=replace(DEER, disease_test="asked"))
    release_hold(deer.holds.get(), by=by("counter"), note="asked in error")
    sampled = replace(DEER, disease_test="sampled", sample_no="77")
    correct_animal(deer, by=by("counter"), facts=sampled)
    hold = deer.holds.get(released_at=None)
    assert (hold.kind, hold.note) == ("disease_test", "sample 77")
    release_hold(hold, by=by("counter"), note="not detected")
    # Another fact corrected later is no new test.
    correct_animal(deer, by=by("counter"), facts=replace(sampled, condition_note="mud on the hams"))
    assert not deer.holds.filter(released_at=None).exists()


# --- what ended early leaves too --------------------------------------------------------------------------------


def ended(scenario: Scenario, by: Stations, ending: str = "refused") -> Animal:
    deer = scenario.deer()
    end_animal(deer, by=by("counter"), ending=ending, reason="warm, dirty")
    return deer


def test_a_refused_animal_is_handed_back_with_a_name(scenario: Scenario, by: Stations) -> None:
    deer = ended(scenario, by)
    made = hand_back_ended(deer, by=by("counter"), **SOMEBODY)
    carcass = deer.pieces.get()
    assert (carcass.state, carcass.place.sink) == ("collected", "collected")
    released = deer.order.releases.get(pk=made.refs["release"])
    assert (released.collector, released.initials, released.n) == ("Rowan Sedgewick", "RS", 1)
    with refused("nothing_left"):
        haul_ended(deer, by=by("counter"), where="county landfill")


def test_what_spoiled_is_hauled_with_everything_that_came_off_it(scenario: Scenario, by: Stations) -> None:
    deer = scenario.hung(scenario.deer())
    end_animal(deer, by=by("counter"), ending="spoiled", reason="sour")
    with refused("animal_ended"):
        release(deer.order, by=by("counter"), pieces=(deer.pieces.get(kind="kept"),), **SOMEBODY)
    haul_ended(deer, by=by("counter"), where="county landfill, ticket 7")
    assert set(deer.pieces.values_list("state", flat=True)) == {"hauled"}
    assert pieces_left(deer.order) == []


def test_the_pickup_page_says_where_the_antlers_of_a_spoiled_deer_are_handed_back(
    scenario: Scenario, by: Stations
) -> None:
    deer = scenario.hung(scenario.deer())
    end_animal(deer, by=by("counter"), ending="spoiled", reason="sour")
    assert [row.stopped for row in leaving(deer.order)] == ["spoiled: it goes back from its own page"]


@pytest.mark.parametrize(
    ("facts", "code"),
    [
        ({"collector": " ", "initials": "RS"}, "collector_missing"),
        ({"collector": "Rowan Sedgewick", "initials": ""}, "mark_missing"),
    ],
)
def test_handing_back_needs_a_name_and_initials(
    scenario: Scenario, by: Stations, facts: dict[str, str], code: str
) -> None:
    with refused(code):
        hand_back_ended(ended(scenario, by), by=by("counter"), **facts)


def test_hauling_needs_a_hauler_and_an_ended_animal(scenario: Scenario, by: Stations) -> None:
    with refused("not_ended"):
        haul_ended(scenario.deer(tag="WT-9"), by=by("counter"), where="county landfill")
    with refused("where_missing"):
        haul_ended(ended(scenario, by), by=by("counter"), where=" ")


def test_a_hold_keeps_what_spoiled_from_the_hunter_but_not_from_the_hauler(
    scenario: Scenario, by: Stations
) -> None:
    deer = scenario.deer()
    open_hold(deer, by=by("counter"), kind="disease_test")
    end_animal(deer, by=by("counter"), ending="spoiled", reason="sour")
    with refused("on_hold"):
        hand_back_ended(deer, by=by("counter"), **SOMEBODY)
    haul_ended(deer, by=by("counter"), where="county landfill")
    assert deer.pieces.get().state == "hauled"


def test_an_animal_written_down_by_mistake_keeps_no_order_open(scenario: Scenario, by: Stations) -> None:
    order = scenario.order()
    done, mistake = scenario.deer(order, tag="WT-1"), scenario.deer(order, tag="WT-2")
    box = scenario.stored(done)
    end_animal(mistake, by=by("counter"), ending="void", reason="written down twice")
    assert mistake.pieces.get().state == "void"
    release(order, by=by("counter"), pieces=(box, done.pieces.get(kind="kept")), **SOMEBODY)
    close_order(order, by=by("counter"))
    assert fresh(order).closed_at is not None


# --- paid and closed, and back ----------------------------------------------------------------------------------


def test_paid_is_taken_back_with_a_reason(scenario: Scenario, by: Stations) -> None:
    order = scenario.deer().order
    with refused("not_paid"):
        unmark_paid(order, by=by("counter"), reason="the check came back")
    set_amount(order, by=by("counter"), cents=9_500)
    mark_paid(order, by=by("counter"), how="check")
    with refused("reason_missing"):
        unmark_paid(order, by=by("counter"), reason=" ")
    unmark_paid(order, by=by("counter"), reason="the check came back")
    assert fresh(order).owed_cents == 9_500
    set_amount(order, by=by("counter"), cents=10_000)
    mark_paid(order, by=by("counter"), how="cash")
    assert fresh(order).owed_cents == 0


def test_a_closed_order_is_left_alone_until_it_is_reopened(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    box = scenario.stored(deer)
    order = deer.order
    with refused("not_closed"):
        reopen_order(order, by=by("counter"), reason="wrong one")
    close_order(order, by=by("counter"), reason="the wrong one")
    for attempt in (
        lambda: scenario.bring(deer, "organs", "2"),
        lambda: new_box(order, by=by("wrap")),
        lambda: release(order, by=by("counter"), pieces=(box,), **SOMEBODY),
        lambda: taken_in(scenario, "elk", "pieces", "E-1", order),
        lambda: open_hold(deer, by=by("counter"), kind="recall"),
    ):
        with refused("order_closed"):
            attempt()
    with refused("reason_missing"):
        reopen_order(order, by=by("counter"), reason="")
    reopen_order(order, by=by("counter"), reason="closed the wrong one")
    assert (fresh(order).state, fresh(order).closed_at, fresh(order).close_reason) == ("ready", None, "")
    release(order, by=by("counter"), pieces=(box, deer.pieces.get(kind="kept")), **SOMEBODY)
    assert fresh(order).state == "collected"


def test_everything_at_the_table_of_a_pool_ends_in_packs(scenario: Scenario, by: Stations) -> None:
    """The whole road of meat ground together, with nothing in its way."""
    order, first, second = two_deer(scenario)
    grind_together(scenario, first, second)
    run = pool_on_table(scenario, order)
    scenario.pack(run, "grind-trim", "ground", *["1"] * 49)
    finish_wrap(run, by=by("wrap"))
    assert packed_mg(order) == 49 * pounds(1)
    with refused("run_closed"):
        pack(run, by=by("wrap"), **ground_meat(), weights=(lb("1"),))


def ground_meat() -> dict[str, Any]:
    return {"part": Part.objects.get(code="grind-trim"), "choice": Choice.objects.get(code="ground")}
