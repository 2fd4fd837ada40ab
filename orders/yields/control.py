"""Individuals and moving-range control charts: is one animal, or a run of them, unlike the rest of the same work?

    center = average        limits = average +- 3 average moving range / 1.128  (2.66 average moving ranges)
    moving range = |value - the value before|          its upper limit = 3.267 average moving range; there is no lower

1.128 and 3.267 are d2 and D4 of samples of two, as tabled (ASTM Manual on Presentation of Data and Control Chart
Analysis, from memory). NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, Individuals Control Charts.
Values may have any unit, the same for all; limits have it too.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

D2 = 1.128
D4 = 3.267
SIGMAS = 3
# A run this long on one side of the center is a signal: Western Electric, Statistical Quality Control Handbook (1956).
RUN = 8
# With fewer, the limits still move with each animal. Common practice, no source.
SETTLED = 20


class Signal(StrEnum):
    """Why a point asks to be looked at."""

    ABOVE = "above the upper limit"
    BELOW = "below the lower limit"
    JUMP = "a jump from the one before"
    RUN_ABOVE = "eight in a row above the center"
    RUN_BELOW = "eight in a row below the center"


@dataclass(frozen=True, slots=True)
class Limits:
    """The lines of both charts, in the values' unit, and how many values they come from."""

    center: float
    lower: float
    upper: float
    range_center: float
    range_upper: float
    n: int


@dataclass(frozen=True, slots=True)
class Point:
    """One value in order, its moving range (None for the first) and what it signals."""

    value: float
    moving_range: float | None
    signals: tuple[Signal, ...]


@dataclass(frozen=True, slots=True)
class Chart:
    """Points against limits. With fewer than two values `limits` is None and nothing signals; `note` says so."""

    points: tuple[Point, ...]
    limits: Limits | None
    note: str

    @property
    def signaling(self) -> tuple[int, ...]:
        """Positions, from 0, of the points that ask to be looked at."""
        return tuple(index for index, point in enumerate(self.points) if point.signals)


def limits_of(values: Sequence[float]) -> Limits | None:
    """The lines from values in the order they happened; None with fewer than two. ValueError unless all are finite."""
    if not all(math.isfinite(value) for value in values):
        raise ValueError("A value that is not a finite number cannot be charted.")
    if len(values) < 2:
        return None
    moving = [abs(after - before) for before, after in pairwise(values)]
    average_range = math.fsum(moving) / len(moving)
    # Equal values are their own center: the rounding of an average may not put them outside limits of no width.
    center = math.fsum(values) / len(values) if average_range else float(values[0])
    half = SIGMAS * average_range / D2
    return Limits(center, center - half, center + half, average_range, D4 * average_range, len(values))


def points(values: Iterable[float], limits: Limits | None) -> Iterator[Point]:
    """The values one by one, with what each signals against these limits.

    A run goes on signaling until it ends; a value on the center line ends it. On a limit is not beyond it.
    """
    before: float | None = None
    side = run = 0
    for value in values:
        moving = None if before is None else abs(value - before)
        before = value
        if limits is None:
            yield Point(value, moving, ())
            continue
        now = (value > limits.center) - (value < limits.center)
        run = run + 1 if now and now == side else abs(now)
        side = now
        yield Point(value, moving, tuple(_signals(value, moving, limits, side, run)))


def chart(values: Sequence[float], limits: Limits | None = None) -> Chart:
    """The chart of values in the order they happened, against their own limits, or those of a season before."""
    own = limits_of(values)
    used = limits or own
    return Chart(tuple(points(values, used)), used, _note(values, used))


def _signals(value: float, moving: float | None, limits: Limits, side: int, run: int) -> Iterator[Signal]:
    if value > limits.upper:
        yield Signal.ABOVE
    if value < limits.lower:
        yield Signal.BELOW
    if moving is not None and moving > limits.range_upper:
        yield Signal.JUMP
    if run >= RUN:
        yield Signal.RUN_ABOVE if side > 0 else Signal.RUN_BELOW


def _note(values: Sequence[float], limits: Limits | None) -> str:
    if not values:
        return "No animals yet."
    if limits is None:
        return "One animal only: there are no limits yet."
    if limits.range_center == 0:
        return "All animals are equal: the limits have no width."
    if limits.n < SETTLED:
        return f"Limits from {limits.n} animals: they settle from about {SETTLED} on."
    return f"Limits from {limits.n} animals."
