"""What can be asked of an animal: the parts it brought, and what can be made of each in this shop."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Q

from orders.intake.models import Animal, ArrivedAs, Keep, Tenderloin
from orders.ledger.models import BODY_KINDS, PieceState
from shop.context import shop_settings
from shop.models import Choice, HouseCut, Part, SpeciesPart

ALWAYS = ("grind-trim",)
ORGANS = "organs"
BONE_PARTS = ("bones", "ribs", "shank")
BONELESS_ARRIVALS = (ArrivedAs.BONELESS, ArrivedAs.TRIM)


@dataclass(frozen=True, slots=True)
class Offer:
    """One part, what can be made of it, and the house cut of it."""

    part: Part
    choices: tuple[Choice, ...]
    house: HouseCut


@dataclass(frozen=True, slots=True)
class LineFacts:
    """One line as posted. Thickness in sixteenths of an inch, pack size in ounces, fat in basis points."""

    part: Part
    choice: Choice
    share_bp: int = 10_000
    thickness_16ths: int | None = None
    pieces_per_pack: int | None = None
    pack_oz: int | None = None
    fat_bp: int = 0
    fat_kind: str = ""
    note: str = ""
    from_house: bool = False


def brought_parts(animal: Animal) -> list[SpeciesPart]:
    """The parts an animal brought, by how it came and which pieces it has, with their choices; in the sheet's order."""
    of_species = SpeciesPart.objects.filter(species=animal.species_id).select_related("part")
    rows = of_species.prefetch_related("part__choices").order_by("part__sort", "part_id")
    without = _gone(animal)
    only = _brought_in_pieces(animal)
    return [
        row for row in rows if row.part.code not in without and (only is None or _is_brought(row.part, only))
    ]


def _gone(animal: Animal) -> set[str]:
    """Codes of parts that this animal has no more, or never had."""
    without: set[str] = set()
    gone = (Tenderloin.FIELD, Tenderloin.DAMAGED)
    if animal.tenderloin_left in gone and animal.tenderloin_right in gone:
        without.add("tenderloin")
    if animal.keep_organs in (Keep.ABSENT, Keep.DISCARD):
        without.add("organs")
    if animal.arrived_as in BONELESS_ARRIVALS:
        without.update(BONE_PARTS)
    return without


@dataclass(frozen=True, slots=True)
class _Pieces:
    """What came in pieces: ids of the parts that they bring, and whether organs came along."""

    parts: set[int]
    organs: bool


def _brought_in_pieces(animal: Animal) -> _Pieces | None:
    """What an animal's pieces bring; None where it is whole, or no piece of its body is written down yet."""
    if animal.arrived_as != ArrivedAs.PIECES and animal.arrived_as not in BONELESS_ARRIVALS:
        return None
    here = animal.pieces.filter(Q(kind__in=BODY_KINDS) | Q(form__code=ORGANS)).exclude(state=PieceState.VOID)
    rows = list(here.order_by().values_list("kind", "form__code", "form__parts"))
    if not any(kind in BODY_KINDS for kind, *_ in rows):
        return None
    parts = {part for kind, _, part in rows if kind in BODY_KINDS and part is not None}
    return _Pieces(parts, organs=any(form == ORGANS for _, form, _ in rows))


def _is_brought(part: Part, pieces: _Pieces) -> bool:
    return part.pk in pieces.parts or part.code in ALWAYS or (part.code == ORGANS and pieces.organs)


def offers(animal: Animal) -> list[Offer]:
    """Every part the animal brought with the choices this shop can make of it, in the order of the sheet."""
    no_saw = shop_settings().boneless_only or animal.arrived_as in BONELESS_ARRIVALS
    house = house_cuts(animal)
    return [
        Offer(row.part, _choices(row, no_saw=no_saw), house[row.part_id])
        for row in brought_parts(animal)
        if row.part_id in house
    ]


def _choices(row: SpeciesPart, *, no_saw: bool) -> tuple[Choice, ...]:
    """What can be made of a part: nothing sawn without a saw, and of what is not worth keeping only grind."""
    return tuple(
        choice
        for choice in row.part.choices.all()
        if not (choice.bone_in and no_saw) and (row.worth_keeping or choice.is_grind or choice.is_discard)
    )


def house_cuts(animal: Animal) -> dict[int, HouseCut]:
    """The house cut of each part, the species' own row before the general one."""
    rows = HouseCut.objects.filter(Q(species=None) | Q(species=animal.species_id)).select_related("choice")
    # The general ones first, so that the species' own takes their place.
    return {row.part_id: row for row in sorted(rows, key=lambda row: row.species_id is not None)}


def house_line(offer: Offer) -> LineFacts:
    """The house cut as a line that nobody chose; what cannot be made here falls to grind or the first choice."""
    house = offer.house
    if house.choice in offer.choices:
        return LineFacts(
            part=offer.part,
            choice=house.choice,
            thickness_16ths=house.thickness_16ths,
            pieces_per_pack=house.pieces_per_pack,
            pack_oz=house.pack_oz,
            fat_bp=house.fat_bp,
            fat_kind=house.fat_kind,
            from_house=True,
        )
    grind = [choice for choice in offer.choices if choice.is_grind]
    return LineFacts(part=offer.part, choice=(grind or list(offer.choices))[0], pack_oz=16, from_house=True)
