"""What wrap and freezer ask: what waits for the table, what is packed so far, what has no place yet."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from django.db.models import Count, Prefetch, QuerySet, Sum
from django.utils import timezone

from orders.cutsheets.models import CutLine
from orders.cutsheets.words import details
from orders.floor.plan import TRIM, lines_of, trim_is_ground
from orders.floor.queries import Group, lines_of_sheet, marks_of, waiting_lugs, why_stopped
from orders.intake.models import Animal, Order
from orders.ledger.models import (
    Contents,
    Direction,
    Hold,
    Piece,
    PieceKind,
    PieceState,
    Run,
    RunKind,
    RunLine,
)
from orders.packing.models import Package
from shop.models import Choice, Part, Place, PlaceKind, Station

FOR_WRAP = (Contents.WHOLE_CUTS, Contents.GROUND, Contents.TENDERLOINS, Contents.GRIND_TRIM)
# So many lines are shown of each list; the rest behind a button, and anything can be scanned.
SHOWN = 20
# Kept parts on a table have still to find their hook; on a hook or rack they have.
NOT_STORED = (PlaceKind.STATION, PlaceKind.COUNTER)


def wrap_groups() -> list[Group]:
    """Lugs and tenderloin bags that wait for the table, by hunter; grind trim only where it stays unground.

    Rush orders first, then what waits longest.
    """
    day = timezone.localdate()
    groups: dict[tuple[str, int], Group] = {}
    stopped = _stopped_orders()
    for piece in waiting_lugs(FOR_WRAP, (PieceKind.LUG, PieceKind.TENDERLOIN)):
        owner: Animal | Order | None = piece.animal or piece.order
        assert owner is not None
        if piece.contents == Contents.GRIND_TRIM and (
            piece.animal is None or trim_is_ground(lines_of_sheet(piece.animal))
        ):
            continue
        group = groups.setdefault((owner._meta.label_lower, owner.pk), Group(owner, []))
        group.pieces.append(piece)
        if piece.animal is not None:
            group.why_not = why_stopped(piece.animal)
            group.marks = marks_of(piece.animal, day)
        else:
            group.why_not = stopped.get(owner.pk, "")
        group.note = group.order.note
    return sorted(
        groups.values(), key=lambda group: (not group.order.rush, group.pieces[0].made_at, group.label)
    )


@dataclass(frozen=True, slots=True)
class Lines:
    """One list of the queue: all of it, and what is shown."""

    all: list[Group]
    shown: list[Group]


@dataclass(frozen=True, slots=True)
class WrapQueue:
    """What can be brought to the table, what cannot, and the tenderloin bags whose animal is not cut yet."""

    ready: Lines
    stopped: Lines
    bags: Lines
    whole: bool

    @property
    def count(self) -> int:
        return sum(len(lines.all) for lines in (self.ready, self.stopped, self.bags))

    @property
    def more(self) -> bool:
        """Whether anything is left out."""
        return any(len(lines.all) > len(lines.shown) for lines in (self.ready, self.stopped, self.bags))


def wrap_queue(*, whole: bool = False) -> WrapQueue:
    """One line for each animal, or order whose meat is together, the first of each list unless all are wanted."""
    lists: dict[str, list[Group]] = {"ready": [], "stopped": [], "bags": []}
    for group in wrap_groups():
        alone = all(piece.kind == PieceKind.TENDERLOIN for piece in group.pieces)
        lists["stopped" if group.why_not else "bags" if alone else "ready"].append(group)
    most = None if whole else SHOWN
    lines = {name: Lines(groups, groups[:most]) for name, groups in lists.items()}
    return WrapQueue(**lines, whole=whole)


def just_finished(station: Station, most: int = 3) -> list[Run]:
    """The last wraps that were finished here today, the newest first: what may have to be opened again."""
    runs = Run.objects.filter(station=station, kind=RunKind.WRAP, put_back=False)
    today = timezone.localtime().replace(hour=0, minute=0, second=0, microsecond=0)
    return list(
        runs.filter(closed_at__gte=today)
        .select_related("animal__order", "order")
        .order_by("-closed_at", "-id")[:most]
    )


def _stopped_orders() -> dict[int, str]:
    """Why meat made together of a whole order may not be worked: an animal whose meat is in it is held."""
    went_in = RunLine.objects.filter(run__order__isnull=False, run__put_back=False, direction=Direction.IN)
    holds = Hold.objects.filter(released_at=None, animal__in=went_in.values("piece__animal"))
    return {
        hold.animal.order_id: f"{hold.animal.label} is on hold: {hold.get_kind_display().lower()}"
        for hold in holds.select_related("animal__order")
    }


@dataclass(frozen=True, slots=True)
class Cut:
    """One thing to pack: part and choice, how the hunter wants it, and how many are packed so far."""

    part: Part
    choice: Choice
    details: str = ""
    note: str = ""
    pieces: int | None = None
    packs: int = 0


def cuts_to_pack(run: Run) -> list[Cut]:
    """The lines of the cut sheet that end in packs. What is ground is packed as one, under the grind trim."""
    owner = run.animal or run.order
    assert owner is not None
    lines = [line for line in lines_of(owner) if not line.choice.is_discard]
    if isinstance(owner, Order):
        lines = [line for line in lines if line.choice.is_grind]
    if any(line.part.code == TRIM and line.choice.is_grind for line in lines):
        lines = [line for line in lines if line.part.code == TRIM or not line.choice.is_grind]
    packs = {(row.part.pk, row.choice.pk): row.packs for row in tally(run)}
    return _cuts_once(lines, packs)


def _cuts_once(lines: Iterable[CutLine], packs: dict[tuple[int, int], int]) -> list[Cut]:
    found: dict[tuple[int, int], Cut] = {}
    for line in sorted(lines, key=lambda line: (line.part.sort, -line.share_bp, line.pk)):
        key = (line.part_id, line.choice_id)
        found.setdefault(
            key,
            Cut(line.part, line.choice, details(line), line.note, line.pieces_per_pack, packs.get(key, 0)),
        )
    return list(found.values())


@dataclass(slots=True)
class Tally:
    """Packs of one cut so far; the weight counts the weighed ones only."""

    part: Part
    choice: Choice
    packs: int = 0
    weighed: int = 0
    mg: int = 0


def tally(run: Run) -> list[Tally]:
    """What this job has packed so far, by cut."""
    rows: dict[tuple[int, int], Tally] = {}
    for package in standing_packs(run):
        row = rows.setdefault((package.part_id, package.choice_id), Tally(package.part, package.choice))
        row.packs += 1
        if package.weighing is not None:
            row.weighed += 1
            row.mg += package.weighing.mg
    return sorted(rows.values(), key=lambda row: (row.part.sort, row.choice.sort))


def standing_packs(run: Run) -> QuerySet[Package]:
    """The packs of a job that are not void, the newest first."""
    packs = Package.objects.filter(run=run).exclude(piece__state=PieceState.VOID)
    return packs.select_related("part", "choice", "weighing", "piece").order_by("-n")


def in_no_box(order: Order) -> QuerySet[Package]:
    """Packs of an order that are in no box and have not left."""
    packs = Package.objects.filter(
        piece__state__in=[PieceState.PACKED, PieceState.STORED], piece__container=None
    )
    return packs.filter(animal__order=order) | packs.filter(order=order)


def unboxed(order: Order) -> list[Package]:
    """The packs of an order that are in no box, by animal and number, with what is shown of them."""
    related = ("part", "choice", "weighing", "piece__place", "animal__order", "order")
    return list(in_no_box(order).select_related(*related).order_by("animal__n", "n"))


def boxes_of(order: Order) -> QuerySet[Piece]:
    """The boxes of an order with how many packs are in each and their weighed weight."""
    boxes = Piece.objects.filter(order=order, kind=PieceKind.BOX).exclude(state=PieceState.VOID)
    boxes = boxes.annotate(packs=Count("inside"), packs_mg=Sum("inside__package__weighing__mg"))
    return boxes.select_related("place").order_by("n")


@dataclass(slots=True)
class Freezer:
    """Boxes, loose packs and kept parts without a place, and what is where."""

    boxes: list[Piece] = field(default_factory=list)
    empty_boxes: list[Piece] = field(default_factory=list)
    loose: list[tuple[Order, int]] = field(default_factory=list)
    kept: list[Piece] = field(default_factory=list)
    places: list[Place] = field(default_factory=list)


def freezer() -> Freezer:
    """What waits for a place, the longest first, and the shelves with what is on them."""
    found = Freezer()
    boxes = Piece.objects.filter(kind=PieceKind.BOX, state=PieceState.PACKED).annotate(packs=Count("inside"))
    for box in boxes.select_related("order", "place").order_by("made_at", "id"):
        (found.boxes if box.packs else found.empty_boxes).append(box)
    kept = Piece.objects.filter(kind=PieceKind.KEPT, state=PieceState.WAITING, place__kind__in=NOT_STORED)
    found.kept = list(kept.select_related("animal__order", "place").order_by("made_at", "id"))
    found.loose = _loose()
    stored = (
        Piece.objects.filter(state=PieceState.STORED).select_related("order", "animal__order").order_by("id")
    )
    places = Place.objects.filter(kind__in=[PlaceKind.FREEZER, PlaceKind.HOOK])
    found.places = list(places.prefetch_related(Prefetch("pieces", stored, to_attr="stored")))
    return found


def _loose() -> list[tuple[Order, int]]:
    """Orders that have packs on a table in no box, with how many; only of jobs that are finished."""
    packs = Package.objects.filter(
        piece__state=PieceState.PACKED, piece__container=None, run__closed_at__isnull=False
    )
    counts: dict[int, int] = {}
    for animal_order, order in packs.values_list("animal__order", "order"):
        counts[animal_order or order] = counts.get(animal_order or order, 0) + 1
    orders = Order.objects.filter(pk__in=counts).order_by("id")
    return [(order, counts[order.pk]) for order in orders]
