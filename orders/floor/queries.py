"""What the floor's pages ask: what is next at a station, and what is open there."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime

from django.db.models import Count, Exists, OuterRef, Prefetch, Q, QuerySet
from django.utils import timezone

from orders.cutsheets.models import CutLine, CutSheet
from orders.intake.models import Animal, ArrivedAs, Order, Region
from orders.ledger.models import (
    BODY_KINDS,
    Contents,
    Direction,
    Event,
    Hold,
    Piece,
    PieceKind,
    PieceState,
    Run,
    RunKind,
    RunLine,
)
from orders.ledger.voids import VOIDABLE
from shop.models import Place, PlaceKind, Station

# So many tiles are shown of a queue; the rest is counted, and anything can be scanned.
SHOWN = 24
AT_REST = (PieceState.RECEIVED, PieceState.HANGING)
HIDE_ON = "the hide is still on"


@dataclass(frozen=True, slots=True)
class Waiting:
    """One animal of a queue: its tile says the number, what it is, and why it is first or cannot be opened.

    `opens` is the id that its tile posts: the carcass at the skinning, the animal at the block.
    """

    animal: Animal
    opens: int
    marks: tuple[str, ...] = ()
    why_not: str = ""
    days: int | None = None
    age: str = ""
    late: bool = False


@dataclass(slots=True)
class Queue:
    """What can be opened, in order, and what cannot, with the reason."""

    ready: list[Waiting] = field(default_factory=list)
    not_ready: list[Waiting] = field(default_factory=list)

    @property
    def shown(self) -> list[Waiting]:
        return self.ready[:SHOWN]

    @property
    def more(self) -> int:
        return max(0, len(self.ready) - SHOWN)

    @property
    def stopped(self) -> list[Waiting]:
        return self.not_ready[:SHOWN]

    @property
    def more_stopped(self) -> int:
        return max(0, len(self.not_ready) - SHOWN)

    def add(self, row: Waiting) -> None:
        (self.not_ready if row.why_not else self.ready).append(row)


def why_stopped(animal: Animal) -> str:
    """Why nothing may be done with an animal now, or nothing. Needs its open holds prefetched as `open_holds`."""
    if not animal.has_tag:
        return "tag missing: not received yet"
    holds: list[Hold] = animal.open_holds  # type: ignore[attr-defined]
    if holds:
        note = f" ({holds[0].note})" if holds[0].note else ""
        return f"on hold: {holds[0].get_kind_display().lower()}{note}"
    return ""


def marks_of(animal: Animal, day: date) -> tuple[str, ...]:
    """The words that put an animal forward: warm, gut-shot, rush, promised."""
    order = animal.order
    found = [
        (animal.warm, "warm"),
        (animal.gut_shot, "gut-shot"),
        (order.rush, "rush"),
        (order.promised_on is not None, _promised(order.promised_on, day)),
        (animal.dirty, "dirty"),
    ]
    return tuple(words for true, words in found if true)


def _promised(promised: date | None, day: date) -> str:
    if promised is None:
        return ""
    late = " (past)" if promised < day else ""
    return f"promised {promised:%b} {promised.day}{late}"


def region_words(animal: Animal) -> str:
    """Where it was hit, in words: `shoulder, ribs`."""
    return ", ".join(Region(region).label.lower() for region in animal.regions_hit if region in Region.values)


def animals_at_rest() -> QuerySet[Animal]:
    """Animals with a body piece that is received or hanging, with what the queues show of them."""
    body = Piece.objects.filter(kind__in=BODY_KINDS, state__in=AT_REST)
    return (
        Animal.objects.filter(ended="")
        .filter(Exists(body.filter(animal=OuterRef("pk"))))
        .select_related("order", "species")
        .prefetch_related(
            Prefetch("holds", Hold.objects.filter(released_at=None).order_by("id"), to_attr="open_holds"),
            Prefetch("pieces", body.select_related("place"), to_attr="body"),
            Prefetch(
                "pieces",
                Piece.objects.filter(kind=PieceKind.TENDERLOIN).exclude(state=PieceState.VOID),
                to_attr="tenderloin_bags",
            ),
        )
        .annotate(
            has_sheet=Exists(CutSheet.objects.filter(animal=OuterRef("pk"), current=True)),
            is_skinned=Exists(
                Run.objects.filter(
                    animal=OuterRef("pk"), kind=RunKind.SKIN, closed_at__isnull=False, put_back=False
                )
            ),
        )
    )


def skin_queue() -> Queue:
    """Carcasses with the hide on: warm first, then gut-shot, then rush orders, then the longest here."""
    day = timezone.localdate()
    skinned = Run.objects.filter(
        animal=OuterRef("pk"), kind=RunKind.SKIN, closed_at__isnull=False, put_back=False
    )
    found = animals_at_rest().filter(~Exists(skinned), arrived_as=ArrivedAs.WHOLE)
    rows = sorted(
        found,
        key=lambda animal: (
            not animal.warm,
            not animal.gut_shot,
            not animal.order.rush,
            animal.arrived_at,
            animal.pk,
        ),
    )
    queue = Queue()
    for animal in rows:
        days = (day - timezone.localdate(animal.arrived_at)).days
        carcass: Piece = animal.body[0]  # type: ignore[attr-defined]
        age = f"came {_days_ago(days)}"
        queue.add(Waiting(animal, carcass.pk, marks_of(animal, day), why_stopped(animal), days, age))
    return queue


def _days_ago(days: int) -> str:
    return "today" if days <= 0 else "yesterday" if days == 1 else f"{days} days ago"


def block_queue() -> Queue:
    """What can be cut: the least time left against its hanging limit first, then rush, promised and warm ones."""
    day = timezone.localdate()

    def order_of(animal: Animal) -> tuple[int, bool, date, bool, datetime, int]:
        left = animal.species.hang_limit_days - days_since_hung(animal, day)
        promised = animal.order.promised_on or date.max
        return left, not animal.order.rush, promised, not animal.warm, animal.arrived_at, animal.pk

    queue = Queue()
    for animal in sorted(animals_at_rest(), key=order_of):
        days = days_since_hung(animal, day)
        age, late = hanging_age(animal, day)
        queue.add(
            Waiting(
                animal,
                animal.pk,
                marks_of(animal, day),
                why_stopped(animal) or _why_not_cut(animal),
                days,
                age,
                late,
            )
        )
    # The hides belong to another station: what somebody can do something about comes first.
    queue.not_ready.sort(key=lambda row: row.why_not == HIDE_ON)
    return queue


def _why_not_cut(animal: Animal) -> str:
    if animal.arrived_as == ArrivedAs.WHOLE and not animal.is_skinned:  # type: ignore[attr-defined]
        return HIDE_ON
    if not animal.has_sheet:  # type: ignore[attr-defined]
        return "no cut sheet yet: the counter can press “house cut”"
    return ""


def days_since_hung(animal: Animal, day: date) -> int:
    """Calendar days since it was hung, or came."""
    return (day - timezone.localdate(animal.hung_at or animal.arrived_at)).days


def hanging_age(animal: Animal, day: date) -> tuple[str, bool]:
    """How long it hangs against the species' usual days and limit, in words, and whether it is late."""
    species = animal.species
    if animal.hung_at is None:
        return f"not hung, came {_days_ago(days_since_hung(animal, day))}", False
    days = days_since_hung(animal, day)
    if days > species.hang_limit_days:
        return f"LATE: hangs {_count(days, 'day')}, limit {species.hang_limit_days}", True
    if days >= species.hang_days:
        return f"hangs {_count(days, 'day')}, limit {species.hang_limit_days}", False
    return f"aging: {days} of {_count(species.hang_days, 'day')}", False


