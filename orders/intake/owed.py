"""What is still owed before an animal can be worked on or handed over, in sentences with the page that answers it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.urls import reverse

from orders.intake.models import Animal, ArrivedAs, Keep, Order, Tenderloin
from orders.intake.queries import BEFORE_CUTTING, PieceRow

KEPT_PARTS = {"keep_head": "head", "keep_cape": "cape", "keep_hide": "hide", "keep_organs": "organs"}


@dataclass(frozen=True, slots=True)
class Owed:
    """A sentence, and where it is answered. `stops`: nothing goes on without it."""

    sentence: str
    url: str
    stops: bool = False


def order_owes(order: Order) -> list[Owed]:
    """What is missing of the order itself: the hunter, the phone number, the address the register wants."""
    here = reverse("order", args=[order.number])
    if order.hunter is None:
        return [Owed("Whose order it is.", f"{here}#hunter")]
    found = []
    if not order.hunter.phone:
        found.append(Owed(f"{order.hunter.name}'s phone number.", f"{here}?correct=1#hunter"))
    if not order.hunter.address:
        found.append(Owed(f"{order.hunter.name}'s address, for the register.", f"{here}?correct=1#hunter"))
    return found


def animal_owes(animal: Animal, rows: Sequence[PieceRow], *, has_sheet: bool) -> list[Owed]:
    """What is missing of an animal (needs `order` and `species`), what stops the work first."""
    if animal.ended:
        return []
    page = reverse("animal", args=[animal.pk])
    edit = reverse("animal-edit", args=[animal.pk])
    found = []
    if not animal.has_tag:
        found.append(Owed("The tag number, or a reason the shop allows.", f"{page}#tag", stops=True))
    body = [row for row in rows if row.n is not None]
    if not body:
        found.append(Owed("Its pieces: none are written down yet.", f"{page}#pieces"))
    elif body[-1].so_far:
        found.append(Owed(f"Whether all its pieces are in: {len(body)} so far.", f"{page}#pieces"))
    unweighed = [row.piece.name for row in body if row.may_weigh]
    if unweighed:
        found.append(Owed(f"Not weighed: {', '.join(unweighed)}.", f"{page}#pieces"))
    if not has_sheet and animal.state in BEFORE_CUTTING:
        found.append(Owed("The cut sheet.", reverse("cut-sheet", args=[animal.pk]), stops=True))
    if animal.state in BEFORE_CUTTING:
        found += [Owed(sentence, edit) for sentence in _unanswered(animal)]
    if not (animal.killed_on and animal.kill_place):
        found.append(Owed("Date and place of kill, for the register.", edit))
    if not animal.license_no:
        found.append(Owed("The license number, for the register.", edit))
    return found


def _unanswered(animal: Animal) -> list[str]:
    found = []
    if animal.arrived_as in (ArrivedAs.WHOLE, ArrivedAs.SKINNED):
        sides = [
            side
            for side in ("left", "right")
            if getattr(animal, f"tenderloin_{side}") == Tenderloin.UNANSWERED
        ]
        if sides:
            found.append(f"Whether the {' and the '.join(sides)} tenderloin is there.")
    if animal.arrived_as == ArrivedAs.WHOLE:
        parts = [words for field, words in KEPT_PARTS.items() if getattr(animal, field) == Keep.UNANSWERED]
        if parts:
            found.append(f"What becomes of: {', '.join(parts)}. Unanswered, it is kept.")
    return found
