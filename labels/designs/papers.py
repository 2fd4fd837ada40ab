"""What the letter-size papers share: the shop at the head, the order number large, the barcode beside it."""

from __future__ import annotations

from labels.flow import Flow
from labels.sheet import Sheet
from labels.text import NARROW, REGULAR

HEAD_HEIGHT = 92.0


def head(flow: Flow, *, shop: str, about: str, title: str, order: str, code: str) -> None:
    """The top of a paper: shop, title, order number and its barcode (left out when `code` is empty)."""

    def draw(top: float) -> None:
        sheet: Sheet = flow.sheet
        room = sheet.width
        if code:
            width = sheet.code_width(code, wide=True)
            room -= width
            sheet.code(code, top + 2, 40, x=sheet.right - width, wide=True, size=14)
        below = sheet.line(shop, top, 13, width=room)
        below = sheet.line(about, below, 9, width=room, font=REGULAR)
        below = sheet.line(title, below + 8, 17, width=room)
        sheet.line(order, below + 3, 30, width=room, font=NARROW, tight=True)

    flow.drawn(HEAD_HEIGHT, draw)
    flow.rule(1.2)
    flow.gap(3)
