"""Where the pounds of an animal went, what was packed of it, and what animals like it give: one page."""

from __future__ import annotations

from dataclasses import dataclass

from labels.designs.papers import head
from labels.designs.tables import is_strong, strong
from labels.flow import Column, Flow
from labels.sheet import Sheet
from labels.text import BOLD, REGULAR
from labels.values import LabelError

# The largest in which all of it stands on one page; a statement too long for the last goes on in the usual one.
_SIZES = (10.0, 9.5, 9.0, 8.5, 8.0, 7.5)
_USUAL = 9.0
_PAD = 1.2
# Cuts are set in two columns from this many on.
_MANY_CUTS = 7
_BAR_HEIGHT = 40.0


@dataclass(frozen=True, slots=True)
class PoundsRow:
    """One row of where the pounds went; `weight` is text, with its sign for what went off or was added.

    `point` is a weighing, or a sum: printed bold.
    """

    what: str
    weight: str
    remark: str = ""
    point: bool = False


@dataclass(frozen=True, slots=True)
class CutRow:
    """Packs of one cut; `weight` is text and may be “not weighed”."""

    what: str
    packs: str
    weight: str


@dataclass(frozen=True, slots=True)
class YieldStatement:
    """One animal, or those put together. `sums` say below the cuts whose meat it is.

    `expected_mg` (low, likely, high) and `packed_mg` draw the range in milligrams; the texts say the same. None for
    `packed_mg` leaves its mark out, where it is not known.
    """

    order: str
    hunter: str
    animal: str
    tag: str
    went: tuple[PoundsRow, ...]
    points_weighed: str
    like_this: str
    expected_low: str
    expected_likely: str
    expected_high: str
    packed: str
    shop: str
    shop_address: str
    code: str = ""
    ended: str = ""
    covers: str = ""
    expected_mg: tuple[int, ...] = ()
    packed_mg: int | None = None
    cuts_title: str = "Packed"
    cuts: tuple[CutRow, ...] = ()
    sums: tuple[str, ...] = ()
    caution: str = ""
    notes: tuple[str, ...] = ()


def draw(sheet: Sheet, paper: YieldStatement) -> None:
    """The statement. LabelError when the range is not low, likely, high in order."""
    if paper.expected_mg and (
        len(paper.expected_mg) != 3 or list(paper.expected_mg) != sorted(paper.expected_mg)
    ):
        raise LabelError("The expected weight needs a low, a likely and a high value, in this order.")
    for size in _SIZES:
        flow = _laid_out(sheet, paper, size)
        if flow.pages == 1:
            break
    else:
        flow = _laid_out(sheet, paper, _USUAL)
    flow.finish()


def _laid_out(sheet: Sheet, paper: YieldStatement, size: float) -> Flow:
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
    who = (("Hunter", paper.hunter), ("Animal", paper.animal), ("Tag", paper.tag), ("Ended", paper.ended))
    flow.pairs(who, size=size, caption_width=80)
    _heading(flow, "Where the pounds went", size)
    _rows(flow, paper.went, size)
    flow.gap(3)
    flow.text(paper.points_weighed, size, font=BOLD)
    _expected(flow, paper, size)
    _packed(flow, paper, size)
    flow.gap(size * 0.6)
    flow.text(paper.caution, size, font=BOLD)
    for note in paper.notes:
        flow.text(note, max(7.5, size - 1))
    return flow


def _heading(flow: Flow, words: str, size: float) -> None:
    flow.heading(words, size + 2.5)


def _rows(flow: Flow, rows: tuple[PoundsRow, ...], size: float) -> None:
    columns = (Column("", 31), Column("Weight", 16, "right"), Column("", 1), Column("", 52))
    cells = [
        (*(strong(cells) if row.point else cells), "", row.remark)
        for row in rows
        for cells in [(row.what, row.weight)]
    ]
    flow.table(columns, cells, size=size, bold=is_strong, pad=_PAD)


def _packed(flow: Flow, paper: YieldStatement, size: float) -> None:
    """Cuts with their packs and weights, side by side where there are many, and their sums."""
    if paper.cuts:
        _heading(flow, paper.cuts_title, size)
        if len(paper.cuts) < _MANY_CUTS:
            rows: list[tuple[str, ...]] = [(cut.what, cut.packs, cut.weight) for cut in paper.cuts]
            columns = [Column("Cut", 46), Column("Packs", 12, "right"), Column("Weight", 42, "right")]
        else:
            one = [Column("Cut", 29), Column("Packs", 7, "right"), Column("Weight", 13, "right")]
            columns = [*one, Column("", 2), *one]
            rows = _side_by_side(paper.cuts)
        flow.table(columns, rows, size=size, pad=_PAD)
        flow.gap(3)
    for words in paper.sums:
        flow.text(words, size, font=BOLD)


def _side_by_side(cuts: tuple[CutRow, ...]) -> list[tuple[str, ...]]:
    half = (len(cuts) + 1) // 2
    rows: list[tuple[str, ...]] = []
    for index in range(half):
        left, right = cuts[index], cuts[index + half] if index + half < len(cuts) else CutRow("", "", "")
        rows.append((left.what, left.packs, left.weight, "", right.what, right.packs, right.weight))
    return rows


def _expected(flow: Flow, paper: YieldStatement, size: float) -> None:
    _heading(flow, paper.like_this, size)
    expected = (paper.expected_low, paper.expected_likely, paper.expected_high, paper.packed)
    titles = ("Low", "Likely", "High", "Your own meat")
    flow.table([Column(title, 1, font=BOLD) for title in titles], [expected], size=size + 2, pad=_PAD)
    if paper.expected_mg and paper.expected_mg[2] > 0:
        flow.gap(3)
        flow.drawn(_BAR_HEIGHT, lambda top: _range(flow.sheet, paper, top))
        flow.gap(3)
    flow.text(paper.covers, size)


def _range(sheet: Sheet, paper: YieldStatement, top: float) -> None:
    """A scale from zero: the range as a box, the likely value in it, and above it what was packed."""
    low, likely, high = paper.expected_mg
    whole = max(high, paper.packed_mg or 0) * 1.06
    across = sheet.width / whole
    line = top + 20
    first, last = sheet.left + low * across, sheet.left + high * across
    sheet.rule(line + 5, thickness=0.8)
    sheet.frame(line, 10, x=first, width=max(3, last - first), thickness=1.6)
    sheet.rule(line, thickness=10, x=sheet.left + likely * across - 1, width=2)
    below = line + 11
    sheet.line("0", below, 8, width=20, font=REGULAR)
    if first - sheet.left > 50:
        sheet.line("low", below, 8, x=first - 28, width=30, font=REGULAR, align="right")
    sheet.line("high", below, 8, x=last - 2, width=sheet.right - last + 2, font=REGULAR)
    if last - first > 80:
        middle = min(max(first + 10, sheet.left + likely * across - 20), last - 50)
        sheet.line("likely", below, 8, x=middle, width=40, font=REGULAR, align="center")
    if paper.packed_mg is not None:
        packed = sheet.left + paper.packed_mg * across
        sheet.stroke([(packed - 5, line - 8), (packed, line - 1), (packed + 5, line - 8)], thickness=2.2)
        begin = min(max(sheet.left, packed - 30), sheet.right - 60)
        sheet.line("packed", line - 19, 8, x=begin, width=60, align="center")
