"""A code scanned at a station: the obvious next thing there. What cannot be is refused in words, and recorded."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from orders.floor import block, grind, skin
from orders.floor.plan import is_ground
from orders.intake.models import Animal, ArrivedAs, Order
from orders.ledger.action import action
from orders.ledger.entry import Answer, Entry
from orders.ledger.hands import last_hand
from orders.ledger.models import BODY_KINDS, ENDED, Contents, Piece, PieceKind, PieceState
from orders.ledger.refusal import Refusal
from orders.ledger.runs import is_skinned
from orders.packing import actions as packing
from shop.codes import CodeError, Kind, read_code
from shop.models import Place, Station, Step

PIECES: tuple[Kind, ...] = (Kind.PIECE, Kind.LUG, Kind.PACKAGE, Kind.BOX)
FOUND_IN: dict[Kind, type[Order] | type[Place] | type[Station]] = {
    Kind.ORDER: Order,
    Kind.PLACE: Place,
    Kind.STATION: Station,
}


@dataclass(frozen=True, slots=True)
class Next:
    """What a scan leads to: an action on its subject, or only a look at what was scanned."""

    subject: Any
    act: Callable[..., Answer] | None = None


def whose(raw: str) -> Piece | Order | Place | Station:
    """The thing a code stands on. Raises Refusal `wrong_check_digit`, `not_a_code` or `unknown_code`."""
    try:
        kind, code = read_code(raw)
    except CodeError as error:
        reason = "wrong_check_digit" if error.reason == "check" else "not_a_code"
        word = "Wrong check digit" if error.reason == "check" else "Unknown code"
        raise Refusal(reason, f"{word}. {error}") from error
    found: Any = None
    if kind in PIECES:
        found = _pieces().filter(code=code).first()
    elif kind in FOUND_IN:
        found = FOUND_IN[kind]._default_manager.filter(code=code).first()
    if found is None:
        raise Refusal(
            "unknown_code", "Unknown code. Nothing here carries it. Is the label from another shop?"
        )
    return found


def _pieces() -> QuerySet[Piece]:
    return Piece.objects.select_related("animal__order", "animal__species", "order", "place", "container")


def next_step(piece: Piece, station: Station) -> Next:
    """What a scanned piece asks for at this station: an action, a look, or a refusal naming where it belongs."""
    step = Step(station.step)
    if piece.state in ENDED:
        return Next(piece, turn_away)
    if step == Step.SKIN and piece.kind == PieceKind.CARCASS:
        return Next(piece, skin.start_skinning)
    if step == Step.BLOCK and piece.kind in BODY_KINDS and piece.animal is not None:
        return Next(piece.animal, block.open_animal)
    if step == Step.GRIND and piece.kind == PieceKind.LUG:
        return Next(piece, grind.start_grind)
    if step == Step.WRAP and piece.kind in (PieceKind.LUG, PieceKind.TENDERLOIN):
        return Next(piece, packing.bring_to_wrap)
    if step in LOOKED_AT and piece.kind in LOOKED_AT[step]:
        return Next(piece)
    return Next(piece, turn_away)


# What is only looked at when scanned, because a place has still to be told.
LOOKED_AT: dict[Step, tuple[str, ...]] = {
    Step.SKIN: (PieceKind.KEPT,),
    Step.COOLER: (*BODY_KINDS, PieceKind.KEPT, PieceKind.TENDERLOIN),
    Step.WRAP: (PieceKind.BOX, PieceKind.PACKAGE),
    Step.FREEZER: (PieceKind.BOX, PieceKind.PACKAGE, PieceKind.KEPT),
}


def to_place(piece: Piece) -> Callable[..., Answer]:
    """The action that brings a piece to a scanned place."""
    if piece.kind in (PieceKind.BOX, PieceKind.PACKAGE, PieceKind.KEPT):
        return packing.store
    return skin.hang_up if piece.kind in BODY_KINDS and piece.state == PieceState.RECEIVED else skin.move_cold


def belongs_to(piece: Piece) -> str:
    """Where a piece belongs now, in words."""
    if piece.kind in BODY_KINDS:
        animal = piece.animal
        if animal is not None and animal.arrived_as == ArrivedAs.WHOLE:
            skinned = is_skinned(animal)
            return "the block" if skinned else "skinning"
        return "the block"
    if piece.kind == PieceKind.LUG:
        to_grind = piece.contents == Contents.GRIND_TRIM and is_ground(piece.animal)
        return "grind" if to_grind else "wrap"
    where = {PieceKind.TENDERLOIN: "wrap", PieceKind.KEPT: "the freezer or its hook"}
    return where.get(PieceKind(piece.kind), "the freezer")


@action("scan_refused")
def turn_away(entry: Entry, piece: Piece) -> Answer:
    """A piece scanned where nothing is done with it: always refused (`piece_ended` or `wrong_station`)."""
    entry.about(piece)
    whose_is = _label(piece)
    if piece.state in ENDED:
        state = piece.get_state_display().lower()
        raise Refusal("piece_ended", f"{whose_is}: {piece.name} is {state} already, {last_hand(piece)}.")
    here = entry.by.station.name if entry.by.station else "no station"
    raise Refusal(
        "wrong_station",
        f"Wrong station. {whose_is}: {piece.name} belongs to {belongs_to(piece)}; you are at {here}.",
    )


@action("scan_unknown")
def refuse_code(entry: Entry, station: Station, *, code: str) -> Answer:
    """A code that stands on nothing here: always refused, so that it is on record what was tried."""
    found = whose(code)
    raise Refusal("nothing_to_do", f"{found} was scanned at {station.name}: nothing is done with it there.")


@action("scan_place")
def refuse_place(entry: Entry, station: Station, *, place: Place) -> Answer:
    """A place scanned with nothing in hand: always refused (`place_alone`)."""
    raise Refusal("place_alone", f"{place.name} was scanned. Scan first what goes there, then the place.")


def _label(piece: Piece) -> str:
    owner: Animal | Order | None = piece.animal or piece.order
    return owner.label if isinstance(owner, Animal) else owner.number if owner else ""
