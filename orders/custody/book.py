"""Everything that is written about one order, read at once, and the ways through it: up, down, where, who."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from django.utils import timezone
from django.utils.formats import date_format

from orders.intake.arrival import standing
from orders.intake.models import Animal, Order
from orders.ledger.models import (
    BODY_KINDS,
    Direction,
    Event,
    Movement,
    Piece,
    PieceKind,
    PieceState,
    Run,
    RunLine,
    Weighing,
)
from orders.packing.models import Package
from orders.pickup.models import Release
from orders.pickup.queries import pieces_of

GRIND_TRIM = "grind-trim"


@dataclass(slots=True)
class Book:
    """One order with all its pieces, jobs, weighings and events, by key."""

    order: Order
    animals: dict[int, Animal] = field(default_factory=dict)
    pieces: dict[int, Piece] = field(default_factory=dict)
    runs: dict[int, Run] = field(default_factory=dict)
    lines: list[RunLine] = field(default_factory=list)
    weighings: list[Weighing] = field(default_factory=list)
    packages: dict[int, Package] = field(default_factory=dict)
    events: list[Event] = field(default_factory=list)
    movements: list[Movement] = field(default_factory=list)
    releases: dict[UUID, Release] = field(default_factory=dict)

    # --- ways through ---------------------------------------------------------------------------------------

    def went_in(self, run: Run) -> list[Piece]:
        """The pieces that went into a job."""
        return self._of_run(run, Direction.IN)

    def came_out(self, run: Run) -> list[Piece]:
        """The pieces that came out of a job, without what merely passed through it."""
        inside = {piece.pk for piece in self.went_in(run)}
        out = [piece for piece in self._of_run(run, Direction.OUT) if piece.pk not in inside]
        return [piece for piece in out if piece.state != PieceState.VOID]

    def makers(self, piece: Piece) -> list[Run]:
        """The jobs that a piece came out of."""
        inside = {line.run_id for line in self.lines if line.piece_id == piece.pk and line.direction == "in"}
        found = {line.run_id for line in self.lines if line.piece_id == piece.pk and line.direction == "out"}
        return [self.runs[run_id] for run_id in sorted(found - inside)]

    def users(self, piece: Piece) -> list[Run]:
        """The jobs that a piece went into."""
        found = {line.run_id for line in self.lines if line.piece_id == piece.pk and line.direction == "in"}
        return [self.runs[run_id] for run_id in sorted(found)]

    def ancestry(self, piece: Piece) -> list[Run]:
        """The jobs between a piece and the animals it came from, nearest first. For a box, of all that is in it."""
        start = self.inside(piece) if piece.kind == PieceKind.BOX else [piece]
        return sorted(self._walk(start, up=True), key=lambda run: (run.opened_at, run.pk), reverse=True)

    def descent(self, piece: Piece) -> list[Run]:
        """The jobs that a piece, and whatever was made of it, went into, nearest first."""
        return list(self._walk([piece], up=False))

    def inside(self, box: Piece) -> list[Piece]:
        """The packs in a box."""
        return [piece for piece in self.pieces.values() if piece.container_id == box.pk]

    def _walk(self, start: list[Piece], *, up: bool) -> Iterator[Run]:
        seen: set[int] = set()
        waiting = [run for piece in start for run in (self.makers(piece) if up else self.users(piece))]
        while waiting:
            run = waiting.pop(0)
            if run.pk in seen:
                continue
            seen.add(run.pk)
            yield run
            for piece in self.went_in(run) if up else self.came_out(run):
                waiting += self.makers(piece) if up else self.users(piece)

    def animals_of(self, piece: Piece) -> list[Animal]:
        """The animals a piece came from: its own, or those of everything that went into it."""
        if piece.animal_id is not None:
            return [self.animals[piece.animal_id]]
        sources = [*self.inside(piece), *(each for run in self.ancestry(piece) for each in self.went_in(run))]
        found = {each.animal_id for each in sources if each.animal_id is not None}
        return [self.animals[key] for key in sorted(found)] or list(self.animals.values())

    def made_of(self, piece: Piece) -> list[Piece]:
        """Everything that was made of a piece, kept parts and tenderloin bags too, in the order it was made."""
        found = {each.pk: each for run in self.descent(piece) for each in self.came_out(run)}
        if piece.kind in BODY_KINDS and piece.animal_id is not None:
            found.update(self._bagged_apart(piece.animal_id))
            for each in list(found.values()):
                found.update({made.pk: made for run in self.users(each) for made in self.came_out(run)})
        return sorted(found.values(), key=lambda each: each.pk)

    def _bagged_apart(self, animal_id: int) -> dict[int, Piece]:
        """Tenderloin bags and kept parts that no job lists: pulled between two jobs."""
        listed = {line.piece_id for line in self.lines if line.direction == Direction.OUT}
        return {
            piece.pk: piece
            for piece in self.pieces.values()
            if piece.animal_id == animal_id
            and piece.kind in (PieceKind.TENDERLOIN, PieceKind.KEPT)
            and piece.pk not in listed
            and piece.state != PieceState.VOID
        }

    def _of_run(self, run: Run, direction: Direction) -> list[Piece]:
        keys = {
            line.piece_id for line in self.lines if line.run_id == run.pk and line.direction == direction
        } - {None}
        return [self.pieces[key] for key in sorted(keys) if key in self.pieces]  # type: ignore[type-var]

    # --- what is said of a piece -------------------------------------------------------------------------------

    def standing(self, piece: Piece) -> str:
        """A piece's state in words; what is in a box is where, and what, its box is."""
        container = self.pieces.get(piece.container_id) if piece.container_id else None
        if container and piece.state != PieceState.VOID:
            return container.get_state_display()
        animal = self.animals.get(piece.animal_id or 0)
        return standing(piece, has_tag=animal is None or animal.has_tag)

    def where(self, piece: Piece) -> str:
        """Where a piece is now, in words: `box 1, at Shelf 2`; `collected by Rowan Sedgewick, Nov 24`."""
        container = self.pieces.get(piece.container_id) if piece.container_id else None
        root = container or piece
        if piece.state == PieceState.VOID:
            return "void: its label was destroyed" if piece.kind == PieceKind.PACKAGE else "void"
        if root.state == PieceState.COLLECTED:
            return f"{f'{container.name}, ' if container else ''}collected{self._collected(root)}"
        if piece.state == PieceState.USED:
            return "used up"
        if piece.state == PieceState.HAULED:
            return "hauled away"
        place = root.place.name if root.place else "nowhere on record"
        return f"{container.name}, at {place}" if container else f"at {place}"

    def _collected(self, piece: Piece) -> str:
        events = [m.event_id for m in self.movements if m.piece_id == piece.pk and m.state_to == "collected"]
        release = self.releases.get(events[-1]) if events else None
        return f" by {release.collector}, {day(release.at)}" if release else ""


