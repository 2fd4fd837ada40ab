"""Sums over standing weighings: what hung, what was added, what was packed. All in milligrams."""

from __future__ import annotations

from django.db.models import Q, QuerySet, Sum

from orders.intake.models import Animal, ArrivedAs, Order
from orders.ledger.models import (
    BODY_KINDS,
    Direction,
    Event,
    Piece,
    PieceState,
    Point,
    Run,
    RunLine,
    Weighing,
)
from orders.ledger.refusal import Refusal
from orders.ledger.scale import one_division_mg
from shop.weights import Reading, format_mg, pounds

# Not by a join to the event: what an action has just weighed has its event only at the action's end, and counts too.
NOT_VOIDED = ~Q(event__in=Event.objects.exclude(voids=None).values("voids")) & (
    Q(piece=None) | ~Q(piece__state=PieceState.VOID)
)


# Wash water and the scale's own step can make a little more come out than went in: common practice, no source.
OUT_TOLERANCE_BP = 100
OUT_TOLERANCE_MG = pounds("0.2")


def with_tolerance(mg: int) -> int:
    """The most that may come out of what weighs `mg`, in milligrams."""
    return mg + max(mg * OUT_TOLERANCE_BP // 10_000, OUT_TOLERANCE_MG)


def standing() -> QuerySet[Weighing]:
    """Weighings that were not voided, neither by their event nor with their piece."""
    return Weighing.objects.filter(NOT_VOIDED)


def standing_lines() -> QuerySet[RunLine]:
    """Run lines that count: not voided with their event or piece, and not of a job that was put back."""
    return RunLine.objects.filter(NOT_VOIDED, run__put_back=False)


def last_weighing(piece: Piece, *points: Point) -> Weighing | None:
    """The newest standing weighing of a piece, of the named points if any are named."""
    found = standing().filter(piece=piece)
    if points:
        found = found.filter(point__in=points)
    return found.order_by("-id").first()


def received_mg(animal: Animal) -> int | None:
    """Received weight over all its body pieces; None when any of them was not weighed at the door."""
    return _body_mg(animal, (Point.RECEIVED,))


def refuse_more_off_than_came(animal: Animal, off: Reading) -> None:
    """Refuse what comes off an animal weighed whole, where it is more than all that came in (`off_beyond_came`)."""
    if animal.arrived_as != ArrivedAs.WHOLE:
        return
    newest = standing().filter(piece__animal=animal, piece__kind__in=BODY_KINDS, point=Point.RECEIVED)
    came = newest.order_by("-id").first()
    if came is not None and off.mg > came.mg + one_division_mg(came.reading, off):
        said = f"{format_mg(off.mg)} cannot come off: all of it was {format_mg(came.mg)}."
        raise Refusal("off_beyond_came", said, "weight")


def received_so_far_mg(animal: Animal) -> int:
    """What was weighed at the door up to now, though pieces may still be unweighed."""
    return sum(_newest(animal, (Point.RECEIVED,)).values())


def hung_mg(animal: Animal) -> int | None:
    """Hanging weight of the body, or what stands for it: pieces and bags come without hide, head and feet.

    None when it was never weighed without the hide; the received weight of a hide-on animal is not a hanging weight.
    """
    return _body_mg(animal, (Point.HANGING,)) or (
        None if animal.arrived_as == "whole" else _body_mg(animal, (Point.HANGING, Point.RECEIVED))
    )


def _body_mg(animal: Animal, points: tuple[Point, ...]) -> int | None:
    newest = _newest(animal, points)
    body = animal.pieces.filter(kind__in=BODY_KINDS).exclude(state=PieceState.VOID).count()
    return sum(newest.values()) if body and len(newest) == body else None


def _newest(animal: Animal, points: tuple[Point, ...]) -> dict[int, int]:
    """The newest standing weight of each body piece that was weighed at one of the points."""
    rows = standing().filter(piece__animal=animal, piece__kind__in=BODY_KINDS, point__in=points)
    return dict(rows.order_by("id").values_list("piece_id", "mg"))


def most_that_can_be_packed(animal: Animal) -> int | None:
    """The weight that an animal's own packs cannot exceed, fat apart: what hung, or else what came in."""
    return hung_mg(animal) or received_mg(animal)


def packed_mg(owner: Animal | Order) -> int:
    """Net weight of the standing packs of an animal, or of an order's packs made together."""
    field = "animal" if isinstance(owner, Animal) else "order"
    packs = standing().filter(point=Point.PACK, **{f"package__{field}": owner})
    return packs.aggregate(total=Sum("mg"))["total"] or 0


def added_mg(run_or_owner: Run | Animal | Order) -> int:
    """Fat and other things added in a run, or in all grind runs of an animal or of an order together."""
    lines = standing_lines().filter(direction=Direction.ADDED, weighing__isnull=False)
    if isinstance(run_or_owner, Run):
        lines = lines.filter(run=run_or_owner)
    elif isinstance(run_or_owner, Animal):
        lines = lines.filter(run__animal=run_or_owner)
    else:
        lines = lines.filter(run__order=run_or_owner)
    return lines.aggregate(total=Sum("weighing__mg"))["total"] or 0


def fat_was_weighed(owner: Animal | Order) -> bool:
    """Whether everything added to this meat was weighed; if not, what was packed has no known limit."""
    whose = {"run__animal": owner} if isinstance(owner, Animal) else {"run__order": owner}
    return not standing_lines().filter(direction=Direction.ADDED, weighing=None, **whose).exists()


def run_mg(run: Run, direction: Direction) -> tuple[int, bool]:
    """Weight of a run's lines in one direction, and whether every line was weighed."""
    rows = list(standing_lines().filter(run=run, direction=direction).values_list("weighing__mg", flat=True))
    return sum(mg for mg in rows if mg is not None), all(mg is not None for mg in rows)
