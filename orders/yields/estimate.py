"""From an animal's weights to what is expected of it: which weight is taken, on which basis, and what was off it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from orders.intake.models import Animal, ArrivedAs, Tenderloin
from orders.ledger.models import Direction, PieceKind, Point, RunKind
from orders.yields.account import Part, came_skinned
from orders.yields.constants import Basis, Constants, Share
from orders.yields.expected import (
    Expected,
    ExpectedPart,
    ExpectedStep,
    Predictive,
    expected_boneless,
    part_shares,
)
from orders.yields.rows import Facts, LineSum, PieceRow, all_weighed

TENDERLOIN = "tenderloin"
NOT_SAID = "unknown"
GONE = (Tenderloin.FIELD, Tenderloin.DAMAGED)
SUMMED = "Several ranges are added low to low and high to high: their causes are the same."


@dataclass(frozen=True, slots=True)
class Estimate:
    """What to expect, in milligrams, and how it was reached.

    `basis` is what was on the scale, NOT_SAID where nobody said so, `mixed` for several. `parts` is by part's code, of
    an animal that came whole.
    """

    low_mg: int
    likely_mg: int
    high_mg: int
    weighed_mg: int
    weighed_words: str
    coverage: str
    steps: tuple[ExpectedStep, ...]
    notes: tuple[str, ...]
    basis: str
    parts: Mapping[str, ExpectedPart] = field(default_factory=dict)

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
            basis=found[0].basis if len({each.basis for each in found}) == 1 else "mixed",
            parts=_summed_parts([each.parts for each in found]),
        )


def _summed_parts(found: Sequence[Mapping[str, ExpectedPart]]) -> dict[str, ExpectedPart]:
    """By part over several animals; none where one of them is not known by part."""
    if not all(found):
        return {}
    codes = dict.fromkeys(code for each in found for code in each)
    return {
        code: ExpectedPart(
            sum(each[code].low_mg for each in found if code in each),
            sum(each[code].likely_mg for each in found if code in each),
            sum(each[code].high_mg for each in found if code in each),
        )
        for code in codes
    }


@dataclass(frozen=True, slots=True)
class _Asked:
    """What an estimate is made with: the species' constants, its parts, what the shop has learned, and the time."""

    constants: Constants
    now: datetime
    shares: Mapping[str, Share]
    learned: Predictive | None


def estimate(
    animal: Animal,
    facts: Facts,
    constants: Constants,
    now: datetime,
    *,
    shares: Mapping[str, Share] | None = None,
    learned: Predictive | None = None,
) -> Estimate | None:
    """The range for one animal; None when nothing was weighed that it could start from (`no_range` says what).

    `shares`: each part's share of the boneless lean, by its code. `learned`: what the shop's own animals say; not used
    for meat that came boneless.
    """
    part = Part(animal, facts)
    asked = _Asked(constants, now, shares or {}, learned)
    hanging = part.body_mg(Point.HANGING)
    if hanging is not None and _one_basis(part) is Basis.HANGING:
        return _from(part, hanging, Basis.HANGING, asked, "hanging weight")
    if animal.arrived_as == ArrivedAs.PIECES:
        return _from_pieces(part, asked)
    received = part.body_mg(Point.RECEIVED)
    if received is None:
        return None
    basis: Basis | None = _one_basis(part)
    if animal.arrived_as == ArrivedAs.WHOLE:
        basis = Basis(animal.weight_basis) if animal.weight_basis else None
    return _from(part, received, basis, asked, f"received weight, {animal.get_arrived_as_display().lower()}")


def no_range(animal: Animal, facts: Facts) -> str:
    """Why there is no range for an animal, as a sentence; empty where its weights would do."""
    if animal.species.is_bird:
        return "Nothing is published for birds, so no range is given."
    part = Part(animal, facts)
    weighed = [_newest_mg(part, piece) is not None for piece in facts.body]
    if not any(weighed):
        return "Nothing was weighed that a range could start from."
    if not all(weighed):
        return f"{weighed.count(False)} of {len(weighed)} pieces not weighed: no range is given for a part of it."
    return ""


def _one_basis(part: Part) -> Basis:
    if part.animal.arrived_as in (ArrivedAs.BONELESS, ArrivedAs.TRIM):
        return Basis.BONELESS
    return Basis.QUARTERS if part.animal.arrived_as == ArrivedAs.PIECES else Basis.HANGING


def _newest_mg(part: Part, piece: PieceRow) -> int | None:
    """A piece's weight hanging, or else as received."""
    weight = part.facts.weight(piece, Point.HANGING) or part.facts.weight(piece, Point.RECEIVED)
    return weight.mg if weight else None


