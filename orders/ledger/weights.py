"""Sums over standing weighings: what hung, what was added, what was packed. All in milligrams."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from django.db.models import Exists, OuterRef, Q, QuerySet, Sum

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
NOT_VOIDED = ~Exists(Event.objects.filter(voids=OuterRef("event"))) & (
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
    return _standing().all()


def standing_lines() -> QuerySet[RunLine]:
    """Run lines that count: not voided with their event or piece, and not of a job that was put back."""
    return _standing_lines().all()


# Kept unevaluated and copied for each use: every weight asked for begins here, and building the condition costs more
# than running it.
@cache
def _standing() -> QuerySet[Weighing]:
    return Weighing.objects.filter(NOT_VOIDED)


@cache
def _standing_lines() -> QuerySet[RunLine]:
    return RunLine.objects.filter(NOT_VOIDED, run__put_back=False)


def last_weighing(piece: Piece, *points: Point) -> Weighing | None:
    """The newest standing weighing of a piece, of the named points if any are named."""
    found = standing().filter(piece=piece)
    if points:
        found = found.filter(point__in=points)
    return found.order_by("-id").first()


def received_mg(animal: Animal) -> int | None:
    """Received weight over all its body pieces; None when any of them was not weighed at the door."""
    return _Body(animal).mg(Point.RECEIVED)


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
    return sum(_Body(animal).newest(Point.RECEIVED).values())


def hung_mg(animal: Animal) -> int | None:
    """Hanging weight of the body, or what stands for it: pieces and bags come without hide, head and feet.

    None when it was never weighed without the hide; the received weight of a hide-on animal is not a hanging weight.
    """
    return _Body(animal).hung_mg()


def most_that_can_be_packed(animal: Animal) -> int | None:
    """The weight that an animal's own packs cannot exceed, fat apart: what hung, or else what came in."""
    body = _Body(animal)
    return body.hung_mg() or body.mg(Point.RECEIVED)


class _Body:
    """The body pieces of an animal with what they weighed at the door and hanging, read once."""

    def __init__(self, animal: Animal) -> None:
        self.whole = animal.arrived_as == "whole"
        body = Piece.objects.filter(animal=animal.pk, kind__in=BODY_KINDS).exclude(state=PieceState.VOID)
        self.pieces = set(body.order_by().values_list("pk", flat=True))
        rows = standing().filter(piece__in=self.pieces, point__in=(Point.RECEIVED, Point.HANGING))
        self.rows = list(rows.order_by("id").values_list("piece_id", "point", "mg"))

    def newest(self, *points: Point) -> dict[int, int]:
        """The newest standing weight of each piece that was weighed at one of the points."""
        return {piece: mg for piece, point, mg in self.rows if point in points}

    def mg(self, *points: Point) -> int | None:
        """The weight of the whole body; None when part of it was not weighed."""
        newest = self.newest(*points)
        return sum(newest.values()) if self.pieces and len(newest) == len(self.pieces) else None

    def hung_mg(self) -> int | None:
        alone = self.mg(Point.HANGING)
        return alone or (None if self.whole else self.mg(Point.HANGING, Point.RECEIVED))


def packed_mg(owner: Animal | Order) -> int:
    """Net weight of the standing packs of an animal, or of an order's packs made together."""
    field = "animal" if isinstance(owner, Animal) else "order"
    packs = standing().filter(point=Point.PACK, **{f"package__{field}": owner})
    return packs.aggregate(total=Sum("mg"))["total"] or 0


def added_mg(run_or_owner: Run | Animal | Order) -> int:
    """Fat and other things added in a run, or in all grind runs of an animal or of an order together."""
    return sum(mg or 0 for mg in _added(run_or_owner))


def _added(run_or_owner: Run | Animal | Order) -> list[int | None]:
    """What was added, each in milligrams, or None where it was not weighed."""
    whose = {Run: "run", Animal: "run__animal", Order: "run__order"}[type(run_or_owner)]
    lines = standing_lines().filter(direction=Direction.ADDED, **{whose: run_or_owner})
    return list(lines.values_list("weighing__mg", flat=True))


def pooled_animals(order: Order) -> QuerySet[Animal]:
    """The animals whose meat went into what belongs to the order as a whole."""
    went_in = RunLine.objects.filter(run__order=order, direction=Direction.IN, run__put_back=False)
    return Animal.objects.filter(pk__in=went_in.values("piece__animal")).select_related("order", "species")


@dataclass(frozen=True, slots=True)
class PackedBeyond:
    """More in packs than there was: what is packed, what hung, what fat was added. Milligrams."""

    packed: int
    hung: int
    added: int


def packed_beyond(owner: Animal | Order) -> PackedBeyond | None:
    """Packs that outweigh what hung and the fat, for one animal or for all that were ground together; else None."""
    order = owner.order if isinstance(owner, Animal) else owner
    pool = list(pooled_animals(order)) if order.grind_together else []
    together = isinstance(owner, Order) or owner in pool
    animals = pool if together else [owner]
    owners = [*animals, order] if together else [owner]
    packed = sum(packed_mg(each) for each in owners)
    added = [mg for each in owners for mg in _added(each)] if packed else []
    if not packed or None in added:
        return None
    hung = sum(
        most_that_can_be_packed(each) or each.species.max_mg for each in animals if isinstance(each, Animal)
    )
    fat = sum(mg or 0 for mg in added)
    return PackedBeyond(packed, hung, fat) if packed > with_tolerance(hung + fat) else None


def refuse_less_than_packed(animal: Animal) -> None:
    """Refuse a weight, or a piece taken back, that leaves less meat than is packed already (`packed_already`)."""
    beyond = packed_beyond(animal)
    if beyond is not None:
        said = f"{format_mg(beyond.packed)} is packed already: {format_mg(beyond.hung)} hung would be too little."
        raise Refusal("packed_already", said, "weight")


def run_mg(run: Run, direction: Direction) -> tuple[int, bool]:
    """Weight of a run's lines in one direction, and whether every line was weighed."""
    rows = list(standing_lines().filter(run=run, direction=direction).values_list("weighing__mg", flat=True))
    return sum(mg for mg in rows if mg is not None), all(mg is not None for mg in rows)
