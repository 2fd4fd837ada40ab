"""The pictures of the audit, as reportlab drawings: one for the page (SVG) and for the paper (PDF).

Everything is told by shape and by words, nothing by color: a point within its limits is an open circle, one that asks
to be looked at a filled square with its order number. The numbers stand beside each picture as a table.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from reportlab.graphics import renderSVG
from reportlab.graphics.shapes import Circle, Drawing, Line, PolyLine, Rect, Shape, String
from reportlab.lib.colors import Color, black, white

from labels.text import BOLD, REGULAR, register_fonts
from orders.yields.control import Chart, Point
from orders.yields.crew import Crew

WIDTH, HEIGHT = 720.0, 340.0
LEFT, RIGHT = 52.0, 96.0
# The newest points that a picture has room for; limits are those of all of them.
SHOWN = 80
# So many points are named; the others that ask to be looked at stand in the table.
NAMED = 14
SIZE = 9.0
SOFT, FAINT = Color(0.38, 0.38, 0.38), Color(0.82, 0.82, 0.82)
# What a browser has in place of the fonts of the paper.
BROWSER_FONT = "'DejaVu Sans', Verdana, sans-serif"
SVG_FONTS = {BOLD: f"{BROWSER_FONT}; font-weight: bold", REGULAR: BROWSER_FONT}


@dataclass(frozen=True, slots=True)
class Band:
    """A strip of the picture and the values at its two ends."""

    bottom: float
    top: float
    low: float
    high: float

    def y(self, value: float) -> float:
        """Where a value lies."""
        return self.bottom + (value - self.low) / (self.high - self.low) * (self.top - self.bottom)

    def steps(self, most: int = 6) -> list[float]:
        """Round values for the axis."""
        raw = (self.high - self.low) / most
        size = 10.0 ** math.floor(math.log10(raw))
        step = next(size * times for times in (1, 2, 5, 10) if size * times >= raw)
        first = math.ceil(self.low / step - 1e-9)
        last = math.floor(self.high / step + 1e-9)
        return [number * step for number in range(first, last + 1)]


def band(bottom: float, top: float, values: Sequence[float], *, floor: float | None = None) -> Band:
    """A strip that holds all of these values with some room; `floor` is where it begins in any case."""
    low, high = (min(values), max(values)) if values else (0.0, 1.0)
    room = (high - low) * 0.08 or max(abs(high) * 0.05, 1.0)
    return Band(bottom, top, floor if floor is not None else low - room, high + room)


def control_drawing(title: str, chart: Chart, names: Sequence[str], unit: str = "%") -> Drawing:
    """Individuals above, moving ranges below: the newest points, in the order they happened.

    `names` are the order numbers, one for each point. ValueError when there are not as many.
    """
    if len(names) != len(chart.points):
        raise ValueError("There is one name for each point.")
    points, labels = chart.points[-SHOWN:], names[-SHOWN:]
    drawing = _blank(title, _note(chart, len(points)))
    if not points:
        return drawing
    limits = chart.limits
    lines = [(limits.upper, "upper"), (limits.center, "center"), (limits.lower, "lower")] if limits else []
    upper = band(132, HEIGHT - 58, [*(point.value for point in points), *(value for value, _ in lines)])
    _add(drawing, _frame(upper, unit), _limit_lines(upper, lines, unit))
    x_of = _places(len(points))
    _add(drawing, _track(upper, points, x_of, lambda point: point.value))
    _add(drawing, _marks(upper, points, labels, x_of))
    ranges = [point.moving_range for point in points if point.moving_range is not None]
    if limits is not None and ranges:
        tops = [(limits.range_upper, "upper"), (limits.range_center, "center")]
        lower = band(34, 106, [*ranges, limits.range_upper], floor=0.0)
        _add(drawing, _frame(lower, unit, most=3), _limit_lines(lower, tops, unit))
        _add(drawing, _track(lower, points, x_of, lambda point: point.moving_range))
        _add(drawing, _range_marks(lower, points, x_of, limits.range_upper))
        drawing.add(_text(LEFT, 110, "Difference from the one before", size=SIZE))
    _add(drawing, _order_axis(labels, x_of))
    return drawing


def crew_drawing(crew: Crew, names: Sequence[str], *, fewest: int) -> Drawing:
    """Each person's pooled yield with its range, against the average of all, in percent of what was expected.

    People with fewer than `fewest` animals are left out. `names`: one for each person of `crew`.
    """
    shown = [
        (name, each)
        for name, each in zip(names, crew.people, strict=True)
        if each.n >= fewest and each.pooled is not None and each.low is not None and each.high is not None
    ]
    drawing = _blank("What whole animals of one person gave", "", height=60.0 + 26 * max(1, len(shown)))
    if not shown or crew.mean is None:
        drawing.add(_text(LEFT, 20, "Nobody did enough animals whole to be shown.", size=SIZE))
        return drawing
    ends = [share(value) for _, each in shown for value in (each.low, each.high) if value is not None]
    low, high = min(*ends, share(crew.mean)), max(*ends, share(crew.mean))
    room = (high - low) * 0.08 or 1.0
    axis = Band(150, WIDTH - 30, low - room, high + room)
    top = drawing.height - 42
    for value in axis.steps():
        drawing.add(Line(axis.y(value), 24, axis.y(value), top + 8, strokeColor=FAINT, strokeWidth=0.6))
        drawing.add(_text(axis.y(value), 10, f"{value:g} %", anchor="middle"))
    middle = axis.y(share(crew.mean))
    drawing.add(Line(middle, 24, middle, top + 8, strokeColor=SOFT, strokeDashArray=[5, 3]))
    for row, (name, each) in enumerate(shown):
        y = top - 26 * row - 6
        drawing.add(_text(8, y - 3, f"{name} ({each.n})", size=SIZE))
        start, end, at = (axis.y(share(value or 0.0)) for value in (each.low, each.high, each.pooled))
        drawing.add(Line(start, y, end, y, strokeColor=black, strokeWidth=1.6))
        drawing.add(Circle(at, y, 4, fillColor=black if each.apart else white, strokeColor=black))
    return drawing


def _note(chart: Chart, drawn: int) -> str:
    newest = f" The newest {drawn} are drawn." if drawn < len(chart.points) else ""
    return f"Percent of what was expected of each animal. {chart.note}{newest}"


def share(log: float) -> float:
    """A logarithm of a share as percent."""
    return 100 * math.exp(log)


def svg(drawing: Drawing) -> str:
    """The drawing as an SVG picture, in fonts that a browser has."""
    text: str = renderSVG.drawToString(drawing)
    for font, family in SVG_FONTS.items():
        text = text.replace(f"font-family: {font};", f"font-family: {family};")
    return text


def _blank(title: str, note: str, height: float = HEIGHT) -> Drawing:
    register_fonts()
    drawing = Drawing(WIDTH, height)
    drawing.add(Rect(0, 0, WIDTH, height, fillColor=white, strokeColor=None))
    drawing.add(_text(8, height - 18, title, size=12, font=BOLD, color=black))
    if note:
        drawing.add(_text(8, height - 33, note, size=SIZE))
    return drawing


def _add(drawing: Drawing, *shapes: Iterator[Shape]) -> None:
    for group in shapes:
        for shape in group:
            drawing.add(shape)


def _text(
    x: float,
    y: float,
    text: str,
    *,
    size: float = 8.0,
    font: str = REGULAR,
    color: Color = SOFT,
    anchor: str = "start",
) -> String:
    return String(x, y, text, fontName=font, fontSize=size, fillColor=color, textAnchor=anchor)


def _places(many: int) -> Callable[[int], float]:
    """Where each of so many points lies from left to right."""
    width = WIDTH - LEFT - RIGHT
    return lambda index: LEFT + width * (index + 0.5) / many


def _frame(strip: Band, unit: str, most: int = 6) -> Iterator[Shape]:
    right = WIDTH - RIGHT
    for value in strip.steps(most):
        y = strip.y(value)
        yield Line(LEFT, y, right, y, strokeColor=FAINT, strokeWidth=0.6)
        yield _text(LEFT - 5, y - 3, f"{value:g} {unit}", anchor="end")
    yield Line(LEFT, strip.bottom, LEFT, strip.top, strokeColor=SOFT, strokeWidth=0.8)


def _limit_lines(strip: Band, lines: Sequence[tuple[float, str]], unit: str) -> Iterator[Shape]:
    right, last = WIDTH - RIGHT, math.inf
    for value, name in lines:
        y = strip.y(value)
        dashes = None if name == "center" else [6, 4]
        yield Line(LEFT, y, right, y, strokeColor=black, strokeWidth=0.9, strokeDashArray=dashes)
        # Lines that lie close together keep their words apart.
        last = min(y, last - 10)
        yield _text(right + 5, last - 3, f"{name} {value:.1f} {unit}", color=black)


def _track(
    strip: Band,
    points: Sequence[Point],
    x_of: Callable[[int], float],
    value_of: Callable[[Point], float | None],
) -> Iterator[Shape]:
    found = [(x_of(index), value_of(point)) for index, point in enumerate(points)]
    flat = [number for x, value in found if value is not None for number in (x, strip.y(value))]
    if len(flat) > 2:
        yield PolyLine(flat, strokeColor=SOFT, strokeWidth=0.9, fillColor=None)


def _marks(
    strip: Band, points: Sequence[Point], names: Sequence[str], x_of: Callable[[int], float]
) -> Iterator[Shape]:
    named = 0
    for index, point in enumerate(points):
        x, y = x_of(index), strip.y(point.value)
        if not point.signals:
            yield Circle(x, y, 2.4, fillColor=white, strokeColor=black, strokeWidth=0.9)
            continue
        yield Rect(x - 3.6, y - 3.6, 7.2, 7.2, fillColor=black, strokeColor=black)
        if named < NAMED:
            named += 1
            yield _text(x, y + 6, names[index], color=black, anchor="middle")


def _range_marks(
    strip: Band, points: Sequence[Point], x_of: Callable[[int], float], most: float
) -> Iterator[Shape]:
    for index, point in enumerate(points):
        if point.moving_range is None:
            continue
        x, y = x_of(index), strip.y(point.moving_range)
        if point.moving_range > most:
            yield Rect(x - 3, y - 3, 6, 6, fillColor=black, strokeColor=black)
        else:
            yield Circle(x, y, 1.8, fillColor=white, strokeColor=black, strokeWidth=0.8)


def _order_axis(names: Sequence[str], x_of: Callable[[int], float]) -> Iterator[Shape]:
    """Some order numbers below, the first and the last among them."""
    many = len(names)
    step = max(1, math.ceil(many / 8))
    wanted = sorted({*range(0, many - step // 2, step), many - 1})
    for index in wanted:
        yield _text(x_of(index), 16, names[index], anchor="middle")
