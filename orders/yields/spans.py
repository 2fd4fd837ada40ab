"""Where the pounds went: the weight between one weighing and the next.

Points that were not weighed merge into the span around them. What was taken off, added or wasted is itemized; what
is left over is called unexplained only where everything in the span was weighed. Otherwise it stays a remainder that
holds what was not weighed: never a gap, and never somebody's weight by subtraction. Whole milligrams throughout.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from itertools import pairwise

from shop.weights import MG_PER_UNIT


class FlowKind(StrEnum):
    """What happened to a weight between two points."""

    OFF = "off"  # taken off and kept apart: cape, organs, tenderloins bagged
    WASTE = "waste"  # bone, fat, sinew, bloodshot
    OUT = "out"  # good meat that left on its own: whole cuts to wrap
    ADDED = "added"  # fat or other meat that is not the hunter's own


class Status(StrEnum):
    CLOSED = "closed"
    UNWEIGHED = "span includes unweighed"


@dataclass(frozen=True, slots=True)
class Point:
    """A point at which an animal can be weighed. `mg` None: not weighed."""

    name: str
    key: str
    mg: int | None
    at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Flow:
    """Something taken off or added after one point and before the next. `mg` None: not weighed."""

    kind: FlowKind
    name: str
    mg: int | None


@dataclass(frozen=True, slots=True)
class Span:
    """From one weighed point to the next weighed one, with the points between that were not weighed."""

    start: Point
    end: Point
    skipped: tuple[Point, ...]
    flows: tuple[Flow, ...]

    @property
    def start_mg(self) -> int:
        return self.start.mg or 0

    @property
    def end_mg(self) -> int:
        return self.end.mg or 0

    @property
    def takings(self) -> tuple[Flow, ...]:
        """What was weighed as taken off, wasted or sent out."""
        return tuple(flow for flow in self.flows if flow.kind is not FlowKind.ADDED and flow.mg is not None)

    @property
    def added(self) -> tuple[Flow, ...]:
        """What was weighed as added and is not the hunter's own."""
        return tuple(flow for flow in self.flows if flow.kind is FlowKind.ADDED and flow.mg is not None)

    @property
    def not_weighed(self) -> tuple[str, ...]:
        """Names of the points and flows in this span that nobody weighed."""
        points = tuple(point.name for point in self.skipped)
        return points + tuple(flow.name for flow in self.flows if flow.mg is None)

    @property
    def takings_mg(self) -> int:
        return sum(flow.mg or 0 for flow in self.takings)

    @property
    def added_mg(self) -> int:
        return sum(flow.mg or 0 for flow in self.added)

    @property
    def remainder_mg(self) -> int:
        """Start + added - takings - end: what no weighing in the span accounts for. May be negative."""
        return self.start_mg + self.added_mg - self.takings_mg - self.end_mg

    @property
    def status(self) -> Status:
        return Status.UNWEIGHED if self.not_weighed else Status.CLOSED

    @property
    def unexplained_mg(self) -> int | None:
        """The remainder of a span in which everything was weighed; None where something was not."""
        return self.remainder_mg if self.status is Status.CLOSED else None


@dataclass(frozen=True, slots=True)
class Row:
    """One printed line of where the pounds went. `mg` None: not weighed."""

    name: str
    mg: int | None
    kind: str


def weighed_points_of(points: Iterable[Point]) -> tuple[int, int]:
    """How many points were weighed, of how many: `(2, 7)` is printed “2 of 7 points weighed”."""
    known = [point.mg is not None for point in points]
    return sum(known), len(known)


def spans(points: Sequence[Point], flows: Sequence[Sequence[Flow]]) -> tuple[Span, ...]:
    """The spans between weighed points, in order; `flows[i]` lies between `points[i]` and `points[i + 1]`.

    Raises ValueError when there is not one list of flows between each two points, or for a negative weight.
    """
    if len(flows) != max(0, len(points) - 1):
        raise ValueError("There is one list of flows between each two points.")
    weights = [point.mg for point in points] + [flow.mg for between in flows for flow in between]
    if any(mg is not None and mg < 0 for mg in weights):
        raise ValueError("A weight cannot be negative.")
    weighed = [index for index, point in enumerate(points) if point.mg is not None]
    return tuple(
        Span(
            start=points[first],
            end=points[last],
            skipped=tuple(points[first + 1 : last]),
            flows=tuple(flow for between in flows[first:last] for flow in between),
        )
        for first, last in pairwise(weighed)
    )


def outside(points: Sequence[Point], flows: Sequence[Sequence[Flow]]) -> tuple[Flow, ...]:
    """Flows before the first weighed point or after the last: in no span, so they can close nothing."""
    weighed = [index for index, point in enumerate(points) if point.mg is not None]
    if not weighed:
        return tuple(flow for between in flows for flow in between)
    return tuple(flow for between in [*flows[: weighed[0]], *flows[weighed[-1] :]] for flow in between)


def where_it_went(found: Sequence[Span]) -> tuple[Row, ...]:
    """The lines to print for consecutive spans. Their weights add up to the first weighed point exactly.

    What was added stands apart: it is not among the lines, and the last line is the last weighing less all that was
    added. That line is None, as is the remainder, when something added was not weighed.
    """
    if not found:
        return ()
    rows = []
    for span in found:
        rows += [
            Row(flow.name, flow.mg, flow.kind.value) for flow in span.flows if flow.kind is not FlowKind.ADDED
        ]
        between = f"{span.start.name} to {span.end.name}"
        if any(flow.kind is FlowKind.ADDED and flow.mg is None for flow in span.flows):
            rows.append(Row(f"{between}: not weighed", None, "not weighed"))
        elif span.status is Status.CLOSED:
            rows.append(Row(f"{between}: unexplained", span.remainder_mg, "unexplained"))
        else:
            rows.append(Row(f"{between}: not told apart", span.remainder_mg, "not weighed"))
    rows.append(Row(found[-1].end.name, own_mg(found), "own"))
    return tuple(rows)


def own_mg(found: Sequence[Span]) -> int | None:
    """The last weighing less all that was added on the way: the hunter's own meat. None when that is not known.

    A span's takings are counted as the hunter's own: what is added is added to what is left.
    """
    if not found or any(
        flow.kind is FlowKind.ADDED and flow.mg is None for span in found for flow in span.flows
    ):
        return None
    return found[-1].end_mg - sum(span.added_mg for span in found)


def round_parts(parts_mg: Sequence[int], unit: str = "lb", decimals: int = 1) -> list[Decimal]:
    """The parts in `unit` with `decimals` decimals, rounded so that they add up to their rounded total.

    Each part is cut to the printed step; the steps left over go to the largest remainders, the first of equals first.
    Raises KeyError for an unknown unit.
    """
    step_mg = Fraction(MG_PER_UNIT[unit]) / 10**decimals
    exact = [mg / step_mg for mg in parts_mg]
    steps = [math.floor(value) for value in exact]
    left = round(sum(exact, Fraction(0))) - sum(steps)
    by_remainder = sorted(range(len(steps)), key=lambda index: steps[index] - exact[index])
    for index in by_remainder[:left]:
        steps[index] += 1
    return [Decimal(count).scaleb(-decimals) for count in steps]
