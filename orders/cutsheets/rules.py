"""What can be asked of an animal: the parts it brought, and what can be made of each in this shop."""

from __future__ import annotations

from dataclasses import dataclass

from orders.intake.models import Animal, ArrivedAs, Keep, Tenderloin
from orders.ledger.models import BODY_KINDS, PieceState
from shop.models import Choice, HouseCut, Part, SpeciesPart
from shop.places import shop_settings

ALWAYS = ("grind-trim",)
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


def brought_parts(animal: Animal) -> set[int]:
    """Ids of the parts an animal brought, by how it arrived and which pieces it has."""
    all_parts = set(SpeciesPart.objects.filter(species=animal.species).values_list("part_id", flat=True))
    if animal.arrived_as == ArrivedAs.PIECES or animal.arrived_as in BONELESS_ARRIVALS:
        body = animal.pieces.filter(kind__in=BODY_KINDS).exclude(state=PieceState.VOID)
        if body.exists():
            by_form = set(body.exclude(form__parts=None).values_list("form__parts", flat=True))
            always = set(Part.objects.filter(code__in=ALWAYS).values_list("id", flat=True))
            kept = animal.pieces.filter(form__code="organs").exclude(state=PieceState.VOID).exists()
            organs = set(Part.objects.filter(code="organs").values_list("id", flat=True)) if kept else set()
            all_parts &= by_form | always | organs
    gone = (Tenderloin.FIELD, Tenderloin.DAMAGED)
    without = set()
    if animal.tenderloin_left in gone and animal.tenderloin_right in gone:
        without.add("tenderloin")
    if animal.keep_organs in (Keep.ABSENT, Keep.DISCARD):
        without.add("organs")
    if animal.arrived_as in BONELESS_ARRIVALS:
        without.update(BONE_PARTS)
    return all_parts - set(Part.objects.filter(code__in=without).values_list("id", flat=True))


def offers(animal: Animal) -> list[Offer]:
    """Every part the animal brought with the choices this shop can make of it, in the order of the sheet."""
    settings = shop_settings()
    no_saw = settings.boneless_only or animal.arrived_as in BONELESS_ARRIVALS
    worth = dict(SpeciesPart.objects.filter(species=animal.species).values_list("part_id", "worth_keeping"))
    house = house_cuts(animal)
    found = []
    for part in Part.objects.filter(pk__in=brought_parts(animal)).prefetch_related("choices"):
        if part.pk not in house:
            continue
        choices = [
            choice
            for choice in part.choices.all()
            if not (choice.bone_in and no_saw)
            and (worth.get(part.pk, True) or choice.is_grind or choice.is_discard)
        ]
        found.append(Offer(part, tuple(choices), house[part.pk]))
    return found


def house_cuts(animal: Animal) -> dict[int, HouseCut]:
    """The house cut of each part, the species' own row before the general one."""
    rows = HouseCut.objects.select_related("choice", "part")
    found = {row.part_id: row for row in rows.filter(species=None)}
    found.update({row.part_id: row for row in rows.filter(species=animal.species)})
    return found


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
