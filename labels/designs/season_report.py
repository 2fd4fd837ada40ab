"""A season for the shop's owner: sums as tables, pictures of them where there are any, and what they mean."""

from __future__ import annotations

from dataclasses import dataclass

from reportlab.graphics import renderPDF
from reportlab.graphics.shapes import Drawing

from labels.designs.tables import is_strong, strong
from labels.flow import Column, Flow
from labels.sheet import Sheet
from labels.text import BOLD, width_of
from labels.values import LabelError

EMPTY = "No animal was finished in this season."
_SIZE = 8.5
_PAD = 1.8
# Of the width: what the column of names gets at least.
_NAMES = 0.22
# Points: a longer number is broken; the room beside a number.
_WIDEST = 100.0
_BETWEEN = 14.0


@dataclass(frozen=True, slots=True)
class ReportTable:
    """Rows of one cell for each column; the first is a name, the others are numbers as text. `total` may be empty."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    total: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SeasonReport:
    """`words` stand above the tables. `charts` are drawn in the order given, shrunk where they are too large."""

    shop: str
    shop_address: str
    season: str
    period: str
    printed: str
    unit: str
    tables: tuple[ReportTable, ...]
    words: str = ""
    charts: tuple[Drawing, ...] = ()
    notes: tuple[str, ...] = ()


def draw(sheet: Sheet, report: SeasonReport) -> None:
    """The report over as many pages as it needs. LabelError when a row has not one cell for each column."""
    for table in report.tables:
        _check(table)
    title = f"Season report · {report.season}"
    flow = Flow(sheet, footer=f"{report.shop} · {title} · printed {report.printed}", running=title)
    flow.text("Season report", 16, font=BOLD)
    flow.text(f"{report.season}, {report.period}", 12, font=BOLD)
    flow.text(f"{report.shop}, {report.shop_address} · printed {report.printed}", 9.5)
    if report.tables:
        flow.text(f"All weights in {report.unit}.", 9.5)
    else:
        flow.gap(14)
        flow.text(EMPTY, 12)
    flow.text(report.words, 9.5)
    for table in report.tables:
        _table(flow, table)
    if report.charts:
        flow.gap(8)
    for chart in report.charts:
        _chart(flow, chart)
    if report.notes:
        flow.heading("What these figures are", 11)
    for note in report.notes:
        flow.text(note, 8.5)
        flow.gap(2)
    flow.finish()


def _check(table: ReportTable) -> None:
    rows = [*table.rows, *([table.total] if table.total else [])]
    for number, row in enumerate(rows, start=1):
        if len(row) != len(table.columns):
            raise LabelError(
                f"Row {number} of “{table.title}” has {len(row)} cells, not {len(table.columns)}."
            )


def _table(flow: Flow, table: ReportTable) -> None:
    # The title stays with the heading, which may take two lines, and with the first rows.
    flow.keep(90)
    flow.heading(table.title, 11)
    cells = [*table.rows, *([strong(table.total)] if table.total else [])]
    flow.table(_columns(table, flow.sheet.width), cells, size=_SIZE, bold=is_strong, pad=_PAD)


def _columns(table: ReportTable, width: float) -> list[Column]:
    """Numbers get what their longest cell takes, squeezed where that is too much; names get the rest."""
    cells = [*table.rows, table.total] if table.total else list(table.rows)
    wanted = [
        max(_heading_room(title), *(_room(row[index]) for row in cells)) if cells else _heading_room(title)
        for index, title in enumerate(table.columns[1:], start=1)
    ]
    most = width * (1 - _NAMES)
    squeeze = min(1.0, most / sum(wanted)) if wanted else 1.0
    numbers = [
        Column(title, room * squeeze, "right") for title, room in zip(table.columns[1:], wanted, strict=True)
    ]
    return [Column(table.columns[0], width - sum(column.share for column in numbers)), *numbers]


def _room(cell: str) -> float:
    return min(_WIDEST, width_of(cell, BOLD, _SIZE)) + _BETWEEN


def _heading_room(title: str) -> float:
    """A heading may take two lines, and is not broken inside a word."""
    return max((width_of(word, BOLD, _SIZE) for word in title.split()), default=0.0) + _BETWEEN


def _chart(flow: Flow, chart: Drawing) -> None:
    sheet = flow.sheet
    room = sheet.bottom - sheet.top - 60
    scale = min(1.0, sheet.width / chart.width, room / chart.height)
    height = chart.height * scale

    def put(top: float) -> None:
        canvas = sheet.canvas
        canvas.saveState()
        canvas.translate(sheet.left, sheet.stock.size[1] - top - height)
        canvas.scale(scale, scale)
        renderPDF.draw(chart, canvas, 0, 0)
        canvas.restoreState()

    flow.drawn(height, put)
    flow.gap(8)
