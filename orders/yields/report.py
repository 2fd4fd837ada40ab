"""A season added up by species, by crew and by week: what hung, was packed, was to be expected, and was lost.

Reads the yield records alone, and one sum of what was weighed as waste. All weights in milligrams; a sum never takes
what was not weighed for zero: it says of how many animals it is.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any

from django.db.models import Count, Q, Sum
from django.utils import timezone

from orders.intake.models import Animal, Season
from orders.ledger.models import Direction, RunKind
from orders.ledger.weights import standing_lines
from orders.yields.account import IS_PACKED
from orders.yields.models import YieldRecord
from orders.yields.refresh import refresh

# How many things there are to look at, by the record's id; a record with nothing may be left out.
Flags = Callable[[Sequence[YieldRecord]], Mapping[int, int]]

# Of what hung. Bloodshot that came off before hanging never hung, and is not among these.
CAUSES = ("bone_fat", "waste", "bloodshot")
AFTER_HANGING = (RunKind.CUT, RunKind.WRAP)
SEVERAL = "Several, or not on record"


@dataclass(slots=True)
class Amount:
    """A weight added up, and the number of animals in which it is known."""

    mg: int = 0
    animals: int = 0

    def add(self, mg: int | None, animals: int) -> None:
        """Count `mg` for so many animals; None is not weighed and counts for none."""
        if mg is not None:
            self.mg += mg
            self.animals += animals


@dataclass(slots=True)
class Lost:
    """What was lost of one record after hanging; a cause is None where not all of it was weighed."""

    weighed: dict[str, int] = field(default_factory=dict)
    known: set[str] = field(default_factory=set)


@dataclass(slots=True)
class Losses:
    """Of the animals whose hung and packed weights are both known: hung = packed + all losses, exactly.

    `rest` is what was not weighed, or not told apart: below zero where more came out than the weighings show.
    """

    animals: int = 0
    hung: int = 0
    packed: int = 0
    bone_fat: Amount = field(default_factory=Amount)
    waste: Amount = field(default_factory=Amount)
    bloodshot: Amount = field(default_factory=Amount)
    drying: Amount = field(default_factory=Amount)
    rest: int = 0

    @property
    def causes(self) -> tuple[Amount, Amount, Amount, Amount]:
        """The causes that can be weighed, in the order they are printed."""
        return self.bone_fat, self.waste, self.bloodshot, self.drying


@dataclass(slots=True)
class Group:
    """What one species, one crew or one week comes to.

    `low` to `high` add up the published range of each animal that has one and whose own meat is known; `compared` is
    the own meat of the same animals.
    """

    name: str
    starts_on: date | None = None
    animals: int = 0
    hung: Amount = field(default_factory=Amount)
    packed: Amount = field(default_factory=Amount)
    low: int = 0
    likely: int = 0
    high: int = 0
    compared: Amount = field(default_factory=Amount)
    flags: int = 0
    losses: Losses = field(default_factory=Losses)

    @property
    def percent(self) -> Decimal | None:
        """Own meat of a hundred pounds hung, of the animals that have both, to one decimal."""
        if not self.losses.hung:
            return None
        share = Decimal(self.losses.packed) * 100 / self.losses.hung
        return share.quantize(Decimal("0.1"), ROUND_HALF_EVEN)

    def add(self, record: YieldRecord, lost: Lost, flags: int) -> None:
        """Count one record: one animal, or those put together."""
        many = len(record.members)
        self.animals += many
        self.flags += flags
        self.hung.add(record.hung_mg, many)
        self.packed.add(record.own_mg, many)
        if record.own_mg is not None and record.likely_mg is not None:
            self.low += record.low_mg or 0
            self.likely += record.likely_mg
            self.high += record.high_mg or 0
            self.compared.add(record.own_mg, many)
        if record.own_mg is not None and record.hung_mg is not None:
            self._lose(record, record.hung_mg, record.own_mg, lost)

    def _lose(self, record: YieldRecord, hung: int, own: int, lost: Lost) -> None:
        many, losses = len(record.members), self.losses
        losses.animals += many
        losses.hung += hung
        losses.packed += own
        rest = hung - own
        for cause in CAUSES:
            mg = lost.weighed.get(cause, 0)
            getattr(losses, cause).add(mg, many if cause in lost.known else 0)
            rest -= mg
        if record.block_mg is not None:
            losses.drying.add(hung - record.block_mg, many)
            rest -= hung - record.block_mg
        losses.rest += rest


@dataclass(frozen=True, slots=True)
class NotCounted:
    """Animals of the season that are in none of the sums."""

    unfinished: int
    spoiled: int
    birds: int


@dataclass(frozen=True, slots=True)
class SeasonFigures:
    """A season's sums. Each way of grouping holds the same animals, so each adds up to `total`."""

    season: Season
    total: Group
    species: tuple[Group, ...]
    crews: tuple[Group, ...]
    weeks: tuple[Group, ...]
    not_counted: NotCounted


