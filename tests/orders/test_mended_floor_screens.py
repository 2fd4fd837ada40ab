"""The floor's ways back: put back what was opened by mistake, and weigh again what hangs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from orders.floor.grind import start_grind
from orders.floor.skin import hang_up, start_skinning
from orders.ledger.entry import By
from orders.ledger.models import Event, Piece, Run
from orders.ledger.voids import put_back
from orders.ledger.weights import hung_mg
from orders.packing.actions import bring_to_wrap
from shop.weights import pounds
from tests.orders.floor.tablet import Tablet, banner, last_event, words
from tests.orders.pools import pieces_of_elk, two_deer
from tests.scenario import Scenario

Stations = Callable[[str], By]
LINK = "Put back: opened by mistake"


@pytest.fixture
def tablet(people: Any, stations: Any) -> Tablet:
    """The cutter's tablet, at no station yet."""
    client = Client()
    client.force_login(people.cutter)
    return Tablet(client, stations)


def opened(scenario: Scenario, by: Stations, kind: str) -> Run:
    """A job of this kind, just opened."""
    if kind == "skin":
        return start_skinning(scenario.deer().pieces.get(), by=by("skin")).fetch(Run)
    if kind == "cut":
        return scenario.opened(scenario.deer())
    lugs = scenario.cut(scenario.deer())
    if kind == "grind":
        return start_grind(lugs["grind_trim"], by=by("grind")).fetch(Run)
    return bring_to_wrap(lugs["whole_cuts"], by=by("wrap")).fetch(Run)


PAGE = {
    "skin": ("skin", "floor-skin", "carcass"),
    "cut": ("block", "floor-block", "carcass"),
    "grind": ("grind", "floor-grind", "lug 2, grind trim"),
    "wrap": ("wrap", "floor-wrap", "lug 1, whole cuts"),
}


@pytest.mark.parametrize("kind", PAGE)
def test_each_job_can_be_put_back_from_its_page(
    scenario: Scenario, by: Stations, tablet: Tablet, kind: str
) -> None:
    run = opened(scenario, by, kind)
    step, name, piece = PAGE[kind]
    page = tablet.at(step).get(name, run.pk)
    assert LINK in words(page)
    assert f'href="{reverse("floor-put-back", args=[run.pk])}"' in page.content.decode()
    assert f"Opened by mistake: {piece} back to where it was." in words(tablet.get("floor-put-back", run.pk))
    done = tablet.post("floor-put-back", run.pk, reason_tile="Wrong animal", reason="")
    assert tablet.landed(done) == "/floor/"
    assert banner(done)[0] == "good"
    assert "everything is back where it was" in banner(done)[1]
    run.refresh_from_db()
    assert (run.put_back, run.close_reason) == (True, "Wrong animal")
    assert last_event().station.step == step


@pytest.mark.parametrize("kind", PAGE)
def test_a_job_that_bore_something_does_not_offer_it(
    scenario: Scenario, by: Stations, tablet: Tablet, kind: str
) -> None:
    run = opened(scenario, by, kind)
    step, name, _ = PAGE[kind]
    tablet.at(step)
    if kind == "skin":
        tablet.post("floor-take-off", run.pk, "feet", keep="waste", not_weighed="1")
    elif kind == "cut":
        tablet.post("floor-waste", run.pk, "waste", not_weighed="1")
    elif kind == "grind":
        tablet.post("floor-fat", run.pk, kind="pork", not_weighed="1")
    else:
        scenario.pack(run, "backstrap", "steaks", "1.1", count=4)
    assert LINK not in words(tablet.get(name, run.pk))
    page = tablet.post("floor-put-back", run.pk, reason_tile="Wrong animal", reason="")
    assert (page.status_code, last_event().refusal) == (422, "work_began")
    assert "Something came of it already: take that back first." in words(page)
    run.refresh_from_db()
    assert run.closed_at is None


def test_without_a_reason_it_is_refused_beside_the_field_and_what_was_typed_is_kept(
    scenario: Scenario, by: Stations, tablet: Tablet
) -> None:
    run = opened(scenario, by, "skin")
    page = tablet.at("skin").post("floor-put-back", run.pk, reason_tile="", reason="")
    assert (page.status_code, last_event().refusal) == (422, "reason_missing")
    assert '<p class="error" id="id_reason_error">Say why; the reason is kept.</p>' in page.content.decode()
    long = tablet.post("floor-put-back", run.pk, reason_tile="other", reason="x" * 300)
    assert long.status_code == 422
    assert "at most 200 characters" in words(long)
    assert f'value="{"x" * 300}"' in long.content.decode()
    tablet.post("floor-put-back", run.pk, reason_tile="other", reason="the hunter came back for it")
    run.refresh_from_db()
    assert run.close_reason == "the hunter came back for it"


def test_a_job_that_was_put_back_leads_to_the_queue_and_says_who(
    scenario: Scenario, by: Stations, tablet: Tablet, people: Any
) -> None:
    run = opened(scenario, by, "cut")
    put_back(run, by=by("block"), reason="wrong animal")
    for name in ("floor-block", "floor-put-back"):
        page = tablet.at("block").client.get(reverse(name, args=[run.pk]), follow=True)
        kind, said = banner(page)
        assert kind == "already"
        assert f"This breakdown was put back by {people.cutter} at" in said
    twice = tablet.post("floor-put-back", run.pk, reason_tile="Wrong animal", reason="")
    assert (twice.status_code, last_event().refusal) == (422, "run_closed")


