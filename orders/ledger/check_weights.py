"""The weights' part of the ledger's check: readings, run lines, packs, and no pound from nowhere."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from django.db.models import F, Q

from orders.intake.models import Animal, ArrivedAs
from orders.ledger.models import BODY_KINDS, Direction, Piece, PieceKind, PieceState, Point, RunLine, Weighing
from orders.ledger.weights import standing, standing_lines, with_tolerance
from shop.weights import Reading, WeightError, format_mg

CHUNK = 5_000


def readings_give_their_milligrams() -> Iterator[str]:
    """Net is gross less tare, and milligrams are the net reading converted once."""
    fields = ("pk", "gross", "tare", "net", "unit", "decimals", "mg")
    for pk, gross, tare, net, unit, decimals, mg in Weighing.objects.values_list(*fields).iterator(CHUNK):
        try:
            expected = Reading(net, unit, decimals).mg
        except WeightError as error:
            yield f"Weighing {pk} cannot be read: {error}"
            continue
        if net != gross - tare or mg != expected:
            yield f"Weighing {pk}: {gross} less {tare} is kept as {net} and {mg} mg, not {expected} mg."


def weighings_are_about_one_animal() -> Iterator[str]:
    """A weighing's animal is its piece's and its run's."""
    apart = Q(piece__isnull=False) & ~same("animal", "piece__animal")
    apart |= Q(run__isnull=False) & ~same("animal", "run__animal")
    apart |= Q(piece=None, run=None)
    for pk in Weighing.objects.filter(apart).values_list("pk", flat=True):
        yield f"Weighing {pk} is about one animal and of another's piece or run."


def run_lines_are_about_their_run() -> Iterator[str]:
    """What goes in and comes out belongs to the run's animal or order, and its weight is its own."""
    own = same("piece__animal", "run__animal") & same("piece__order", "run__order")
    together = Q(run__animal=None, piece__animal__isnull=False, piece__animal__order=F("run__order"))
    for pk in RunLine.objects.exclude(piece=None).exclude(own | together).values_list("pk", flat=True):
        yield f"Run line {pk}: the piece belongs to another animal or order than the run."
    others = RunLine.objects.exclude(weighing__piece=None).exclude(same("piece", "weighing__piece"))
    for pk in others.values_list("pk", flat=True):
        yield f"Run line {pk} carries the weight of another piece."


def packs_are_their_pieces() -> Iterator[str]:
    """Every pack is one piece with the same number and owner, came out of its run, and is weighed as itself."""
    packs = Piece.objects.filter(kind=PieceKind.PACKAGE)
    for code in packs.filter(package=None).values_list("code", flat=True):
        yield f"Pack {code} is a piece without a pack."
    agree = Q(package__n=F("n")) & same("animal", "package__animal") & same("order", "package__order")
    agree &= same("package__run__animal", "animal") & same("package__run__order", "order")
    agree &= Q(package__weighing=None) | same("package__weighing__piece", "pk")
    for code in packs.exclude(package=None).exclude(agree).values_list("code", flat=True):
        yield f"Pack {code} does not agree with its piece, run or weighing."
    made = RunLine.objects.filter(direction=Direction.OUT, piece__package__run=F("run"))
    for code in packs.exclude(pk__in=made.values("piece")).values_list("code", flat=True):
        yield f"Pack {code} came out of no run."
    for code in (
        Piece.objects.exclude(kind=PieceKind.PACKAGE).exclude(package=None).values_list("code", flat=True)
    ):
        yield f"Piece {code} is not a pack, but has one."


@dataclass(slots=True)
class _Pounds:
    """What is known of an animal, or of an order's meat together, in milligrams."""

    body: set[int] = field(default_factory=set)
    hanging: dict[int, int] = field(default_factory=dict)
    received: dict[int, int] = field(default_factory=dict)
    newest: dict[int, int] = field(default_factory=dict)
    packed: int = 0
    added: int = 0
    added_unweighed: bool = False

    def limit(self, arrived_as: str) -> int | None:
        """What hung, or else what came in; None when part of it was not weighed."""
        hung = [self.hanging] if arrived_as == ArrivedAs.WHOLE else [self.hanging, self.newest]
        for weighed in (*hung, self.received):
            if self.body and self.body == set(weighed):
                return sum(weighed.values())
        return None


