"""One deer and one elk through the whole job, by actions alone, with the state after every stage."""

from __future__ import annotations

from collections.abc import Callable

from orders.floor.grind import finish_grind, start_grind, take_from_grinder
from orders.intake.models import Animal, Order
from orders.ledger.entry import By
from orders.ledger.models import Event, Piece, PieceKind, PieceState, Run
from orders.packing.actions import bring_to_wrap, finish_wrap, new_box, put_in_box, store
from orders.packing.models import Package
from orders.pickup.actions import close_order, notify, release
from orders.pickup.queries import pieces_left, pieces_to_hand_over
from tests.scenario import Scenario, lb


def fresh(animal: Animal) -> tuple[str, str]:
    animal = Animal.objects.select_related("order").get(pk=animal.pk)
    return animal.state, animal.order.state


def test_a_deer_goes_through_every_state(scenario: Scenario, by: Callable[[str], By]) -> None:
    order = scenario.order()
    assert order.state == "booked"
    deer = scenario.deer(order)
    assert fresh(deer) == ("received", "received")
    box = scenario.stored(deer)
    assert fresh(deer) == ("ready", "ready")
    assert deer.hung_at is not None
    order.refresh_from_db()
    assert order.ready_at is not None
    notify(order, by=by("counter"), how="phone")
    assert fresh(deer) == ("ready", "notified")
    antlers = deer.pieces.get(kind=PieceKind.KEPT)
    release(order, by=by("counter"), pieces=(antlers,), collector="Rowan Sedgewick", initials="RS")
    assert fresh(deer) == ("ready", "notified")
    release(order, by=by("counter"), pieces=(box,), collector="Rowan Sedgewick", mark=[[[0, 0], [500, 900]]])
    assert pieces_left(order) == []
    close_order(order, by=by("counter"))
    assert fresh(deer) == ("collected", "collected")
    refused = Event.objects.filter(outcome="refused")
    assert list(refused) == []


def test_a_deer_is_skinned_cut_ground_wrapped_and_frozen_in_that_order(
    scenario: Scenario, by: Callable[[str], By]
) -> None:
    deer = scenario.deer()
    scenario.hung(deer)
    assert fresh(deer)[0] == "hanging"
    lugs = scenario.cut(deer)
    assert fresh(deer)[0] == "grinding"
    run = start_grind(lugs["grind_trim"], by=by("grind")).fetch(Run)
    assert fresh(deer)[0] == "grinding"
    ground = take_from_grinder(run, by=by("grind"), weight=lb("25.8")).fetch(Piece)
    finish_grind(run, by=by("grind"))
    assert fresh(deer)[0] == "wrapping"
    for lug in (lugs["whole_cuts"], ground, deer.pieces.get(kind=PieceKind.TENDERLOIN)):
        run = bring_to_wrap(lug, by=by("wrap")).fetch(Run)
    scenario.pack(run, "tenderloin", "whole", "1.05")
    scenario.pack(run, "top-round", "steaks", *["2.2"] * 10, count=4)
    scenario.pack(run, "grind-trim", "ground", *["1.0"] * 25)
    assert fresh(deer)[0] == "wrapping"
    finish_wrap(run, by=by("wrap"))
    assert fresh(deer)[0] == "freezing"
    box = new_box(deer.order, by=by("freezer")).fetch(Piece)
    put_in_box(box, by=by("freezer"), packages=tuple(Package.objects.filter(animal=deer)))
    assert fresh(deer)[0] == "freezing"
    store(box, by=by("freezer"), place=scenario.places.shelf)
    assert fresh(deer)[0] == "ready"


def test_an_elk_in_seven_pieces_is_one_animal(scenario: Scenario, by: Callable[[str], By]) -> None:
    elk = scenario.elk()
    body = elk.pieces.filter(kind__in=[PieceKind.QUARTER, PieceKind.BAG])
    assert body.count() == 7
    assert elk.pieces.get(kind=PieceKind.KEPT).name == "head"
    assert len(set(elk.pieces.values_list("code", flat=True))) == 8
    scenario.cut(elk, whole="108", trim="74")
    assert fresh(elk)[0] == "grinding"
    assert set(body.values_list("state", flat=True)) == {PieceState.USED}


def test_an_order_of_two_animals_is_as_far_as_the_slower_one(scenario: Scenario) -> None:
    order = scenario.order()
    first = scenario.deer(order)
    second = scenario.deer(order, tag="WT-10022", weight="88")
    scenario.packed(first)
    assert [animal.n for animal in (first, second)] == [1, 2]
    assert fresh(first) == ("freezing", "received")


def test_part_of_an_order_may_leave_first(scenario: Scenario, by: Callable[[str], By]) -> None:
    deer = scenario.deer()
    packages, order = scenario.packed(deer), deer.order
    boxes = []
    for half in (packages[:20], packages[20:]):
        box = new_box(order, by=by("freezer")).fetch(Piece)
        put_in_box(box, by=by("freezer"), packages=tuple(half))
        store(box, by=by("freezer"), place=scenario.places.shelf)
        boxes.append(box)
    release(order, by=by("counter"), pieces=(boxes[0],), collector="Rowan Sedgewick", initials="RS")
    assert Order.objects.get(pk=order.pk).state == "partly_collected"
    assert [piece.name for piece in pieces_to_hand_over(order)] == ["box 2", "antlers"]
