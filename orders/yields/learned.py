"""What the shop has learned from its own animals: the sums that are kept, on the published figures as the start.

Quantities, all as logarithms (see `refresh.observed`): BONELESS, what an animal gave over what the published figures
made likely; DRYING, what a carcass loses on each day of hanging after the first chill; PART and a code, the share of
the boneless meat that was packed as that part.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from scipy.special import ndtri

from orders.intake.models import Animal
from orders.yields.constants import COVERAGE, WHOLE_BP, Basis, Constants, Share
from orders.yields.expected import expected_boneless
from orders.yields.figures import Figures
from orders.yields.learning import (
    PRIOR_DF,
    PRIOR_WEIGHT,
    Learned,
    Posterior,
    Predictive,
    Prior,
    Summary,
    learn,
    published_prior,
)
from orders.yields.models import ShopFigure, YieldRecord
from orders.yields.words import LEARNED_SOURCE

BONELESS, DRYING, PART = "boneless", "drying", "part:"
GRIND_TRIM = "grind-trim"
# So heavy that rounding to milligrams leaves the published range as it is.
HEAVY_MG = 10**9
HALF_WIDTH = float(ndtri((1 + COVERAGE) / 2))


def class_of(animal: Animal) -> str:
    """The class that an animal is compared in: `male-adult`."""
    return f"{animal.sex}-{animal.age_class}"


@dataclass(frozen=True, slots=True)
class Lesson:
    """One quantity of one species: what is published, and what the shop's animals teach, all of them and by class."""

    prior: Prior
    learned: Learned

    def posterior(self, animal_class: str = "", leave_out: float | None = None) -> Posterior:
        """What to use for an animal of this class; `leave_out` is what that animal itself has taught, if it has."""
        found = self.learned.of(animal_class)
        if leave_out is None:
            return found
        if found.n == 1:
            # The only one of its class: without it there is only the species to go by.
            found = self.learned.species
        return found.without(leave_out)

    def predictive(self, animal_class: str = "", leave_out: float | None = None) -> Predictive | None:
        """What the next animal of this class may be; None where no other animal of the shop's has taught."""
        found = self.posterior(animal_class, leave_out)
        return found.predictive() if found.n else None


@dataclass(frozen=True, slots=True)
class ShopLearned:
    """All lessons, by species and quantity."""

    lessons: Mapping[tuple[int, str], Lesson] = field(default_factory=dict)

    def predictive(
        self, quantity: str, species: int, animal_class: str = "", leave_out: float | None = None
    ) -> Predictive | None:
        """What the next animal of a species and class may be; None where no other animal of the shop's has taught."""
        lesson = self.lessons.get((species, quantity))
        return lesson.predictive(animal_class, leave_out) if lesson else None

    def quantities(self, species: int) -> list[str]:
        """What has been learned of a species."""
        return [quantity for key, quantity in self.lessons if key == species]

    def drying_bp(
        self, constants: Constants, days: int, species: int, animal_class: str, leave_out: float | None
    ) -> int:
        """The most that the first chill and so many days of hanging take of a carcass, in basis points."""
        found = self.predictive(DRYING, species, animal_class, leave_out)
        if found is None:
            return constants.first_chill.high_bp + constants.drying_per_day.high_bp * days
        kept = math.exp(-max(0.0, found.interval(COVERAGE)[1]) * days)
        return round(WHOLE_BP * (1 - (1 - constants.first_chill.high_bp / WHOLE_BP) * kept))

    def shares(
        self, published: Mapping[str, Share], species: int, animal_class: str, taught: Mapping[str, float]
    ) -> dict[str, Share]:
        """Part shares as the shop's whole cuts turn out; grind trim takes up what they are more, or less.

        `taught`: what the animal itself has taught, by quantity.
        """
        shares = dict(published)
        for code in published:
            quantity = PART + code
            found = self.predictive(quantity, species, animal_class, taught.get(quantity))
            if found is not None:
                shares[code] = _share(found)
        trim = shares.get(GRIND_TRIM)
        if trim is not None and shares != published:
            others = sum(share.likely_bp - published[code].likely_bp for code, share in shares.items())
            low, likely, high = trim.spread_around(min(WHOLE_BP, max(trim.likely_bp - others, 0)))
            shares[GRIND_TRIM] = Share(low, likely, high, LEARNED_SOURCE)
        return shares


