"""The custody register as an officer reads it: complete, in order, and plain about what is missing."""

from __future__ import annotations

from dataclasses import dataclass

from labels.flow import Column, Flow
from labels.sheet import Sheet
from labels.text import BOLD, REGULAR, width_of
from labels.values import LabelError

MISSING = "MISSING"
_SIZES = (7.0, 6.5, 6.0, 5.5)
# Ems.
_LONGEST_WORD = 13.0
_SHORTEST = 3.0
# Points left and right of a cell's text.
_PADDING = 5.5


@dataclass(frozen=True, slots=True)
class CustodyRegister:
    """An empty cell is a value that is missing; what does not apply is written as a dash by the caller."""

    shop: str
    shop_address: str
    period: str
    printed: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    title: str = "Custody register"
    note: str = ""


def draw(sheet: Sheet, register: CustodyRegister) -> None:
    """The register over as many pages as it needs. LabelError when a row has not one cell for each column."""
    for number, row in enumerate(register.rows, start=1):
        if len(row) != len(register.columns):
            raise LabelError(
                f"Row {number} of the register has {len(row)} cells, not {len(register.columns)}."
            )
    rows = [tuple(cell if cell.strip() else MISSING for cell in row) for row in register.rows]
    footer = f"{register.shop} · {register.period} · printed {register.printed}"
    flow = Flow(sheet, footer=footer, running=f"{register.title} · {register.period}")
    flow.text(register.title, 16, font=BOLD)
    flow.text(f"{register.shop}, {register.shop_address}", 10)
    flow.text(f"{register.period} · printed {register.printed}", 10)
    flow.text(_count(rows), 10, font=BOLD)
    flow.text(register.note, 9)
    flow.gap(5)
    columns, size = _columns(register.columns, rows, sheet.width)
    flow.table(columns, rows, size=size, bold=lambda cell: cell == MISSING)
    flow.finish()


def _count(rows: list[tuple[str, ...]]) -> str:
    incomplete = sum(MISSING in row for row in rows)
    animals = "1 row" if len(rows) == 1 else f"{len(rows)} rows"
    if not incomplete:
        return f"{animals}, all complete"
    return f"{animals}, {incomplete} incomplete: what is missing is marked {MISSING}"


def _columns(
    titles: tuple[str, ...], rows: list[tuple[str, ...]], width: float
) -> tuple[list[Column], float]:
    """Columns that hold their longest words, in the largest size that allows it; length shares the rest."""
    cells = [{row[index] for row in rows} for index in range(len(titles))]
    least = [_least_width(title, column) for title, column in zip(titles, cells, strict=True)]
    size = next((size for size in _SIZES if sum(least) * size + _PADDING * len(least) <= width), _SIZES[-1])
    widths = [share * size + _PADDING for share in least]
    longest = [max((width_of(cell, REGULAR, size) for cell in column), default=0) for column in cells]
    wanted = [max(0.0, whole - small) + 1 for whole, small in zip(longest, widths, strict=True)]
    spare = max(0.0, width - sum(widths)) / max(1.0, sum(wanted))
    return [
        Column(title, small + spare * want) for title, small, want in zip(titles, widths, wanted, strict=True)
    ], size


def _least_width(title: str, cells: set[str]) -> float:
    """Width of the longest word at size 1; a word longer than usual may be broken."""
    words = {word for cell in cells for word in cell.split()} - {MISSING}
    longest = max((width_of(word, REGULAR, 1) for word in words), default=0.0)
    heading = max((width_of(word, BOLD, 1) for word in title.split()), default=0.0)
    missing = width_of(MISSING, BOLD, 1) if MISSING in cells else 0.0
    return max(min(longest, _LONGEST_WORD), heading, missing, _SHORTEST)
