"""The box on the freezer shelf, with the list of what is in it."""

from __future__ import annotations

from dataclasses import dataclass

from labels.sheet import NOT_FOR_SALE_CAPS, Sheet
from labels.text import BOLD, LEADING, NARROW, REGULAR


@dataclass(frozen=True, slots=True)
class BoxLine:
    """One cut in the box; `weight` is text and may say that it was counted only."""

    cut: str
    count: int
    weight: str = ""


@dataclass(frozen=True, slots=True)
class BoxLabel:
    """Box `number` of `of`; `total` is text, such as `24 packages, 31.75 lb`."""

    code: str
    order: str
    hunter: str
    number: int
    of: int
    lines: tuple[BoxLine, ...]
    total: str
    packed: str = ""
    shop: str = ""


_LARGEST = 14.0
_SMALLEST = 8.0


def draw(sheet: Sheet, box: BoxLabel) -> None:
    """One label, 4 x 6 in; a list that is too long goes on with a second label of the same box."""
    left_over = list(box.lines)
    first = True
    while first or left_over:
        top = _head(sheet, box, sheet.new_page(), continued=not first)
        foot = _foot_top(sheet)
        size = max(_SMALLEST, min(_LARGEST, (foot - top) / (LEADING * (len(left_over) + 1))))
        fits = int((foot - top) / (size * LEADING))
        shown, left_over = (
            (left_over, []) if len(left_over) < fits else (left_over[: fits - 1], left_over[fits - 1 :])
        )
        for line in shown:
            top = _line(sheet, line, top, size)
        if left_over:
            sheet.line("more on the next label of this box", top, size, font=REGULAR, align="right")
        else:
            sheet.line(f"Total {box.total}", top, size, minimum=7, align="right")
        _foot(sheet, box, foot)
        first = False


def _head(sheet: Sheet, box: BoxLabel, top: float, *, continued: bool) -> float:
    top = sheet.line(box.order, top, 66, font=NARROW, minimum=48, align="center", tight=True, must_fit=True)
    heading = f"BOX {box.number} OF {box.of}" + (" · CONTINUED" if continued else "")
    top = sheet.band(heading, top + 7, 24, align="center") + 5
    top = sheet.line(box.hunter, top, 20, minimum=11)
    return sheet.rule(top + 2)


def _line(sheet: Sheet, line: BoxLine, top: float, size: float) -> float:
    cut_width, count_width = sheet.width * 0.56, sheet.width * 0.12
    sheet.line(
        str(line.count), top, size, x=sheet.left + cut_width, width=count_width, font=BOLD, align="right"
    )
    weight_left = sheet.left + cut_width + count_width + 4
    sheet.line(line.weight, top, size, x=weight_left, font=REGULAR, align="right", minimum=6)
    return sheet.line(line.cut, top, size, width=cut_width - 2, font=REGULAR, minimum=min(size, 7))


def _foot_top(sheet: Sheet) -> float:
    return sheet.bottom - NOT_FOR_SALE_CAPS - 78


def _foot(sheet: Sheet, box: BoxLabel, top: float) -> None:
    sheet.not_for_sale_at_bottom()
    width = sheet.code_width(box.code, wide=True)
    sheet.code(box.code, top + 6, 44, x=sheet.right - width, wide=True, size=17)
    room = sheet.width - width - 2
    below = sheet.pair("Packed", box.packed, top + 8, 10, width=room)
    sheet.block(box.shop, below + 3, 10, width=room, height=44, minimum=7)