def _share(found: Predictive) -> Share:
    down, up = found.interval(COVERAGE)
    low, likely, high = (
        min(WHOLE_BP, round(WHOLE_BP * math.exp(each))) for each in (down, found.location, up)
    )
    return Share(low, likely, high, LEARNED_SOURCE)


@dataclass(frozen=True, slots=True)
class Taught:
    """What is learned as each animal is to be judged by it: with all others' lessons and without its own.

    `observed`: what animals themselves have taught, by their id. Without anything, the published figures hold.
    """

    learned: ShopLearned = field(default_factory=ShopLearned)
    observed: Mapping[int, Mapping[str, float]] = field(default_factory=dict)

    def own(self, animal: Animal) -> Mapping[str, float]:
        """What this very animal has taught, by quantity."""
        return self.observed.get(animal.pk, {})

    def boneless(self, animal: Animal) -> Predictive | None:
        """What to expect of an animal's boneless meat against the published figures; None where nothing is learned."""
        leave_out = self.own(animal).get(BONELESS)
        return self.learned.predictive(BONELESS, animal.species_id, class_of(animal), leave_out)

    def drying_bp(self, animal: Animal, constants: Constants, days: int) -> int:
        """The most that the first chill and so many days of hanging take of its carcass, in basis points."""
        leave_out = self.own(animal).get(DRYING)
        return self.learned.drying_bp(constants, days, animal.species_id, class_of(animal), leave_out)

    def shares(self, animal: Animal, published: Mapping[str, Share]) -> dict[str, Share]:
        """Part shares for an animal."""
        return self.learned.shares(published, animal.species_id, class_of(animal), self.own(animal))


def load_learned(figures: Figures) -> ShopLearned:
    """What the shop has learned, in one query; a quantity without a published figure is not learned."""
    rows = ShopFigure.objects.exclude(animal_class="").select_related("species").order_by("id")
    sums: dict[tuple[int, str], dict[str, Summary]] = {}
    days: dict[int, int] = {}
    for row in rows:
        by_class = sums.setdefault((row.species_id, row.quantity), {})
        by_class[row.animal_class] = Summary(row.n, row.mean, row.squares)
        days[row.species_id] = row.species.hang_days
    lessons = {}
    for (species, quantity), by_class in sums.items():
        prior = prior_of(quantity, species, figures, days[species])
        if prior is not None:
            lessons[species, quantity] = Lesson(prior, learn(prior, by_class))
    return ShopLearned(lessons)


def load_taught(figures: Figures, animals: Iterable[Animal]) -> Taught:
    """What is learned, and what these animals themselves have taught, in two queries."""
    keys = [animal.pk for animal in animals]
    kept = YieldRecord.objects.filter(animal__in=keys).exclude(observed={}).order_by()
    return Taught(load_learned(figures), dict(kept.values_list("animal_id", "observed")))


def prior_of(quantity: str, species: int, figures: Figures, hang_days: int) -> Prior | None:
    """What the published figures say of a quantity, as the start of learning; None where they say nothing."""
    constants = figures.by_species.get(species) or figures.general
    if quantity.startswith(PART):
        return _part_prior(figures.parts_of(species).get(quantity.removeprefix(PART)))
    if constants is None:
        return None
    return _boneless_prior(constants, hang_days) if quantity == BONELESS else _drying_prior(constants)


def _boneless_prior(constants: Constants, hang_days: int) -> Prior | None:
    """From the range of a skinned carcass with an average shot that hangs the usual days."""
    found = expected_boneless(HEAVY_MG, Basis.HANGING, constants, hung_days=hang_days)
    if not 0 < found.low_mg < found.high_mg:
        return None
    return published_prior(found.low_mg, found.high_mg, coverage=COVERAGE)


def _part_prior(share: Share | None) -> Prior | None:
    if share is None or not 0 < share.low_bp < share.high_bp:
        return None
    spread = published_prior(share.low_bp, share.high_bp, coverage=COVERAGE).spread
    return Prior(math.log(share.likely_bp / WHOLE_BP), PRIOR_WEIGHT, spread, PRIOR_DF)


def _drying_prior(constants: Constants) -> Prior | None:
    """Drying on each further day, as published."""
    low, likely, high = (float(bound) for bound in constants.drying_per_day.bounds)
    if not low < high < 1:
        return None
    half = (math.log(1 - low) - math.log(1 - high)) / 2
    return Prior(-math.log(1 - likely), PRIOR_WEIGHT, half / HALF_WIDTH, PRIOR_DF)