def packs_are_not_beyond_what_hung() -> Iterator[str]:
    """Standing packs weigh no more than what hung and the fat that was added, each animal or ground together.

    Where anything was added unweighed there is no known limit; a body that was not weighed is as heavy as can be.
    """
    by_animal, by_order = _gathered()
    pools = _pools()
    pooled = {animal for animals in pools.values() for animal in animals}
    limits: dict[int, int] = {}
    rows = Animal.objects.values_list("pk", "arrived_as", "species__max_mg")
    for pk, arrived_as, most in rows.iterator(CHUNK):
        limits[pk] = by_animal[pk].limit(arrived_as) or most
        if pk not in pooled:
            yield from _beyond(f"Animal {pk}", limits[pk], [by_animal[pk]])
    for order, animals in pools.items():
        together = [*(by_animal[animal] for animal in animals), by_order[order]]
        yield from _beyond(f"Order {order}", sum(limits[animal] for animal in animals), together)


def _pools() -> dict[int, set[int]]:
    """The animals whose meat went into an order's own runs, by order."""
    found: dict[int, set[int]] = defaultdict(set)
    lines = RunLine.objects.filter(direction=Direction.IN, run__put_back=False, piece__animal__isnull=False)
    for order, animal in lines.filter(run__order__isnull=False).values_list(
        "run__order_id", "piece__animal_id"
    ):
        found[order].add(animal)
    return found


def _beyond(name: str, limit: int, owners: list[_Pounds]) -> Iterator[str]:
    added, packed = sum(each.added for each in owners), sum(each.packed for each in owners)
    if not any(each.added_unweighed for each in owners) and packed > with_tolerance(limit + added):
        said = f"{format_mg(packed)} packed, {format_mg(limit)} hung, {format_mg(added)} added"
        yield f"{name} has more in packs than there was: {said}."


def _gathered() -> tuple[dict[int, _Pounds], dict[int, _Pounds]]:
    """Pounds by animal and by order, from the weighings and lines that were not voided."""
    by_animal: dict[int, _Pounds] = defaultdict(_Pounds)
    by_order: dict[int, _Pounds] = defaultdict(_Pounds)
    body = Piece.objects.filter(kind__in=BODY_KINDS).exclude(state=PieceState.VOID)
    for pk, animal in body.values_list("pk", "animal_id").iterator(CHUNK):
        by_animal[animal].body.add(pk)
    rows = standing().filter(piece__kind__in=BODY_KINDS, point__in=(Point.RECEIVED, Point.HANGING))
    for point, piece, animal, mg in rows.order_by("id").values_list("point", "piece_id", "animal_id", "mg"):
        pounds = by_animal[animal]
        (pounds.hanging if point == Point.HANGING else pounds.received)[piece] = mg
        pounds.newest[piece] = mg
    packs = standing().filter(point=Point.PACK).values_list("piece__animal_id", "piece__order_id", "mg")
    for animal, order, mg in packs.iterator(CHUNK):
        (by_order[order] if animal is None else by_animal[animal]).packed += mg
    added = standing_lines().filter(direction=Direction.ADDED)
    for animal, order, mg in added.values_list("run__animal_id", "run__order_id", "weighing__mg"):
        pounds = by_order[order] if animal is None else by_animal[animal]
        pounds.added += mg or 0
        pounds.added_unweighed |= mg is None
    return by_animal, by_order


def same(one: str, other: str) -> Q:
    """The condition that two keys are equal, or both absent; never unknown, so that it can be negated."""
    both = Q(**{f"{one}__isnull": False, f"{other}__isnull": False, one: F(other)})
    return both | Q(**{f"{one}__isnull": True, f"{other}__isnull": True})


CHECKS: tuple[Callable[[], Iterator[str]], ...] = (
    readings_give_their_milligrams,
    weighings_are_about_one_animal,
    run_lines_are_about_their_run,
    packs_are_their_pieces,
    packs_are_not_beyond_what_hung,
)