def test_a_pool_is_put_back_as_one(scenario: Scenario, by: Stations, tablet: Tablet) -> None:
    order, first, second = two_deer(scenario)
    lugs = [scenario.cut(animal)["grind_trim"] for animal in (first, second)]
    run = [start_grind(lug, by=by("grind")).fetch(Run) for lug in lugs][-1]
    assert order.number in words(tablet.at("grind").get("floor-put-back", run.pk))
    tablet.post("floor-put-back", run.pk, reason_tile="Not today after all", reason="")
    assert set(Piece.objects.filter(contents="grind_trim").values_list("state", flat=True)) == {"waiting"}


def test_the_trail_says_that_a_job_was_put_back(
    scenario: Scenario, by: Stations, clerk_client: Client
) -> None:
    run = opened(scenario, by, "cut")
    put_back(run, by=by("block"), reason="wrong animal")
    said = words(clerk_client.get(f"/trail/{run.code}/"))
    assert "Opened by mistake, everything was put back: wrong animal" in said
    assert "put back wrong animal" in words(clerk_client.get(f"/animals/{run.animal_id}/"))


def test_every_role_may_put_back_and_strangers_may_not(
    scenario: Scenario, by: Stations, client: Client, clerk_client: Client, owner_client: Client
) -> None:
    run = opened(scenario, by, "skin")
    address = reverse("floor-put-back", args=[run.pk])
    assert client.post(address).url.startswith("/login/")
    for somebody in (clerk_client, owner_client):
        assert "Put it back" in words(somebody.get(address))
    assert clerk_client.post(reverse("floor-put-back", args=[987_654])).status_code == 404


# --- the hanging weight -----------------------------------------------------------------------------------------


def test_a_wrong_hanging_weight_is_weighed_again_from_the_cooler(scenario: Scenario, tablet: Tablet) -> None:
    deer = scenario.hung(scenario.deer(), "9.84")
    carcass = deer.pieces.get(kind="carcass")
    page = tablet.at("cooler").get("floor-cooler-piece", carcass.pk)
    assert "Weigh again: 9.84 lb is wrong" in words(page)
    assert "On record is 9.84 lb." in words(tablet.get("floor-weigh-again", carcass.pk))
    wrong = tablet.post("floor-weigh-again", carcass.pk, weight="984")
    assert (wrong.status_code, last_event().refusal) == (422, "weight_impossible")
    assert 'value="984"' in wrong.content.decode()
    more = tablet.post("floor-weigh-again", carcass.pk, weight="140")
    assert (more.status_code, last_event().refusal) == (422, "hangs_more_than_came")
    assert "140.0 lb hanging cannot be: 131.5 lb came in." in words(more)
    done = tablet.post("floor-weigh-again", carcass.pk, weight="98.4")
    assert tablet.landed(done) == "/floor/"
    assert hung_mg(deer) == pounds("98.4")
    carcass.refresh_from_db()
    assert (carcass.state, carcass.place.name) == ("hanging", "Rail A")


def test_a_weight_that_was_not_taken_is_offered_as_such(scenario: Scenario, tablet: Tablet) -> None:
    deer = scenario.hung(scenario.deer(), "")
    carcass = deer.pieces.get(kind="carcass")
    page = tablet.at("cooler").get("floor-cooler-piece", carcass.pk)
    assert "Weigh it" in words(page)
    assert "is wrong" not in words(page)
    assert "It was not weighed yet." in words(tablet.get("floor-weigh-again", carcass.pk))
    empty = tablet.post("floor-weigh-again", carcass.pk, weight="", not_weighed="1")
    assert empty.status_code == 422
    tablet.post("floor-weigh-again", carcass.pk, weight="98.4")
    assert hung_mg(deer) == pounds("98.4")


def test_a_hide_on_carcass_has_no_hanging_weight_to_offer(
    scenario: Scenario, by: Stations, tablet: Tablet, places: Any
) -> None:
    carcass = scenario.deer().pieces.get()
    hang_up(carcass, by=by("cooler"), place=places.rail)
    tablet.at("cooler")
    assert (
        reverse("floor-weigh-again", args=[carcass.pk])
        not in tablet.get("floor-cooler-piece", carcass.pk).content.decode()
    )
    page = tablet.post("floor-weigh-again", carcass.pk, weight="98.4")
    assert (page.status_code, last_event().refusal) == (422, "hide_on")


def test_a_hanging_quarter_is_weighed_too(scenario: Scenario, by: Stations, tablet: Tablet) -> None:
    elk = pieces_of_elk(scenario, "EK-1", ("hind-quarter-left", "58.5"))
    quarter = scenario.hung(elk).pieces.get()
    tablet.at("cooler").post("floor-weigh-again", quarter.pk, weight="57.9")
    assert hung_mg(elk) == pounds("57.9")
    scenario.cut(elk, whole="10", trim="20")
    late = tablet.post("floor-weigh-again", quarter.pk, weight="57.8")
    assert late.status_code == 404
    assert Event.objects.filter(verb="hang_up", outcome="refused").count() == 0


def test_a_tenderloin_bag_is_offered_rails_and_racks(scenario: Scenario, tablet: Tablet, places: Any) -> None:
    bag = scenario.hung(scenario.deer()).pieces.get(kind="tenderloin")
    said = words(tablet.at("cooler").get("floor-bag", bag.pk))
    assert "Rail A" in said
    assert "Shelf 1" not in said
    page = tablet.post("floor-bag", bag.pk, place=places.shelf.pk)
    assert "That place is not here." in words(page)
    tablet.post("floor-bag", bag.pk, place=places.rail.pk)
    bag.refresh_from_db()
    assert bag.place == places.rail
