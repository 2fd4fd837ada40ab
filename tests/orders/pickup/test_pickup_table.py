"""The pickup table: what is ready, since when, where it is, and what is owed."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from orders.billing.actions import mark_paid, set_amount
from orders.intake.models import Order
from orders.ledger.entry import By
from orders.pickup.actions import notify, release
from orders.pickup.queries import pickup_rows
from tests.scenario import Scenario

GONE_WITH: dict[str, Any] = {"collector": "Wren Ashgrove", "initials": "WA", "vouched": "the hunter called"}


def numbers(show: str) -> list[str]:
    return [row.order.number for row in pickup_rows(show, timezone.now())]


def test_a_ready_order_with_everything(scenario: Scenario, by: Callable[[str], By]) -> None:
    deer = scenario.deer()
    scenario.stored(deer)
    set_amount(deer.order, by=by("counter"), cents=12_000)
    (row,) = pickup_rows("waiting", timezone.now() + timedelta(days=3))
    assert (row.days, row.boxes, row.loose, row.kept, row.collected) == (3, 1, 0, ("antlers",), 0)
    assert row.places == ("Shelf 1", "Hook 1")
    assert (row.owed, row.priced, row.held, row.told) == (12_000, True, False, None)


def test_each_filter_shows_its_own(scenario: Scenario, by: Callable[[str], By]) -> None:
    counter = by("counter")
    made = []
    for n in range(4):
        deer = scenario.deer(scenario.order(f"Hunter {n}", ""), tag=f"WT-{n}")
        made.append((deer.order, scenario.stored(deer), deer.pieces.get(kind="kept")))
    scenario.deer(scenario.order("Not ready", ""), tag="WT-9")
    told, part, gone = made[1], made[2], made[3]
    notify(told[0], by=counter, how="by phone")
    set_amount(told[0], by=counter, cents=100)
    set_amount(made[0][0], by=counter, cents=100)
    mark_paid(made[0][0], by=counter)
    release(part[0], by=counter, pieces=(part[1],), **GONE_WITH)
    release(gone[0], by=counter, pieces=gone[1:], **GONE_WITH)
    assert numbers("waiting") == ["26-0001", "26-0002", "26-0003"]
    assert numbers("tell") == ["26-0001"]
    assert numbers("owed") == ["26-0002"]
    assert numbers("gone") == ["26-0004"]
    assert numbers("part") == ["26-0003"]


def test_the_longest_waiting_come_first(scenario: Scenario) -> None:
    for tag in ("WT-1", "WT-2"):
        scenario.stored(scenario.deer(tag=tag))
    Order.objects.filter(number="26-0002").update(ready_at=timezone.now() - timedelta(days=9))
    assert numbers("waiting") == ["26-0002", "26-0001"]


def test_the_page_sorts_and_says_what_is_there(
    clerk_client: Client, scenario: Scenario, by: Callable[[str], By]
) -> None:
    for tag, cents in (("WT-1", 5_000), ("WT-2", 9_900)):
        deer = scenario.deer(tag=tag)
        scenario.stored(deer)
        set_amount(deer.order, by=by("counter"), cents=cents)
    text = clerk_client.get("/pickup/", {"sort": "-owed"}).content.decode()
    assert text.index("$99.00") < text.index("$50.00")
    assert 'aria-sort="descending"' in text
    assert "Shelf 1, Hook 1" in text
    assert "antlers" in text


def test_the_list_is_saved_as_csv(clerk_client: Client, scenario: Scenario, by: Callable[[str], By]) -> None:
    deer = scenario.deer()
    scenario.stored(deer)
    set_amount(deer.order, by=by("counter"), cents=12_050)
    content = clerk_client.get("/pickup/", {"save": "csv"}).content.decode("utf-8-sig")
    (row,) = csv.DictReader(io.StringIO(content))
    assert (row["Order"], row["Owed"], row["Boxes"], row["Told"]) == ("26-0001", "120.50", "1", "")


def test_an_unknown_filter_shows_nothing_rather_than_everything(
    clerk_client: Client, scenario: Scenario
) -> None:
    scenario.stored(scenario.deer())
    response = clerk_client.get("/pickup/", {"show": "all"})
    assert response.status_code == 422
    assert "26-0001" not in response.content.decode()


@pytest.mark.parametrize("show", ["waiting", "gone"])
def test_one_and_three_rows_take_the_same_queries(
    clerk_client: Client,
    scenario: Scenario,
    by: Callable[[str], By],
    queries_of: Callable[[Any], int],
    show: str,
) -> None:
    def add(tag: str) -> None:
        deer = scenario.deer(tag=tag)
        box = scenario.stored(deer)
        if show == "gone":
            pieces = (box, deer.pieces.get(kind="kept"))
            release(deer.order, by=by("counter"), pieces=pieces, **GONE_WITH)

    def look() -> None:
        assert clerk_client.get("/pickup/", {"show": show}).content.count(b'/pickup/"><strong>') == many

    add("WT-1")
    many = 1
    look()
    one = queries_of(look)
    add("WT-2")
    add("WT-3")
    many = 3
    assert queries_of(look) == one
