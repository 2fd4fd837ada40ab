"""What the animal should have yielded, what it did yield, and where the pounds went."""

from __future__ import annotations

from dataclasses import dataclass

from labels.designs.papers import head
from labels.flow import Column, Flow
from labels.sheet import Sheet
from labels.text import BOLD, REGULAR
from labels.values import LabelError


@dataclass(frozen=True, slots=True)
class PoundsRow:
    """One row of where the pounds went; `weight` is text and may be “not weighed”."""

    what: str
    weight: str
    remark: str = ""


@dataclass(frozen=True, slots=True)
class YieldStatement:
    """One animal. `added` is fat and other meat, always apart from the hunter's own.

    `expected_mg` (low, likely, high) and `packed_mg` draw the range in milligrams; the texts say the same.
    """

    order: str
    hunter: str
    animal: str
    tag: str
    weighed: str
    expected_low: str
    expected_likely: str
    expected_high: str
    packed: str
    went: tuple[PoundsRow, ...]
    points_weighed: str
    shop: str
    shop_address: str
    code: str = ""
    added: tuple[PoundsRow, ...] = ()
    notes: tuple[str, ...] = ()
    expected_mg: tuple[int, ...] = ()
    packed_mg: int = 0


def draw(sheet: Sheet, paper: YieldStatement) -> None:
    """The statement. LabelError when the range is not low, likely, high in order."""
    if paper.expected_mg and (
        len(paper.expected_mg) != 3 or list(paper.expected_mg) != sorted(paper.expected_mg)
    ):
        raise LabelError("The expected weight needs a low, a likely and a high value, in this order.")
    flow = Flow(
        sheet, footer=f"{paper.shop} · order {paper.order}", running=f"Yield statement · {paper.order}"
    )
    head(
        flow,
        shop=paper.shop,
        about=paper.shop_address,
        title="Yield statement",
        order=paper.order,
        code=paper.code,
    )
    flow.pairs(
        [("Hunter", paper.hunter), ("Animal", paper.animal), ("Tag", paper.tag), ("Weighed", paper.weighed)],
        size=12,
    )
    flow.heading("Expected and packed")
    expected = (paper.expected_low, paper.expected_likely, paper.expected_high, paper.packed)
    titles = ("Low", "Likely", "High", "Packed, your own meat")
    flow.table([Column(title, 1, font=BOLD) for title in titles], [expected], size=14)
    if paper.expected_mg and paper.expected_mg[2] > 0:
        flow.gap(4)
        flow.drawn(46, lambda top: _range(sheet, paper, top))
    flow.heading("Where the pounds went")
    _rows(flow, paper.went)
    flow.gap(4)
    flow.text(paper.points_weighed, 11, font=BOLD)
    if paper.added:
        flow.heading("Added, not your own meat")
        _rows(flow, paper.added)
    flow.gap(6)
    for note in paper.notes:
        flow.text(note, 9.5)
    flow.finish()


def _rows(flow: Flow, rows: tuple[PoundsRow, ...]) -> None:
    columns = (Column("", 4, font=BOLD), Column("Weight", 2, "right", BOLD), Column("", 5))
    flow.table(columns, [(row.what, row.weight, row.remark) for row in rows], size=11)


def _range(sheet: Sheet, paper: YieldStatement, top: float) -> None:
    """A scale from zero: the expected range as a box, the likely value in it, the packed weight above it."""
    low, likely, high = paper.expected_mg
    whole = max(high, paper.packed_mg) * 1.06
    across = sheet.width / whole
    line = top + 26
    sheet.rule(line + 5, thickness=0.8)
    sheet.frame(line, 10, x=sheet.left + low * across, width=max(3, (high - low) * across), thickness=1.6)
    sheet.rule(line, thickness=10, x=sheet.left + likely * across - 1, width=2)
    packed = sheet.left + paper.packed_mg * across
    sheet.stroke([(packed - 5, line - 9), (packed, line - 1), (packed + 5, line - 9)], thickness=2.2)
    begin = min(max(sheet.left, packed - 60), sheet.right - 120)
    sheet.line(f"packed {paper.packed}", line - 21, 8.5, x=begin, width=120, align="center")
    middle = min(max(sheet.left, sheet.left + likely * across - 90), sheet.right - 180)
    words = f"expected {paper.expected_low} to {paper.expected_high}"
    sheet.line(words, line + 11, 8.5, x=middle, width=180, font=REGULAR, align="center")
