"""Checks of the scales: the tolerance, which check tells of which readings, the page, and the flag it makes."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from orders.ledger.entry import By
from orders.ledger.models import Event
from orders.ledger.refusal import Refusal
from orders.yields.audit import audit_season
from orders.yields.flags import Kind
from orders.yields.scales import Check, Checks, check_scale, load_checks, tolerance_mg, words
from shop.models import ShopSettings
from shop.weights import Reading, pounds
from tests.conftest import People, Stations
from tests.scenario import Scenario

NOON = datetime(2026, 11, 20, 12, tzinfo=timezone.get_default_timezone())


def reading(text: str, decimals: int = 2) -> Reading:
    return Reading(int(text.replace(".", "")), "lb", decimals)


@pytest.mark.parametrize(
    ("test", "divisions"),
    [("5.00", 1), ("5.01", 2), ("20.00", 2), ("20.01", 3), ("40.00", 3), ("40.01", 5)],
)
def test_the_tolerance_grows_with_the_load(test: str, divisions: int) -> None:
    """Class III, maintenance: 1, 2, 3, 5 divisions up to 500, 2000, 4000, beyond (NIST Handbook 44, from memory)."""
    assert tolerance_mg(reading(test), Reading(1, "lb", 2)) == divisions * pounds("0.01")


def check(shown: str, at: datetime, station: int = 1) -> Check:
    return Check(station, "Wrap 1", at, reading("5.00"), reading(shown))


def test_beyond_its_tolerance_a_scale_is_off() -> None:
    assert [check(shown, NOON).is_off for shown in ("4.98", "4.99", "5.00", "5.01", "5.02")] == [
        True,
        False,
        False,
        False,
        True,
    ]
    assert check("4.95", NOON).error_mg == pounds("4.95") - pounds("5.00")


def test_the_next_check_tells_of_a_reading_else_the_last_before() -> None:
    day = timedelta(days=1)
    checks = Checks({1: [check("5.00", NOON), check("4.90", NOON + 5 * day), check("5.00", NOON + 9 * day)]})

    def told(after: float) -> datetime | None:
        found = checks.of(1, NOON + after * day, NOON + after * day)
        return found.at if found else None

    assert told(-2) == NOON
    assert told(3) == NOON + 5 * day
    assert told(5) == NOON + 5 * day
    assert told(12) == NOON + 9 * day
    assert told(16.1) is None
    assert told(15.9) == NOON + 9 * day
    assert told(-7.1) is None
    assert checks.of(2, NOON, NOON) is None


def test_only_a_scale_that_is_off_explains_anything() -> None:
    readings = [["packed", 1, 40, NOON.isoformat(), NOON.isoformat()]]
    assert list(Checks({1: [check("5.01", NOON)]}).scales(readings)) == []
    (found,) = Checks({1: [check("4.95", NOON)]}).scales(readings)
    assert (found.name, found.point, found.readings) == ("Wrap 1’s scale", "packed", 40)
    assert found.total_mg == 40 * (pounds("4.95") - pounds("5.00"))


def test_a_scale_that_reads_light_is_the_reason_for_short_packs(
    scenario: Scenario, stations: Stations, people: People
) -> None:
    """45 packs, each 0.05 lb too light: 2.25 lb that are in the packs and were not read."""
    scenario.stored(scenario.deer())
    assert not any(each.flag.kind is Kind.SCALE for each in audit_season(scenario.season).to_look_at)
    keep = {"test": reading("5.00"), "shown": reading("4.95"), "by": By(people.owner)}
    check_scale(stations.wrap, **keep)
    flags = [each.flag for each in audit_season(scenario.season).to_look_at]
    (scale,) = (flag for flag in flags if flag.kind is Kind.SCALE)
    assert scale.pounds_mg == 45 * (pounds("5.00") - pounds("4.95"))
    assert scale.likely_reason.startswith(
        "Wrap 1’s scale reads 0.05 lb too light by its last check, 45 times"
    )
    # Checked again on the same day and right: what was read wrong on the check itself does no harm.
    check_scale(stations.wrap, test=reading("5.00"), shown=reading("5.00"), by=By(people.owner))
    assert not any(each.flag.kind is Kind.SCALE for each in audit_season(scenario.season).to_look_at)


@pytest.mark.parametrize(("test", "shown", "code"), [(0, 500, "test_weight_zero"), (500, 0, "shown_zero")])
def test_nothing_on_a_scale_checks_nothing(
    catalog: None, stations: Stations, people: People, test: int, shown: int, code: str
) -> None:
    with pytest.raises(Refusal) as refused:
        check_scale(stations.wrap, test=Reading(test), shown=Reading(shown), by=By(people.owner))
    assert refused.value.code == code


def test_the_owner_keeps_a_check_and_reads_it(
    owner_client: Client, catalog: None, stations: Stations
) -> None:
    address = reverse("scale-checks")
    sent = {"station": stations.wrap.pk, "test": "25 lb", "shown": "24.90"}
    assert owner_client.post(address, sent).status_code == 302
    text = unescape(owner_client.get(address).content.decode())
    for said in (
        "Wrap 1",
        "25 lb",
        "24.90 lb",
        "Olive Marrow",
        "The scale shows 0.10 lb too little, more than",
    ):
        assert said in text, said
    assert Event.objects.filter(verb="check_scale").count() == 1


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"station": "", "test": "25", "shown": "25"}, "Choose the station it stands at."),
        ({"station": "999", "test": "25", "shown": "25"}, "Choose one of the list."),
        ({"test": "", "shown": "25"}, "Say what the test weight weighs."),
        ({"test": "heavy", "shown": "25"}, "is not a weight"),
        ({"test": "25", "shown": "-1"}, "A weight cannot be negative."),
        ({"test": "0", "shown": "25"}, "Say what the test weight weighs."),
        ({"test": "25", "shown": "0"}, "A scale that shows nothing weighs nothing."),
    ],
)
def test_a_check_that_cannot_be_is_refused_beside_its_field(
    owner_client: Client, catalog: None, stations: Stations, sent: dict[str, str], said: str
) -> None:
    sent = {"station": str(stations.wrap.pk), **sent}
    answer = owner_client.post(reverse("scale-checks"), sent)
    text = unescape(answer.content.decode())
    assert answer.status_code == 422
    assert said in text
    for name in ("test", "shown"):
        if sent[name]:
            assert f'value="{sent[name]}"' in text
    assert load_checks().by_station == {}


def test_a_check_is_said_in_the_shop_s_unit(catalog: None) -> None:
    assert words(check("5.00", NOON)) == "the scale shows the test weight exactly"
    assert (
        words(check("5.03", NOON)) == "the scale shows 0.03 lb too much, more than the 0.01 lb it may be off"
    )
    ShopSettings.objects.update(unit="kg")
    assert "kg too much" in words(check("5.10", NOON))


def test_reading_all_checks_takes_two_queries(
    catalog: None, stations: Stations, people: People, queries_of: Callable[[Any], int]
) -> None:
    for _ in range(4):
        check_scale(stations.wrap, test=Reading(500), shown=Reading(490), by=By(people.owner))
    assert queries_of(load_checks) == 2
