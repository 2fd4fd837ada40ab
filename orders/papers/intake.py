"""Papers of the drop-off: the claim slip, the tags, the cut sheet as it is read back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from orders.cutsheets.models import CutSheet
from orders.cutsheets.queries import current_sheet
from orders.cutsheets.words import details
from orders.intake.arrival import body_ids, more_may_come
from orders.intake.facts import phone_shown
from orders.intake.models import Animal, ArrivedAs, Keep, Order, Region
from orders.ledger.models import BODY_KINDS, Piece, PieceKind, PieceState
from orders.ledger.weights import received_mg
from orders.papers.common import (
    capital,
    day_time,
    hunter_of,
    order_values,
    owner_of,
    shop_values,
    species_of,
    tag_of,
    weight_text,
)
from shop.context import shop_settings

TERMS = "Bring this slip. We call when it is ready. Your meat is not for sale."
KEPT = {"keep_head": "head", "keep_cape": "cape", "keep_hide": "hide", "keep_organs": "organs"}
CONDITIONS = {"dirty": "dirty", "gut_shot": "gut-shot", "warm": "warm"}


def claim_slip(order: Order) -> dict[str, Any]:
    """What the hunter takes home."""
    animals = order.animals.exclude(ended="void").select_related("species", "no_tag_reason").order_by("n")
    return {
        **order_values(order),
        **shop_values(),
        "shop_phone": shop_settings().phone,
        "hunter": hunter_of(order),
        "phone": phone_shown(order.hunter.phone) if order.hunter else "",
        "received": day_time(order.created_at),
        "dropped_off_by": order.dropped_off_by,
        "may_collect": order.may_collect,
        "animals": [_claimed(animal) for animal in animals],
        "terms": TERMS,
    }


def _claimed(animal: Animal) -> dict[str, Any]:
    arrived = "" if animal.species.is_bird else f", {animal.get_arrived_as_display().lower()}"
    return {
        "number": animal.n,
        "species": species_of(animal),
        "tag": tag_of(animal),
        "received_weight": f"{weight_text(received_mg(animal))}{arrived}",
        "kept": kept_words(animal),
        "condition": condition_words(animal),
    }


def kept_words(animal: Animal) -> str:
    """What the hunter gets back besides the meat; nothing where nothing is kept."""
    found = []
    for field, words in KEPT.items():
        answer = getattr(animal, field)
        if answer == Keep.ANTLERS:
            found.append("antlers")
        elif answer == Keep.KEEP:
            found.append(words)
        elif answer == Keep.UNANSWERED and animal.arrived_as == ArrivedAs.WHOLE:
            found.append(f"{words} (not answered: kept)")
    return ", ".join(found)


def condition_words(animal: Animal) -> str:
    """What was noted at the tailgate."""
    found = [words for field, words in CONDITIONS.items() if getattr(animal, field)]
    if animal.regions_hit:
        found.append("hit: " + ", ".join(Region(region).label.lower() for region in animal.regions_hit))
    return "; ".join([*found, animal.condition_note] if animal.condition_note else found)


def piece_tags(pieces: Sequence[Piece]) -> list[dict[str, Any]]:
    """Tags of one animal's pieces; `k of n` counts what it came as, `so far` until no more of it comes.

    What comes off later, tenderloin bags and kept parts, is not counted. Pieces need their animal with order, hunter,
    taker, species and reason at hand.
    """
    found = []
    came_as = {piece.animal: body_ids(piece.animal) for piece in pieces if piece.animal}
    so_far = more_may_come(came_as)
    for piece in pieces:
        animal = piece.animal
        assert animal is not None
        body = came_as[animal]
        counted = piece.pk in body
        hold = animal.holds.filter(released_at=None).first()
        found.append(
            {
                "code": piece.code,
                "order": animal.order.number,
                "animal": animal.n,
                "species": species_of(animal),
                "hunter": owner_of(animal),
                "tag": tag_of(animal),
                "received": day_time(animal.arrived_at),
                "piece": capital(piece.name.replace(", left and right", " (both)")),
                "number": body.index(piece.pk) + 1 if counted else None,
                "of": len(body) if counted else None,
                "so_far": counted and animal.pk in so_far,
                "kept": piece.kind == PieceKind.KEPT,
                "hold": hold.get_kind_display().lower() if hold else "",
            }
        )
    return found


def tagged_pieces(animal: Animal) -> list[Piece]:
    """What gets a tag: the body as it came, tenderloin bags, and the parts that are kept."""
    kinds = (*BODY_KINDS, PieceKind.TENDERLOIN, PieceKind.KEPT)
    found = Piece.objects.filter(animal=animal, kind__in=kinds).exclude(state=PieceState.VOID)
    return list(with_animal(found).order_by("id"))


def with_animal(pieces: Any) -> Any:
    """Pieces with what their tags say of the animal."""
    return pieces.select_related(
        "animal__order__hunter", "animal__taker", "animal__species", "animal__no_tag_reason"
    )


def animal_tags(animal: Animal) -> list[dict[str, Any]]:
    """All tags of an animal: two copies for a whole carcass (one on the leg, one on the rib), one for the rest."""
    pieces = tagged_pieces(animal)
    copies = [piece for piece in pieces for _ in range(2 if piece.kind == PieceKind.CARCASS else 1)]
    return piece_tags(copies)


def read_back(animal: Animal, expected: str = "") -> dict[str, Any] | None:
    """The cut sheet that counts, part by part; None when there is none."""
    sheet: CutSheet | None = current_sheet(animal)
    if sheet is None:
        return None
    return {
        **order_values(animal.order),
        **shop_values(),
        "hunter": owner_of(animal),
        "animal": f"{animal.n}  {species_of(animal)}, {weight_text(received_mg(animal))} received",
        "tag": tag_of(animal),
        "lines": [
            {
                "part": line.part.name,
                "choice": line.choice.name,
                "details": ", ".join(part for part in (details(line), line.note) if part),
                "house": line.from_house,
            }
            for line in sheet.lines.all()
        ],
        "agreed": f"{day_time(sheet.made_at)}, by {sheet.made_by}",
        "kept": kept_words(animal) or "nothing",
        "note": " ".join(part for part in (animal.order.note, sheet.note) if part),
        "expected": expected,
        "version": sheet.version,
    }
