"""What the ledger knows of the weights of many animals, read in a few queries whatever their number."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Count, Q, Sum

from orders.intake.models import Animal
from orders.ledger.models import BODY_KINDS, Direction, Piece, PieceKind, PieceState, Point, Run, RunKind
from orders.ledger.weights import standing, standing_lines
from orders.yields.gaps import Readings
from shop.weights import Reading

BODY_POINTS = (Point.RECEIVED, Point.HANGING, Point.AT_BLOCK)


@dataclass(frozen=True, slots=True)
class BodyWeight:
    """The newest standing weight of a body piece, or of a tenderloin bag, at one point."""

    mg: int
    at: datetime
    division_mg: int


@dataclass(frozen=True, slots=True)
class PieceRow:
    pk: int
    kind: str
    name: str
    made_at: datetime


@dataclass(frozen=True, slots=True)
class LineSum:
    """Run lines of one kind added up: how many, how many of them weighed, and their weight."""

    run_kind: str
    direction: str
    what: str
    piece_kind: str
    part: str
    bone_in: bool
    is_grind: bool
    count: int
    weighed: int
    mg: int
    division_mg: int

    @property
    def readings(self) -> Readings:
        return Readings(self.division_mg, self.weighed, same_tare=self.what == "pack")


@dataclass(slots=True)
class Facts:
    """Everything weighed of one animal, or made together of one order."""

    body: list[PieceRow] = field(default_factory=list)
    bags: list[PieceRow] = field(default_factory=list)
    weights: dict[tuple[int, str], BodyWeight] = field(default_factory=dict)
    lines: list[LineSum] = field(default_factory=list)
    cut_at: datetime | None = None
    kinds_done: set[str] = field(default_factory=set)
    kinds_open: set[str] = field(default_factory=set)
    reasons: list[tuple[str, str]] = field(default_factory=list)

    def weight(self, piece: PieceRow, point: str) -> BodyWeight | None:
        return self.weights.get((piece.pk, point))

    def sums(self, run_kind: str, direction: str) -> list[LineSum]:
        """The lines of one kind of job in one direction."""
        return [line for line in self.lines if (line.run_kind, line.direction) == (run_kind, direction)]


@dataclass(slots=True)
class FactsByOwner:
    animals: dict[int, Facts]
    orders: dict[int, Facts]
    pooled: set[int] = field(default_factory=set)


def read_facts(animals: Sequence[Animal]) -> FactsByOwner:
    """The facts of these animals and of their orders, in five queries."""
    found = FactsByOwner(defaultdict(Facts), defaultdict(Facts))
    animal_ids = [animal.pk for animal in animals]
    order_ids = list({animal.order_id for animal in animals})
    _read_pieces(found, animal_ids)
    _read_weights(found, animal_ids)
    _read_lines(found, animal_ids, order_ids)
    _read_runs(found, animal_ids, order_ids)
    # Whose meat went into what was made together; another animal of the same order may have ended before.
    went_in = standing_lines().filter(run__order__in=order_ids, direction=Direction.IN)
    found.pooled = set(went_in.order_by().values_list("piece__animal_id", flat=True).distinct())
    return found


def _read_pieces(found: FactsByOwner, animal_ids: list[int]) -> None:
    kinds = (*BODY_KINDS, PieceKind.TENDERLOIN)
    rows = Piece.objects.filter(animal__in=animal_ids, kind__in=kinds).exclude(state=PieceState.VOID)
    for animal, pk, kind, name, made_at in rows.order_by("id").values_list(
        "animal_id", "pk", "kind", "name", "made_at"
    ):
        facts = found.animals[animal]
        (facts.bags if kind == PieceKind.TENDERLOIN else facts.body).append(PieceRow(pk, kind, name, made_at))


def _read_weights(found: FactsByOwner, animal_ids: list[int]) -> None:
    """Weights of body pieces at their points, and of tenderloin bags; a later one replaces an earlier one."""
    wanted = Q(point__in=BODY_POINTS) | Q(point=Point.PART_OFF, piece__kind=PieceKind.TENDERLOIN)
    rows = standing().filter(wanted, animal__in=animal_ids, piece__isnull=False).order_by("id")
    for animal, piece, point, mg, at, unit, decimals in rows.values_list(
        "animal_id", "piece_id", "point", "mg", "event__at", "unit", "decimals"
    ):
        weight = BodyWeight(mg, at, Reading(1, unit, decimals).mg)
        found.animals[animal].weights[(piece, point)] = weight


def _read_lines(found: FactsByOwner, animal_ids: list[int], order_ids: list[int]) -> None:
    keys = (
        "run__animal_id",
        "run__order_id",
        "run__kind",
        "direction",
        "what",
        "piece__kind",
        "piece__package__part__code",
        "piece__package__choice__bone_in",
        "piece__package__choice__is_grind",
        "weighing__unit",
        "weighing__decimals",
    )
    rows = (
        standing_lines()
        .filter(Q(run__animal__in=animal_ids) | Q(run__order__in=order_ids))
        .order_by()
        .values_list(*keys)
        .annotate(count=Count("id"), weighed=Count("weighing_id"), mg=Sum("weighing__mg"))
    )
    for (
        animal,
        order,
        kind,
        direction,
        what,
        piece_kind,
        part,
        bone_in,
        is_grind,
        unit,
        decimals,
        count,
        weighed,
        mg,
    ) in rows:
        division = Reading(1, unit, decimals).mg if unit else 0
        line = LineSum(
            kind,
            direction,
            what,
            piece_kind or "",
            part or "",
            bool(bone_in),
            bool(is_grind),
            count,
            weighed,
            mg or 0,
            division,
        )
        owner = found.orders[order] if animal is None else found.animals[animal]
        owner.lines.append(line)


def _read_runs(found: FactsByOwner, animal_ids: list[int], order_ids: list[int]) -> None:
    whose = Q(animal__in=animal_ids) | Q(order__in=order_ids)
    rows = Run.objects.filter(whose, put_back=False).order_by("id")
    for animal, order, kind, opened, closed, reason in rows.values_list(
        "animal_id", "order_id", "kind", "opened_at", "closed_at", "close_reason"
    ):
        facts = found.orders[order] if animal is None else found.animals[animal]
        if kind == RunKind.CUT and facts.cut_at is None:
            facts.cut_at = opened
        (facts.kinds_open if closed is None else facts.kinds_done).add(kind)
        if reason:
            facts.reasons.append((kind, reason))


def all_weighed(lines: Iterable[LineSum]) -> int | None:
    """The weight of these lines; None when there is none, or when any of them was not weighed."""
    found = list(lines)
    if not found or any(line.weighed < line.count for line in found):
        return None
    return sum(line.mg for line in found)
