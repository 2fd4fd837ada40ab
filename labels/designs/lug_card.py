"""The card that travels with a lug: whose meat, what kind, and where the state tag is filed."""

from __future__ import annotations

from dataclasses import dataclass

from labels.sheet import Sheet
from labels.text import NARROW, REGULAR


@dataclass(frozen=True, slots=True)
class LugCard:
    """`content`: whole cuts, grind trim or tenderloins. `weight` is text; empty prints “not weighed”."""

    code: str
    order: str
    hunter: str
    species: str
    tag: str
    content: str
    number: int
    filed: str = ""
    weight: str = ""
    animal: int = 1
    note: str = ""


def draw(sheet: Sheet, card: LugCard) -> None:
    """One card, 4 x 3 in."""
    top = sheet.new_page()
    top = sheet.line(card.order, top, 60, font=NARROW, minimum=40, align="center", tight=True, must_fit=True)
    top = sheet.band(card.content.upper(), top + 5, 19, align="center") + 4
    half = sheet.width - sheet.code_width(card.code) - 4
    sheet.code(card.code, top + 3, sheet.bottom - top - 20, x=sheet.left + half + 4, size=12)
    top = sheet.line(card.hunter, top, 17, width=half, minimum=10)
    top = sheet.line(f"Animal {card.animal} · {card.species}", top, 12, width=half, font=REGULAR)
    filed = f"{card.tag} · filed: {card.filed}" if card.filed else card.tag
    top = sheet.block(f"TAG {filed}", top, 11, width=half, height=27, minimum=7.5, font=NARROW)
    top = sheet.line(
        f"Lug {card.number} · {card.weight or 'not weighed'}", top + 1, 15, width=half, minimum=9
    )
    sheet.block(card.note, top, 10, width=half, height=sheet.bottom - top, minimum=7)
