"""What the pickup counter asks."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

from orders.intake.models import Animal, Order, State
from orders.ledger.models import ENDED, Hold, Piece, PieceKind, PieceState
from orders.ledger.weights import pooled_animals
from orders.packing.models import Package
from shop.codes import KIND_WORDS, CodeError, Kind, read_code, spaced


def pieces_of(order: Order) -> Q:
    """The condition for every piece of an order, its animals' and its own."""
    # By keys: an OR over a join would read every piece there is.
    return Q(animal__in=Animal.objects.filter(order=order).values("pk")) | Q(order=order)


def pieces_left(order: Order) -> list[Piece]:
    """Everything of an order that has neither left nor been used up: unfinished meat too, empty boxes not."""
    found = Piece.objects.filter(pieces_of(order)).exclude(state__in=ENDED)
    found = found.exclude(container__state__in=ENDED)
    found = found.filter(~Q(kind=PieceKind.BOX) | Exists(Piece.objects.filter(container=OuterRef("pk"))))
    return list(found.select_related("place", "container", "animal__order").order_by("kind", "n", "id"))


def pieces_to_hand_over(order: Order) -> list[Piece]:
    """Boxes, single packs and kept parts that can leave, in the order a clerk fetches them."""
    return [
        piece
        for piece in pieces_left(order)
        if piece.kind in (PieceKind.BOX, PieceKind.PACKAGE, PieceKind.KEPT) and piece.container_id is None
    ]


# --- the table -------------------------------------------------------------------------------------------------

LATELY = timedelta(days=30)
READY_STATES = (State.READY, State.NOTIFIED, State.PARTLY_COLLECTED)
SHOW: dict[str, tuple[str, Q]] = {
    "waiting": ("Ready and waiting", Q(state__in=READY_STATES, closed_at=None)),
    "tell": ("Hunter not told", Q(state=State.READY, notified_at=None, closed_at=None)),
    "part": ("Partly collected", Q(state=State.PARTLY_COLLECTED, closed_at=None)),
    "owed": ("With money owed", Q(state__in=READY_STATES, amount_cents__gt=0, paid_at=None, closed_at=None)),
    "gone": ("Collected in the last 30 days", Q(state=State.COLLECTED)),
}


@dataclass(frozen=True, slots=True)
class PickupRow:
    """An order that is ready: since when, what of it is here and where, what has left, what is owed (cents)."""

    order: Order
    ready_at: datetime | None
    days: int | None
    told: datetime | None
    boxes: int
    loose: int
    kept: tuple[str, ...]
    places: tuple[str, ...]
    collected: int
    held: bool
    owed: int
    priced: bool


def pickup_rows(show: str, now: datetime) -> list[PickupRow]:
    """The orders to show, those waiting longest first, in a fixed number of queries."""
    found = Order.objects.filter(SHOW[show][1]).select_related("hunter").order_by("ready_at", "id")
    if show == "gone":
        found = found.filter(releases__at__gt=now - LATELY).distinct().order_by("-ready_at", "-id")
    orders = list(found)
    keys = [order.pk for order in orders]
    parts = _parts_by_order(keys)
    held = set(
        Hold.objects.filter(animal__order__in=keys, released_at=None).values_list("animal__order", flat=True)
    )
    return [_pickup_row(order, parts.get(order.pk, []), order.pk in held, now) for order in orders]


def _parts_by_order(order_ids: list[int]) -> dict[int, list[tuple[str, str, str, str]]]:
    """By order: kind, state, name and place of what is handed over by itself; boxes that hold nothing are left out."""
    wanted = Piece.objects.filter(
        Q(animal__order__in=order_ids) | Q(order__in=order_ids),
        kind__in=[PieceKind.BOX, PieceKind.PACKAGE, PieceKind.KEPT],
        container=None,
    ).exclude(state__in=[PieceState.VOID, PieceState.USED])
    inside = Piece.objects.filter(container=OuterRef("pk")).exclude(state=PieceState.VOID)
    wanted = wanted.filter(~Q(kind=PieceKind.BOX) | Exists(inside)).order_by("kind", "n", "id")
    found: dict[int, list[tuple[str, str, str, str]]] = defaultdict(list)
    for own, through, *part in wanted.values_list(
        "order_id", "animal__order_id", "kind", "state", "name", "place__name"
    ):
        found[own or through].append(tuple(part))  # type: ignore[arg-type]
    return found


