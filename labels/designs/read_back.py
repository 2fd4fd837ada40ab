"""The cut sheet as it is read back to the hunter before the knife."""

from __future__ import annotations

from dataclasses import dataclass

from labels.designs.papers import head
from labels.flow import Column, Flow
from labels.sheet import Sheet
from labels.text import BOLD

HOUSE_MARK = "house cut"


@dataclass(frozen=True, slots=True)
class CutLine:
    """One part; `house` when the hunter chose nothing and the shop's own choice stands."""

    part: str
    choice: str
    details: str = ""
    house: bool = False


@dataclass(frozen=True, slots=True)
class ReadBack:
    """One animal's cut sheet. `expected` is the estimate in words; `kept` the parts that are given back."""

    order: str
    hunter: str
    animal: str
    tag: str
    lines: tuple[CutLine, ...]
    agreed: str
    shop: str
    shop_address: str
    code: str = ""
    kept: str = ""
    note: str = ""
    expected: str = ""
    version: int = 1


def draw(sheet: Sheet, paper: ReadBack) -> None:
    """The cut sheet, one line a part, house cuts marked in words."""
    flow = Flow(sheet, footer=f"{paper.shop} · order {paper.order}", running=f"Cut sheet · {paper.order}")
    title = "Cut sheet" if paper.version == 1 else f"Cut sheet, version {paper.version}"
    head(flow, shop=paper.shop, about=paper.shop_address, title=title, order=paper.order, code=paper.code)
    flow.pairs(
        [
            ("Hunter", paper.hunter),
            ("Animal", paper.animal),
            ("Tag", paper.tag),
            ("Read back", paper.agreed),
            ("Given back", paper.kept),
            ("Expected", paper.expected),
        ],
        size=12,
    )
    if paper.note:
        flow.gap(4)
        flow.text(paper.note, 14, font=BOLD)
    flow.gap(8)
    columns = (
        Column("Part", 3, font=BOLD),
        Column("Cut as", 3),
        Column("How", 4),
        Column("", 1.7, "right", BOLD),
    )
    rows = [(line.part, line.choice, line.details, HOUSE_MARK if line.house else "") for line in paper.lines]
    flow.table(columns, rows, size=11)
    if any(line.house for line in paper.lines):
        flow.gap(6)
        flow.text(
            f"“{HOUSE_MARK}”: nothing was chosen for this part, so the shop cuts it its usual way.", 9.5
        )
    flow.text("After cutting has begun a change is a request.", 9.5)
    flow.finish()