def cut_words(package: Package) -> str:
    """What is in a pack: `Backstrap, steaks`; of grind trim only what was made of it: `Ground, with pork fat`."""
    choice = package.choice.name
    words = choice if package.part.code == GRIND_TRIM else f"{package.part.name}, {choice.lower()}"
    fat = package.has_added_fat.replace(" ", " and ")
    return f"{words}, with {fat} fat" if fat else words


def day(moment: datetime) -> str:
    """A day in the shop's zone: `Nov 24`."""
    return date_format(timezone.localtime(moment), "M j")


def load(order: Order) -> Book:
    """Read one order whole, in a fixed number of queries."""
    book = Book(order)
    book.animals = {
        animal.pk: animal for animal in order.animals.select_related("species", "taker", "no_tag_reason")
    }
    for animal in book.animals.values():
        animal.order = order
    pieces = Piece.objects.filter(pieces_of(order)).select_related("place", "form")
    book.pieces = {piece.pk: piece for piece in pieces}
    runs = (Run.objects.filter(animal__order=order) | Run.objects.filter(order=order)).select_related(
        "station", "opened_by"
    )
    book.runs = {run.pk: run for run in runs}
    book.lines = list(
        RunLine.objects.filter(run__in=book.runs, event__voided_by=None)
        .exclude(piece__state=PieceState.VOID)
        .select_related("weighing")
    )
    book.weighings = list(
        Weighing.objects.filter(event__order=order).select_related(
            "event__person", "event__voided_by", "piece"
        )
    )
    packages = Package.objects.filter(piece__in=book.pieces).select_related("part", "choice", "weighing")
    book.packages = {package.piece_id: package for package in packages}
    book.events = list(
        order.events.select_related("person", "station", "device", "voided_by", "animal").order_by("at", "id")
    )
    book.movements = list(Movement.objects.filter(event__order=order).order_by("id"))
    book.releases = {release.event_id: release for release in order.releases.select_related("person")}
    return book


# --- who had it ------------------------------------------------------------------------------------------------

# What the floor does not see: money, and a phone number in a refusal.
MONEY_VERBS = ("set_amount", "mark_paid", "unmark_paid")
PRIVATE_REFUSALS = ("still_owed", "phone_wrong")


def hands(book: Book, piece: Piece, runs: Iterable[Run]) -> list[Event]:
    """Every event that a piece, what it came from or its animals went through, in order of time."""
    run_ids = {run.pk for run in runs}
    own = {piece.pk} | {each.pk for run_id in run_ids for each in book.went_in(book.runs[run_id])}
    own |= {m.container_to_id for m in book.movements if m.piece_id == piece.pk and m.container_to_id}
    animals = {animal.pk for animal in book.animals_of(piece)}
    # A part that was pulled between two jobs has no line in one, but it came off the carcass all the same.
    own |= {p.pk for p in book.pieces.values() if p.kind == PieceKind.CARCASS and p.animal_id in animals}
    moved = defaultdict(set)
    for movement in book.movements:
        moved[movement.event_id].add(movement.piece_id)
    return [event for event in book.events if _concerns(event, moved, own, run_ids, animals)]


def _concerns(
    event: Event, moved: dict[UUID, set[int]], own: set[int], runs: set[int], animals: set[int]
) -> bool:
    if event.uid in moved:
        return bool(moved[event.uid] & own)
    if event.run_id is not None:
        return event.run_id in runs
    return event.animal_id is None or event.animal_id in animals


def for_floor(events: list[Event]) -> list[Event]:
    """The events without those that speak of money or of a phone number."""
    return [
        event for event in events if event.verb not in MONEY_VERBS and event.refusal not in PRIVATE_REFUSALS
    ]