def _pickup_row(order: Order, parts: list[tuple[str, str, str, str]], held: bool, now: datetime) -> PickupRow:
    here = [part for part in parts if part[1] not in ENDED]
    days = None
    if order.ready_at:
        days = (timezone.localdate(now) - timezone.localdate(order.ready_at)).days
    return PickupRow(
        order=order,
        ready_at=order.ready_at,
        days=days,
        told=order.notified_at,
        boxes=sum(kind == PieceKind.BOX for kind, *_ in here),
        loose=sum(kind == PieceKind.PACKAGE for kind, *_ in here),
        kept=tuple(name for kind, _, name, _ in here if kind == PieceKind.KEPT),
        places=tuple(dict.fromkeys(place for *_, place in here if place)),
        collected=sum(state == PieceState.COLLECTED for _, state, _, _ in parts),
        held=held,
        owed=order.owed_cents,
        priced=order.amount_cents is not None,
    )


# --- one order -------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Leaving:
    """Something that can be handed over; `codes` that stand for it when scanned, and why it cannot leave yet."""

    piece: Piece
    packs: int
    mg: int | None
    stopped: str
    codes: str

    @property
    def words(self) -> str:
        if self.piece.kind != PieceKind.BOX:
            return self.piece.name
        return f"{self.piece.name}, {self.packs} pack{'' if self.packs == 1 else 's'}"


def leaving(order: Order) -> list[Leaving]:
    """Boxes, single packs and kept parts that are still here, with their weights and what stops them."""
    pieces = pieces_to_hand_over(order)
    packs = (
        Package.objects.filter(Q(piece__in=pieces) | Q(piece__container__in=pieces))
        .exclude(piece__state=PieceState.VOID)
        .values_list("piece_id", "piece__container_id", "animal_id", "weighing__mg", "piece__code")
    )
    inside: dict[int, list[tuple[int | None, int | None, str]]] = defaultdict(list)
    for piece, container, *pack in packs:
        inside[container or piece].append(tuple(pack))  # type: ignore[arg-type]
    stops = _stops(order)
    return [_leaving(piece, inside[piece.pk], stops) for piece in pieces]


def _stops(order: Order) -> dict[int | None, str]:
    """Why meat of an animal may not leave, by its id; under None for meat of several that was ground together."""
    held: dict[int | None, str] = {
        hold.animal_id: f"on hold: {hold.get_kind_display().lower()}"
        for hold in Hold.objects.filter(animal__order=order, released_at=None)
    }
    stops: dict[int | None, str] = {
        animal.pk: f"{animal.get_state_display().lower()}: it goes back from its own page"
        for animal in order.animals.exclude(ended="")
    }
    stops.update(held)
    pooled = next((animal for animal in pooled_animals(order) if animal.pk in held), None)
    if pooled is not None:
        stops[None] = f"{pooled.label} {held[pooled.pk]}"
    return stops


def _leaving(
    piece: Piece, inside: list[tuple[int | None, int | None, str]], stops: dict[int | None, str]
) -> Leaving:
    weights = [mg for _, mg, _ in inside]
    whole = None if not weights or None in weights else sum(mg for mg in weights if mg is not None)
    # A box belongs to no animal itself: what is in it counts.
    animals = {animal for animal, *_ in inside} | ({piece.animal_id} if piece.animal_id else set())
    stopped = next((stops[animal] for animal in animals if animal in stops), "")
    if not stopped and piece.kind != PieceKind.KEPT and piece.state != PieceState.STORED:
        stopped = "not in the freezer yet"
    codes = " ".join(dict.fromkeys([piece.code, *(code for *_, code in inside)]))
    return Leaving(piece, len(inside), whole, stopped, codes)


def scanned(order: Order, typed: str) -> tuple[Piece | None, str]:
    """The piece of this order that leaves with a scanned code, or a sentence saying why there is none.

    A pack's code stands for the box it is in: the box is what leaves.
    """
    try:
        kind, code = read_code(typed)
    except CodeError as error:
        return None, str(error)
    if kind in (Kind.ORDER, Kind.PLACE, Kind.STATION, Kind.RUN):
        said = (
            f"{spaced(code)} is the code of one {KIND_WORDS[kind]}. Scan the box, the pack or the kept part."
        )
        return None, said
    piece = (
        Piece.objects.filter(code=code).select_related("animal__order", "order", "container__order").first()
    )
    if piece is None:
        return None, f"{spaced(code)}: this shop has nothing with this code."
    if piece.order_id_of != order.pk:
        owner = piece.animal.order if piece.animal else piece.order
        return (
            None,
            f"{spaced(code)} is {owner.number if owner else 'another order'}’s, not {order.number}’s.",
        )
    whole = piece.container or piece
    if whole.state in ENDED:
        return None, f"{whole.name} is {whole.get_state_display().lower()} already."
    here = next((each for each in leaving(order) if each.piece == whole), None)
    if here is None:
        return None, f"{whole.name} is not handed over by itself: it is {whole.get_state_display().lower()}."
    if here.stopped:
        return None, f"{whole.name} cannot leave: {here.stopped}."
    return whole, ""
