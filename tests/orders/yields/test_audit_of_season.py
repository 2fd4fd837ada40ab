"""The audit of a whole season: how many queries it takes, what is in it and what is not, and what it says of 100."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from orders.floor.skin import finish_skinning, start_skinning
from orders.intake.models import Season
from orders.ledger.models import Run
from orders.models import YieldRecord
from orders.yields.audit import (
    audit_season,
    flag_counts,
    percentile_words,
)
from orders.yields.queries import yield_of
from orders.yields.report import season_figures
from orders.yields.spans import Status
from shop.models import Species
from shop.weights import mg_in
from tests.conftest import People, Stations
from tests.orders.yields.records import make_records
from tests.scenario import DEER, Scenario, lb

Make = Callable[..., list[YieldRecord]]


@pytest.fixture
def make(catalog: None, season: Season, people: People) -> Make:
    def records(*shares: float | None, **more: Any) -> list[YieldRecord]:
        return make_records(season, people.owner, shares, **more)

    return records


def _queries(call: Callable[[], Any]) -> list[str]:
    with CaptureQueriesContext(connection) as seen:
        call()
    return [query["sql"] for query in seen]


def test_three_animals_and_thirty_take_the_same_queries_and_no_pack_is_read(
    make: Make, season: Season, stations: Stations, people: People
) -> None:
    more = {"cutter": people.cutter, "block": stations.block, "alone": people.cutter}
    make(0.4, 1.0, 1.1, **more)

    def read() -> None:
        found = audit_season(season)
        assert [each.label and each.hunter for each in found.animals]
        assert found.to_look_at
        assert str(found.animals[0].record.cutter)

    three = _queries(read)
    make(*[0.9] * 27, **more)
    thirty = _queries(read)
    assert len(thirty) == len(three)
    of_packs = [sql for sql in thirty if "orders_package" in sql or "orders_runline" in sql]
    # Packs stand only in the question whether anything of an order with a waiting lug is packed.
    assert all("orders_piece" in sql and "EXISTS" in sql for sql in of_packs)


def test_the_report_counts_the_flags_of_the_audit(
    make: Make, season: Season, queries_of: Callable[[Any], int]
) -> None:
    make(*[1.0] * 6, 0.3)
    found = audit_season(season)
    figures = season_figures(season, flags=flag_counts)
    assert figures.total.flags == len(found.to_look_at) == 1
    records = list(YieldRecord.objects.select_related("species", "cutter"))
    few = queries_of(lambda: flag_counts(records[:2]))
    assert queries_of(lambda: flag_counts(records)) == few


def test_birds_are_not_audited(make: Make, season: Season) -> None:
    make(1.0, species="mallard", teach=False)
    assert audit_season(season).animals == ()


def test_the_table_of_every_animal_expects_what_the_audit_expects(
    scenario: Scenario, owner_client: Client
) -> None:
    for n, weight in enumerate(("98.4", "84.0"), start=1):
        deer = scenario.deer(tag=f"WT-{n}")
        scenario.hung(deer, weight=weight)
        scenario.stored(deer)
    saved = owner_client.get("/yields/", {"save": "csv"}).content.decode("utf-8-sig")
    likely = {row["Order"]: row["Expected"] for row in csv.DictReader(io.StringIO(saved))}
    for each in audit_season(scenario.season).animals:
        assert each.expected is not None
        assert likely[each.label] == str(mg_in(each.expected.likely_mg, "lb"))
        assert each.expected.likely_mg != each.record.likely_mg


def test_the_hide_is_no_gap(scenario: Scenario) -> None:
    """Nothing was written down as taken off, and both ends were weighed: hide, head and feet came off all the same."""
    deer = scenario.deer(
        facts=replace(DEER, keep_head="discard", tenderloin_left="field", tenderloin_right="field")
    )
    run = start_skinning(deer.pieces.get(), by=scenario.by("skin")).fetch(Run)
    finish_skinning(run, by=scenario.by("skin"), place=scenario.places.rail, weight=lb("98.4"))
    deer.refresh_from_db()
    scenario.opened(deer)
    found = yield_of(deer)
    assert [span.status for span in found.spans] == [Status.CLOSED]
    assert found.gaps == ()
    assert not found.flags


def test_seasons_are_kept_apart_and_a_species_can_be_asked_for(make: Make, season: Season) -> None:
    make(1.0)
    make(1.0, species="elk")
    other = Season.objects.create(
        name="Other",
        short="25",
        starts_on=season.starts_on - timedelta(days=400),
        ends_on=season.starts_on - timedelta(days=300),
    )
    assert len(audit_season(season).animals) == 2
    assert audit_season(other).animals == ()
    elk = Species.objects.get(code="elk")
    assert [each.record.species for each in audit_season(season, elk).animals] == [elk]


@pytest.mark.parametrize(
    ("percentile", "said"),
    [
        (12.4, "Of 100 animals like this one, 12 give less."),
        (1.2, "Of 100 animals like this one, 1 gives less."),
        (0.2, "Of 100 animals like this one, fewer than 1 gives less."),
        (99.7, "Of 100 animals like this one, more than 99 give less."),
    ],
)
def test_a_percentile_is_said_as_a_person_would(percentile: float, said: str) -> None:
    assert percentile_words(percentile) == said
    assert percentile_words(percentile, many=True).startswith("Of 100 like these, ")
