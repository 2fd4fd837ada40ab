"""Control limits against a published worked example, and the rate of false alarms against published run lengths."""

from __future__ import annotations

import math
from collections.abc import Iterator
from statistics import fmean

import numpy as np
import pytest

from orders.yields.control import D2, D4, Limits, Signal, chart, limits_of, points

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, Individuals Control Charts: flowrate of ten batches.
# From memory; the mean and the average moving range printed there check the data.
FLOWRATE = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)


def test_flowrate_example() -> None:
    """The handbook prints MR 1.8778, UCL 55.8041, center 50.81, LCL 45.8159, and finds the process in control."""
    found = chart(FLOWRATE)
    assert found.limits is not None
    assert round(found.limits.range_center, 4) == 1.8778
    assert round(found.limits.upper, 4) == 55.8041
    assert round(found.limits.center, 2) == 50.81
    assert round(found.limits.lower, 4) == 45.8159
    assert found.signaling == ()
    moving = [point.moving_range for point in found.points]
    assert moving[0] is None
    assert moving[1:4] == pytest.approx([2.0, 2.3, 1.4])


def test_limits_are_2_66_and_3_267_moving_ranges() -> None:
    """As the two factors are usually printed, 2.66 and 3.267 (common in textbooks; from memory)."""
    found = limits_of(FLOWRATE)
    assert found is not None
    assert round((found.upper - found.center) / found.range_center, 2) == 2.66
    assert found.range_upper / found.range_center == pytest.approx(3.267)


def test_the_tabled_factors_follow_from_the_normal_distribution() -> None:
    """The range of two normal values has the mean 2 / sqrt(pi) and the standard deviation sqrt(2 - 4 / pi)."""
    mean, deviation = 2 / math.sqrt(math.pi), math.sqrt(2 - 4 / math.pi)
    assert round(mean, 3) == D2
    assert pytest.approx(1 + 3 * deviation / mean, abs=0.001) == D4


def _endless(random: np.random.Generator) -> Iterator[float]:
    while True:
        yield from random.standard_normal(200).tolist()


def _run_lengths(count: int, rules: set[Signal]) -> list[int]:
    """How many values, of a process that has not changed, until one of these rules signals."""
    random = np.random.default_rng(7)
    known = Limits(center=0, lower=-3, upper=3, range_center=D2, range_upper=D2 * D4, n=1000)
    found = []
    for _ in range(count):
        seen = enumerate(points(_endless(random), known), start=1)
        found.append(next(index for index, point in seen if rules & set(point.signals)))
    return found


def test_false_alarms_come_as_rarely_as_published() -> None:
    """Champ & Woodall, Technometrics 29(4):393-399, 1987, from memory: one value in 370.4 by the limits alone, one in
    152.7 with eight in a row on one side as well. Four standard errors of 2000 simulated runs are 9 %."""
    beyond = {Signal.ABOVE, Signal.BELOW}
    assert fmean(_run_lengths(2000, beyond)) == pytest.approx(370.4, rel=0.09)
    runs_too = beyond | {Signal.RUN_ABOVE, Signal.RUN_BELOW}
    assert fmean(_run_lengths(2000, runs_too)) == pytest.approx(152.7, rel=0.09)
