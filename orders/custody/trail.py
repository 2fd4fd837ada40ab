"""A code followed up to the animal and down to every pack: where it came from, what was made of it, who had it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from django.db.models import Count, Q

from orders.custody import book as books
from orders.custody.book import Book
from orders.intake.models import Order
from orders.ledger.models import (
    BODY_KINDS,
    ENDED,
    Direction,
    Event,
    Piece,
    PieceKind,
    PieceState,
    Run,
    RunLine,
    Weighing,
)
from orders.ledger.weights import standing
from orders.yields.account import what_words
from shop.models import Place, Station
from shop.weights import Reading

MOST_AT_A_PLACE = 300


@dataclass(frozen=True, slots=True)
class Thing:
    """A piece on the trail: what it is, what it weighed, where it is now."""

    piece: Piece
    words: str
    mg: int | None
    where: str
    state: str


@dataclass(frozen=True, slots=True)
class Job:
    """A job on the trail: what went in, came out, was added, was waste."""

    run: Run
    went_in: list[Thing]
    came_out: list[Thing]
    added: list[RunLine]
    waste: list[RunLine]


@dataclass(frozen=True, slots=True)
class Group:
    """Packs, or other pieces, that are in one state at one place."""

    where: str
    words: str
    count: int
    mg: int
    unweighed: int
    things: list[Thing] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Weighed:
    """One weighing as read, and whether it was taken back."""

    weighing: Weighing
    what: str
    gross: str
    tare: str
    net: str
    taken_back: bool


# --- a piece ---------------------------------------------------------------------------------------------------


def piece_page(piece: Piece, *, floor: bool) -> dict[str, Any]:
    """What the trail of one piece shows."""
    book = books.load(_order_of(piece))
    piece = book.pieces[piece.pk]
    runs = book.ancestry(piece)
    made = book.made_of(piece)
    # The weights of the packs stand with the packs; here they would hide the others.
    before_packs = [each for each in made if each.kind != PieceKind.PACKAGE]
    events = books.hands(book, piece, [*runs, *book.descent(piece)] if piece.kind in BODY_KINDS else runs)
    if piece.kind in BODY_KINDS:
        events = _with_descent(book, events, made)
    return {
        "order": book.order,
        "thing": thing(book, piece),
        "package": book.packages.get(piece.pk),
        "inside": [thing(book, each) for each in book.inside(piece)],
        "jobs": [job(book, run) for run in runs],
        "animals": book.animals_of(piece),
        "groups": groups(book, made),
        "weights": weights_of(book, piece, runs, before_packs),
        "events": books.for_floor(events) if floor else events,
    }


def _order_of(piece: Piece) -> Order:
    return Order.objects.select_related("hunter", "season").get(pk=piece.order_id_of)


def _with_descent(book: Book, events: list[Event], made: list[Piece]) -> list[Event]:
    """A carcass's own events and those of everything that was made of it."""
    keys = {piece.pk for piece in made} | {piece.container_id for piece in made}
    more = {m.event_id for m in book.movements if m.piece_id in keys}
    known = {event.pk for event in events}
    return [event for event in book.events if event.pk in known or event.uid in more]


def thing(book: Book, piece: Piece) -> Thing:
    """A piece in words, with its newest standing weight and where it is."""
    package = book.packages.get(piece.pk)
    words = piece.name
    if package is not None:
        words = f"{books.cut_words(package)}, pack {package.n}"
    return Thing(piece, words, weight_of(book, piece), book.where(piece), book.standing(piece))


def weight_of(book: Book, piece: Piece) -> int | None:
    """The newest standing weight of a piece in milligrams; of a box, of its packs if all were weighed."""
    if piece.kind == PieceKind.BOX:
        inside = [weight_of(book, each) for each in book.inside(piece)]
        return None if not inside or None in inside else sum(mg for mg in inside if mg is not None)
    package = book.packages.get(piece.pk)
    if package is not None:
        return package.weighing.mg if package.weighing else None
    found = [w.mg for w in book.weighings if w.piece_id == piece.pk and not taken_back(w)]
    return found[-1] if found else None


def taken_back(weighing: Weighing) -> bool:
    """Whether a weighing was voided, with its event or with its piece."""
    voided_with_piece = weighing.piece is not None and weighing.piece.state == PieceState.VOID
    return getattr(weighing.event, "voided_by", None) is not None or voided_with_piece


def job(book: Book, run: Run) -> Job:
    """One job with everything that went through it."""
    lines = [line for line in book.lines if line.run_id == run.pk]
    return Job(
        run,
        [_as_then(book, piece, lines, Direction.IN) for piece in book.went_in(run)],
        [_as_then(book, piece, lines, Direction.OUT) for piece in book.came_out(run)],
        [line for line in lines if line.direction == Direction.ADDED],
        [line for line in lines if line.direction == Direction.WASTE],
    )


def _as_then(book: Book, piece: Piece, lines: list[RunLine], direction: Direction) -> Thing:
    """A piece with the weight it had when it went in or came out, not the one it has now."""
    mine = [line for line in lines if line.piece_id == piece.pk and line.direction == direction]
    weighing = mine[-1].weighing if mine else None
    return replace(thing(book, piece), mg=weighing.mg if weighing else None)


