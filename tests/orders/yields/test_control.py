"""Control charts: few, equal and strange values, and each signal. The worked example is in tests/published."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.yields.control import Limits, Signal, chart, limits_of

KNOWN = Limits(center=0.0, lower=-3.0, upper=3.0, range_center=1.128, range_upper=3.685, n=50)
# A quiet process: no value beyond one, no run of eight on one side.
QUIET = [0.5, -0.4, 0.2, -0.1, 0.6, -0.5, 0.3, -0.2, 0.1, -0.6]


def _signals(values: list[float]) -> dict[int, tuple[Signal, ...]]:
    return {index: point.signals for index, point in enumerate(chart(values, KNOWN).points) if point.signals}


def test_no_animals() -> None:
    found = chart([])
    assert (found.points, found.limits, found.signaling) == ((), None, ())
    assert found.note == "No animals yet."


def test_one_animal_has_no_limits() -> None:
    found = chart([0.4])
    assert found.limits is None
    assert [(point.value, point.moving_range, point.signals) for point in found.points] == [(0.4, None, ())]
    assert found.note == "One animal only: there are no limits yet."


def test_one_animal_against_the_limits_of_a_season_before() -> None:
    found = chart([4.0], KNOWN)
    assert found.limits is KNOWN
    assert found.points[0].signals == (Signal.ABOVE,)


def test_two_animals_have_limits_that_are_not_settled() -> None:
    found = chart([0.1, 0.3])
    assert found.limits is not None
    assert found.limits.range_center == pytest.approx(0.2)
    assert found.limits.upper == pytest.approx(0.2 + 3 * 0.2 / 1.128)
    assert "they settle from about 20 on" in found.note
    assert chart(QUIET * 3).note == "Limits from 30 animals."


@pytest.mark.parametrize("value", [0.1, 0.7, -1 / 3, 0.0, 1e9 + 0.1])
@pytest.mark.parametrize("count", [2, 3, 7, 1000])
def test_equal_animals_signal_nothing(value: float, count: int) -> None:
    """The rounding of an average may put no value outside limits of no width, nor make a run on one side."""
    found = chart([value] * count)
    assert found.limits is not None
    assert found.limits.lower == found.limits.center == found.limits.upper == value
    assert found.signaling == ()
    assert found.note == "All animals are equal: the limits have no width."


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_no_finite_number_is_refused(value: float) -> None:
    with pytest.raises(ValueError, match="not a finite number"):
        chart([0.1, value, 0.2])
    with pytest.raises(ValueError, match="not a finite number"):
        chart([value], KNOWN)


def test_a_quiet_process_signals_nothing() -> None:
    assert _signals(QUIET * 20) == {}


def test_beyond_a_limit_signals_and_on_it_does_not() -> None:
    assert _signals([1.0, 3.0, 1.0, -2.0]) == {}
    assert _signals([1.0, 3.01]) == {1: (Signal.ABOVE,)}
    assert _signals([-1.0, -3.01]) == {1: (Signal.BELOW,)}


def test_a_jump_between_two_good_values_signals() -> None:
    assert _signals([1.9, -1.9]) == {1: (Signal.JUMP,)}
    assert _signals([1.9, -1.7]) == {}


def test_eight_in_a_row_on_one_side_signal_and_seven_do_not() -> None:
    assert _signals([0.5] * 7 + [-0.5] * 7) == {}
    assert _signals([0.5] * 8) == {7: (Signal.RUN_ABOVE,)}
    assert _signals([0.5, *[-0.5] * 9]) == {8: (Signal.RUN_BELOW,), 9: (Signal.RUN_BELOW,)}


def test_a_value_on_the_center_ends_a_run() -> None:
    assert _signals([0.5] * 7 + [0.0] + [0.5] * 7) == {}


def test_one_odd_animal_among_many_is_found_by_its_own_chart() -> None:
    values = [*QUIET, *QUIET, -8.0, *QUIET]
    found = chart(values)
    assert 20 in found.signaling
    assert Signal.BELOW in found.points[20].signals


@given(st.lists(st.floats(-1e6, 1e6), min_size=2, max_size=60), st.floats(-1e6, 1e6))
def test_limits_move_with_the_values_and_lie_in_order(values: list[float], shift: float) -> None:
    found, moved = limits_of(values), limits_of([value + shift for value in values])
    assert found is not None
    assert moved is not None
    assert found.lower <= found.center <= found.upper
    tolerance = {"rel": 1e-6, "abs": 1e-6}
    assert moved.center - found.center == pytest.approx(shift, **tolerance)
    assert moved.upper - moved.lower == pytest.approx(found.upper - found.lower, **tolerance)
