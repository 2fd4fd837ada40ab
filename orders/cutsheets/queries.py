"""What the cut sheet's screens ask."""

from __future__ import annotations

from collections.abc import Sequence

from orders.cutsheets.models import CutLine, CutSheet
from orders.cutsheets.rules import LineFacts, Offer, house_line, offers
from orders.intake.models import Animal


def current_sheet(animal: Animal) -> CutSheet | None:
    """The version that counts, with its lines, parts and choices."""
    return animal.cut_sheets.filter(current=True).prefetch_related("lines__part", "lines__choice").first()


def last_time(animal: Animal) -> CutSheet | None:
    """The same hunter's newest sheet of another animal, of the same species before any other."""
    if animal.taker_id is None:
        return None
    sheets = CutSheet.objects.filter(animal__taker=animal.taker_id, current=True).exclude(animal=animal)
    same = sheets.filter(animal__species=animal.species)
    return (same.order_by("-made_at").first()) or sheets.order_by("-made_at").first()


def lines_to_start_from(
    animal: Animal, sheet: CutSheet | None, known: Sequence[Offer] | None = None
) -> list[LineFacts]:
    """A sheet's lines as far as they are possible for this animal; parts left over fall to the house cut.

    `known` are its offers, where they were asked for already.
    """
    offered = {offer.part.pk: offer for offer in (offers(animal) if known is None else known)}
    found: list[LineFacts] = []
    if sheet is not None:
        by_part: dict[int, list[CutLine]] = {}
        for line in sheet.lines.select_related("part", "choice"):
            by_part.setdefault(line.part_id, []).append(line)
        for part, lines in by_part.items():
            if _possible(lines, offered.get(part)):
                found += [facts_of(line) for line in lines]
    answered = {line.part.pk for line in found}
    found += [house_line(offer) for part, offer in offered.items() if part not in answered]
    return sorted(found, key=lambda line: line.part.sort)


def _possible(lines: list[CutLine], offer: Offer | None) -> bool:
    return offer is not None and all(line.choice in offer.choices for line in lines)


def facts_of(line: CutLine) -> LineFacts:
    """A stored line as plain facts."""
    return LineFacts(
        part=line.part,
        choice=line.choice,
        share_bp=line.share_bp,
        thickness_16ths=line.thickness_16ths,
        pieces_per_pack=line.pieces_per_pack,
        pack_oz=line.pack_oz,
        fat_bp=line.fat_bp,
        fat_kind=line.fat_kind,
        note=line.note,
        from_house=line.from_house,
    )
