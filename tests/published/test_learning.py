"""The conjugate update against a textbook's example, and against the posterior worked out by brute force."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from orders.yields.learning import Prior, Summary, absorb, published_prior, update

# Grogan & Wirth, wing lengths of nine midges in mm. Hoff, A First Course in Bayesian Statistical Methods (Springer
# 2009), section 5.3. The data and the figures below are from memory; the mean and variance printed there check them.
MIDGES = (1.64, 1.70, 1.72, 1.74, 1.82, 1.82, 1.82, 1.90, 2.08)
HOFF_PRIOR = Prior(mean=1.9, weight=1, spread=0.1, df=1)


def test_the_textbook_s_data_are_as_printed() -> None:
    """Hoff 5.3 prints the mean as 1.804 and the variance as 0.0169."""
    found = update(HOFF_PRIOR, MIDGES)
    assert found.data_mean == pytest.approx(1.804, abs=0.0005)
    assert found.data_sd is not None
    assert found.data_sd**2 == pytest.approx(0.0169, abs=0.00005)


def test_the_textbook_s_posterior() -> None:
    """Hoff 5.3: mean 1.814, weight 10, df 10, and a variance of (0.010 + 0.135 + 0.008) / 10 = 0.015."""
    found = update(HOFF_PRIOR, MIDGES)
    assert found.mean == pytest.approx(1.814, abs=0.0005)
    assert (found.weight, found.df, found.n) == (10, 10, 9)
    assert found.spread**2 == pytest.approx(0.0153, abs=0.00005)


SHOPS = [
    (Prior(0.0, 8, 0.09, 8), (0.02, -0.11, 0.05)),
    (Prior(0.0, 8, 0.09, 8), (0.31, 0.28, 0.35, 0.22, 0.30, 0.27)),
    (Prior(-0.05, 2, 0.05, 4), (0.10,)),
    (Prior(0.1, 3, 0.2, 5), ()),
]


@pytest.mark.parametrize(("prior", "values"), SHOPS)
def test_the_next_animal_by_brute_force(prior: Prior, values: tuple[float, ...]) -> None:
    """The posterior on a grid of mean and standard deviation, by likelihood times prior from scipy.stats alone.

    The predictive is then the average of normal distributions over that grid.
    """
    means = np.linspace(prior.mean - 1.2, prior.mean + 1.2, 1601)
    sds = np.exp(np.linspace(math.log(0.008), math.log(1.5), 600))
    log_density = _log_posterior(prior, values, means, sds)
    weights = np.exp(log_density - log_density.max()) * np.gradient(sds)
    weights /= weights.sum()
    found = update(prior, values).predictive()
    for share in (0.05, 0.25, 0.5, 0.9, 0.95):
        at = found.quantile(share)
        by_force = (weights * stats.norm.cdf(at, means[:, None], sds)).sum()
        assert by_force == pytest.approx(share, abs=0.0005)
        assert found.percentile(at) == pytest.approx(100 * share, abs=1e-9)
    assert (weights * means[:, None]).sum() == pytest.approx(found.location, abs=0.0005)


def _log_posterior(prior: Prior, values: tuple[float, ...], means: np.ndarray, sds: np.ndarray) -> np.ndarray:
    """Scaled-inverse-chi-squared of the variance is an inverse gamma of df / 2 and df spread^2 / 2."""
    variances = sds**2
    spread = stats.invgamma.logpdf(variances, prior.df / 2, scale=prior.df * prior.spread**2 / 2)
    found = stats.norm.logpdf(means[:, None], prior.mean, sds / math.sqrt(prior.weight))
    found = found + spread + np.log(2 * sds)  # from density by variance to density by standard deviation
    for value in values:
        found = found + stats.norm.logpdf(value, means[:, None], sds)
    return found


@pytest.mark.parametrize(("prior", "values"), SHOPS)
def test_the_predictive_is_scipy_s_student_t(prior: Prior, values: tuple[float, ...]) -> None:
    learned = update(prior, values)
    found = learned.predictive()
    scale = learned.spread * math.sqrt(1 + 1 / learned.weight)
    reference = stats.t(df=learned.df, loc=learned.mean, scale=scale)
    assert found.interval(0.90) == pytest.approx(reference.interval(0.90), rel=1e-9)
    assert found.quantile(0.2) == pytest.approx(reference.ppf(0.2), rel=1e-9)
    assert found.percentile(0.07) == pytest.approx(100 * reference.cdf(0.07), rel=1e-9)


def test_a_published_range_is_a_normal_s_90_percent() -> None:
    """The spread whose normal has 5 % below low and 5 % above high, on logarithms around their middle."""
    found = published_prior(0.52, 0.62)
    middle = math.log(0.52 * 0.62) / 2
    assert stats.norm.cdf(math.log(0.52), middle, found.spread) == pytest.approx(0.05)
    assert stats.norm.sf(math.log(0.62), middle, found.spread) == pytest.approx(0.05)
    assert (found.mean, found.weight, found.df) == (0.0, 8, 8)


def test_shops_that_are_as_the_prior_says_are_covered_exactly() -> None:
    """A calibrated range: truths drawn from the prior itself, then 90 % holds for the next animal after any number.

    Gelman et al., Bayesian Data Analysis, 3rd ed., section 3.3, draws both as here. 4000 shops: within one percent.
    """
    prior = Prior(0.0, 8, 0.09, 8)
    random = np.random.default_rng(12)
    for n in (0, 1, 3, 30):
        held = []
        for _ in range(4000):
            sd = math.sqrt(prior.df * prior.spread**2 / random.chisquare(prior.df))
            mean = random.normal(prior.mean, sd / math.sqrt(prior.weight))
            taught = Summary.of(random.normal(mean, sd, n).tolist())
            low, high = absorb(prior, taught).predictive().interval()
            held.append(share_between(low, high, mean, sd))
        assert np.mean(held) == pytest.approx(0.90, abs=0.01)


def share_between(low: float, high: float, mean: float, sd: float) -> float:
    """The share of a normal between two bounds, by the error function of the standard library."""
    return 0.5 * (math.erf((high - mean) / sd / math.sqrt(2)) - math.erf((low - mean) / sd / math.sqrt(2)))
