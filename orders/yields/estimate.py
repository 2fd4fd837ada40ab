"""From an animal's weights to what is expected of it: which weight is taken, on which basis, and what was off it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from orders.intake.models import Animal, ArrivedAs, Tenderloin
from orders.ledger.models import Direction, PieceKind, Point, RunKind
from orders.yields.account import Part, came_skinned
from orders.yields.constants import Basis, Constants
from orders.yields.expected import Expected, ExpectedStep, expected_boneless
from orders.yields.rows import Facts, LineSum, all_weighed

GONE = (Tenderloin.FIELD, Tenderloin.DAMAGED)
SUMMED = "Several ranges are added low to low and high to high: their causes are the same."


@dataclass(frozen=True, slots=True)
class Estimate:
    """What to expect, in milligrams, and how it was reached."""

    low_mg: int
    likely_mg: int
    high_mg: int
    weighed_mg: int
    weighed_words: str
    coverage: str
    steps: tuple[ExpectedStep, ...]
    notes: tuple[str, ...]

    @classmethod
    def summed(cls, found: Sequence[Estimate]) -> Estimate:
        """Several estimates added up, bound to bound."""
        if len(found) == 1:
            return found[0]
        return cls(
            low_mg=sum(each.low_mg for each in found),
            likely_mg=sum(each.likely_mg for each in found),
            high_mg=sum(each.high_mg for each in found),
            weighed_mg=sum(each.weighed_mg for each in found),
            weighed_words=" and ".join(dict.fromkeys(each.weighed_words for each in found)),
            coverage="; ".join(dict.fromkeys(each.coverage for each in found)),
            steps=tuple(step for each in found for step in each.steps),
            notes=(SUMMED, *dict.fromkeys(note for each in found for note in each.notes)),
        )


def estimate(animal: Animal, facts: Facts, constants: Constants, now: datetime) -> Estimate | None:
    """The range for one animal; None when nothing was weighed that it could start from."""
    part = Part(animal, facts)
    hanging = part.body_mg(Point.HANGING)
    if hanging is not None and _one_basis(part) is Basis.HANGING:
        return _from(part, hanging, Basis.HANGING, constants, now, "hanging weight")
    if animal.arrived_as == ArrivedAs.PIECES:
        return _from_pieces(part, constants, now)
    received = part.body_mg(Point.RECEIVED)
    basis = _one_basis(part)
    if received is None or (animal.arrived_as == ArrivedAs.WHOLE and not animal.weight_basis):
        return None
    if animal.arrived_as == ArrivedAs.WHOLE:
        basis = Basis(animal.weight_basis)
    return _from(
        part, received, basis, constants, now, f"received weight, {animal.get_arrived_as_display().lower()}"
    )


def _one_basis(part: Part) -> Basis:
    if part.animal.arrived_as in (ArrivedAs.BONELESS, ArrivedAs.TRIM):
        return Basis.BONELESS
    return Basis.QUARTERS if part.animal.arrived_as == ArrivedAs.PIECES else Basis.HANGING


def _from_pieces(part: Part, constants: Constants, now: datetime) -> Estimate | None:
    """Bone-in pieces and boneless bags each on their own basis, by their newest weight."""
    weights: dict[Basis, int] = {}
    for piece in part.facts.body:
        weight = part.facts.weight(piece, Point.HANGING) or part.facts.weight(piece, Point.RECEIVED)
        if weight is None:
            return None
        basis = Basis.BONELESS if piece.kind == PieceKind.BAG else Basis.QUARTERS
        weights[basis] = weights.get(basis, 0) + weight.mg
    words = {Basis.QUARTERS: "bone-in pieces", Basis.BONELESS: "boneless bags"}
    found = [_from(part, mg, basis, constants, now, words[basis]) for basis, mg in sorted(weights.items())]
    return Estimate.summed(found) if found else None


def _from(
    part: Part, weighed_mg: int, basis: Basis, constants: Constants, now: datetime, words: str
) -> Estimate:
    point = Point.HANGING if words == "hanging weight" else Point.RECEIVED
    before = part.bags_before(part.weighed_at(point)) if basis is Basis.HANGING else []
    whole = basis not in (Basis.QUARTERS, Basis.BONELESS)
    sides = sum(side in bag.name for bag in before for side in ("left", "right"))
    gone = [part.animal.tenderloin_left, part.animal.tenderloin_right]
    missing = sum(answer in GONE for answer in gone)
    off_mg, off_before = _bloodshot(part, basis)
    found = expected_boneless(
        weighed_mg,
        basis,
        constants,
        shot_regions=[region for region in part.animal.regions_hit if region],
        bloodshot_off_weighed_mg=off_mg,
        bloodshot_removed_before_weighing=off_before,
        tenderloins_in=max(0, 2 - missing - sides) if whole else 2,
        tenderloins_bagged_mg=part.bag_mg(before) or 0,
        hung_days=0 if basis is Basis.BONELESS else part.hung_days(now),
    )
    return _estimate(found, weighed_mg, words)


def _bloodshot(part: Part, basis: Basis) -> tuple[int | None, bool]:
    """Bloodshot weighed after the weight that counts (None: not weighed), and whether it was all off before it."""
    at_skinning = _bloodshot_lines(part.facts, RunKind.SKIN)
    after = _bloodshot_lines(part.facts, RunKind.CUT)
    if basis is Basis.HANGING and not came_skinned(part.animal):
        return all_weighed(after), bool(at_skinning) and not after
    return all_weighed([*at_skinning, *after]), False


def _bloodshot_lines(facts: Facts, kind: str) -> list[LineSum]:
    return [line for line in facts.sums(kind, Direction.WASTE) if line.what == "bloodshot"]


def _estimate(found: Expected, weighed_mg: int, words: str) -> Estimate:
    return Estimate(
        found.low_mg,
        found.likely_mg,
        found.high_mg,
        weighed_mg,
        words,
        found.coverage,
        found.steps,
        found.notes,
    )
