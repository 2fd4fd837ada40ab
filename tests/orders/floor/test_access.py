"""Who sees the floor, what the floor does not see, choosing a station, and requests that make no sense."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from orders.floor import urls as floor_urls
from orders.ledger.models import Event, Piece
from orders.packing import urls as packing_urls
from shop.access import DEVICE_COOKIE, token_hash
from shop.models import Device
from tests.orders.floor.tablet import Tablet, banner, last_event, words

NAMES = [*floor_urls.urlpatterns, *packing_urls.urlpatterns]
WITH_IDS = [pattern for pattern in NAMES if pattern.pattern.converters]
HUGE = 99_999_999_999_999_999_999


def address(pattern: Any, pk: int) -> str:
    values = {"what": "waste" if pattern.name == "floor-waste" else "feet"}
    arguments = {name: values.get(name, pk) for name in pattern.pattern.converters}
    return reverse(pattern.name, kwargs=arguments)


def test_nobody_logged_in_is_sent_to_the_door(client: Client, catalog: Any) -> None:
    for pattern in NAMES:
        answer = client.get(address(pattern, 1))
        assert answer.status_code == 302, pattern.name
        assert answer.url.startswith("/login/"), pattern.name


@pytest.mark.parametrize("pk", [0, 987_654, HUGE])
def test_unknown_ids_are_not_found(tablet: Tablet, catalog: Any, pk: int) -> None:
    tablet.at("skin")
    for pattern in WITH_IDS:
        where = address(pattern, pk)
        assert tablet.client.get(where).status_code in (404, 405), where
        assert tablet.client.post(where, {"weight": "1"}).status_code == 404, where


@pytest.mark.parametrize("role", ["owner", "clerk", "cutter"])
def test_every_role_may_choose_a_station(
    client: Client, people: Any, stations: Any, catalog: Any, role: str
) -> None:
    client.force_login(getattr(people, role))
    said = words(client.get("/floor/"))
    assert "At which station are you?" in said
    for name in ("Skinning", "Cooler door", "Block 1", "Grinder", "Wrap 1", "Freezer door"):
        assert name in said
    assert "Counter Counter" not in said
    page = client.post("/floor/station/", {"station": stations.grind.pk}, follow=True)
    assert banner(page) == ("good", "Done. You are at Grinder.")
    assert page.context["here"] == stations.grind
    assert "At which station are you?" in words(client.get("/floor/?choose"))


@pytest.mark.parametrize("posted", ["", "x", "0", str(HUGE), "-1"])
def test_a_station_that_is_none_is_refused(tablet: Tablet, catalog: Any, posted: str) -> None:
    answer = tablet.client.post("/floor/station/", {"station": posted})
    assert answer.status_code == 422
    assert "Tap one of the stations." in words(answer)


def test_the_counter_is_no_floor_station(tablet: Tablet, stations: Any, catalog: Any) -> None:
    answer = tablet.client.post("/floor/station/", {"station": stations.counter.pk})
    assert answer.status_code == 422


def test_an_enrolled_tablet_keeps_its_own_station(people: Any, stations: Any, catalog: Any) -> None:
    from django.utils import timezone

    Device.objects.create(
        name="Block tablet", token_hash=token_hash("t"), station=stations.block, enrolled_at=timezone.now()
    )
    client = Client()
    client.force_login(people.cutter)
    client.cookies[DEVICE_COOKIE] = "t"
    page = client.get("/floor/")
    assert page.context["here"] == stations.block
    assert "Another station" not in words(page)
    page = client.post("/floor/station/", {"station": stations.wrap.pk}, follow=True)
    assert banner(page)[1] == "Not done. This device stands at Block 1. Another station has its own."
    assert page.context["here"] == stations.block


def test_without_a_station_nothing_is_done(scenario: Any, tablet: Tablet) -> None:
    carcass = scenario.deer().pieces.get(kind="carcass")
    page = tablet.post("floor-skin-start", carcass.pk)
    assert last_event().refusal == "no_station"
    assert "Say first at which station you are." in banner(page)[1]


def test_at_another_station_nothing_is_done(scenario: Any, tablet: Tablet) -> None:
    carcass = scenario.deer().pieces.get(kind="carcass")
    page = tablet.at("wrap").post("floor-skin-start", carcass.pk)
    assert last_event().refusal == "wrong_station"
    assert banner(page)[1] == "Not done. This belongs to skinning; you are at Wrap 1."


def test_no_page_of_the_floor_shows_a_phone_or_a_price(scenario: Any, tablet: Tablet) -> None:
    order = scenario.order()
    order.amount_cents = 12_345
    order.save(update_fields=["amount_cents"])
    deer = scenario.deer(order)
    pages = [(step, tablet.at(step).get("floor")) for step in ("skin", "cooler", "block")]
    scenario.stored(deer)
    for run, name in (("skin", "floor-skin"), ("cut", "floor-block"), ("wrap", "floor-wrap")):
        pages.append((name, tablet.client.get(reverse(name, args=[deer.runs.get(kind=run).pk]), follow=True)))
    box = Piece.objects.get(kind="box")
    pages += [(name, tablet.get(name, box.pk)) for name in ("floor-box", "floor-store")]
    pages.append(("boxes", tablet.get("floor-boxes", order.pk)))
    for name, page in pages:
        text = page.content.decode()
        assert page.status_code == 200, name
        assert "555-0117" not in text, name
        assert "5550117" not in text, name
        assert "123.45" not in text, name
        assert "$" not in words(page), name


def test_every_form_carries_its_own_id(scenario: Any, tablet: Tablet) -> None:
    deer = scenario.deer()
    scenario.opened(deer)
    scenario.deer(tag="WT-2")
    run = deer.runs.get(kind="cut")
    for page in (
        tablet.at("skin").get("floor"),
        tablet.at("block").get("floor-block", run.pk),
        tablet.get("floor-lug", run.pk),
        tablet.get("floor-tenderloins", deer.pk),
    ):
        text = page.content.decode()
        forms = text.count("<form") - text.count('action="/logout/"')
        ids = text.count('name="sender_id"')
        assert forms == ids > 0
        assert text.count("csrfmiddlewaretoken") >= forms


@pytest.mark.parametrize("where", ["/floor/skin/start/{}/", "/floor/scan/", "/floor/station/"])
def test_looking_changes_nothing(scenario: Any, tablet: Tablet, where: str) -> None:
    carcass = scenario.deer().pieces.get(kind="carcass")
    before = Event.objects.count()
    assert tablet.at("skin").client.get(where.format(carcass.pk)).status_code == 405
    assert Event.objects.count() == before


def test_a_floor_page_is_never_kept_by_the_browser(tablet: Tablet, catalog: Any) -> None:
    assert "no-store" in tablet.at("skin").get("floor")["Cache-Control"]