def _count(n: int, word: str) -> str:
    return f"{n} {word}{'' if n == 1 else 's'}"


def cold_places(*kinds: PlaceKind) -> QuerySet[Place]:
    """Places of these kinds with how many pieces are there now, as `here`."""
    living = Q(
        pieces__state__in=[PieceState.HANGING, PieceState.WAITING, PieceState.STORED, PieceState.RECEIVED]
    )
    return Place.objects.filter(kind__in=kinds).annotate(here=Count("pieces", filter=living))


def open_here(station: Station, kind: RunKind) -> QuerySet[Run]:
    """Jobs that are open at this station, the oldest first."""
    runs = Run.objects.filter(station=station, kind=kind, closed_at=None).order_by("opened_at", "id")
    return runs.select_related("animal__order", "animal__species", "order", "opened_by", "station")


def open_elsewhere(station: Station, kind: RunKind) -> QuerySet[Run]:
    """The same job open at other stations."""
    runs = Run.objects.filter(kind=kind, closed_at=None).exclude(station=station).order_by("opened_at", "id")
    return runs.select_related("animal__order", "order", "opened_by", "station")


def run_with_owner(pk: int, kind: RunKind) -> Run | None:
    """A job of this kind with whose it is."""
    runs = Run.objects.filter(pk=pk, kind=kind)
    return runs.select_related(
        "animal__order", "animal__species", "animal__taker", "order__hunter", "opened_by", "station"
    ).first()


