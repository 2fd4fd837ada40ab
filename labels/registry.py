"""All designs by name, and the one way to print them: plain values in, PDF bytes out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from labels.designs import (
    box_label,
    cards,
    claim_slip,
    lug_card,
    package_label,
    piece_tag,
    read_back,
    receipt,
    register,
    season_report,
    yield_statement,
)
from labels.sheet import Sheet
from labels.stocks import STOCKS, Stock
from labels.values import LabelError, build

MOST_COPIES = 100


@dataclass(frozen=True, slots=True)
class Design:
    """What a design is called, the dataclass of its values, how it is drawn, its stocks (the usual first)."""

    title: str
    values: type
    draw: Callable[[Sheet, Any], None]
    stocks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Printed:
    """The PDF, its number of pages, and sentences on what could not be printed as it was given."""

    pdf: bytes
    pages: int
    notes: tuple[str, ...]


def _thermal(*codes: str) -> tuple[str, ...]:
    return (*codes, *(f"{code}-300" for code in codes))


_TAG = _thermal("tag-4x6")
_LETTER = ("letter", "a4")

DESIGNS: dict[str, Design] = {
    "claim_slip": Design(
        "claim slip", claim_slip.ClaimSlip, claim_slip.draw, (*_thermal("label-4x6"), "half-letter")
    ),
    "piece_tag": Design("tag", piece_tag.PieceTag, piece_tag.draw, _TAG),
    "lug_card": Design("lug card", lug_card.LugCard, lug_card.draw, _thermal("label-4x3")),
    "package_label": Design(
        "package label", package_label.PackageLabel, package_label.draw, _thermal("label-4x3", "label-4x2")
    ),
    "box_label": Design("box label", box_label.BoxLabel, box_label.draw, _thermal("label-4x6")),
    "place_code": Design("place card", cards.PlaceCode, cards.draw_place, _thermal("label-4x3")),
    "station_code": Design("station card", cards.StationCode, cards.draw_place, _thermal("label-4x3")),
    "staff_badge": Design("badge", cards.StaffBadge, cards.draw_badge, _thermal("label-4x2")),
    "outgoing_receipt": Design("receipt", receipt.OutgoingReceipt, receipt.draw, _LETTER),
    "read_back": Design("cut sheet", read_back.ReadBack, read_back.draw, _LETTER),
    "yield_statement": Design(
        "yield statement", yield_statement.YieldStatement, yield_statement.draw, _LETTER
    ),
    "season_report": Design(
        "season report", season_report.SeasonReport, season_report.draw, ("letter-wide", "a4-wide")
    ),
    "custody_register": Design(
        "custody register", register.CustodyRegister, register.draw, ("letter-wide", "a4-wide")
    ),
}


def render(design: str, values: Mapping[str, Any], copies: int = 1, stock: str = "") -> bytes:
    """PDF bytes of one label, each copy on its own page; the same values give the same bytes.

    `stock` is a code of labels.stocks, empty for the design's first one. Raises LabelError with a sentence.
    """
    return print_all(design, [values] * _checked(copies), stock).pdf


def render_many(design: str, many: Sequence[Mapping[str, Any]], stock: str = "") -> bytes:
    """PDF bytes of several labels of one design, in the order given."""
    return print_all(design, many, stock).pdf


def print_all(design: str, many: Sequence[Mapping[str, Any]], stock: str = "") -> Printed:
    """As `render_many`, with the number of pages and what was cut short or could not be printed."""
    known = DESIGNS.get(design)
    if known is None:
        raise LabelError(f"There is no label called “{design}”.")
    if not many:
        raise LabelError("There is nothing to print.")
    sheet = Sheet(_stock_for(known, stock), known.title)
    for values in many:
        known.draw(sheet, build(known.values, values, known.title))
    return Printed(sheet.finish(), sheet.pages, tuple(sheet.notes))


def _checked(copies: int) -> int:
    if not 1 <= copies <= MOST_COPIES:
        raise LabelError(f"Print between 1 and {MOST_COPIES} copies at a time.")
    return copies


def _stock_for(design: Design, code: str) -> Stock:
    chosen = code or design.stocks[0]
    if chosen not in STOCKS:
        raise LabelError(f"There is no stock called “{chosen}”.")
    if chosen not in design.stocks:
        raise LabelError(f"The {design.title} is not made for the stock “{STOCKS[chosen].name}”.")
    return STOCKS[chosen]
