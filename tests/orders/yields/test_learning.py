"""What the shop's animals teach: order, sums, classes, leaving one out, and values that cannot be."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.yields.learning import (
    Learned,
    Posterior,
    Predictive,
    Prior,
    Summary,
    absorb,
    class_prior,
    learn,
    log_ratio,
    published_prior,
    update,
)
from shop.weights import pounds

PRIOR = Prior(mean=0.0, weight=8, spread=0.09, df=8)
VALUES = (0.05, -0.12, 0.31, 0.0, -0.02, 0.11, 0.07)
ratios = st.lists(st.floats(-1, 1), max_size=20)


def _numbers(found: Posterior) -> tuple[float, ...]:
    return found.mean, found.weight, found.spread, found.df


def test_without_animals_the_prior_stays() -> None:
    found = update(PRIOR, [])
    assert _numbers(found) == (0.0, 8, 0.09, 8)
    assert (found.n, found.data_mean, found.data_sd) == (0, None, None)
    assert found.predictive() == PRIOR.predictive()


def test_one_animal_has_a_mean_and_no_spread_of_its_own() -> None:
    """By hand: weight 9, mean 0.18 / 9 = 0.02, 9 spread^2 = 8 x 0.0081 + 8 / 9 x 0.0324 = 0.0936."""
    found = update(PRIOR, [0.18])
    assert _numbers(found) == pytest.approx((0.02, 9, math.sqrt(0.0936 / 9), 9))
    assert (found.n, found.data_mean, found.data_sd) == (1, 0.18, None)


def test_equal_animals_narrow_the_range_and_never_close_it() -> None:
    widths = []
    for count in (2, 20, 200, 5000):
        found = update(PRIOR, [0.1] * count)
        assert found.data_sd == pytest.approx(0, abs=1e-12)
        low, high = found.predictive().interval()
        assert low < found.mean < high
        widths.append(high - low)
    assert widths == sorted(widths, reverse=True)
    assert found.mean == pytest.approx(0.1, abs=0.001)


def test_thousands_of_animals_drown_the_prior() -> None:
    values = [0.2 + 0.03 * math.sin(index) for index in range(20_000)]
    found = update(Prior(0.1, 8, 0.05, 8), values)
    assert found.mean == pytest.approx(found.data_mean, abs=0.0005)
    assert found.predictive().scale == pytest.approx(found.data_sd, rel=0.02)


@given(ratios, ratios)
def test_one_by_one_is_the_same_as_all_at_once(first: list[float], second: list[float]) -> None:
    step = PRIOR
    for value in [*first, *second]:
        step = update(step, [value]).as_prior()
    at_once = update(PRIOR, [*second, *first])
    assert _numbers(update(step, [])) == pytest.approx(_numbers(at_once), rel=1e-9, abs=1e-12)


@given(ratios, ratios)
def test_sums_teach_what_the_animals_teach(first: list[float], second: list[float]) -> None:
    summed = absorb(PRIOR, Summary.of(first) + Summary.of(second))
    whole = update(PRIOR, [*first, *second])
    assert _numbers(summed) == pytest.approx(_numbers(whole), rel=1e-9, abs=1e-12)
    assert summed.n == whole.n
    assert summed.data_mean == pytest.approx(whole.data_mean, abs=1e-12)


@given(st.lists(st.floats(-1, 1), min_size=1, max_size=20), st.data())
def test_leaving_one_out_is_as_if_it_had_never_been(values: list[float], data: st.DataObject) -> None:
    out = data.draw(st.integers(0, len(values) - 1))
    left = update(PRIOR, values).without(values[out])
    never = update(PRIOR, values[:out] + values[out + 1 :])
    assert _numbers(left) == pytest.approx(_numbers(never), rel=1e-7, abs=1e-9)
    assert left.n == never.n
    assert left.data_mean == pytest.approx(never.data_mean, abs=1e-9)
    assert left.data_sd == pytest.approx(never.data_sd, abs=1e-6)


def test_nothing_can_be_left_out_of_nothing() -> None:
    with pytest.raises(ValueError, match="No animal was learned from"):
        update(PRIOR, []).without(0.1)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 1e200])
def test_what_is_no_finite_number_is_refused_everywhere(value: float) -> None:
    learned = update(PRIOR, VALUES)
    for wrong in (
        lambda: update(PRIOR, [0.1, value]),
        lambda: learned.without(value),
        lambda: learned.predictive().percentile(value),
        lambda: Summary(3, value, 0.1),
        lambda: Summary(3, 0.1, value),
        lambda: Prior(value, 8, 0.1, 8),
        lambda: Predictive(value, 0.1, 8),
        lambda: published_prior(0.5, value),
    ):
        with pytest.raises(ValueError, match="not a finite number"):
            wrong()


@pytest.mark.parametrize("number", [0, -1, math.nan, math.inf])
@pytest.mark.parametrize("name", ["weight", "spread", "df"])
def test_a_prior_counts_for_something(name: str, number: float) -> None:
    given_numbers = {"mean": 0.0, "weight": 8.0, "spread": 0.09, "df": 8.0, name: number}
    with pytest.raises(ValueError, match=f"{name} has to be a finite number above zero"):
        Prior(**given_numbers)


@pytest.mark.parametrize("share", [0, 1, -0.1, 1.2, math.nan])
def test_no_quantile_beyond_all_animals(share: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        PRIOR.predictive().quantile(share)


@pytest.mark.parametrize(("low", "high"), [(0, 1), (1, 1), (2, 1), (-1, 1)])
def test_a_published_range_has_a_width(low: float, high: float) -> None:
    with pytest.raises(ValueError, match="0 < low < high"):
        published_prior(low, high)


def test_a_count_and_its_squares_are_not_negative() -> None:
    for n, squares in ((-1, 0.0), (3, -0.1)):
        with pytest.raises(ValueError, match="negative"):
            Summary(n, 0.0, squares)


def test_the_middle_of_a_range_is_its_50th_percentile() -> None:
    found = update(PRIOR, VALUES).predictive()
    low, high = found.interval(0.90)
    assert found.percentile(found.location) == pytest.approx(50)
    assert found.percentile(low) == pytest.approx(5)
    assert found.percentile(high) == pytest.approx(95)
    assert found.interval(0.5)[0] > low


def test_a_class_starts_from_the_species_and_counts_it_for_no_more_than_the_published_figure() -> None:
    species = update(PRIOR, VALUES * 10)
    found = class_prior(species)
    assert (found.mean, found.spread) == (species.mean, species.spread)
    assert (species.weight, species.df) == (78, 78)
    assert (found.weight, found.df) == (8, 8)
    assert class_prior(update(PRIOR, [0.1]), weight_cap=20, df_cap=20).weight == 9


def _deer() -> Learned:
    bucks, does = Summary.of([0.10, 0.14, 0.08] * 10), Summary.of([-0.10, -0.08, -0.12] * 10)
    return learn(PRIOR, {"buck": bucks, "doe": does, "fawn": Summary()})


def test_classes_learn_apart_and_the_species_from_all() -> None:
    found = _deer()
    assert found.species.n == 60
    assert found.of("buck").mean > 0.05 > -0.05 > found.of("doe").mean
    assert found.of("buck").predictive().scale < found.species.predictive().scale


def test_a_class_without_animals_and_an_unknown_class_fall_back_to_the_species() -> None:
    found = _deer()
    for name in ("fawn", "never heard of", "", None):
        assert found.of(name) is found.species


def test_no_animal_teaches_its_own_class_twice() -> None:
    """The only class there is: its prior is the published one, not a species made of the same animals."""
    found = learn(PRIOR, {"buck": Summary.of(VALUES), "doe": Summary()})
    assert found.of("buck") == update(PRIOR, VALUES)
    assert found.species == update(PRIOR, VALUES)
    others = learn(PRIOR, {"buck": Summary.of(VALUES), "doe": Summary.of([0.3] * 20)})
    start = class_prior(update(PRIOR, [0.3] * 20))
    assert _numbers(others.of("buck")) == pytest.approx(_numbers(update(start, VALUES)))


def test_a_sum_of_all_classes_is_not_taken_for_a_class() -> None:
    with pytest.raises(ValueError, match="needs a name"):
        learn(PRIOR, {"": Summary.of(VALUES), "buck": Summary.of(VALUES)})


def test_one_animal_as_a_ratio() -> None:
    assert log_ratio(pounds(50), pounds(50)) == 0
    assert log_ratio(pounds(55), pounds(50)) == pytest.approx(math.log(1.1))
    for packed, likely in ((0, 1), (1, 0), (-1, 1)):
        with pytest.raises(ValueError, match="packed"):
            log_ratio(packed, likely)
