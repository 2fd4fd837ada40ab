"""The cooler's pages: what hangs where, what is late, what is still to pull, and moving by tile or scan."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest

from orders.floor.skin import finish_skinning, start_skinning, take_off
from orders.intake.models import Animal
from orders.ledger.holds import open_hold
from orders.ledger.models import Run
from shop.models import PlaceKind
from shop.places import add_place
from tests.orders.floor.tablet import Tablet, banner, last_event, words
from tests.scenario import lb


@pytest.fixture
def hung_at(scenario: Any, by: Any, places: Any) -> Callable[..., Animal]:
    """A deer hung at a moment, its tenderloins still in."""

    def hang(moment: datetime, tag: str) -> Animal:
        deer = scenario.deer(tag=tag)
        run = start_skinning(deer.pieces.get(kind="carcass"), by=by("skin"), at=moment).fetch(Run)
        take_off(run, by=by("skin"), what="antlers", keep=True, at=moment)
        finish_skinning(run, by=by("skin"), place=places.rail, weight=lb("98"), left_in="later", at=moment)
        deer.refresh_from_db()
        return deer

    return hang


def test_says_age_and_lateness_in_words(
    tablet: Tablet, hung_at: Callable[..., Animal], at: Callable[[float], datetime]
) -> None:
    fresh = hung_at(at(1), "WT-1")
    limit = fresh.species.hang_limit_days
    late = hung_at(at(24 * (limit + 2)), "WT-2")
    said = words(tablet.at("cooler").get("floor"))
    assert f"{fresh.label} carcass aging: 0 of {fresh.species.hang_days} days" in said
    assert f"{late.label} carcass LATE: hangs {limit + 2} days, limit {limit}" in said
    assert "1 late: longer than the limit of its species." in said
    assert "Rail A 2" in said


def test_tenderloins_are_on_the_list_after_a_day(
    tablet: Tablet, hung_at: Callable[..., Animal], at: Callable[[float], datetime]
) -> None:
    fresh, yesterday = hung_at(at(1), "WT-1"), hung_at(at(30), "WT-2")
    page = tablet.at("cooler").get("floor")
    listed = page.context["cooler"].to_pull
    assert [(pull.animal.pk, pull.sides) for pull in listed] == [(yesterday.pk, "left and right")]
    assert fresh.pk not in {pull.animal.pk for pull in listed}
    page = tablet.post("floor-tenderloins", yesterday.pk, side="both", not_weighed="1")
    assert tablet.landed(page) == "/floor/"
    assert page.context["cooler"].to_pull == []


def test_an_answered_side_is_not_on_the_list(
    tablet: Tablet, hung_at: Callable[..., Animal], at: Callable[[float], datetime]
) -> None:
    deer = hung_at(at(30), "WT-1")
    tablet.at("cooler").post("floor-tenderloins", deer.pk, side="left", not_weighed="1")
    assert [pull.sides for pull in tablet.get("floor").context["cooler"].to_pull] == ["right"]


def test_hangs_a_quarter_by_tile_with_its_weight(scenario: Any, tablet: Tablet, places: Any) -> None:
    elk = scenario.elk()
    quarter = elk.pieces.get(name__icontains="hind quarter, left")
    page = tablet.at("cooler").post("floor-cooler-piece", quarter.pk, place=places.rack.pk, weight="58.0")
    assert tablet.landed(page) == "/floor/"
    quarter.refresh_from_db()
    assert (quarter.state, quarter.place) == ("hanging", places.rack)
    assert quarter.weighings.get(point="hanging").net == 580


def test_a_carcass_with_its_hide_on_is_not_asked_for_a_weight(
    scenario: Any, tablet: Tablet, places: Any
) -> None:
    carcass = scenario.deer().pieces.get(kind="carcass")
    page = tablet.at("cooler").get("floor-cooler-piece", carcass.pk)
    assert 'name="weight"' not in page.content.decode()
    tablet.post("floor-cooler-piece", carcass.pk, place=places.rail.pk, weight="99")
    carcass.refresh_from_db()
    assert (carcass.state, carcass.weighings.filter(point="hanging").count()) == ("hanging", 0)


def test_moves_to_a_scanned_place_though_on_hold(scenario: Any, tablet: Tablet, by: Any) -> None:
    deer = scenario.hung(scenario.deer())
    open_hold(deer, by=by("counter"), kind="disease_test")
    other = add_place("Rail B", PlaceKind.RAIL)
    carcass = deer.pieces.get(kind="carcass")
    page = tablet.at("cooler").scan(carcass.code)
    assert tablet.landed(page) == f"/floor/cooler/{carcass.pk}/"
    page = tablet.scan(other.code, piece=str(carcass.pk))
    assert banner(page) == ("good", f"Done. {deer.label}: carcass is at Rail B.")
    carcass.refresh_from_db()
    assert carcass.place == other


def test_a_place_scanned_twice_is_there_already(
    scenario: Any, tablet: Tablet, places: Any, people: Any
) -> None:
    carcass = scenario.hung(scenario.deer()).pieces.get(kind="carcass")
    page = tablet.at("cooler").scan(places.rail.code, piece=str(carcass.pk))
    kind, said = banner(page)
    assert (kind, last_event().refusal) == ("already", "there_already")
    assert f"carcass is at Rail A already, by {people.cutter} at" in said


def test_a_place_alone_is_answered_and_recorded(scenario: Any, tablet: Tablet, places: Any) -> None:
    page = tablet.at("cooler").scan(places.rail.code)
    assert last_event().refusal == "place_alone"
    assert banner(page)[1] == "Not done. Rail A was scanned. Scan first what goes there, then the place."


def test_a_tenderloin_bag_is_moved(scenario: Any, tablet: Tablet) -> None:
    deer = scenario.hung(scenario.deer())
    bag = deer.pieces.get(kind="tenderloin")
    other = add_place("Rack 2", PlaceKind.RACK)
    assert tablet.landed(tablet.at("cooler").scan(bag.code)) == f"/floor/bags/{bag.pk}/"
    tablet.post("floor-bag", bag.pk, place=other.pk)
    bag.refresh_from_db()
    assert (bag.place, bag.state) == (other, "waiting")


def test_a_piece_on_the_table_is_not_moved_that_way(scenario: Any, tablet: Tablet, places: Any) -> None:
    deer = scenario.deer()
    scenario.opened(deer)
    carcass = deer.pieces.get(kind="carcass")
    page = tablet.at("cooler").post("floor-cooler-piece", carcass.pk, place=places.rack.pk)
    assert (page.status_code, last_event().refusal) == (422, "not_to_move")
