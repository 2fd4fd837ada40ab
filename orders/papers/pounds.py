"""The rows of where the pounds went: every point and every flow between, so rounded that what is printed adds up."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from orders.intake.models import Animal, ArrivedAs
from orders.papers.common import capital, day, weight_text
from orders.papers.packed import Packed, Taken, by_name
from orders.papers.rounding import Printed
from orders.yields.constants import BASIS_WORDS, Basis
from orders.yields.queries import Gap, Yield
from orders.yields.spans import FlowKind, Point, Span, Status

NOT_WEIGHED = "not weighed"
POINTS = {
    "received": "Received",
    "hanging": "Hung",
    "at_block": "At the block",
    "lugs": "Off the block, in lugs",
    "to_wrap": "On the wrap table",
    "packed": "Packed",
}
# What is lost from a point to the next, where both were weighed and everything between that was put on a scale.
LOST = {
    "received": "Lost before hanging",
    "hanging": "Dried",
    "at_block": "Drip, and what stays on the block",
    "lugs": "What stays in the grinder",
    "to_wrap": "What stays on the wrap table",
}
TOGETHER = "not weighed apart: what is left between the two weighings"

Row = dict[str, Any]


@dataclass(slots=True)
class Account:
    """Points and flows in the order they happened, rounded so that each span adds up as printed."""

    found: Yield
    packed: Packed
    printed: Printed
    values: dict[tuple[int, str], Decimal] = field(default_factory=dict)
    left_over: dict[int, tuple[Span, Decimal]] = field(default_factory=dict)
    keys: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        account = self.found.account
        added = {taken.name: value for taken, value in self.packed.added}
        for where, taken in self._taken():
            if taken.kind is FlowKind.ADDED:
                value = added[taken.name]
            else:
                value = None if taken.mg is None else self.printed.of(taken.mg)
            if value is not None:
                self.values[where] = value
        self.keys = [point.key for point in account.points]
        for span in self.found.spans:
            self._share_out(span, *self._reach(span))

    def _reach(self, span: Span) -> tuple[int, int]:
        return self.keys.index(span.start.key), self.keys.index(span.end.key)

    def _taken(self, first: int = 0, last: int | None = None) -> list[tuple[tuple[int, str], Taken]]:
        """What lies between two points, each with where it stands."""
        between = self.found.account.flows[first:last]
        return [
            ((index, f"{taken.kind} {taken.name}"), taken)
            for index, flows in enumerate(between, start=first)
            for taken in by_name(flows)
        ]

    def _share_out(self, span: Span, first: int, last: int) -> None:
        """Takings and what is left over, so that they are the printed start and additions less the printed end."""
        inside = self._taken(first, last)
        weighed = [
            (where, taken.mg)
            for where, taken in inside
            if taken.kind is not FlowKind.ADDED and taken.mg is not None
        ]
        added = [self.values[where] for where, taken in inside if taken.kind is FlowKind.ADDED and taken.mg]
        total = self.point(span.start) - self.point(span.end) + sum(added, Decimal(0))
        shares = self.printed.share_out(total, [*(mg for _, mg in weighed), span.remainder_mg])
        for (where, _), share in zip(weighed, shares, strict=False):
            self.values[where] = share
        self.left_over[last] = span, shares[-1]

    def point(self, point: Point) -> Decimal:
        """A weighed point as printed: packs by their own sum."""
        assert point.mg is not None
        return self.packed.total if point.key == "packed" else self.printed.of(point.mg)

    def rows(self) -> list[Row]:
        """Every point, weighed or not, and what went off or was added between."""
        rows: list[Row] = []
        gaps = {gap.span: gap for gap in self.found.gaps}
        for index, point in enumerate(self.found.account.points):
            if index in self.left_over:
                span, value = self.left_over[index]
                rows.append(self._left_over_row(span, value, gaps.get(span)))
            rows.append(self._point_row(point))
            rows += [self._taken_row(where, taken) for where, taken in self._taken(index, index + 1)]
            if point.key == "hanging" and self._drying_is_not_weighed(index):
                rows.append(row("Dried", NOT_WEIGHED, _days_words(self.found)))
        return rows

    def _point_row(self, point: Point) -> Row:
        if point.mg is None:
            return row(POINTS[point.key], NOT_WEIGHED, self._point_remark(point))
        weight = self.printed.text(self.point(point))
        return row(POINTS[point.key], weight, self._point_remark(point), point=True)

    def _point_remark(self, point: Point) -> str:
        if point.key == "received":
            return _arrival(self.found)
        if point.key == "packed":
            return _packs_words(self.packed, self.printed)
        with_bags = point.mg is not None and "tenderloins" in point.name
        return "with the tenderloins that were bagged" if with_bags else ""

    def _taken_row(self, where: tuple[int, str], taken: Taken) -> Row:
        value, remark = self.values.get(where), _taken_remark(taken)
        if value is None:
            return row(capital(taken.name), NOT_WEIGHED, remark)
        if taken.unweighed:
            remark = "; ".join(part for part in (remark, "not all of it was weighed") if part)
        text = self.printed.added(value) if taken.kind is FlowKind.ADDED else self.printed.off(value)
        return row(capital(taken.name), text, remark)

    def _left_over_row(self, span: Span, value: Decimal, gap: Gap | None) -> Row:
        """What no weighing between two points accounts for: the loss of that step, or several things together."""
        text = self.printed.off(value)
        together = self._together_words(span) if span.status is Status.UNWEIGHED else ""
        if value < 0:
            remark = f"not weighed between the two: {together}" if together else _explained(gap)
            return row("More than the weighing before", text, remark)
        if together:
            return row(capital(together), text, TOGETHER)
        if span.start.key == "received" and _came_whole(self.found):
            what = "What else came off" if span.takings else "Hide, head and all that came off"
            return row(what, text, TOGETHER)
        if span.start.key == "hanging":
            return row(LOST["hanging"], text, _days_words(self.found))
        return row(LOST[span.start.key], text, _explained(gap))

    def _together_words(self, span: Span) -> str:
        """What a span holds that was not weighed, in the order it happened: `hide, head, feet, drying, waste`."""
        first, last = self._reach(span)
        names: list[str] = []
        for index in range(first, last):
            if self.keys[index] == "received" and _came_whole(self.found):
                names += ["hide", "head"]
            names += [
                taken.name
                for _, taken in self._taken(index, index + 1)
                if taken.unweighed and taken.kind is not FlowKind.ADDED
            ]
            if self.keys[index] == "hanging" and self._drying_is_not_weighed(index):
                names.append("drying")
        return ", ".join(dict.fromkeys(names)) or "drip, and what stays on the tables"

    def _drying_is_not_weighed(self, index: int) -> bool:
        after = self.found.account.points[index + 1 : index + 2]
        return bool(after) and None in (self.found.account.points[index].mg, after[0].mg)


def _came_whole(found: Yield) -> bool:
    return any(animal.arrived_as == ArrivedAs.WHOLE for animal in found.animals)


def row(what: str, weight: str, remark: str = "", *, point: bool = False) -> Row:
    return {"what": what, "weight": weight, "remark": remark, "point": point}


def _arrival(found: Yield) -> str:
    """How the animals arrived, and when: `whole, hide on: field-dressed, feet on. Nov 14, 2026`."""
    said = dict.fromkeys(_arrived_as(animal) for animal in found.animals)
    days = dict.fromkeys(day(animal.arrived_on) for animal in found.animals)
    return f"{'; '.join(said)}. {', '.join(days)}"


def _arrived_as(animal: Animal) -> str:
    words = animal.get_arrived_as_display().lower()
    if animal.arrived_as == ArrivedAs.WHOLE and animal.weight_basis:
        return f"{words}: {BASIS_WORDS[Basis(animal.weight_basis)]}"
    return words


def _days_words(found: Yield) -> str:
    if not found.hung_days:
        return "less than a day of hanging"
    return f"in {found.hung_days} day{'' if found.hung_days == 1 else 's'} of hanging"


def _packs_words(packed: Packed, printed: Printed) -> str:
    many = f"{packed.packs} pack{'' if packed.packs == 1 else 's'}"
    last = f", {day(packed.last)}" if packed.last else ""
    if not packed.unweighed:
        return f"{many}{last}"
    if packed.unweighed == packed.packs:
        return f"{many}, counted and not weighed{last}"
    weighed = packed.packs - packed.unweighed
    return f"{many}{last}: {weighed} of them weigh {printed.text(packed.total)}, the others were not weighed"


def _taken_remark(taken: Taken) -> str:
    if taken.kind is FlowKind.ADDED:
        return "added in the grinder, not your own meat"
    if taken.name.startswith("tenderloin"):
        return "bagged early and packed with the rest"
    return "taken off, kept for you" if taken.kind is FlowKind.OFF else ""


def _explained(gap: Gap | None) -> str:
    """What the work takes and the scales can be wrong by, beside what is gone between two weighings."""
    if gap is None:
        return ""
    if not gap.flagged:
        return "within what the work takes and the scales can tell"
    work = weight_text(gap.allowed_mg - gap.uncertainty_mg)
    return f"of it the scales explain {weight_text(gap.uncertainty_mg)}, the work itself {work}"
