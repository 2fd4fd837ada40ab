"""An animal's and an order's state, derived from their pieces. `refresh` keeps the cached columns true."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Q

from orders.intake.models import Animal, Order, State
from orders.ledger.models import BODY_KINDS, Contents, Piece, PieceKind, PieceState, Run, RunKind

ORDER_OF_STATES = list(State)
ENDINGS = {"refused": State.REFUSED, "spoiled": State.SPOILED, "void": State.VOID}
OUT = (PieceState.COLLECTED, PieceState.HAULED)


@dataclass(frozen=True, slots=True)
class PieceFacts:
    """What the state of an animal hangs on. A pack in a box goes where its box goes."""

    kind: str
    state: str
    contents: str
    animal_id: int | None
    container_state: str | None = None

    @property
    def standing(self) -> str:
        return self.container_state or self.state


@dataclass(frozen=True, slots=True)
class AnimalFacts:
    ended: str
    has_tag: bool
    pieces: tuple[PieceFacts, ...]
    open_runs: frozenset[str]


def animal_state(facts: AnimalFacts) -> State:
    """The state by what is furthest behind: body before lugs, lugs before packs."""
    if facts.ended:
        return ENDINGS[facts.ended]
    pieces = [
        piece for piece in facts.pieces if piece.state != PieceState.VOID and piece.kind != PieceKind.BOX
    ]
    if not pieces:
        return State.BOOKED
    if not facts.has_tag:
        return State.NOT_RECEIVED
    body = {piece.state for piece in pieces if piece.kind in BODY_KINDS}
    for run, state in ((RunKind.SKIN, State.SKINNING), (RunKind.CUT, State.CUTTING)):
        if run in facts.open_runs:
            return state
    if PieceState.HANGING in body:
        return State.HANGING
    # A head that came before its quarters does not make an animal ready.
    if PieceState.RECEIVED in body or not body:
        return State.RECEIVED
    return _after_the_block(pieces, facts.open_runs)


def _after_the_block(pieces: list[PieceFacts], open_runs: frozenset[str]) -> State:
    at_work = [
        piece
        for piece in pieces
        if piece.kind in (PieceKind.LUG, PieceKind.TENDERLOIN)
        and piece.state in (PieceState.WAITING, PieceState.TABLE)
    ]
    if RunKind.GRIND in open_runs or any(piece.contents == Contents.GRIND_TRIM for piece in at_work):
        return State.GRINDING
    if RunKind.WRAP in open_runs or at_work:
        return State.WRAPPING
    packs = [piece.standing for piece in pieces if piece.kind == PieceKind.PACKAGE]
    if any(standing not in (PieceState.STORED, *OUT) for standing in packs):
        return State.FREEZING
    finals = packs + [piece.state for piece in pieces if piece.kind == PieceKind.KEPT]
    if finals and all(standing in OUT for standing in finals):
        return State.COLLECTED
    if any(standing in OUT for standing in packs):
        return State.PARTLY_COLLECTED
    return State.READY


def order_state(animals: Sequence[State], *, notified: bool, closed: bool) -> State:
    """The least advanced of its animals, but partly collected once ready meat has begun to leave."""
    present = [state for state in animals if state not in (State.REFUSED, State.VOID, State.SPOILED)]
    if closed:
        return State.COLLECTED
    if not present:
        return animals[0] if animals else State.BOOKED
    least = min(present, key=ORDER_OF_STATES.index)
    gone = any(state in (State.PARTLY_COLLECTED, State.COLLECTED) for state in present)
    if least == State.READY and gone:
        return State.PARTLY_COLLECTED
    if least == State.READY and notified:
        return State.NOTIFIED
    return least


@dataclass(frozen=True, slots=True)
class Cached:
    """What is kept of an animal's state."""

    pk: int
    state: str
    hung_at: datetime | None


def facts_of(order: Order) -> list[tuple[Cached, AnimalFacts]]:
    """Every animal of an order with what its state hangs on; what belongs to the whole order counts for each."""
    kept = ("pk", "state", "hung_at", "ended", "tag_no", "no_tag_reason_id")
    animals = list(Animal.objects.filter(order=order.pk).order_by("n").values_list(*kept))
    # By keys, not by a join to the animal: an OR over a join reads every piece there is.
    whose = Q(animal__in=[animal[0] for animal in animals]) | Q(order=order.pk)
    named = ("kind", "state", "contents", "animal_id", "container__state")
    # Sixty packs in one box are one fact.
    rows = Piece.objects.filter(whose).order_by().values_list(*named).distinct()
    pieces = [PieceFacts(*row) for row in rows]
    open_runs = list(Run.objects.filter(whose, closed_at=None).order_by().values_list("animal_id", "kind"))
    return [
        (
            Cached(pk, state, hung_at),
            AnimalFacts(
                ended=ended,
                has_tag=bool(tag_no or reason),
                pieces=tuple(piece for piece in pieces if piece.animal_id in (pk, None)),
                open_runs=frozenset(kind for owner, kind in open_runs if owner in (pk, None)),
            ),
        )
        for pk, state, hung_at, ended, tag_no, reason in animals
    ]


def refresh(order: Order, at: datetime, *, hung: Collection[int] = ()) -> None:
    """Bring the cached states of an order and its animals up to date, at the end of an action."""
    found = []
    for animal, facts in facts_of(order):
        state = animal_state(facts)
        found.append(state)
        changed: dict[str, Any] = {}
        if animal.state != state:
            changed["state"] = state
        if animal.pk in hung and animal.hung_at is None:
            changed["hung_at"] = at
        if changed:
            Animal.objects.filter(pk=animal.pk).update(**changed)
    whole = order_state(found, notified=order.notified_at is not None, closed=order.closed_at is not None)
    ready = whole in (State.READY, State.NOTIFIED, State.PARTLY_COLLECTED, State.COLLECTED)
    ready_at = (order.ready_at or at) if ready else None
    # Whoever was told that it is ready has to be told again.
    notified_at = order.notified_at if ready else None
    if (order.state, order.ready_at, order.notified_at) != (whole, ready_at, notified_at):
        Order.objects.filter(pk=order.pk).update(state=whole, ready_at=ready_at, notified_at=notified_at)
        order.state, order.ready_at, order.notified_at = whole, ready_at, notified_at
