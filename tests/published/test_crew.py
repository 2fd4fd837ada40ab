"""Partial pooling against a published data set, and against an independent mixed-model fit."""

from __future__ import annotations

import numpy as np
import pytest
from statsmodels.regression.mixed_linear_model import MixedLM

from orders.yields.crew import NO_DIFFERENCE, Crew, _data, _fit, compare

# Yield of dyestuff in grams, five preparations from each of six batches: Davies & Goldsmith, Statistical Methods in
# Research and Production, 4th ed. (1972), p. 131. From memory, as are the REML figures that Bates, Maechler, Bolker
# & Walker print for it (package lme4): between batches 1764.05, residual 2451.25, mean 1527.50, its error 19.38.
DYESTUFF = {
    "A": (1545, 1440, 1440, 1520, 1580),
    "B": (1540, 1555, 1490, 1560, 1495),
    "C": (1595, 1550, 1605, 1510, 1560),
    "D": (1445, 1440, 1595, 1465, 1545),
    "E": (1595, 1630, 1515, 1635, 1625),
    "F": (1520, 1455, 1450, 1480, 1445),
}
# Simulated data in which batches do not differ: Box & Tiao, Bayesian Inference in Statistical Analysis (1973), table
# 5.1.4. From memory, with lme4's REML figures: between batches 0, residual 13.81, mean 5.6656.
NO_BATCHES = {
    "A": (7.298, 3.846, 2.434, 9.566, 7.990),
    "B": (5.220, 6.556, 0.608, 11.788, -0.892),
    "C": (0.110, 10.386, 13.434, 5.510, 8.166),
    "D": (2.212, 4.852, 7.092, 9.288, 4.980),
    "E": (0.282, 9.014, 4.458, 9.446, 7.198),
    "F": (1.722, 4.782, 8.106, 0.758, 3.758),
}


def test_dyestuff() -> None:
    found = compare(DYESTUFF)
    assert found.between == pytest.approx(1764.05, abs=0.01)
    assert found.within == pytest.approx(2451.25, abs=0.01)
    assert found.mean == pytest.approx(1527.5)
    assert found.standard_error == pytest.approx(19.38, abs=0.005)
    assert found.note == ""


def test_dyestuff_is_drawn_in_as_the_analysis_of_variance_says() -> None:
    """Balanced: each batch keeps 1 - residual / (5 x variance of the means) of its distance, by hand 0.7825."""
    for person in compare(DYESTUFF).people:
        kept = (person.pooled - 1527.5) / (person.mean - 1527.5)
        assert kept == pytest.approx(1 - 2451.25 / 11271.5, abs=1e-5)


def test_batches_that_do_not_differ() -> None:
    found = compare(NO_BATCHES)
    assert found.between == 0
    assert found.within == pytest.approx(13.81, abs=0.005)
    assert found.mean == pytest.approx(5.6656, abs=0.00005)
    assert [person.pooled for person in found.people] == pytest.approx([5.6656] * 6, abs=0.00005)
    assert not any(person.apart for person in found.people)
    assert found.note == NO_DIFFERENCE


def _crew(sizes: tuple[int, ...], seed: int) -> dict[int, list[float]]:
    random = np.random.default_rng(seed)
    return {
        person: (0.06 * random.standard_normal() + 0.09 * random.standard_normal(size)).tolist()
        for person, size in enumerate(sizes)
    }


CREWS = {
    "balanced": _crew((25, 25, 25, 25), 2),
    "unbalanced": _crew((4, 9, 30, 55, 2), 3),
    "one has one animal": _crew((1, 40, 12, 33, 6, 18), 5),
    "dyestuff": DYESTUFF,
}


@pytest.mark.parametrize("name", CREWS)
def test_an_independent_mixed_model_agrees(name: str) -> None:
    """statsmodels' MixedLM, REML: variances, mean and its error, each person's pooled estimate and its variance."""
    crew = CREWS[name]
    values = np.concatenate([np.asarray(each, float) for each in crew.values()])
    scale = values.std()
    groups = np.repeat([str(person) for person in crew], [len(each) for each in crew.values()])
    reference = MixedLM(values / scale, np.ones((len(values), 1)), groups=groups).fit(
        reml=True, method="bfgs", gtol=1e-8
    )
    found = compare(crew)
    mean = float(reference.fe_params[0])
    assert found.between == pytest.approx(float(np.asarray(reference.cov_re)[0, 0]) * scale**2, rel=1e-3)
    assert found.within == pytest.approx(float(reference.scale) * scale**2, rel=1e-4)
    assert found.mean == pytest.approx(mean * scale, abs=1e-4 * scale)
    # Its own error of the mean is numerical, so the variance of each effect is compared below as well.
    undrawn = _undrawn(found)
    for index, person in enumerate(found.people):
        key = str(person.person)
        effect = float(np.asarray(reference.random_effects[key])[0])
        assert person.pooled == pytest.approx((mean + effect) * scale, abs=1e-4 * scale)
        own = person.standard_error**2 - undrawn[index] ** 2 * found.standard_error**2
        theirs = float(np.asarray(reference.random_effects_cov[key])[0, 0]) * scale**2
        assert own == pytest.approx(theirs, rel=2e-3)


def _undrawn(crew: Crew) -> list[float]:
    return [1 / (1 + person.n * crew.between / crew.within) for person in crew.people]


@pytest.mark.parametrize("name", CREWS)
def test_errors_are_those_of_the_mixed_model_equations(name: str) -> None:
    """Henderson's equations, solved whole: the inverse of their matrix holds every error of prediction.

    Henderson, Biometrics 31(2):423-447, 1975.
    """
    crew = CREWS[name]
    found = compare(crew)
    sizes = np.array([len(values) for values in crew.values()], float)
    matrix = np.zeros((len(sizes) + 1, len(sizes) + 1))
    matrix[0, 0] = sizes.sum()
    matrix[0, 1:] = matrix[1:, 0] = sizes
    matrix[1:, 1:] = np.diag(sizes + found.within / found.between)
    covariance = np.linalg.inv(matrix) * found.within
    sums = np.array([sum(values) for values in crew.values()])
    solution = np.linalg.solve(matrix, np.concatenate([[sums.sum()], sums]))
    assert found.mean == pytest.approx(solution[0])
    assert found.standard_error == pytest.approx(np.sqrt(covariance[0, 0]))
    for index, person in enumerate(found.people, start=1):
        assert person.pooled == pytest.approx(solution[0] + solution[index])
        variance = covariance[0, 0] + covariance[index, index] + 2 * covariance[0, index]
        assert person.standard_error == pytest.approx(np.sqrt(variance))
    fit = _fit(_data([np.asarray(values, float) for values in crew.values()]), np.array([_ratio(found)]))
    for index in range(len(sizes)):
        contrast = np.concatenate([[0.0], np.full(len(sizes), -1 / len(sizes))])
        contrast[index + 1] += 1
        assert fit.variance_apart[0, index] == pytest.approx(contrast @ covariance @ contrast)


def _ratio(crew: Crew) -> float:
    return (crew.between / crew.within) ** 0.5
