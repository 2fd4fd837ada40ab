"""A trail opened at a tablet keeps the floor's header: the next scan acts at the station."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from orders.ledger.models import Run
from shop.access import DEVICE_COOKIE, token_hash
from shop.models import Device
from tests.scenario import Scenario

SCAN = 'action="/floor/scan/"'
BACK = '<a class="button" href="/floor/">Back to Block 1</a>'


@pytest.fixture
def addresses(scenario: Scenario, stations: Any) -> list[str]:
    """A trail of every kind, and a search that found nothing."""
    deer = scenario.deer()
    lug = scenario.cut(deer)["whole_cuts"]
    run = Run.objects.get(animal=deer, kind="cut")
    codes = [lug.code, deer.order.code, run.code, scenario.places.rail.code, stations.wrap.code]
    return [reverse("trail", args=[code]) for code in codes] + ["/find/?q=nothing", "/trail/12/"]


def texts(client: Client, addresses: list[str]) -> list[str]:
    return [client.get(address).content.decode() for address in addresses]


def test_at_a_station_the_scan_box_acts_and_a_button_leads_back(
    cutter_client: Client, stations: Any, addresses: list[str]
) -> None:
    cutter_client.post(reverse("floor-station"), {"station": stations.block.pk})
    cutter_client.get("/floor/")
    for text in texts(cutter_client, addresses):
        assert (text.count(SCAN), text.count(BACK)) == (1, 1)
        assert 'action="/find/"' not in text


def test_without_a_station_it_is_searched(cutter_client: Client, addresses: list[str]) -> None:
    for text in texts(cutter_client, addresses):
        assert SCAN not in text
        assert "Back to" not in text
        assert 'action="/find/"' in text


def test_the_counter_keeps_its_search_whatever_station_it_looked_at(
    clerk_client: Client, stations: Any, addresses: list[str]
) -> None:
    clerk_client.post(reverse("floor-station"), {"station": stations.block.pk})
    for text in texts(clerk_client, addresses):
        assert SCAN not in text
        assert 'action="/find/"' in text


@pytest.mark.parametrize(("step", "acts"), [("block", True), ("counter", False)])
def test_a_tablet_of_the_floor_stays_one_whoever_looks(
    owner_client: Client,
    stations: Any,
    addresses: list[str],
    people: Any,
    step: str,
    acts: bool,
    at: Callable[[float], Any],
) -> None:
    station = getattr(stations, step)
    Device.objects.create(
        name="tablet",
        station=station,
        token_hash=token_hash("t" * 40),
        enrolled_at=at(1),
    )
    owner_client.cookies[DEVICE_COOKIE] = "t" * 40
    for text in texts(owner_client, addresses):
        assert (SCAN in text) is acts
        assert ("Back to" in text) is acts
