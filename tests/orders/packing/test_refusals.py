"""What wrap, boxes and freezer refuse, each by its code and on record."""

from __future__ import annotations

from typing import Any

import pytest

from orders.ledger.holds import open_hold
from orders.ledger.models import Piece, Run
from orders.packing.actions import (
    bring_to_wrap,
    finish_wrap,
    new_box,
    pack,
    put_in_box,
    store,
    void_package,
)
from shop.models import Choice, Part
from tests.orders.floor.tablet import refused
from tests.scenario import lb


@pytest.fixture
def table(scenario: Any, by: Any) -> Run:
    """A deer's whole cuts on the table."""
    lugs = scenario.ground(scenario.deer())
    return bring_to_wrap(lugs["whole_cuts"], by=by("wrap")).fetch(Run)


def backstrap() -> dict[str, Any]:
    return {"part": Part.objects.get(code="backstrap"), "choice": Choice.objects.get(code="steaks")}


def test_a_carcass_is_not_for_wrap(scenario: Any, by: Any) -> None:
    with refused("not_for_wrap"):
        bring_to_wrap(scenario.deer().pieces.get(kind="carcass"), by=by("wrap"))


def test_one_hunter_on_the_table_at_a_time(scenario: Any, by: Any, table: Run) -> None:
    other = scenario.ground(scenario.deer(tag="WT-2"))
    with refused("table_busy"):
        bring_to_wrap(other["ground"], by=by("wrap"))


def test_a_lug_comes_once(scenario: Any, by: Any, table: Run) -> None:
    lug = Piece.objects.get(lines__run=table, lines__direction="in")
    with refused("lug_not_waiting"):
        bring_to_wrap(lug, by=by("wrap"))


@pytest.mark.parametrize(
    ("weights", "unweighed"), [((), 0), ((), 201), (("1",) * 150, 51), ((), -1), (("1",), -1)]
)
def test_how_many_packs(by: Any, table: Run, weights: tuple[str, ...], unweighed: int) -> None:
    scales = tuple(lb(weight) for weight in weights)
    with refused("how_many"):
        pack(table, by=by("wrap"), **backstrap(), weights=scales, unweighed=unweighed)


@pytest.mark.parametrize("count", [0, -1, 501])
def test_how_many_in_a_pack(by: Any, table: Run, count: int) -> None:
    with refused("count_wrong"):
        pack(table, by=by("wrap"), **backstrap(), unweighed=1, count=count)


@pytest.mark.parametrize(("part", "choice"), [("backstrap", "ground"), ("ribs", "discard")])
def test_a_cut_that_cannot_be(by: Any, table: Run, part: str, choice: str) -> None:
    cut = {"part": Part.objects.get(code=part), "choice": Choice.objects.get(code=choice)}
    with refused("cut_unknown"):
        pack(table, by=by("wrap"), **cut, unweighed=1)


def test_a_hold_stops_the_table(by: Any, table: Run) -> None:
    open_hold(table.animal, by=by("counter"), kind="recall")
    with refused("on_hold"):
        pack(table, by=by("wrap"), **backstrap(), unweighed=1)
    with refused("on_hold"):
        finish_wrap(table, by=by("wrap"))


@pytest.mark.parametrize("step", ["block", "grind", "freezer", "counter"])
def test_packing_is_done_at_wrap(by: Any, table: Run, step: str) -> None:
    with refused("wrong_station"):
        pack(table, by=by(step), **backstrap(), unweighed=1)


def test_a_finished_table_is_not_finished_twice(scenario: Any, by: Any) -> None:
    packages = scenario.packed(scenario.deer())
    with refused("run_closed"):
        finish_wrap(packages[0].run, by=by("wrap"))


def test_only_a_box_is_filled(scenario: Any, by: Any) -> None:
    packages = scenario.packed(scenario.deer())
    with refused("not_a_box"):
        put_in_box(packages[0].piece, by=by("wrap"), packages=(packages[1],))


def test_a_void_pack_goes_in_no_box(scenario: Any, by: Any, table: Run) -> None:
    package = table.packages.model.objects.get(
        pk=scenario.pack(table, "backstrap", "steaks", "1", count=4)[0]
    )
    void_package(package, by=by("wrap"), reason="torn")
    box = new_box(table.animal.order, by=by("wrap")).fetch(Piece)
    with refused("piece_ended"):
        put_in_box(box, by=by("wrap"), packages=(package,))


def test_a_box_keeps_to_its_order(scenario: Any, by: Any) -> None:
    mine, theirs = scenario.packed(scenario.deer()), scenario.packed(scenario.deer(tag="WT-2"))
    box = new_box(mine[0].animal.order, by=by("wrap")).fetch(Piece)
    with refused("wrong_order"):
        put_in_box(box, by=by("wrap"), packages=(mine[0], theirs[0]))
    assert not box.inside.exists()


@pytest.mark.parametrize(("kind", "place", "code"), [
    ("lug", "shelf", "not_to_store"),
    ("kept", "rail", "wrong_place"),
    ("package", "hook", "wrong_place"),
])  # fmt: skip
def test_what_belongs_elsewhere_is_not_stored_here(
    scenario: Any, by: Any, places: Any, kind: str, place: str, code: str
) -> None:
    deer = scenario.deer()
    scenario.packed(deer)
    with refused(code):
        store(deer.pieces.filter(kind=kind).first(), by=by("freezer"), place=getattr(places, place))