def _from_pieces(part: Part, asked: _Asked) -> Estimate | None:
    """Bone-in pieces and boneless bags each on their own basis, by their newest weight."""
    weights: dict[Basis, int] = {}
    for piece in part.facts.body:
        mg = _newest_mg(part, piece)
        if mg is None:
            return None
        basis = Basis.BONELESS if piece.kind == PieceKind.BAG else Basis.QUARTERS
        weights[basis] = weights.get(basis, 0) + mg
    words = {Basis.QUARTERS: "bone-in pieces", Basis.BONELESS: "boneless bags"}
    found = [_from(part, mg, basis, asked, words[basis]) for basis, mg in sorted(weights.items())]
    return Estimate.summed(found) if found else None


def _from(part: Part, weighed_mg: int, basis: Basis | None, asked: _Asked, words: str) -> Estimate:
    point = Point.HANGING if words == "hanging weight" else Point.RECEIVED
    before = part.bags_before(part.weighed_at(point)) if basis is Basis.HANGING else []
    whole = basis not in (Basis.QUARTERS, Basis.BONELESS)
    tenderloins = _Tenderloins.of(part, before)
    hit = _Hit.of(part, basis)
    found = expected_boneless(
        weighed_mg,
        basis,
        asked.constants,
        shot_regions=[region for region in part.animal.regions_hit if region],
        bloodshot_off_weighed_mg=hit.off_mg,
        bloodshot_removed_before_weighing=hit.off_before,
        bloodshot_at_block_mg=hit.block_mg,
        tenderloins_in=tenderloins.inside if whole else 2,
        tenderloins_said=tenderloins.said or not whole,
        tenderloins_bagged_mg=part.bag_mg(before) or 0,
        hung_days=0 if basis is Basis.BONELESS else part.hung_days(asked.now),
        learned=None if basis is Basis.BONELESS else asked.learned,
    )
    made = _estimate(found, weighed_mg, words, basis)
    shares = _present(asked.shares, tenderloins.present) if whole else {}
    return replace(made, parts=part_shares(found, shares)) if shares else made


@dataclass(frozen=True, slots=True)
class _Tenderloins:
    """How many were in the weighed animal, how many there are at all, and whether somebody said so."""

    inside: int
    present: int
    said: bool

    @classmethod
    def of(cls, part: Part, bagged_before: Sequence[PieceRow]) -> _Tenderloins:
        answers = {"left": part.animal.tenderloin_left, "right": part.animal.tenderloin_right}
        out = {side for bag in bagged_before for side in answers if side in bag.name}
        seen = {side for bag in part.facts.bags for side in answers if side in bag.name}
        gone = {side for side, answer in answers.items() if answer in GONE}
        said = all(answer or side in seen for side, answer in answers.items())
        return cls(2 - len(gone | out), 2 - len(gone - seen), said)


@dataclass(frozen=True, slots=True)
class _Hit:
    """Bloodshot in milligrams (None: not weighed), and whether that of the skinning was off before the weight."""

    off_mg: int | None
    off_before: bool
    block_mg: int | None

    @classmethod
    def of(cls, part: Part, basis: Basis | None) -> _Hit:
        at_skinning = _bloodshot_lines(part.facts, RunKind.SKIN)
        at_block = _bloodshot_lines(part.facts, RunKind.CUT)
        before = bool(at_skinning) and basis is Basis.HANGING and not came_skinned(part.animal)
        return cls(all_weighed(at_skinning), before, all_weighed(at_block))


def _bloodshot_lines(facts: Facts, kind: str) -> list[LineSum]:
    return [line for line in facts.sums(kind, Direction.WASTE) if line.what == "bloodshot"]


def _present(shares: Mapping[str, Share], tenderloins: int) -> dict[str, Share]:
    """The parts' shares with as many tenderloins as there are: a half of their share for one, none for none."""
    found = dict(shares)
    both = found.get(TENDERLOIN)
    if both is not None and tenderloins < 2:
        halves = [bp * tenderloins // 2 for bp in both.bounds_bp]
        found[TENDERLOIN] = Share(halves[0], halves[1], halves[2], both.source)
        if not tenderloins:
            del found[TENDERLOIN]
    return found


def _estimate(found: Expected, weighed_mg: int, words: str, basis: Basis | None) -> Estimate:
    return Estimate(
        found.low_mg,
        found.likely_mg,
        found.high_mg,
        weighed_mg,
        words,
        found.coverage,
        found.steps,
        found.notes,
        basis.value if basis else NOT_SAID,
    )
