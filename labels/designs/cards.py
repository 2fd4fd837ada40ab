"""Cards that stay in the shop: a place, a station, a badge."""

from __future__ import annotations

from dataclasses import dataclass

from labels.barcodes import bars
from labels.sheet import Sheet
from labels.text import BOLD, REGULAR
from labels.values import LabelError

BADGE_LENGTH = 12


@dataclass(frozen=True, slots=True)
class PlaceCode:
    """A rail, rack, shelf or hook; `detail` says what kind of place it is."""

    code: str
    name: str
    detail: str = ""


@dataclass(frozen=True, slots=True)
class StationCode:
    """A station; `detail` says what is done there."""

    code: str
    name: str
    detail: str = ""


@dataclass(frozen=True, slots=True)
class StaffBadge:
    """Twelve random digits that open the floor role on the shop's own devices."""

    badge: str
    name: str
    shop: str


def draw_place(sheet: Sheet, card: PlaceCode | StationCode) -> None:
    """One card, 4 x 3 in: the name as large as it fits, the barcode below."""
    kind = "STATION" if isinstance(card, StationCode) else "PLACE"
    top = sheet.band(kind, sheet.new_page(), 13, align="center") + 4
    below = sheet.bottom - 84
    name_height = below - top - (18 if card.detail else 0)
    top = sheet.block(card.name, top, 54, height=name_height, minimum=20, font=BOLD, align="center")
    sheet.line(card.detail, top, 13, font=REGULAR, align="center")
    width = sheet.code_width(card.code, wide=True)
    sheet.code(card.code, below + 4, 58, x=sheet.left + (sheet.width - width) / 2, wide=True, size=20)


def draw_badge(sheet: Sheet, card: StaffBadge) -> None:
    """One badge, 4 x 2 in. LabelError unless it is twelve digits that do not begin with 99."""
    if len(card.badge) != BADGE_LENGTH:
        raise LabelError("A badge has twelve digits.")
    bars(card.badge)
    top = sheet.line(card.shop, sheet.new_page() + 2, 11, font=REGULAR, align="center")
    top = sheet.line(card.name, top, 26, minimum=12, align="center")
    width = sheet.code_width(card.badge, wide=True)
    shown = " ".join(card.badge[start : start + 4] for start in range(0, BADGE_LENGTH, 4))
    left = sheet.left + (sheet.width - width) / 2
    sheet.digits(card.badge, shown, top + 5, sheet.bottom - top - 24, x=left, wide=True, size=14)