def groups(book: Book, pieces: Sequence[Piece]) -> list[Group]:
    """Pieces by where they are; packs are counted, everything else is named. What is used up is left out."""
    found: dict[tuple[str, str], list[Piece]] = {}
    for piece in pieces:
        if piece.state in (PieceState.USED, PieceState.VOID):
            continue
        packs = piece.kind == PieceKind.PACKAGE
        found.setdefault((book.where(piece), "packs" if packs else piece.name), []).append(piece)
    return [_group(book, where, words, members) for (where, words), members in sorted(found.items())]


def _group(book: Book, where: str, words: str, pieces: list[Piece]) -> Group:
    things = [thing(book, piece) for piece in pieces]
    weighed = [each.mg for each in things if each.mg is not None]
    return Group(where, words, len(things), sum(weighed), len(things) - len(weighed), things)


def weights_of(book: Book, piece: Piece, runs: Sequence[Run], made: Sequence[Piece]) -> list[Weighed]:
    """Every weighing on the way to a piece, voided ones too; of a carcass also those of all that it became."""
    keys = {piece.pk} | {each.pk for run in runs for each in book.went_in(run)}
    keys |= {each.pk for each in book.inside(piece)} | {each.pk for each in made}
    animals = {animal.pk for animal in book.animals_of(piece)}
    keys |= {p.pk for p in book.pieces.values() if p.kind in BODY_KINDS and p.animal_id in animals}
    jobs = {run.pk for run in [*runs, *book.descent(piece)]}
    of_lines = {line.weighing_id: line.what for line in book.lines if line.piece_id is None}
    return [
        weighed(each, of_lines.get(each.pk, ""))
        for each in book.weighings
        if each.piece_id in keys or (each.piece_id is None and each.run_id in jobs)
    ]


def weighed(weighing: Weighing, of_what: str) -> Weighed:
    """A weighing in words; `of_what` is the stable word of what is no piece: waste, fat."""

    def read(value: int) -> str:
        return str(Reading(value, weighing.unit, weighing.decimals))

    return Weighed(
        weighing,
        weighing.piece.name if weighing.piece else what_words(of_what),
        read(weighing.gross),
        read(weighing.tare) if weighing.tare else "",
        read(weighing.net),
        taken_back(weighing),
    )


# --- an order, a job, a place, a station -----------------------------------------------------------------------


def order_page(order: Order, *, floor: bool) -> dict[str, Any]:
    """Everything of an order: its animals, where each piece is, its jobs, and everybody who touched it."""
    book = books.load(order)
    body = [piece for piece in book.pieces.values() if piece.kind in BODY_KINDS]
    boxes = [p for p in book.pieces.values() if p.kind == PieceKind.BOX and book.inside(p)]
    rest = [p for p in book.pieces.values() if p.kind != PieceKind.BOX and p not in body]
    return {
        "order": order,
        "animals": list(book.animals.values()),
        "body": [thing(book, piece) for piece in body],
        "boxes": [thing(book, box) for box in boxes],
        "groups": groups(book, rest),
        "jobs": [job(book, run) for run in book.runs.values()],
        "events": books.for_floor(book.events) if floor else book.events,
    }


def run_page(run: Run) -> dict[str, Any]:
    """One job of work, and its events."""
    order = run.order or (run.animal.order if run.animal else None)
    assert order is not None
    book = books.load(Order.objects.select_related("hunter", "season").get(pk=order.pk))
    here = book.runs[run.pk]
    animals = {piece.animal_id for piece in book.went_in(here)} - {None}
    return {
        "order": book.order,
        "run": here,
        "job": job(book, here),
        "animals": [animal for key, animal in book.animals.items() if key in animals],
        "events": [event for event in book.events if event.run_id == run.pk],
    }


@dataclass(frozen=True, slots=True)
class Here:
    """A piece at a place, with whose it is."""

    piece: Piece
    number: str
    hunter: str
    packs: int
    mg: int | None


def place_page(place: Place) -> dict[str, Any]:
    """What is at a place now, oldest first."""
    found = Piece.objects.filter(place=place).exclude(state__in=ENDED)
    total = found.count()
    pieces = list(
        found.select_related("animal__order__hunter", "order__hunter")
        .annotate(packs=Count("inside", filter=~Q(inside__state=PieceState.VOID)))
        .order_by("made_at", "id")[:MOST_AT_A_PLACE]
    )
    newest = dict(
        standing().filter(piece__in=[p.pk for p in pieces]).order_by("id").values_list("piece_id", "mg")
    )
    return {
        "place": place,
        "here": [_here(piece, newest) for piece in pieces],
        "total": total,
        "is_sink": bool(place.sink),
    }


def _here(piece: Piece, newest: dict[int, int]) -> Here:
    order = piece.animal.order if piece.animal else piece.order
    assert order is not None
    number = piece.animal.label if piece.animal else order.number
    return Here(piece, number, str(order.hunter or ""), piece.packs, newest.get(piece.pk))  # type: ignore[attr-defined]


def station_page(station: Station) -> dict[str, Any]:
    """What lies on a station's table, and the jobs that are open there."""
    table = station.places.order_by("id").first()
    runs = Run.objects.filter(station=station, closed_at=None).select_related(
        "animal__order", "order", "opened_by"
    )
    return {
        **(place_page(table) if table else {"here": [], "total": 0}),
        "station": station,
        "runs": list(runs),
    }
