"""An animal that comes in pieces: how many so far, whether that is all, where the next one is put."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from orders.intake.models import Animal, ArrivedAs
from orders.ledger.models import (
    BODY_KINDS,
    Event,
    Movement,
    Outcome,
    Piece,
    PieceState,
    Run,
    RunKind,
)
from shop.models import Place

IN_PIECES = (ArrivedAs.PIECES, ArrivedAs.BONELESS, ArrivedAs.TRIM)
NOT_RECEIVED = "Here, not received"


def body_ids(animal: Animal) -> list[int]:
    """The ids of the pieces that an animal came as, in the order they came."""
    found = Piece.objects.filter(animal=animal, kind__in=BODY_KINDS).exclude(state=PieceState.VOID)
    return list(found.order_by("id").values_list("pk", flat=True))


def more_may_come(body: Mapping[Animal, Collection[int]]) -> set[int]:
    """The ids of those animals of which more pieces may come; `body` has the ids of what each brought so far.

    All are in once a clerk has said so of these very pieces, or once the animal was at the block. Two queries.
    """
    keys = [animal.pk for animal in body]
    said = Event.objects.filter(animal__in=keys, verb="all_pieces_in", outcome=Outcome.OK).order_by("id")
    complete = {animal: set(data.get("pieces", ())) for animal, data in said.values_list("animal", "data")}
    cut = Run.objects.filter(animal__in=keys, kind=RunKind.CUT, put_back=False)
    at_the_block = set(cut.values_list("animal", flat=True))
    return {
        animal.pk
        for animal, pieces in body.items()
        if animal.arrived_as in IN_PIECES
        and animal.pk not in at_the_block
        and complete.get(animal.pk) != set(pieces)
    }


def last_place(animal: Animal) -> Place | None:
    """Where the last piece of an animal that came apart was put when it was written down."""
    brought = Movement.objects.filter(
        event__animal=animal, event__verb="bring_piece", state_from="", place_to__isnull=False
    )
    found = brought.select_related("place_to").order_by("-id").first()
    return found.place_to if found else None


def standing(piece: Piece, *, has_tag: bool) -> str:
    """A piece's state in words; what came without its tag is here, but not received."""
    if piece.state == PieceState.RECEIVED and not has_tag:
        return NOT_RECEIVED
    return piece.get_state_display()
