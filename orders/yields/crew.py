"""People compared by partial pooling: only animals that one person did whole, each drawn toward the crew's average.

    r of animal j of person i = m + b_i + e_ij      b_i ~ Normal(0, between)      e_ij ~ Normal(0, within)

A random-intercept model. `between` and `within` are variances by restricted maximum likelihood (REML), which profiles
to one number, the ratio of the two spreads. With q = between / within and w_i = n_i / (1 + n_i q):

    m = sum w_i mean_i / sum w_i           s_i = n_i q / (1 + n_i q)           pooled_i = m + s_i (mean_i - m)
    -2 log REML = (N - 1) ln within + sum ln(1 + n_i q) + ln sum w_i + constant
    within = (squares within people + sum w_i (mean_i - m)^2) / (N - 1)
    standard error_i^2 = between (1 - s_i) + (1 - s_i)^2 within / sum w_i

Few animals are drawn far, many hardly. Searle, Casella & McCulloch, Variance Components (1992), chapters 3, 6 and 7.
A crew is a handful of people, so `between` is itself poorly known and the standard error alone is too small. The
interval therefore averages over every ratio of the spreads by its likelihood, all ratios equally likely beforehand
(Gelman, Bayesian Analysis 1(3):515-533, 2006, advises that for the spread between few groups).
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar
from scipy.special import ndtri

from orders.yields.learning import COVERAGE

# Squares smaller than this share of the values' own are rounding, not a difference.
ROUNDING = 1e-24
# A gain in -2 log likelihood smaller than this is rounding too: then no spread between people shows.
NO_BETTER = 1e-9
# One odd animal is no person's way of working: nobody is called apart on fewer. Common practice, no source.
FEWEST_ANIMALS = 5
RATIOS = 301
WIDEST_RATIO = 3.0

ONE_PERSON = "One person only: there is nobody to compare with."
ONE_EACH = "Everybody did one animal only: people cannot be told apart from animals."
NOBODY = "No animal was done whole by one person."
ALL_EQUAL = "All animals are equal: there is no difference between people."
EQUAL_WITHIN = "Each person's animals are all equal: nothing is known of the spread from animal to animal."
NO_DIFFERENCE = "No difference between people shows: what there is, animals make."

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class PersonYield:
    """One person's whole animals: how many, their plain mean, and the pooled estimate with its standard error.

    `low` and `high` are the interval of the pooled estimate. All but the first three are None without a comparison.
    `apart`: an interval of the same coverage around the difference from the average of these people does not hold zero,
    and there are animals enough to say so.
    """

    person: Hashable
    n: int
    mean: float
    pooled: float | None = None
    standard_error: float | None = None
    low: float | None = None
    high: float | None = None
    apart: bool = False


@dataclass(frozen=True, slots=True)
class Crew:
    """All people, in the order given; the crew's average m and its standard error, and the two variances.

    All of these are None where people cannot be compared; `note` says why, or how the comparison is to be read.
    """

    people: tuple[PersonYield, ...]
    mean: float | None = None
    standard_error: float | None = None
    between: float | None = None
    within: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class _Data:
    """Per person: number of animals and mean; over all: squares within people."""

    n: Floats
    mean: Floats
    squares: float

    @property
    def total(self) -> float:
        return float(self.n.sum())


@dataclass(frozen=True, slots=True)
class _Fit:
    """The model at one ratio of spreads, or at several (a row each)."""

    deviance: Floats
    within: Floats
    mean: Floats
    mean_variance: Floats
    pooled: Floats
    variance: Floats
    variance_apart: Floats


def whole_by_one(people: Iterable[Hashable | None]) -> Hashable | None:
    """The one person who did every step, given who did each; None where more did, or where any step names nobody."""
    found = set(people)
    return found.pop() if len(found) == 1 else None


def compare(by_person: Mapping[Hashable, Sequence[float]], coverage: float = COVERAGE) -> Crew:
    """Compare people by the r of the animals each did whole; people without an animal are left out.

    Raises ValueError for a value that is not a finite number, or a coverage that is not between 0 and 1.
    """
    if not 0 < coverage < 1:
        raise ValueError("A coverage is a share between 0 and 1.")
    found = {person: np.asarray(values, float) for person, values in by_person.items() if len(values)}
    if not all(np.isfinite(values).all() for values in found.values()):
        raise ValueError("A value that is not a finite number cannot be compared.")
    plain = tuple(PersonYield(who, len(values), _mean(values)) for who, values in found.items())
    if note := _cannot(plain):
        return Crew(plain, note=note)
    data = _data(list(found.values()))
    everything = math.fsum(float(value) ** 2 for values in found.values() for value in values)
    if data.squares <= ROUNDING * everything:
        return _without_spread(plain, everything)
    return _compared(plain, data, coverage)


def _cannot(people: Sequence[PersonYield]) -> str:
    if not people:
        return NOBODY
    if len(people) == 1:
        return ONE_PERSON
    return ONE_EACH if all(each.n == 1 for each in people) else ""


def _mean(values: Floats) -> float:
    return math.fsum(values) / len(values)


def _data(values: Sequence[Floats]) -> _Data:
    means = [_mean(each) for each in values]
    squares = math.fsum(
        (float(value) - mean) ** 2 for each, mean in zip(values, means, strict=True) for value in each
    )
    return _Data(np.array([len(each) for each in values], float), np.array(means), squares)


def _without_spread(people: Sequence[PersonYield], everything: float) -> Crew:
    """No spread from animal to animal: each person's mean is exact, and so is the variance between the means."""
    means = [each.mean for each in people]
    middle = math.fsum(means) / len(means)
    between = math.fsum((mean - middle) ** 2 for mean in means) / (len(means) - 1)
    equal = between <= ROUNDING * everything
    exact = tuple(
        PersonYield(each.person, each.n, each.mean, each.mean, 0.0, each.mean, each.mean) for each in people
    )
    if equal:
        return Crew(exact, middle, 0.0, 0.0, 0.0, ALL_EQUAL)
    return Crew(exact, middle, math.sqrt(between / len(means)), between, 0.0, EQUAL_WITHIN)