def lines_of(run: Run, *directions: Direction) -> list[RunLine]:
    """The standing lines of a job in the order they were written, with their weights and pieces."""
    rows = run.lines.filter(event__voided_by=None).exclude(piece__state=PieceState.VOID)
    if directions:
        rows = rows.filter(direction__in=directions)
    return list(rows.select_related("weighing", "piece", "event").order_by("id"))


def can_take_back(run: Run) -> list[Event]:
    """What was recorded in a job and can still be taken back, the newest first."""
    events = Event.objects.filter(run=run, verb__in=VOIDABLE, outcome="ok", voided_by=None)
    return list(events.select_related("person").order_by("-id"))


@dataclass(slots=True)
class Group:
    """Waiting lugs of one hunter, for the grinder or the wrap table."""

    owner: Animal | Order
    pieces: list[Piece]
    plan: str = ""
    why_not: str = ""
    marks: tuple[str, ...] = ()
    note: str = ""

    @property
    def label(self) -> str:
        return self.owner.label if isinstance(self.owner, Animal) else self.owner.number

    @property
    def order(self) -> Order:
        return self.owner.order if isinstance(self.owner, Animal) else self.owner


def waiting_lugs(contents: Iterable[Contents], kinds: Iterable[PieceKind] = (PieceKind.LUG,)) -> list[Piece]:
    """Lugs and bags that wait, the longest first, with whose they are and what stops it."""
    holds = Prefetch(
        "animal__holds", Hold.objects.filter(released_at=None).order_by("id"), to_attr="open_holds"
    )
    sheets = Prefetch(
        "animal__cut_sheets",
        CutSheet.objects.filter(current=True).prefetch_related(
            Prefetch("lines", CutLine.objects.select_related("part", "choice"))
        ),
        to_attr="current_sheets",
    )
    rows = Piece.objects.filter(kind__in=list(kinds), contents__in=list(contents), state=PieceState.WAITING)
    rows = rows.filter(Q(animal=None) | Q(animal__ended="")).annotate(
        animals_in_order=Count("animal__order__animals", distinct=True)
    )
    return list(
        rows.select_related("animal__order", "animal__species", "order", "place")
        .prefetch_related(holds, sheets)
        .order_by("made_at", "id")
    )


def lines_of_sheet(animal: Animal) -> list[CutLine]:
    """The lines of the current sheet, prefetched as `current_sheets` or asked for now."""
    sheets = getattr(animal, "current_sheets", None)
    if sheets is None:
        sheets = list(animal.cut_sheets.filter(current=True).prefetch_related("lines__part", "lines__choice"))
    return list(sheets[0].lines.all()) if sheets else []
