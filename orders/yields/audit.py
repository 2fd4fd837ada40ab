"""The audit of a season: each closed animal against its own range, and what to look at, most pounds first.

Reads the yield records, never a pack. An animal is judged by what the shop's *other* animals taught: no animal helps to
make the range it is held against. Weights in milligrams.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from django.db.models import QuerySet

from orders.intake.models import Animal, Season
from orders.yields import audit_math
from orders.yields.figures import Figures, load_figures
from orders.yields.flags import HANGING, AnimalFacts, Audit, Flag, GapFacts, LugFacts, Range, rank
from orders.yields.learned import BONELESS, DRYING, ShopLearned, load_learned
from orders.yields.learning import Predictive
from orders.yields.left_behind import LeftBehind, left_behind
from orders.yields.models import YieldRecord
from orders.yields.ranges import Chain, together
from orders.yields.refresh import refresh
from orders.yields.scales import Checks, load_checks
from shop.context import shop_settings
from shop.models import Species

WHOLE_BP = 10_000
BONE_IN = "Some cuts were packed with their bone: the range is of boneless meat, and is no measure for them."
SAID_ALREADY = "Nothing to look for: what happened is on record."


@dataclass(frozen=True, slots=True)
class Audited:
    """One record as judged: its range with what is learned of the others, where it stands in it, and its flags."""

    record: YieldRecord
    expected: Range | None
    percentile: float | None
    found: Audit

    @property
    def label(self) -> str:
        """`26-0147/2`; the order and how many, where they were put together."""
        number, many = self.record.order.number, len(self.record.members)
        if many > 1:
            return f"{number}, {many} together"
        return number if self.record.animal.n == 1 else f"{number}/{self.record.animal.n}"

    @property
    def hunter(self) -> str:
        return str(self.record.order.hunter or "")

    @property
    def own_mg(self) -> int | None:
        return self.record.own_mg

    @property
    def compared(self) -> bool:
        """Whether its yield tells something: packed and weighed, boneless, with a range, and no cause on record."""
        return self.percentile is not None and not self.record.facts["cause"]

    @property
    def open_flags(self) -> tuple[Flag, ...]:
        return tuple(flag for flag in self.found.flags if not flag.explained)

    @property
    def at_stake_mg(self) -> int:
        """The pounds of its open flags."""
        return sum(flag.pounds_mg for flag in self.open_flags)

    @property
    def of_likely(self) -> float | None:
        """Own meat packed as a percentage of what was to be expected of it; None where that tells nothing."""
        if not self.compared or self.expected is None or self.own_mg is None:
            return None
        return 100 * self.own_mg / self.expected.likely_mg

    @property
    def log_of_likely(self) -> float | None:
        """The natural logarithm of the same, as a share."""
        share = self.of_likely
        return math.log(share / 100) if share else None


@dataclass(frozen=True, slots=True)
class Ranked:
    """One flag with the animal it is about."""

    pk: int
    label: str
    hunter: str
    sentence: str
    flag: Flag


@dataclass(frozen=True)
class SeasonAudit:
    """A season's closed animals, those finished last first, and lugs that were left behind."""

    season: Season | None
    animals: tuple[Audited, ...]
    left: tuple[LeftBehind, ...] = ()

    @cached_property
    def to_look_at(self) -> tuple[Ranked, ...]:
        """What asks to be looked at, most pounds first."""
        return tuple(each for each in self._ranked if not each.flag.explained)

    @cached_property
    def explained(self) -> tuple[Ranked, ...]:
        """What looks bad at first sight and is accounted for."""
        return tuple(each for each in self._ranked if each.flag.explained)

    @cached_property
    def _ranked(self) -> tuple[Ranked, ...]:
        pairs = [(flag, _ranked(each, flag)) for each in self.animals for flag in each.found.flags]
        pairs += [
            (each.flag, Ranked(each.pk, each.label, each.hunter, each.sentence, each.flag))
            for each in self.left
        ]
        return tuple(
            pair[1]
            for pair in sorted(pairs, key=lambda pair: (pair[0].explained, -pair[0].pounds_mg, -pair[1].pk))
        )

    @property
    def at_stake_mg(self) -> int:
        return sum(each.flag.pounds_mg for each in self.to_look_at)

    @property
    def compared(self) -> tuple[Audited, ...]:
        """The animals whose yield tells something, in the order they were finished."""
        return tuple(reversed([each for each in self.animals if each.compared]))

    @property
    def within(self) -> int:
        """How many of those lie in their range."""
        return sum(
            each.expected is not None
            and each.own_mg is not None
            and each.expected.low_mg <= each.own_mg <= each.expected.high_mg
            for each in self.compared
        )


def _ranked(each: Audited, flag: Flag) -> Ranked:
    return Ranked(each.record.animal_id, each.label, each.hunter, each.found.sentence, flag)


def audit_season(season: Season | None, species: Species | None = None) -> SeasonAudit:
    """Judge a season's closed animals, birds apart. The number of queries does not depend on that of the animals."""
    refresh()
    if season is None:
        return SeasonAudit(None, ())
    records = closed_records().filter(season=season)
    if species is not None:
        records = records.filter(species=species)
    found = audit_records(list(records))
    return SeasonAudit(season, tuple(found), tuple(left_behind(season, species)))


def closed_records() -> QuerySet[YieldRecord]:
    """Records of closed animals with all that a page shows of them, those finished last first."""
    found = YieldRecord.objects.filter(finished_at__isnull=False, species__is_bird=False)
    related = ("order__hunter", "animal", "species", "cutter", "block", "alone")
    return found.select_related(*related).order_by("-finished_at", "-pk")


