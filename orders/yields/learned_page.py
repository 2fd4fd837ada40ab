"""What the shop has learned, as its owner reads it in percent: published, its own animals, and what is used now."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from orders.yields.constants import COVERAGE, Share
from orders.yields.figures import Figures, load_figures
from orders.yields.learned import (
    BONELESS,
    DRYING,
    HALF_WIDTH,
    PART,
    Lesson,
    ShopLearned,
    load_learned,
    prior_of,
)
from orders.yields.learning import Learned, Posterior, Prior, Summary, absorb
from shop.models import Part, Species

ALL = "All"
SEXES = {"male": "male", "female": "female"}
AGES = {"young": "young of the year", "yearling": "yearling", "adult": "adult"}


@dataclass(frozen=True, slots=True)
class LearnedRow:
    """One quantity of one class, all in words. `mean` and `spread` are empty where no animal, or only one, tells."""

    what: str
    published: str
    published_range: str
    n: int
    mean: str
    spread: str
    used: str
    used_range: str
    own: bool = False

    @property
    def sentence(self) -> str:
        """“57.3 % published, 55.8 % yours from 43 animals, used now 56.1 %, range 49.0 to 64.2 %.”"""
        start = f"{self.published} {'set by the shop' if self.own else 'published'}"
        if not self.n:
            return f"{start}; no animal of yours yet; used as it is, range {self.used_range}."
        yours = f"{self.mean} yours from {self.n} animal{'' if self.n == 1 else 's'}"
        return f"{start}, {yours}, used now {self.used}, range {self.used_range}."


@dataclass(frozen=True, slots=True)
class LearnedSpecies:
    """One species: its lean share, all animals and by class, its drying, and its parts."""

    species: Species
    lean: tuple[LearnedRow, ...]
    drying: tuple[LearnedRow, ...]
    parts: tuple[LearnedRow, ...]
    weight: float

    @property
    def n(self) -> int:
        return self.lean[0].n if self.lean else 0


def learned_page() -> list[LearnedSpecies]:
    """Every species that figures are published for, in the catalog's order. Four queries."""
    figures = load_figures()
    learned = load_learned(figures)
    names = dict(Part.objects.order_by("sort", "id").values_list("code", "name"))
    found = []
    for species in Species.objects.filter(is_bird=False):
        constants = figures.by_species.get(species.pk) or figures.general
        if constants is not None:
            page = _Page(species, figures, learned, names)
            found.append(page.species_of(constants.lean_of_hanging.share, constants.drying_per_day))
    return found


@dataclass(frozen=True, slots=True)
class _Page:
    species: Species
    figures: Figures
    learned: ShopLearned
    names: dict[str, str]

    def species_of(self, lean: Share, drying: Share) -> LearnedSpecies:
        lesson = self._lesson(BONELESS)
        base = float(lean.bounds[1])

        def of_lean(value: float) -> float:
            return 100 * base * math.exp(value)

        return LearnedSpecies(
            species=self.species,
            lean=tuple(self._by_class(lesson, of_lean, lean.own)) if lesson else (),
            drying=tuple(self._all(DRYING, ALL, _of_drying, drying.own, decimals=2)),
            parts=tuple(self._parts()),
            weight=lesson.prior.weight if lesson else 0.0,
        )

    def _lesson(self, quantity: str) -> Lesson | None:
        found = self.learned.lessons.get((self.species.pk, quantity))
        if found is not None:
            return found
        prior = prior_of(quantity, self.species.pk, self.figures, self.species.hang_days)
        return Lesson(prior, Learned(absorb(prior, Summary()), {})) if prior else None

    def _by_class(
        self, lesson: Lesson, value_of: Callable[[float], float], own: bool
    ) -> Iterator[LearnedRow]:
        yield _row(ALL, lesson.prior, lesson.learned.species, value_of, own=own)
        for name, posterior in sorted(lesson.learned.classes.items()):
            yield _row(class_words(name), lesson.prior, posterior, value_of, own=own)

    def _all(
        self, quantity: str, name: str, value_of: Callable[[float], float], own: bool, decimals: int = 1
    ) -> Iterator[LearnedRow]:
        lesson = self._lesson(quantity)
        if lesson is not None:
            yield _row(name, lesson.prior, lesson.learned.species, value_of, own=own, decimals=decimals)

    def _parts(self) -> Iterator[LearnedRow]:
        shares = self.figures.parts_of(self.species.pk)
        for code, name in self.names.items():
            if (self.species.pk, PART + code) in self.learned.lessons and code in shares:
                yield from self._all(PART + code, name, _of_share, shares[code].own)


def _row(
    what: str,
    prior: Prior,
    posterior: Posterior,
    value_of: Callable[[float], float],
    *,
    own: bool = False,
    decimals: int = 1,
) -> LearnedRow:
    """A row in percent; `value_of` makes percent of a quantity as it is learned."""

    def said(value: float) -> str:
        return f"{value_of(value):.{decimals}f} %"

    def between(low: float, high: float) -> str:
        first, last = sorted((value_of(low), value_of(high)))
        return f"{max(0.0, first):.{decimals}f} to {last:.{decimals}f} %"

    half = HALF_WIDTH * prior.spread
    published = between(prior.mean - half, prior.mean + half)
    used = posterior.predictive() if posterior.n else None
    return LearnedRow(
        what=what,
        published=said(prior.mean),
        published_range=published,
        n=posterior.n,
        mean="" if posterior.data_mean is None else said(posterior.data_mean),
        spread="" if posterior.data_sd is None else _spread(posterior, value_of, decimals),
        used=said(used.location if used else prior.mean),
        used_range=between(*used.interval(COVERAGE)) if used else published,
        own=own,
    )


def _spread(posterior: Posterior, value_of: Callable[[float], float], decimals: int) -> str:
    """One standard deviation as percent of whatever is learned, half of what lies between one down and one up."""
    assert posterior.data_mean is not None
    assert posterior.data_sd is not None
    up, down = (value_of(posterior.data_mean + sign * posterior.data_sd) for sign in (1, -1))
    return f"{abs(up - down) / 2:.{decimals}f} %"


def _of_drying(value: float) -> float:
    return 100 * (1 - math.exp(-value))


def _of_share(value: float) -> float:
    return 100 * math.exp(value)


def class_words(animal_class: str) -> str:
    """`male-adult` as `Male, adult`; what nobody wrote down says so."""
    sex, _, age = animal_class.partition("-")
    words = ", ".join((SEXES.get(sex, "sex not known"), AGES.get(age, "age not known")))
    return words[:1].upper() + words[1:]
