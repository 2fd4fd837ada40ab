"""The receipt without which nothing leaves the shop."""

from __future__ import annotations

from dataclasses import dataclass

from labels.designs.papers import head
from labels.flow import Column, Flow
from labels.sheet import Sheet
from labels.text import BOLD, REGULAR
from labels.values import LabelError

MARK_RANGE = 1000
_MARK_WIDTH = 240.0
_MARK_HEIGHT = 80.0


@dataclass(frozen=True, slots=True)
class LeavingLine:
    """One thing that leaves now: a box, a package, antlers; `weight` is text and may be empty."""

    what: str
    count: str
    weight: str = ""
    code: str = ""


@dataclass(frozen=True, slots=True)
class OutgoingReceipt:
    """`mark` is a signature: strokes of points, 0 to 1000 across and down a pad three times as wide as high.

    `initials` stand in its place when they were typed. `remains` says what is still in the shop, if anything.
    """

    order: str
    owner: str
    animals: tuple[str, ...]
    tags: str
    leaving: tuple[LeavingLine, ...]
    total: str
    remains: str
    collector: str
    clerk: str
    at: str
    shop: str
    shop_address: str
    shop_phone: str = ""
    code: str = ""
    number: str = ""
    mark: tuple[tuple[tuple[int, int], ...], ...] = ()
    initials: str = ""
    note: str = ""


def draw(sheet: Sheet, receipt: OutgoingReceipt) -> None:
    """One receipt. LabelError when nothing leaves, or when nobody signed for it."""
    if not receipt.leaving:
        raise LabelError("A receipt needs something that leaves.")
    _check_mark(receipt)
    title = f"Receipt {receipt.number}" if receipt.number else "Receipt"
    flow = Flow(sheet, footer=f"{receipt.shop} · order {receipt.order}", running=f"{title} · {receipt.order}")
    about = " · ".join(part for part in (receipt.shop_address, receipt.shop_phone) if part)
    head(flow, shop=receipt.shop, about=about, title=title, order=receipt.order, code=receipt.code)
    flow.pairs(
        [("Owner", receipt.owner), ("Species and count", "; ".join(receipt.animals)), ("Tag", receipt.tags)]
    )
    flow.heading("Leaves the shop now")
    columns = (
        Column("What", 5, font=BOLD),
        Column("Code", 2),
        Column("Count", 2, "right"),
        Column("Weight", 2, "right"),
    )
    flow.table(
        columns, [(line.what, line.code, line.count, line.weight) for line in receipt.leaving], size=10.5
    )
    flow.gap(4)
    flow.pairs([("Total", receipt.total), ("Still in the shop", receipt.remains), ("Note", receipt.note)])
    flow.gap(6)
    flow.text("Not for sale. For the household of the owner only.", 13, font=BOLD)
    flow.gap(8)
    flow.pairs(
        [
            ("Collected by", receipt.collector),
            ("Date and time", receipt.at),
            ("Handed over by", receipt.clerk),
        ]
    )
    _signature(flow, receipt)
    flow.finish()


def _check_mark(receipt: OutgoingReceipt) -> None:
    if not receipt.mark and not receipt.initials.strip():
        raise LabelError("A receipt needs a signature or typed initials.")
    for stroke in receipt.mark:
        if not stroke or not all(0 <= number <= MARK_RANGE for point in stroke for number in point):
            raise LabelError("The signature has points outside its pad.")


def _signature(flow: Flow, receipt: OutgoingReceipt) -> None:
    sheet = flow.sheet

    def draw_mark(top: float) -> None:
        sheet.frame(top, _MARK_HEIGHT, x=sheet.left, width=_MARK_WIDTH)
        for stroke in receipt.mark:
            sheet.stroke(
                [
                    (sheet.left + x * _MARK_WIDTH / MARK_RANGE, top + y * _MARK_HEIGHT / MARK_RANGE)
                    for x, y in stroke
                ]
            )
        if not receipt.mark:
            sheet.line(receipt.initials, top + 22, 32, x=sheet.left + 8, width=_MARK_WIDTH - 16)
        caption = "Signature of the collector" if receipt.mark else "Initials, typed by the collector"
        sheet.line(caption, top + _MARK_HEIGHT + 2, 8.5, font=REGULAR)

    flow.gap(6)
    flow.drawn(_MARK_HEIGHT + 16, draw_mark)