def audit_of(animal: Animal) -> Audited | None:
    """One closed animal, or the pool it is in, as the audit of its season has it; None while it is not closed."""
    refresh()
    records = list(closed_records().filter(order=animal.order_id))
    mine = [record for record in records if animal.pk in record.members]
    return audit_records(mine)[0] if mine else None


def flag_counts(records: Sequence[YieldRecord]) -> dict[int, int]:
    """How many things there are to look at, by the record's id."""
    return {each.record.pk: len(each.open_flags) for each in audit_records(records)}


def audit_records(records: Sequence[YieldRecord]) -> list[Audited]:
    """Judge these records, in as many queries whatever their number. They need what `closed_records` brings."""
    figures = load_figures()
    judge = Judge(figures, load_learned(figures), load_checks(), shop_settings().unit)
    return [judge.audited(record) for record in records]


@dataclass(frozen=True, slots=True)
class Judge:
    """What records are judged with: the figures, what the shop has learned, the scales' checks, and the shop's unit."""

    figures: Figures
    learned: ShopLearned
    checks: Checks
    unit: str

    def audited(self, record: YieldRecord) -> Audited:
        """Where a record stands, and what there is to look at."""
        facts, df = self.facts_of(record)
        found = audit_math.audit(facts)
        if record.facts["bone_in"]:
            found = replace(found, sentence=BONE_IN)
        if record.facts["cause"]:
            found = _with_cause(found, record.facts["cause"])
        percentile = None
        if facts.own_mg is not None and facts.expected is not None:
            percentile = audit_math.percentile(facts.own_mg, facts.expected, df)
        return Audited(record, facts.expected, percentile, found)

    def facts_of(self, record: YieldRecord) -> tuple[AnimalFacts, float]:
        """The facts that the flags are reasoned from, and the degrees of freedom of the range."""
        kept = record.facts
        expected, df = self._range(record, kept["ranges"])
        ordinary, _ = self._range(record, kept["ordinary"] or kept["ranges"])
        as_hung, _ = self._range(record, kept["as_hung"] or kept["ranges"])
        worst = kept["worst_shot_mg"]
        if expected and record.likely_mg:
            worst = worst * expected.likely_mg // record.likely_mg
        facts = AnimalFacts(
            own_mg=None if kept["bone_in"] else record.own_mg,
            expected=expected,
            ordinary=ordinary,
            likely_as_hung_mg=as_hung.likely_mg if as_hung else None,
            weighed_mg=record.weighed_mg or 0,
            basis_point=HANGING if record.basis == HANGING and record.hung_mg else "received",
            shot_regions=tuple(kept["regions"]),
            bloodshot_known=kept["bloodshot_known"],
            worst_shot_mg=worst,
            hung_days=record.hung_days,
            usual_days=record.species.hang_days,
            gaps=tuple(self._gap(record, gap) for gap in kept["gaps"]),
            scales=tuple(self.checks.scales(kept["readings"])),
            lugs=tuple(LugFacts(lug["name"], lug["mg"], lug["place"]) for lug in kept["lugs"]),
            waste_mg=kept["waste_mg"],
            usual_waste_mg=kept["usual_waste_mg"],
            to_trim_mg=kept["to_trim_mg"],
            to_trim_asked=kept["to_trim_asked"],
            unit=self.unit,
        )
        return facts, df

    def _range(self, record: YieldRecord, kept: Iterable[Mapping[str, Any]]) -> tuple[Range | None, float]:
        leave_out = record.observed.get(BONELESS)

        def learned(species: int, animal_class: str) -> Predictive | None:
            return self.learned.predictive(BONELESS, species, animal_class, leave_out)

        return together(map(Chain.read, kept), learned) or (None, math.inf)

    def _gap(self, record: YieldRecord, gap: Mapping[str, Any]) -> GapFacts:
        loss = gap["loss_bp"] + (self._drying_bp(record) if gap["drying"] else 0)
        return GapFacts(
            start=gap["start"],
            end=gap["end"],
            start_name=gap["from"],
            end_name=gap["to"],
            missing_mg=gap["mg"],
            scales_mg=gap["uncertainty_mg"],
            loss_mg=gap["start_mg"] * loss // WHOLE_BP,
            ground=gap["ground"],
        )

    def _drying_bp(self, record: YieldRecord) -> int:
        constants = self.figures.of(record.species_id, record.animal_class) or self.figures.general
        if constants is None:
            return 0
        leave_out = record.observed.get(DRYING)
        return self.learned.drying_bp(
            constants, record.hung_days, record.species_id, record.animal_class, leave_out
        )


def _with_cause(found: Audit, cause: str) -> Audit:
    """What happened is on record: nothing of it needs looking at."""
    flags = rank(replace(flag, explained=True, look_next=SAID_ALREADY) for flag in found.flags)
    said = f"{cause[:1].upper()}{cause[1:]}, as was put on record: its yield is held against nothing."
    return replace(found, sentence=f"{found.sentence} {said}", flags=flags)


def percentile_words(percentile: float, *, many: bool = False) -> str:
    """“Of 100 animals like this one, 12 give less.”"""
    like = "Of 100 like these" if many else "Of 100 animals like this one"
    rounded = round(percentile)
    if rounded < 1:
        return f"{like}, fewer than 1 gives less."
    if rounded > 99:
        return f"{like}, more than 99 give less."
    return f"{like}, {rounded} {'gives' if rounded == 1 else 'give'} less."
