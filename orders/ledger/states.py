"""An animal's and an order's state, derived from their pieces. `refresh` keeps the cached columns true."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import connection

from orders.intake.models import Animal, Order, State
from orders.ledger.models import BODY_KINDS, Contents, PieceKind, PieceState, RunKind

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
    was_hung: bool


# Asked at the end of every action. In plain SQL, because building these through the ORM takes twenty times as long
# as running them. What belongs to the whole order counts for each of its animals; sixty packs in one box are one fact.
ANIMALS = (
    "SELECT id, state, hung_at IS NOT NULL, ended, tag_no <> '' OR no_tag_reason_id IS NOT NULL "
    "FROM orders_animal WHERE order_id = %s ORDER BY n"
)
PIECES = (
    "SELECT DISTINCT piece.kind, piece.state, piece.contents, piece.animal_id, box.state FROM orders_piece piece "
    "LEFT JOIN orders_piece box ON box.id = piece.container_id WHERE piece.order_id = %s "
    "OR piece.animal_id IN (SELECT id FROM orders_animal WHERE order_id = %s)"
)
OPEN_RUNS = (
    "SELECT animal_id, kind FROM orders_run WHERE closed_at IS NULL AND "
    "(order_id = %s OR animal_id IN (SELECT id FROM orders_animal WHERE order_id = %s))"
)


def facts_of(order: Order) -> list[tuple[Cached, AnimalFacts]]:
    """Every animal of an order with what its state hangs on."""
    with connection.cursor() as cursor:
        cursor.execute(ANIMALS, [order.pk])
        animals = cursor.fetchall()
        cursor.execute(PIECES, [order.pk, order.pk])
        pieces = [PieceFacts(*row) for row in cursor.fetchall()]
        cursor.execute(OPEN_RUNS, [order.pk, order.pk])
        open_runs = cursor.fetchall()
    return [
        (
            Cached(pk, state, bool(was_hung)),
            AnimalFacts(
                ended=ended,
                has_tag=bool(has_tag),
                pieces=tuple(piece for piece in pieces if piece.animal_id in (pk, None)),
                open_runs=frozenset(kind for owner, kind in open_runs if owner in (pk, None)),
            ),
        )
        for pk, state, was_hung, ended, has_tag in animals
    ]


TOUCH = "UPDATE orders_order SET version = version + 1 WHERE id = %s"


def touch(order: Order) -> None:
    """Count what was done to an order, so that whatever was worked out from its ledger knows that it is old."""
    with connection.cursor() as cursor:
        cursor.execute(TOUCH, [order.pk])


def refresh(order: Order, at: datetime, *, hung: Collection[int] = ()) -> None:
    """Bring the cached states of an order and its animals up to date, at the end of an action."""
    found = []
    for animal, facts in facts_of(order):
        state = animal_state(facts)
        found.append(state)
        changed: dict[str, Any] = {}
        if animal.state != state:
            changed["state"] = state
        if animal.pk in hung and not animal.was_hung:
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
