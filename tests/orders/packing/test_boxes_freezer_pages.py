"""Boxes and the freezer: filling by tap, tick and scan, storing by tile and scan."""

from __future__ import annotations

from typing import Any

import pytest

from orders.intake.models import Order
from orders.ledger.models import Piece
from orders.packing.models import Package
from shop.models import PlaceKind
from shop.places import add_place
from tests.orders.floor.tablet import Tablet, banner, last_event, words


@pytest.fixture
def packed(scenario: Any, tablet: Tablet) -> tuple[Tablet, Order, list[Package]]:
    """A deer's 45 packs in no box."""
    deer = scenario.deer()
    packages = scenario.packed(deer)
    return tablet.at("wrap"), deer.order, packages


def box_of(tablet: Tablet, order: Order) -> Piece:
    tablet.post("floor-new-box", order.pk)
    box = Piece.objects.filter(kind="box", order=order).last()
    assert box is not None
    return box


def test_all_packs_into_a_new_box(packed: tuple[Tablet, Order, list[Package]]) -> None:
    tablet, order, packages = packed
    assert f"{len(packages)} packs in no box." in words(tablet.get("floor-boxes", order.pk))
    page = tablet.post("floor-new-box", order.pk)
    box = Piece.objects.get(kind="box")
    assert tablet.landed(page) == f"/floor/boxes/{box.pk}/"
    page = tablet.post("floor-box", box.pk, all="1")
    assert box.inside.count() == len(packages)
    assert f"{len(packages)} packs in it." in words(page)
    assert "Every pack is in a box." in words(tablet.get("floor-boxes", order.pk))


def test_ticked_packs_only(packed: tuple[Tablet, Order, list[Package]]) -> None:
    tablet, order, packages = packed
    box = box_of(tablet, order)
    tablet.post("floor-box", box.pk, packages=[packages[0].pk, packages[3].pk])
    assert sorted(box.inside.values_list("n", flat=True)) == [packages[0].n, packages[3].n]


def test_packs_are_scanned_into_the_open_box(packed: tuple[Tablet, Order, list[Package]]) -> None:
    tablet, order, packages = packed
    box = box_of(tablet, order)
    page = tablet.scan(packages[1].piece.code, piece=str(box.pk))
    assert tablet.landed(page) == f"/floor/boxes/{box.pk}/"
    assert banner(page)[0] == "good"
    page = tablet.scan(packages[1].piece.code, piece=str(box.pk))
    kind, said = banner(page)
    assert (kind, last_event().refusal) == ("already", "in_the_box")
    assert "is in box 1 already" in said
    assert box.inside.count() == 1


def test_nothing_ticked_is_said(packed: tuple[Tablet, Order, list[Package]]) -> None:
    tablet, order, _ = packed
    page = tablet.post("floor-box", box_of(tablet, order).pk)
    assert (page.status_code, last_event().refusal) == (422, "no_packs")
    assert "There is nothing to put in the box." in words(page)


def test_another_orders_pack_stays_out(packed: tuple[Tablet, Order, list[Package]], scenario: Any) -> None:
    tablet, order, _ = packed
    stranger = scenario.packed(scenario.deer(tag="WT-2"))[0]
    box = box_of(tablet, order)
    page = tablet.scan(stranger.piece.code, piece=str(box.pk))
    assert last_event().refusal == "wrong_order"
    assert f"the box is {order.number}'s" in banner(page)[1]
    page = tablet.post("floor-box", box.pk, packages=[stranger.pk])
    assert page.status_code == 422
    assert "One of these packs is in a box by now." in words(page)
    assert box.inside.count() == 0


def test_scan_a_box_then_its_shelf(packed: tuple[Tablet, Order, list[Package]], places: Any) -> None:
    tablet, order, _ = packed
    box = box_of(tablet, order)
    tablet.post("floor-box", box.pk, all="1")
    page = tablet.at("freezer").get("floor")
    assert [each.pk for each in page.context["freezer"].boxes] == [box.pk]
    assert tablet.landed(tablet.scan(box.code)) == f"/floor/pieces/{box.pk}/store/"
    page = tablet.scan(places.shelf.code, piece=str(box.pk))
    assert banner(page) == ("good", f"Done. {order.number}: box 1 is at Shelf 1.")
    box.refresh_from_db()
    order.refresh_from_db()
    assert (box.state, box.place, order.state) == ("stored", places.shelf, "ready")
    assert f"Shelf 1 1 {order.number} box 1" in words(tablet.get("floor"))


def test_a_box_is_stored_by_tile_and_moved(packed: tuple[Tablet, Order, list[Package]], places: Any) -> None:
    tablet, order, _ = packed
    box = box_of(tablet, order)
    tablet.post("floor-box", box.pk, all="1")
    tablet.at("freezer").post("floor-store", box.pk, place=places.shelf.pk)
    page = tablet.post("floor-store", box.pk, place=places.shelf.pk)
    assert (page.status_code, last_event().refusal) == (422, "there_already")
    other = add_place("Shelf 2", PlaceKind.FREEZER)
    tablet.post("floor-store", box.pk, place=other.pk)
    box.refresh_from_db()
    assert box.place == other


def test_an_empty_box_is_not_stored(packed: tuple[Tablet, Order, list[Package]], places: Any) -> None:
    tablet, order, _ = packed
    box = box_of(tablet, order)
    page = tablet.at("freezer").post("floor-store", box.pk, place=places.shelf.pk)
    assert (page.status_code, last_event().refusal) == (422, "box_empty")


def test_a_pack_in_a_box_goes_with_its_box(packed: tuple[Tablet, Order, list[Package]], places: Any) -> None:
    tablet, order, packages = packed
    box = box_of(tablet, order)
    tablet.post("floor-box", box.pk, all="1")
    page = tablet.at("freezer").post("floor-store", packages[0].piece_id, place=places.shelf.pk)
    assert (page.status_code, last_event().refusal) == (422, "in_a_box")


def test_kept_parts_find_their_hook(scenario: Any, tablet: Tablet, places: Any) -> None:
    elk = scenario.elk()
    head = elk.pieces.get(kind="kept")
    page = tablet.at("freezer").get("floor")
    assert [piece.pk for piece in page.context["freezer"].kept] == [head.pk]
    tablet.scan(head.code)
    tablet.scan(places.hook.code, piece=str(head.pk))
    head.refresh_from_db()
    assert (head.state, head.place) == ("stored", places.hook)
    assert tablet.get("floor").context["freezer"].kept == []


def test_a_shelf_is_not_for_a_rail(packed: tuple[Tablet, Order, list[Package]], places: Any) -> None:
    tablet, order, _ = packed
    box = box_of(tablet, order)
    tablet.post("floor-box", box.pk, all="1")
    page = tablet.at("freezer").scan(places.rail.code, piece=str(box.pk))
    assert last_event().refusal == "wrong_place"
    assert "box 1 does not belong at Rail A." in banner(page)[1]
    assert tablet.landed(page) == f"/floor/pieces/{box.pk}/store/"


def test_packs_of_finished_tables_in_no_box_are_listed(
    packed: tuple[Tablet, Order, list[Package]],
) -> None:
    tablet, order, packages = packed
    page = tablet.at("freezer").get("floor")
    assert page.context["freezer"].loose == [(order, len(packages))]
