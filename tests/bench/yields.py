"""The audit of a season: the page and its numbers against hand-written SQL, and one season against ten."""

from __future__ import annotations

from argparse import Namespace
from functools import partial
from statistics import median

from django.db.models import F
from django.urls import reverse

from orders.intake.models import Order, Season
from orders.yields.audit import audit_season
from orders.yields.models import YieldRecord
from orders.yields.queries import animals_for_table, yields_of
from orders.yields.refresh import forget, refresh
from tests.bench import raw_sql
from tests.bench.database import Databases
from tests.bench.filler import Filler, packs_in, start
from tests.bench.measure import Call, Line, Report, note, queries_of, ratio, seconds, side_by_side
from tests.bench.pages import answer, first_seconds, owner
from tests.bench.patterns import CYCLE

FEW = 5 * CYCLE
RAW, RECORDS_RAW = "hand-written SQL, ledger", "hand-written SQL, records"
RECORDS, WHOLE = "numbers through the models", "whole records through the models"
RECKONED = "reckoned from the ledger"
FRESH = "refresh, nothing to do"
JUDGED = "season judged, no page"
NUMBERS_AIM, GROWTH_AIM = 2.0, 1.2
ONE, MANY = "one", "many"


def run(databases: Databases, asked: Namespace, report: Report) -> None:
    """Fill, measure, and compare. `asked`: animals, seasons, rounds and the pages' address names."""
    report.title = "Yields of a season"
    season, few = _fill(databases, asked, report)
    if asked.seasons > 1:
        _fill_more(databases, asked, report)
    measure(databases, asked, report, season, few)


def measure(
    databases: Databases, asked: Namespace, report: Report, season: Season, few: dict[str, int]
) -> None:
    """Everything that is measured of filled databases."""
    databases.use(ONE)
    _against_sql(asked, season, few, report)
    note("a new process")
    for page in asked.pages:
        took, warm = first_seconds(reverse(page), databases.url_of(ONE)), report.median_of(_name(page))
        report.add("First request of a new process", Line(_name(page), took, took / warm, "the page warm"))
    if asked.seasons > 1:
        _grow(databases, asked, season, report)
    _refreshing(asked, season, report)


def _fill(databases: Databases, asked: Namespace, report: Report) -> tuple[Season, dict[str, int]]:
    """One season in one database; and how many queries its first few animals took."""
    note("one season")
    databases.create(ONE)
    filler = start()
    season = filler.season(0, FEW)
    refresh()
    few = {name: queries_of(call) for name, call in _calls(season, asked.pages).items()}
    took = seconds(lambda: filler.season(0, asked.animals - FEW))
    refresh()
    databases.analyze()
    _must_agree(season)
    packs = packs_in(season)
    report.facts |= {"animals": asked.animals, "packs": packs, "filled in": f"{took:.1f} s"}
    return season, few


def _fill_more(databases: Databases, asked: Namespace, report: Report) -> None:
    """The same season and earlier ones in another database."""
    databases.copy(ONE, MANY)
    databases.use(MANY)
    filler = Filler.of_played()
    for years in range(1, asked.seasons):
        note(f"season {years + 1} of {asked.seasons}")
        filler.season(years, asked.animals)
    note("their records")
    refresh()
    databases.analyze()
    report.facts["seasons"] = asked.seasons


def _must_agree(season: Season) -> None:
    """Nothing is compared that does not say the same. Raises RuntimeError."""
    by_hand = raw_sql.from_ledger(season.pk)
    records = raw_sql.through_models(season.pk)
    if not by_hand == records == raw_sql.from_records(season.pk):
        raise RuntimeError("Hand-written SQL and the records disagree.")


def _name(page: str) -> str:
    return f"page {page}"


def _calls(season: Season, pages: list[str]) -> dict[str, Call]:
    client = owner()
    calls: dict[str, Call] = {
        RAW: lambda: raw_sql.from_ledger(season.pk),
        RECORDS_RAW: lambda: raw_sql.from_records(season.pk),
        RECORDS: lambda: raw_sql.through_models(season.pk),
        WHOLE: lambda: list(YieldRecord.objects.filter(season=season)),
        FRESH: refresh,
        JUDGED: lambda: audit_season(season),
        RECKONED: lambda: yields_of(animals_for_table(season.pk, None)),
    }
    return calls | {_name(page): partial(answer, client, reverse(page)) for page in pages}


def _against_sql(asked: Namespace, season: Season, few: dict[str, int], report: Report) -> None:
    note("against hand-written SQL")
    calls = _calls(season, asked.pages)
    queries = {name: queries_of(call) for name, call in calls.items()}
    report.facts[f"as many queries as for {FEW} animals"] = "yes" if few == queries else f"NO: {few}"
    times = side_by_side(calls, asked.rounds)
    section = f"One season, {asked.animals:,} animals"
    aims = {RECORDS: NUMBERS_AIM} | {_name(page): NUMBERS_AIM for page in asked.pages}
    report.compared(section, times, RAW, aims, queries)
    report.add(section, Line(RECORDS, ratio=ratio(times[RECORDS], times[RECORDS_RAW]), against=RECORDS_RAW))


def _grow(databases: Databases, asked: Namespace, season: Season, report: Report) -> None:
    """The same calls on both databases in turn."""
    note(f"one season and {asked.seasons} in turn")
    times: dict[str, dict[str, list[float]]] = {ONE: {}, MANY: {}}
    for _ in range(asked.rounds):
        for name in (ONE, MANY):
            databases.use(name)
            calls = _calls(season, asked.pages)
            del calls[RECKONED]
            for call, took in side_by_side(calls, rounds=1).items():
                times[name].setdefault(call, []).extend(took)
    for call, took in times[MANY].items():
        line = Line(call, median(took), ratio(took, times[ONE][call]), "one season")
        line.aim = GROWTH_AIM if call not in (RAW, RECORDS_RAW, FRESH) else None
        report.add(f"{asked.seasons} seasons kept, the same season read", line)
    databases.use(ONE)


def _refreshing(asked: Namespace, season: Season, report: Report) -> None:
    """What it takes to make all records anew, and those of one order that has changed."""
    note("making records")
    orders = Order.objects.filter(season=season)
    one = orders.order_by("pk")[orders.count() // 2].pk

    def change() -> None:
        Order.objects.filter(pk=one).update(version=F("version") + 1)

    def change_and_refresh() -> None:
        change()
        refresh()

    section = "Making the records"
    calls: dict[str, Call] = {RAW: lambda: raw_sql.from_ledger(season.pk), "one order": change_and_refresh}
    report.compared(section, side_by_side(calls, asked.rounds), RAW)
    change()
    report.sections[section][1].queries = queries_of(refresh)
    forget()
    by_hand = seconds(calls[RAW])
    took = seconds(refresh)
    records = YieldRecord.objects.count()
    report.add(section, Line(f"all {records:,} records", took, took / by_hand, RAW))