def season_figures(season: Season, *, flags: Flags | None = None) -> SeasonFigures:
    """Add up a season's finished animals, birds apart. The number of queries does not depend on that of the animals.

    `flags` counts what there is to look at (see `Flags`); by default `plain_flags`.
    """
    refresh()
    found = YieldRecord.objects.filter(season=season, finished_at__isnull=False, species__is_bird=False)
    records = list(found.select_related("species", "cutter").order_by("pk"))
    flagged = (flags or plain_flags)(records)
    lost = _lost(season, records)
    mixed = _mixed_species(records)

    def grouped(name_of: Callable[[YieldRecord], tuple[Hashable, str, date | None]]) -> list[Group]:
        groups: dict[Hashable, Group] = {}
        for record in records:
            key, name, starts_on = name_of(record)
            group = groups.setdefault(key, Group(name, starts_on))
            group.add(record, lost[record.pk], flagged.get(record.pk, 0))
        return [groups[key] for key in sorted(groups)]  # type: ignore[type-var]

    total = grouped(lambda record: (0, season.name, None))
    return SeasonFigures(
        season=season,
        total=total[0] if total else Group(season.name),
        species=tuple(grouped(lambda record: _species_of(record, mixed))),
        crews=tuple(grouped(_crew_of)),
        weeks=tuple(grouped(_week_of)),
        not_counted=_not_counted(season),
    )


def plain_flags(records: Sequence[YieldRecord]) -> dict[int, int]:
    """What the page of an animal flags: outside its range, gaps, packs or fat not weighed, bone-in cuts."""
    return {record.pk: _plain_flags(record) for record in records}


def _plain_flags(record: YieldRecord) -> int:
    outside = False
    if None not in (record.own_mg, record.low_mg, record.high_mg):
        outside = not record.low_mg <= record.own_mg <= record.high_mg  # type: ignore[operator]
    gaps = sum(gap["flagged"] for gap in record.facts.get("gaps", ()))
    return gaps + outside + (record.own_mg is None) + bool(record.facts.get("bone_in"))


def _species_of(record: YieldRecord, mixed: Mapping[int, str]) -> tuple[Hashable, str, None]:
    """Species in the catalog's order, after them what was put together of several."""
    if record.pk in mixed:
        return (1, 0, mixed[record.pk]), mixed[record.pk], None
    return (0, record.species.sort, record.species.name), record.species.name, None


def _crew_of(record: YieldRecord) -> tuple[Hashable, str, None]:
    """Who opened it at the block; last what several opened."""
    if record.cutter is None:
        return (1, "", 0), SEVERAL, None
    name = str(record.cutter)
    return (0, name, record.cutter.pk), name, None


def _week_of(record: YieldRecord) -> tuple[Hashable, str, date]:
    """The week (Monday to Sunday, ISO 8601) in which the last of it was packed, in the shop's zone."""
    assert record.finished_at is not None
    day = timezone.localdate(record.finished_at)
    monday = day - timedelta(days=day.weekday())
    year, week, _ = monday.isocalendar()
    return monday, f"{year}-W{week:02}", monday


def _mixed_species(records: Sequence[YieldRecord]) -> dict[int, str]:
    """By record, the species that were put together, where there are several: `Elk and mule deer`."""
    together = {pk: record.pk for record in records if len(record.members) > 1 for pk in record.members}
    names: dict[int, set[tuple[int, str]]] = defaultdict(set)
    rows = Animal.objects.filter(pk__in=together).values_list("pk", "species__sort", "species__name")
    for pk, sort, name in rows:
        names[together[pk]].add((sort, name))
    return {
        pk: " and ".join(name for _, name in sorted(found)) + ", put together"
        for pk, found in names.items()
        if len(found) > 1
    }


def _lost(season: Season, records: Iterable[YieldRecord]) -> dict[int, Lost]:
    """What was weighed as waste after hanging, by record, in one query."""
    of_animal: dict[int, int] = {}
    of_order: dict[int, int] = {}
    lost: dict[int, Lost] = {}
    for record in records:
        lost[record.pk] = Lost()
        of_animal |= dict.fromkeys(record.members, record.pk)
        # Jobs for a whole order are of what was put together, and then the order has no other record.
        of_order[record.order_id] = record.pk
    answered: dict[int, set[str]] = defaultdict(set)
    unweighed: dict[int, set[str]] = defaultdict(set)
    for animal, order, what, count, weighed, mg in _waste_sums(season):
        pk = of_order.get(order) if animal is None else of_animal.get(animal)
        if pk is None:
            continue
        lost[pk].weighed[what] = lost[pk].weighed.get(what, 0) + (mg or 0)
        (answered if weighed == count else unweighed)[pk].add(what)
    for pk, each in lost.items():
        # Bone and waste are asked for at the block; that no bloodshot was cut off there is an answer too.
        each.known = (answered[pk] | {"bloodshot"}) - unweighed[pk]
    return lost


def _waste_sums(season: Season) -> Any:
    whose = Q(run__animal__order__season=season) | Q(run__order__season=season)
    kinds = {"direction": Direction.WASTE, "run__kind__in": AFTER_HANGING, "what__in": CAUSES}
    sums = standing_lines().filter(whose, **kinds).order_by()
    return sums.values_list("run__animal_id", "run__order_id", "what").annotate(
        count=Count("id"), weighed=Count("weighing_id"), mg=Sum("weighing__mg")
    )


def _not_counted(season: Season) -> NotCounted:
    here = Animal.objects.filter(order__season=season).order_by()
    game = Q(species__is_bird=False)
    return NotCounted(
        **here.aggregate(
            unfinished=Count("pk", filter=game & Q(ended="") & ~IS_PACKED),
            spoiled=Count("pk", filter=game & Q(ended="spoiled")),
            birds=Count("pk", filter=~game & IS_PACKED),
        )
    )
