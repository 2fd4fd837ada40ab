"""What the hunter takes home from the drop-off, and hands over at pickup."""

from __future__ import annotations

from dataclasses import dataclass

from labels.sheet import Sheet
from labels.text import BOLD, LEADING, NARROW, REGULAR, cut_to, wrap


@dataclass(frozen=True, slots=True)
class ClaimAnimal:
    """One animal as it was handed over; `kept` is what the hunter wants back, `condition` what was noted."""

    number: int
    species: str
    tag: str
    received_weight: str
    kept: str = ""
    condition: str = ""


@dataclass(frozen=True, slots=True)
class ClaimSlip:
    """One order. `phone` is read back to the hunter; `terms` is the shop's own line on pickup."""

    code: str
    order: str
    hunter: str
    phone: str
    received: str
    animals: tuple[ClaimAnimal, ...]
    shop: str
    shop_address: str
    shop_phone: str
    dropped_off_by: str = ""
    may_collect: str = ""
    terms: str = ""


@dataclass(frozen=True, slots=True)
class _Block:
    lines: tuple[tuple[str, str], ...]
    size: float

    @property
    def height(self) -> float:
        return len(self.lines) * self.size * LEADING + 4


def draw(sheet: Sheet, slip: ClaimSlip) -> None:
    """One slip on a 4 x 6 in label or half a letter page; more animals than fit go on with a second page."""
    scale = min(1.3, sheet.width / 276)
    waiting: list[_Block] = []
    first = True
    while first or waiting:
        top = _head(sheet, slip, sheet.new_page(), scale)
        foot = sheet.bottom - 62 * scale
        if first:
            waiting = [_block(sheet, animal, 10 * scale, foot - top - 16) for animal in slip.animals]
        top, waiting = _animals(sheet, waiting, top, foot - 14)
        if waiting:
            more = f"{len(waiting)} more on the next page"
            sheet.line(more, foot - 14, 9 * scale, font=REGULAR, align="right")
        _foot(sheet, slip, foot, scale)
        first = False


def _head(sheet: Sheet, slip: ClaimSlip, top: float, scale: float) -> float:
    top = sheet.line(slip.shop, top, 14 * scale, minimum=9)
    about = f"{slip.shop_address} · {slip.shop_phone}"
    top = sheet.rule(sheet.line(about, top, 8.5 * scale, font=REGULAR, minimum=6) + 2)
    top = sheet.line(
        slip.order, top + 3, 66 * scale, font=NARROW, minimum=48, align="center", tight=True, must_fit=True
    )
    top = sheet.rule(top + 6)
    top = sheet.line(slip.hunter, top, 17 * scale, minimum=10)
    top = sheet.pair("Phone", slip.phone, top, 14 * scale)
    top = sheet.pair("Received", slip.received, top, 10.5 * scale)
    top = sheet.pair("Dropped off by", slip.dropped_off_by, top, 10.5 * scale)
    top = sheet.pair("May collect", slip.may_collect, top, 10.5 * scale)
    return sheet.rule(top + 2)


def _block(sheet: Sheet, animal: ClaimAnimal, size: float, most: float) -> _Block:
    lines: list[tuple[str, str]] = []
    parts = (
        (f"{animal.number}  {animal.species} · {animal.received_weight}", BOLD),
        (f"Tag {animal.tag}", REGULAR),
        (f"Keep: {animal.kept}" if animal.kept else "", REGULAR),
        (f"Condition: {animal.condition}" if animal.condition else "", REGULAR),
    )
    for text, font in parts:
        lines += [(line, font) for line in wrap(sheet.clean(text), font, size, sheet.width)]
    room = int((most - 4) / (size * LEADING))
    if len(lines) > room:
        last = " ".join(line for line, _ in lines[room - 1 :])
        lines = [*lines[: room - 1], (cut_to(last, REGULAR, size, sheet.width), REGULAR)]
        sheet.note_cut(animal.condition or animal.kept)
    return _Block(tuple(lines), size)


def _animals(sheet: Sheet, blocks: list[_Block], top: float, bottom: float) -> tuple[float, list[_Block]]:
    for index, block in enumerate(blocks):
        if top + block.height > bottom + 0.01 and index:
            return top, blocks[index:]
        for text, font in block.lines:
            sheet.put(text, sheet.left, top, font, block.size)
            top += block.size * LEADING
        top += 4
    return top, []


def _foot(sheet: Sheet, slip: ClaimSlip, top: float, scale: float) -> None:
    width = sheet.code_width(slip.code)
    top = sheet.rule(top)
    room = sheet.bottom - top
    sheet.code(slip.code, top + 2, room - 6 - 12, x=sheet.right - width, size=11.5)
    sheet.block(slip.terms, top, 9 * scale, width=sheet.width - width - 4, height=room, minimum=6)
