"""The tag on a carcass, a quarter or a bag, and its sister on a part that the hunter keeps."""

from __future__ import annotations

from dataclasses import dataclass

from labels.sheet import Sheet
from labels.text import NARROW, REGULAR

# Read across a cold room.
ORDER_SIZE = 66
LEAST_ORDER_SIZE = 60


@dataclass(frozen=True, slots=True)
class PieceTag:
    """`number` of `of` pieces that this animal came as, None for what is not counted; `so_far`: more may come.

    `kept` for head, antlers, cape, hide and organs.
    """

    code: str
    order: str
    animal: int
    species: str
    hunter: str
    tag: str
    received: str
    piece: str
    number: int | None = None
    of: int | None = None
    so_far: bool = False
    kept: bool = False
    hold: str = ""


def draw(sheet: Sheet, tag: PieceTag) -> None:
    """One tag, 4 x 6 in, the hole margin left free. LabelError when the order number is below 60 pt."""
    top = sheet.new_page()
    top = sheet.line(
        tag.order,
        top,
        ORDER_SIZE,
        font=NARROW,
        minimum=LEAST_ORDER_SIZE,
        align="center",
        tight=True,
        must_fit=True,
    )
    top = _piece(sheet, tag, top + 8)
    top = _who(sheet, tag, top + 6)
    if tag.hold:
        top = sheet.band(f"HOLD: {tag.hold}", top + 2, 15)
    words = sheet.not_for_sale_at_bottom()
    width = sheet.code_width(tag.code, wide=True)
    room = words - top - 6 - 24
    sheet.code(tag.code, top + 6, min(96, room), x=sheet.left + (sheet.width - width) / 2, wide=True, size=20)


def _piece(sheet: Sheet, tag: PieceTag, top: float) -> float:
    heading = "KEEP FOR THE HUNTER" if tag.kept else "FOR THE CUT SHEET"
    top = sheet.band(heading, top, 17, align="center") + 6
    if tag.number is None or tag.of is None:
        return sheet.line(tag.piece, top, 26, minimum=13)
    count = f"{tag.number} of {tag.of}{' so far' if tag.so_far else ''}"
    left = 0.56 if tag.so_far else 0.68
    sheet.line(
        count,
        top,
        26,
        x=sheet.left + sheet.width * left,
        width=sheet.width * (1 - left),
        font=NARROW,
        align="right",
        minimum=13,
    )
    return sheet.line(tag.piece, top, 26, width=sheet.width * (left - 0.02), minimum=13)


def _who(sheet: Sheet, tag: PieceTag, top: float) -> float:
    animal = f"Animal {tag.animal}"
    width = sheet.line_width(animal, NARROW, 19) + 10
    sheet.line(animal, top, 19, width=width, font=NARROW)
    top = sheet.line(tag.species, top, 19, x=sheet.left + width, font=REGULAR, minimum=11)
    top = sheet.line(tag.hunter, top, 20, minimum=11)
    top = sheet.pair("Tag", tag.tag, top, 14)
    return sheet.pair("Received", tag.received, top, 14)
