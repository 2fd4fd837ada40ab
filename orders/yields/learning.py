"""What the shop's own animals teach: the published figure as a prior, their weights as data.

One animal is one number r, the natural logarithm of what it gave over what the published figures made likely:
r = 0 is exactly as published, r = 0.05 about five percent more. Logarithms have no unit; neither has anything here.

Model (normal, mean and variance both unknown, conjugate):

    r | m, v  ~ Normal(m, v)      m | v ~ Normal(mean, v / weight)      v ~ Scaled-Inverse-chi2(df, spread^2)

After n animals of average a with squares S = sum (r - a)^2:

    weight' = weight + n                       df' = df + n
    mean'   = (weight mean + n a) / weight'
    df' spread'^2 = df spread^2 + S + (weight n / weight') (a - mean)^2

The next animal is Student t with df' degrees of freedom around mean', of scale spread' sqrt(1 + 1 / weight').

Gelman et al., Bayesian Data Analysis, 3rd ed. (2013), section 3.3; Murphy, Conjugate Bayesian analysis of the
Gaussian distribution (2007), section 6. The same update serves lean share, part shares and drying per day.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri, stdtr, stdtrit

from orders.yields.constants import COVERAGE

# How many animals of the shop's own the published figure counts for, in mean and in spread. Common practice, no source.
PRIOR_WEIGHT = 8.0
PRIOR_DF = 8.0
# Beyond any ratio of weights, and small enough that its square is still a number.
LARGEST = 1e100

Number = TypeVar("Number", float, NDArray[np.float64])


@dataclass(frozen=True, slots=True)
class Predictive:
    """What the next animal's r may be: Student t around `location`, of `scale`, with `df` degrees of freedom."""

    location: float
    scale: float
    df: float

    def __post_init__(self) -> None:
        _finite(self.location)
        _positive(scale=self.scale, df=self.df)

    def quantile(self, share: float) -> float:
        """The r below which `share` (0 to 1, ends excluded) of animals fall. ValueError for any other share."""
        if not 0 < share < 1:
            raise ValueError("A quantile is asked for a share between 0 and 1.")
        return self.location + self.scale * float(stdtrit(self.df, share))

    def interval(self, coverage: float = COVERAGE) -> tuple[float, float]:
        """Low and high r that hold `coverage` of animals, as many below as above."""
        half = self.quantile((1 + coverage) / 2) - self.location
        return self.location - half, self.location + half

    def percentile(self, value: float) -> float:
        """Of 100 animals, how many give less than `value` does. ValueError for what is not a finite number."""
        _finite(value)
        return 100 * float(stdtr(self.df, (value - self.location) / self.scale))


@dataclass(frozen=True, slots=True)
class Prior:
    """What is held before the shop's own animals: `mean` of r, and the `spread` (standard deviation) of one animal.

    `weight` and `df`: how many animals the mean, and the spread, count for. All but the mean are above zero.
    """

    mean: float
    weight: float
    spread: float
    df: float

    def __post_init__(self) -> None:
        _finite(self.mean)
        _positive(weight=self.weight, spread=self.spread, df=self.df)

    def predictive(self) -> Predictive:
        """What the next animal may be before any was weighed."""
        return _predictive(self.mean, self.weight, self.spread, self.df)


@dataclass(frozen=True, slots=True)
class Posterior:
    """The same four numbers after `n` animals, with those animals' own mean and standard deviation.

    `data_mean` is None without an animal, `data_sd` (of n - 1) with fewer than two.
    """

    mean: float
    weight: float
    spread: float
    df: float
    n: int
    data_mean: float | None
    data_sd: float | None

    def predictive(self) -> Predictive:
        """What the next animal may be."""
        return _predictive(self.mean, self.weight, self.spread, self.df)

    def as_prior(self, weight_cap: float = math.inf, df_cap: float = math.inf) -> Prior:
        """What was learned as a prior for something else, counting for no more animals than the caps."""
        return Prior(self.mean, min(self.weight, weight_cap), self.spread, min(self.df, df_cap))

    def without(self, value: float) -> Posterior:
        """As if the animal `value` had not taught: so that no animal is judged by a range it helped to make.

        The update turned round; `value` must be one of those learned from. ValueError when nothing was learned.
        """
        _finite(value)
        if self.n == 0:
            raise ValueError("No animal was learned from, so none can be left out.")
        weight, df, n = self.weight - 1, self.df - 1, self.n - 1
        mean = (self.weight * self.mean - value) / weight
        squares = self.df * self.spread**2 - weight / self.weight * (value - mean) ** 2
        data_mean, data_sd = self._data_without(value, n)
        return Posterior(mean, weight, math.sqrt(squares / df), df, n, data_mean, data_sd)

    def _data_without(self, value: float, n: int) -> tuple[float | None, float | None]:
        if n == 0 or self.data_mean is None or self.data_sd is None:
            return None, None
        mean = (self.n * self.data_mean - value) / n
        if n == 1:
            return mean, None
        squares = n * self.data_sd**2 - n / self.n * (value - mean) ** 2
        return mean, math.sqrt(max(0.0, squares) / (n - 1))


@dataclass(frozen=True, slots=True)
class Learned:
    """What a species' animals teach: all of them, and class by class (a buck, a doe, a fawn)."""

    species: Posterior
    classes: Mapping[str, Posterior]

    def of(self, animal_class: str | None) -> Posterior:
        """What to use for an animal of this class; the species' where the class is unknown or has no animal yet."""
        return self.classes.get(animal_class, self.species) if animal_class else self.species


