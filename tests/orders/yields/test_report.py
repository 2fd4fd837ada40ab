"""A season's sums, against the same sums made by hand from the ledger's own rows."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.utils import timezone

from orders.floor.block import fill_lug, finish_breakdown, record_waste, weigh_at_block
from orders.floor.skin import cut_off_bloodshot, finish_skinning, pull_tenderloins, start_skinning, take_off
from orders.intake.actions import end_animal, file_tag
from orders.intake.models import Animal, Season
from orders.ledger.entry import By
from orders.ledger.models import Piece, Run
from orders.models import YieldRecord
from orders.packing.actions import bring_to_wrap, finish_wrap
from orders.yields.queries import yields_of
from orders.yields.report import SEVERAL, Group, SeasonFigures, plain_flags, season_figures
from shop.models import Person, Species
from shop.weights import pounds
from tests.orders.yields.test_queries import cut_and_packed, ground_together
from tests.scenario import Scenario, lb

Stations = Callable[[str], By]


def in_sql(query: str) -> int:
    with connection.cursor() as cursor:
        cursor.execute(query)
        return cursor.fetchone()[0] or 0


def in_all(figures: SeasonFigures) -> list[tuple[Group, ...]]:
    return [figures.species, figures.crews, figures.weeks]


def assert_each_way_adds_up(figures: SeasonFigures) -> None:
    """Species, crews and weeks are three ways of cutting one season."""
    total = figures.total
    for groups in in_all(figures):
        assert sum(group.animals for group in groups) == total.animals
        assert sum(group.hung.mg for group in groups) == total.hung.mg
        assert sum(group.packed.mg for group in groups) == total.packed.mg
        assert sum(group.likely for group in groups) == total.likely
        assert sum(group.flags for group in groups) == total.flags
        assert sum(group.losses.rest for group in groups) == total.losses.rest
    for group in [total, *(group for groups in in_all(figures) for group in groups)]:
        losses = group.losses
        assert losses.hung == losses.packed + sum(cause.mg for cause in losses.causes) + losses.rest


def test_sums_are_those_of_the_ledger(scenario: Scenario, by: Stations, season: Season) -> None:
    """Hung, packed, fat and waste by hand in SQL; bloodshot of the skinning table never hung, that of the block did."""
    for tag in ("WT-1", "WT-2"):
        scenario.stored(scenario.deer(tag=tag))
    deer = scenario.deer(tag="WT-3")
    run = scenario.opened(deer)
    weigh_at_block(deer.pieces.get(kind="carcass"), by=by("block"), weight=lb("96.1"))
    cut_off_bloodshot(run, by=by("block"), region="shoulder", weight=lb("2.3"))
    finished = cut_and_packed_of(scenario, by, run, deer)
    total = season_figures(season).total
    assert finished.state == "freezing"
    hanging = "SELECT SUM(mg) FROM orders_weighing WHERE point = 'hanging'"
    bags = "SELECT SUM(w.mg) FROM orders_weighing AS w JOIN orders_piece AS p ON p.id = w.piece_id"
    bags += " WHERE w.point = 'part_off' AND p.kind = 'tenderloin'"
    assert total.hung.mg == in_sql(hanging) + in_sql(bags)
    packs = "SELECT SUM(w.mg) FROM orders_package AS p JOIN orders_weighing AS w ON w.id = p.weighing_id"
    fat = "SELECT SUM(mg) FROM orders_weighing WHERE point = 'fat'"
    assert total.packed.mg == in_sql(packs) - in_sql(fat)
    waste = (
        "SELECT SUM(w.mg) FROM orders_runline AS line JOIN orders_weighing AS w ON w.id = line.weighing_id"
        " JOIN orders_run AS run ON run.id = line.run_id"
        " WHERE line.direction = 'waste' AND run.kind <> 'skin' AND line.what = '{}'"
    )
    losses = total.losses
    assert losses.bone_fat.mg == in_sql(waste.format("bone_fat")) > 0
    assert losses.waste.mg == in_sql(waste.format("waste")) > 0
    assert losses.bloodshot.mg == in_sql(waste.format("bloodshot")) == pounds("2.3")
    assert losses.drying.mg == pounds("98.4") - pounds("96.1")
    assert (losses.drying.animals, losses.bone_fat.animals, losses.waste.animals) == (1, 2, 0)
    assert losses.rest == total.hung.mg - total.packed.mg - sum(cause.mg for cause in losses.causes)
    assert_each_way_adds_up(season_figures(season))


def cut_and_packed_of(scenario: Scenario, by: Stations, run: Any, deer: Animal) -> Animal:
    """The rest of the job of a deer that is open at the block, from where it is."""

    lug = fill_lug(run, by=by("block"), contents="whole_cuts", weight=lb("44")).fetch(Piece)
    for what in ("bone_fat", "waste"):
        record_waste(run, by=by("block"), what=what)
    file_tag(deer, by=by("block"), where="box")
    finish_breakdown(run, by=by("block"))
    for each in (lug, deer.pieces.get(kind="tenderloin")):
        table = bring_to_wrap(each, by=by("wrap")).fetch(Run)
    scenario.pack(table, "tenderloin", "whole", "1.1")
    scenario.pack(table, "backstrap", "steaks", *["2.2"] * 20)
    finish_wrap(table, by=by("wrap"))
    deer.refresh_from_db()
    return deer


def test_bloodshot_that_never_hung_is_no_loss_of_what_hung(
    scenario: Scenario, by: Stations, season: Season
) -> None:

    deer, skin = scenario.deer(), by("skin")
    run = start_skinning(deer.pieces.get(), by=skin).fetch(Run)
    take_off(run, by=skin, what="antlers", keep=True)
    cut_off_bloodshot(run, by=skin, region="shoulder", weight=lb("3.2"))
    pull_tenderloins(deer, by=skin, left=True, right=True, weight=lb("1.1"))
    finish_skinning(run, by=skin, place=scenario.places.rail, weight=lb("95"))
    deer.refresh_from_db()
    scenario.stored(deer)
    losses = season_figures(season).total.losses
    assert losses.hung == pounds("95") + pounds("1.1")
    assert (losses.bloodshot.mg, losses.bloodshot.animals) == (0, 1)


def test_what_was_not_weighed_counts_for_no_animal(scenario: Scenario, by: Stations, season: Season) -> None:
    scenario.stored(scenario.deer(tag="WT-1"))
    unhung = scenario.hung(scenario.deer(tag="WT-2"), weight="")
    cut_and_packed(scenario, by, unhung)
    cut_and_packed(scenario, by, scenario.deer(tag="WT-3"), weighed=False)
    total = season_figures(season).total
    assert total.animals == 3
    assert (total.hung.animals, total.packed.animals, total.compared.animals) == (2, 2, 2)
    assert total.hung.mg == 2 * (pounds("98.4") + pounds("1.1"))
    assert total.losses.animals == 1
    # 47.05 of 99.5 lb: the one animal of which both are known.
    assert str(total.percent) == "47.3"
    assert_each_way_adds_up(season_figures(season))


def test_an_unfinished_a_spoiled_and_an_older_animal_are_in_no_sum(
    scenario: Scenario, by: Stations, season: Season
) -> None:
    scenario.stored(scenario.deer(tag="WT-1"))
    scenario.hung(scenario.deer(tag="WT-2"))
    end_animal(scenario.deer(tag="WT-3"), by=by("counter"), ending="spoiled", reason="warm")
    end_animal(scenario.deer(tag="WT-4"), by=by("counter"), ending="void", reason="twice")
    figures = season_figures(season)
    assert figures.total.animals == 1
    out = figures.not_counted
    assert (out.unfinished, out.spoiled, out.birds) == (1, 1, 0)
    last = Season.objects.create(
        name="Last", short="25", starts_on=season.starts_on - timedelta(400), ends_on=season.starts_on
    )
    empty = season_figures(last)
    assert (empty.total.animals, empty.species, empty.crews, empty.weeks) == (0, (), (), ())
    assert empty.total.percent is None


def test_flags_are_counted_by_whoever_is_asked(scenario: Scenario, by: Stations, season: Season) -> None:
    scenario.stored(scenario.deer(tag="WT-1"))
    cut_and_packed(scenario, by, scenario.deer(tag="WT-2"))
    asked: list[list[int]] = []

    def three_for_the_first(records: Any) -> dict[int, int]:
        asked.append([record.pk for record in records])
        return {records[0].pk: 3}

    figures = season_figures(season, flags=three_for_the_first)
    assert figures.total.flags == 3
    assert len(asked) == 1
    assert len(asked[0]) == 2


def test_without_another_they_are_those_of_the_animals_pages(scenario: Scenario, by: Stations) -> None:
    scenario.stored(scenario.deer(tag="WT-1"))
    cut_and_packed(scenario, by, scenario.deer(tag="WT-2"))
    cut_and_packed(scenario, by, scenario.deer(tag="WT-3"), weighed=False)
    season_figures(scenario.season)
    records = list(YieldRecord.objects.order_by("animal"))
    counted = plain_flags(records)
    animals = list(Animal.objects.select_related("species", "order").order_by("pk"))
    pages = [len(found.flags) for found in yields_of(animals)]
    assert [counted[record.pk] for record in records] == pages
    assert sum(pages) > 2


def test_a_crew_is_who_opened_it_and_several_are_nobody(
    scenario: Scenario, by: Stations, season: Season
) -> None:
    for tag in ("WT-1", "WT-2", "WT-3"):
        scenario.stored(scenario.deer(tag=tag))
    season_figures(season)
    first, second, _ = YieldRecord.objects.order_by("pk")
    other = Person.objects.create_user("bram", first_name="Bram", last_name="Ash", role="floor")
    YieldRecord.objects.filter(pk=first.pk).update(cutter=other)
    YieldRecord.objects.filter(pk=second.pk).update(cutter=None)
    crews = season_figures(season).crews
    assert [(crew.name, crew.animals) for crew in crews] == [("Bram Ash", 1), ("Kit Barlow", 1), (SEVERAL, 1)]


@pytest.mark.parametrize(
    ("moment", "week", "monday"),
    [
        # ISO 8601: week 1 of 2027 begins on Monday, January 4; January 1 belongs to week 53 of 2026.
        ((2027, 1, 1, 12), "2026-W53", "2026-12-28"),
        ((2027, 1, 4, 0), "2027-W01", "2027-01-04"),
        # Sunday, 11 pm in the shop's zone is Monday in UTC: it is the shop's Sunday that counts.
        ((2026, 11, 15, 23), "2026-W46", "2026-11-09"),
    ],
)
def test_weeks_are_iso_weeks_of_the_shops_days(
    scenario: Scenario, season: Season, moment: tuple[int, ...], week: str, monday: str
) -> None:
    scenario.stored(scenario.deer())
    season_figures(season)
    zone = ZoneInfo(timezone.get_current_timezone_name())
    YieldRecord.objects.update(finished_at=datetime(*moment, tzinfo=zone))  # type: ignore[misc]
    (found,) = season_figures(season).weeks
    assert (found.name, str(found.starts_on)) == (week, monday)


def test_weeks_and_species_stand_in_their_order(scenario: Scenario, season: Season) -> None:
    for n, species in enumerate(("mule-deer", "white-tailed-deer", "pronghorn")):
        scenario.stored(scenario.deer(tag=f"T-{n}", species=species))
    season_figures(season)
    for days, record in enumerate(YieldRecord.objects.order_by("-pk")):
        YieldRecord.objects.filter(pk=record.pk).update(finished_at=timezone.now() - timedelta(21 - 7 * days))
    figures = season_figures(season)
    names = list(Species.objects.filter(is_bird=False).values_list("name", flat=True))
    assert [group.name for group in figures.species] == [
        name for name in names if name in {"Mule deer", "White-tailed deer", "Pronghorn"}
    ]
    starts = [group.starts_on for group in figures.weeks]
    assert starts == sorted(starts)  # type: ignore[type-var]
    assert len(starts) == 3


def test_animals_put_together_count_as_many_as_they_are(
    scenario: Scenario, by: Stations, season: Season
) -> None:
    ground_together(scenario, by)
    figures = season_figures(season)
    assert (figures.total.animals, figures.total.hung.animals) == (2, 2)
    assert figures.total.losses.bone_fat.mg == 2 * pounds("24")
    assert [group.name for group in figures.species] == ["White-tailed deer"]
    assert_each_way_adds_up(figures)


def test_several_species_put_together_are_a_line_of_their_own(
    scenario: Scenario, by: Stations, season: Season
) -> None:
    animals = ground_together(scenario, by)
    Animal.objects.filter(pk=animals[1].pk).update(species=Species.objects.get(code="mule-deer"))
    figures = season_figures(season)
    assert [group.name for group in figures.species] == ["White-tailed deer and Mule deer, put together"]


def test_the_number_of_queries_is_the_same_for_one_and_three(
    scenario: Scenario, season: Season, queries_of: Callable[[Any], int]
) -> None:
    scenario.stored(scenario.deer(tag="WT-1"))
    season_figures(season)
    one = queries_of(lambda: season_figures(season))
    for tag in ("WT-2", "WT-3"):
        scenario.stored(scenario.deer(tag=tag))
    season_figures(season)
    assert queries_of(lambda: season_figures(season)) == one