def _compared(people: Sequence[PersonYield], data: _Data, coverage: float) -> Crew:
    ratio = _best_ratio(data)
    fit = _fit(data, np.array([ratio]))
    mean, within = float(fit.mean[0]), float(fit.within[0])
    pooled = fit.pooled[0]
    errors, errors_apart = _errors_over_ratios(data, ratio, pooled)
    quantile = float(ndtri((1 + coverage) / 2))
    half, half_apart = quantile * errors, quantile * errors_apart
    found = tuple(
        PersonYield(
            each.person,
            each.n,
            each.mean,
            pooled=float(pooled[index]),
            standard_error=math.sqrt(float(fit.variance[0, index])),
            low=float(pooled[index] - half[index]),
            high=float(pooled[index] + half[index]),
            apart=each.n >= FEWEST_ANIMALS and bool(abs(pooled[index] - pooled.mean()) > half_apart[index]),
        )
        for index, each in enumerate(people)
    )
    note = NO_DIFFERENCE if ratio == 0 else ""
    return Crew(found, mean, math.sqrt(float(fit.mean_variance[0])), ratio**2 * within, within, note)


def _best_ratio(data: _Data) -> float:
    """The ratio of the spread between people to that within which REML prefers; 0 where none shows."""
    tried = np.concatenate([[0.0], np.geomspace(1e-3, 1e6, RATIOS)])
    best = int(_fit(data, tried).deviance.argmin())
    bounds = float(tried[max(0, best - 1)]), float(tried[min(len(tried) - 1, best + 1)])

    def deviance(ratio: float) -> float:
        return float(_fit(data, np.array([ratio])).deviance[0])

    found = minimize_scalar(deviance, bounds=bounds, method="bounded", options={"xatol": 1e-9 * bounds[1]})
    return float(found.x) if deviance(0.0) - found.fun > NO_BETTER else 0.0


def _fit(data: _Data, ratios: Floats) -> _Fit:
    """The model at each of these ratios of spreads; the formulas are at the top of this file."""
    q = ratios[:, None] ** 2
    weights = data.n / (1 + data.n * q)
    total = weights.sum(axis=1)
    mean = (weights * data.mean).sum(axis=1) / total
    away = data.mean - mean[:, None]
    within = (data.squares + (weights * away**2).sum(axis=1)) / (data.total - 1)
    drawn = data.n * q / (1 + data.n * q)
    mean_variance = within / total
    own, of_mean, undrawn = q * within[:, None] * (1 - drawn), mean_variance[:, None], 1 - drawn
    people = len(data.n)
    return _Fit(
        deviance=(data.total - 1) * np.log(within) + np.log1p(data.n * q).sum(axis=1) + np.log(total),
        within=within,
        mean=mean,
        mean_variance=mean_variance,
        pooled=mean[:, None] + drawn * away,
        variance=own + undrawn**2 * of_mean,
        variance_apart=own * (1 - 2 / people)
        + own.sum(axis=1, keepdims=True) / people**2
        + (undrawn - undrawn.mean(axis=1, keepdims=True)) ** 2 * of_mean,
    )


def _errors_over_ratios(data: _Data, ratio: float, pooled: Floats) -> tuple[Floats, Floats]:
    """Standard errors with the ratio of spreads unknown, averaged by its likelihood.

    Of each pooled estimate, and of its difference from the plain average of all of them.
    """
    fit = _fit(data, np.linspace(0.0, max(WIDEST_RATIO, 5 * ratio), RATIOS))
    likelihood = np.exp(-0.5 * (fit.deviance - fit.deviance.min()))
    shares = (likelihood / likelihood.sum())[:, None]
    squares = fit.variance + (fit.pooled - pooled) ** 2
    moved = fit.pooled - fit.pooled.mean(axis=1, keepdims=True) - (pooled - pooled.mean())
    squares_apart = fit.variance_apart + moved**2
    return np.sqrt((shares * squares).sum(axis=0)), np.sqrt((shares * squares_apart).sum(axis=0))
