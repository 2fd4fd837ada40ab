"""What is asked before a wrap is finished: lugs that never came, pounds and tenderloins that are in no pack."""

from __future__ import annotations

from collections.abc import Iterator

from orders.floor.plan import is_ground
from orders.floor.skin import pulled_sides, tenderloins_to_pull
from orders.intake.models import Animal, Order
from orders.ledger.models import Contents, Piece, PieceKind, PieceState
from orders.ledger.refusal import Refusal
from orders.packing.table import TableSum

FOR_TABLE = (PieceKind.LUG, PieceKind.TENDERLOIN)


def refuse_unfinished(owner: Animal | Order, here: list[Piece], table: TableSum) -> None:
    """Refuse to finish while something is open; all of it is said at once, so that one reason answers it.

    The code is that of the first: `nothing_packed`, `lug_waiting`, `left_on_table`, `beyond_table` or
    `tenderloin_missing`.
    """
    found = list(_doubts(owner, here, table))
    if found:
        raise Refusal(found[0][0], " ".join(sentence for _, sentence in found), "reason")


def _doubts(owner: Animal | Order, here: list[Piece], table: TableSum) -> Iterator[tuple[str, str]]:
    at_work = _at_work_elsewhere(owner, here)
    if not table.packs:
        yield "nothing_packed", "Nothing was packed. Say why, or pack it."
    yield from _waiting(owner, at_work)
    if table.packs and table.is_left:
        yield "left_on_table", f"{table.words}. Where is the other {table.left_words}?"
    if table.is_beyond:
        yield "beyond_table", f"{table.words}. Which lug did not come to it?"
    if isinstance(owner, Animal) and not at_work:
        yield from _lost_tenderloins(owner)


def _at_work_elsewhere(owner: Animal | Order, here: list[Piece]) -> list[Piece]:
    """Lugs and bags of the same meat that are neither on this table nor used up."""
    mine = owner.pieces.filter(kind__in=FOR_TABLE, state__in=[PieceState.WAITING, PieceState.TABLE])
    return list(mine.exclude(pk__in=[piece.pk for piece in here]).select_related("place"))


def _waiting(owner: Animal | Order, at_work: list[Piece]) -> Iterator[tuple[str, str]]:
    """Lugs and bags for this table that were never brought to it. Trim for the grinder comes back ground."""
    waiting = [piece for piece in at_work if piece.state == PieceState.WAITING]
    trim = [piece for piece in waiting if piece.contents == Contents.GRIND_TRIM]
    if trim and isinstance(owner, Animal) and is_ground(owner):
        waiting = [piece for piece in waiting if piece not in trim]
    for piece in waiting:
        where = f": still at {piece.place.name}" if piece.place else ""
        yield "lug_waiting", f"{piece.name.capitalize()} did not come to this table{where}."


def _lost_tenderloins(animal: Animal) -> Iterator[tuple[str, str]]:
    """At the last wrap of an animal: a tenderloin that it brought and that is in no pack."""
    if animal.packages.filter(part__code="tenderloin").exclude(piece__state=PieceState.VOID).exists():
        return
    to_pull = tenderloins_to_pull(animal)
    if to_pull:
        sides = " and ".join(to_pull)
        yield "tenderloin_missing", f"The {sides} tenderloin of {animal.label} was never bagged."
    elif pulled_sides(animal):
        yield "tenderloin_missing", f"The tenderloins of {animal.label} are in no pack."
