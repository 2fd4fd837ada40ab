"""People compared by whole animals: few people, few animals, no spread, and how honest the comparison is."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.yields.crew import ALL_EQUAL, EQUAL_WITHIN, NOBODY, ONE_EACH, ONE_PERSON, compare, whole_by_one


def test_only_animals_that_one_person_did_whole() -> None:
    assert whole_by_one([7, 7, 7]) == 7
    assert whole_by_one([7, 7, 8]) is None
    assert whole_by_one([7, None, 7]) is None
    assert whole_by_one([None, None]) is None
    assert whole_by_one([]) is None


@pytest.mark.parametrize(
    ("crew", "note"),
    [
        ({}, NOBODY),
        ({1: []}, NOBODY),
        ({1: [0.1, 0.2]}, ONE_PERSON),
        ({1: [0.1, 0.2], 2: []}, ONE_PERSON),
        ({1: [0.1], 2: [0.3], 3: [-0.2]}, ONE_EACH),
    ],
)
def test_who_cannot_be_compared_is_told_why(crew: dict[int, list[float]], note: str) -> None:
    found = compare(crew)
    assert found.note == note
    assert (found.mean, found.standard_error, found.between, found.within) == (None, None, None, None)
    with_animals = [
        (who, len(values), math.fsum(values) / len(values)) for who, values in crew.items() if values
    ]
    assert [(each.person, each.n, each.mean) for each in found.people] == with_animals
    assert all(each.pooled is each.low is each.high is None and not each.apart for each in found.people)


@pytest.mark.parametrize("value", [0.0, 0.1, -1 / 3])
def test_all_animals_equal(value: float) -> None:
    found = compare({1: [value] * 5, 2: [value] * 3, 3: [value]})
    assert found.note == ALL_EQUAL
    assert found.mean == pytest.approx(value)
    assert (found.between, found.within) == (0, 0)
    assert not any(each.apart for each in found.people)


def test_each_persons_animals_equal() -> None:
    found = compare({1: [0.1] * 5, 2: [0.3] * 3})
    assert found.note == EQUAL_WITHIN
    assert found.mean == pytest.approx(0.2)
    assert found.between == pytest.approx(0.02)
    assert [each.pooled for each in found.people] == pytest.approx([0.1, 0.3])


def test_one_person_with_one_animal_does_not_stop_the_rest() -> None:
    found = compare({1: [0.1, 0.3, 0.2, 0.15], 2: [0.35]})
    assert found.people[1].n == 1
    assert found.people[1].low < found.people[1].pooled < found.people[1].high
    assert not found.people[1].apart


def test_nobody_is_called_apart_on_four_animals() -> None:
    crew = {1: [0.0, 0.1] * 10, 2: [0.1, 0.0] * 10, 3: [0.9, 1.0, 0.9, 1.0]}
    assert not compare(crew).people[2].apart
    assert compare({**crew, 3: [*crew[3], 0.9]}).people[2].apart


def test_people_who_differ_wildly_keep_their_own_means() -> None:
    found = compare({1: [1.0, 1.001] * 3, 2: [5.0, 5.001] * 3, 3: [-3.0, -2.999] * 3})
    assert [each.pooled for each in found.people] == pytest.approx([1.0005, 5.0005, -2.9995], abs=1e-5)
    assert [each.apart for each in found.people] == [False, True, True]


def test_few_animals_are_drawn_to_the_crew_and_many_are_not() -> None:
    random = np.random.default_rng(8)
    spread = random.normal(0, 0.09, 200)
    crew = {"many": spread + 0.2, "few": spread[:3] - spread[:3].mean() + 0.2, "rest": spread[::2] - 0.2}
    found = {each.person: each for each in compare({who: each.tolist() for who, each in crew.items()}).people}
    drawn = {who: abs(each.pooled - each.mean) for who, each in found.items()}
    assert drawn["few"] > 10 * drawn["many"]
    assert found["few"].pooled < found["few"].mean
    assert found["few"].high - found["few"].low > 3 * (found["many"].high - found["many"].low)


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_what_is_no_finite_number_is_refused(value: float) -> None:
    with pytest.raises(ValueError, match="not a finite number"):
        compare({1: [0.1, value], 2: [0.2]})


@pytest.mark.parametrize("coverage", [0, 1, math.nan])
def test_a_coverage_is_a_share(coverage: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        compare({1: [0.1]}, coverage)


def _simulated(between: float, sizes: tuple[int, ...], times: int) -> tuple[float, float, float]:
    """How often an interval holds the person's true level; how often a person is called apart; rightly so."""
    random = np.random.default_rng(21)
    holds = apart = rightly = 0
    for _ in range(times):
        true = random.normal(0, between, len(sizes))
        crew = {who: random.normal(true[who], 0.09, size) for who, size in enumerate(sizes)}
        found = compare(crew).people
        holds += sum(each.low <= true[each.person] <= each.high for each in found)
        called = [each for each in found if each.apart]
        apart += len(called)
        middle = np.mean([each.pooled for each in found])
        rightly += sum((true[each.person] > true.mean()) == (each.pooled > middle) for each in called)
    return holds / times / len(sizes), apart / times / len(sizes), rightly / max(1, apart)


@pytest.mark.parametrize("sizes", [(20, 20, 20), (5, 10, 40, 80)])
def test_nobody_is_called_apart_for_what_animals_make(sizes: tuple[int, ...]) -> None:
    """People who do not differ: at most one in twenty is called apart; an interval by itself would take one in ten."""
    holds, apart, _ = _simulated(0.0, sizes, 150)
    assert apart <= 0.05
    assert holds >= 0.90


@pytest.mark.parametrize("sizes", [(20, 20, 20), (5, 10, 40, 80)])
def test_intervals_hold_for_a_handful_of_people_who_differ(sizes: tuple[int, ...]) -> None:
    """90 % stated. The plain standard error of the mixed model would hold for about 80 % with so few people."""
    holds, apart, rightly = _simulated(0.04, sizes, 150)
    assert 0.84 <= holds <= 0.96
    assert apart > 0.15
    assert rightly > 0.95


crews = st.dictionaries(st.integers(0, 9), st.lists(st.floats(-1, 1), max_size=8), max_size=6)


@given(crews)
def test_any_crew_has_an_answer(crew: dict[int, list[float]]) -> None:
    found = compare(crew)
    assert [each.person for each in found.people] == [who for who, values in crew.items() if values]
    for each in found.people:
        if each.pooled is None:
            continue
        assert found.mean is not None
        low, high = sorted((each.mean, found.mean))
        assert low - 1e-9 <= each.pooled <= high + 1e-9
        assert each.low <= each.pooled <= each.high
        assert math.isfinite(each.standard_error)


@given(crews, st.floats(-5, 5))
def test_a_common_shift_changes_nobody_s_standing(crew: dict[int, list[float]], shift: float) -> None:
    found = compare(crew)
    moved = compare({who: [value + shift for value in values] for who, values in crew.items()})
    if found.between is None or found.note in (ALL_EQUAL, EQUAL_WITHIN) or moved.note != found.note:
        return
    for before, after in zip(found.people, moved.people, strict=True):
        assert after.pooled - before.pooled == pytest.approx(shift, abs=1e-3)