@dataclass(frozen=True, slots=True)
class Summary:
    """All that the update needs of some values: how many, their mean, and the sum of squared distances from it."""

    n: int = 0
    mean: float = 0.0
    squares: float = 0.0

    def __post_init__(self) -> None:
        _finite(self.mean, self.squares)
        if self.n < 0 or self.squares < 0:
            raise ValueError("A count and a sum of squares cannot be negative.")

    @classmethod
    def of(cls, values: Sequence[float]) -> Summary:
        """From the values themselves, in whatever order. ValueError for one that is not a finite number."""
        _finite(*values)
        if not values:
            return cls()
        mean = math.fsum(values) / len(values)
        return cls(len(values), mean, math.fsum((value - mean) ** 2 for value in values))

    def __add__(self, other: Summary) -> Summary:
        """Of both together: Chan, Golub & LeVeque, The American Statistician 37(3):242-247, 1983, eq. 2.1."""
        n = self.n + other.n
        if n == 0:
            return self
        apart = other.mean - self.mean
        squares = self.squares + other.squares + apart**2 * self.n * other.n / n
        return Summary(n, self.mean + apart * other.n / n, squares)


def update(prior: Prior, values: Sequence[float]) -> Posterior:
    """The prior after these animals' r, in whatever order. ValueError for a value that is not a finite number."""
    return absorb(prior, Summary.of(values))


def absorb(prior: Prior, data: Summary) -> Posterior:
    """The prior after animals of which only the sums were kept: the same as `update` of the animals."""
    if data.n == 0:
        return Posterior(prior.mean, prior.weight, prior.spread, prior.df, 0, None, None)
    mean, spread_squared = conjugate(prior, float(data.n), data.mean, data.squares)
    return Posterior(
        mean=mean,
        weight=prior.weight + data.n,
        spread=math.sqrt(spread_squared),
        df=prior.df + data.n,
        n=data.n,
        data_mean=data.mean,
        data_sd=math.sqrt(data.squares / (data.n - 1)) if data.n > 1 else None,
    )


def conjugate(prior: Prior, n: Number, average: Number, squares: Number) -> tuple[Number, Number]:
    """The new mean, and the new spread squared, from `n` values of this average and sum of squared deviations.

    One shop's numbers, or arrays of many shops'.
    """
    weight, df = prior.weight + n, prior.df + n
    mean = (prior.weight * prior.mean + n * average) / weight
    disagreement = prior.weight * n / weight * (average - prior.mean) ** 2
    return mean, (prior.df * prior.spread**2 + squares + disagreement) / df


def class_prior(species: Posterior, weight_cap: float = PRIOR_WEIGHT, df_cap: float = PRIOR_DF) -> Prior:
    """A class's prior: what the species has learned, counting for no more animals than the published figure did."""
    return species.as_prior(weight_cap, df_cap)


def learn(prior: Prior, by_class: Mapping[str, Summary]) -> Learned:
    """Learn from a species' animals, given by class; each animal in one class only.

    A class starts from what the *other* classes' animals have taught (capped at the published prior's weight): were
    its own among them, they would count twice and the range would be too narrow. Classes without an animal are left
    out, and `Learned.of` falls back to the species. ValueError for a class without a name.
    """
    if "" in by_class:
        raise ValueError("A class needs a name; the sum of all classes is reckoned here.")
    classes = {}
    for name, data in by_class.items():
        if data.n:
            others = sum((each for other, each in by_class.items() if other != name), Summary())
            classes[name] = absorb(class_prior(absorb(prior, others), prior.weight, prior.df), data)
    return Learned(absorb(prior, sum(by_class.values(), Summary())), classes)


def published_prior(
    low: float, high: float, *, weight: float = PRIOR_WEIGHT, df: float = PRIOR_DF, coverage: float = COVERAGE
) -> Prior:
    """The prior that a published range stands for: mean 0, spread its half-width on logs over the normal quantile.

    `low` and `high` hold `coverage` of animals, in any one unit, both above zero. ValueError when they cannot.
    """
    _finite(low, high)
    if not 0 < low < high:
        raise ValueError("A published range needs 0 < low < high.")
    if not 0 < coverage < 1:
        raise ValueError("A coverage is a share between 0 and 1.")
    half_width = math.log(high / low) / 2
    return Prior(0.0, weight, half_width / float(ndtri((1 + coverage) / 2)), df)


def log_ratio(packed_mg: int, likely_mg: int) -> float:
    """One animal's r: ln(own boneless meat packed / likely boneless weight). ValueError unless both are above zero."""
    if packed_mg <= 0 or likely_mg <= 0:
        raise ValueError("An animal teaches only with meat packed and meat expected.")
    return math.log(packed_mg / likely_mg)


def _predictive(mean: float, weight: float, spread: float, df: float) -> Predictive:
    return Predictive(mean, spread * math.sqrt(1 + 1 / weight), df)


def _finite(*values: float) -> None:
    if not all(abs(value) <= LARGEST for value in values):
        raise ValueError("A value that is not a finite number cannot be used.")


def _positive(**values: float) -> None:
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0):
            raise ValueError(f"{name} has to be a finite number above zero.")
