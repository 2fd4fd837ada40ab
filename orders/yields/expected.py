"""How much boneless meat to expect from what was weighed: a range, with every step and its source.

Losses are applied in the order they happen: dressing and skinning, bloodshot cut off at skinning, chill and
drying, remaining shot loss, bone and fat. A published lean share already contains some of them (its animals had
hung 14 days, say): only the difference to this animal is applied.

A factor is known as low, likely and high. Likely values multiply. Low and high combine on logarithms: the
distance of each factor's bound from its likely value, as a logarithm, is squared, the squares are added and the
root is taken, each side on its own, because independent losses are seldom all bad at once. Weights are whole
milligrams in and out; shares are basis points (1/10,000).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, localcontext
from fractions import Fraction

from orders.yields.constants import (
    BASIS_WORDS,
    REGION_FACTOR,
    WHOLE_BP,
    Basis,
    Constants,
    LeanShare,
    Share,
)

PRECISION = 28
MAX_LOSS = Fraction(6, 10)


@dataclass(frozen=True, slots=True)
class ExpectedStep:
    """One factor of the chain, in basis points of the weight before it, and the likely weight after it."""

    name: str
    low_bp: int
    likely_bp: int
    high_bp: int
    likely_mg: int
    source: str


@dataclass(frozen=True, slots=True)
class Expected:
    """Boneless meat to expect, in milligrams; what it covers, how it was reached, and what to tell the person."""

    low_mg: int
    likely_mg: int
    high_mg: int
    coverage: str
    steps: tuple[ExpectedStep, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ExpectedPart:
    """One part's range, in milligrams. The likely weights of all parts add up to the animal's."""

    low_mg: int
    likely_mg: int
    high_mg: int


@dataclass(frozen=True, slots=True)
class _Factor:
    name: str
    low: Fraction
    likely: Fraction
    high: Fraction
    source: str


def expected_boneless(
    weighed_mg: int,
    basis: Basis,
    constants: Constants,
    *,
    shot_regions: Iterable[str] = (),
    bloodshot_off_weighed_mg: int | None = None,
    bloodshot_removed_before_weighing: bool = False,
    tenderloins_in: int = 2,
    tenderloins_bagged_mg: int = 0,
    hung_days: int = 0,
) -> Expected:
    """The range of boneless meat from one animal, both tenderloins included where they are there.

    `weighed_mg` was on the scale in the state `basis` says. `bloodshot_off_weighed_mg` was cut off after that
    weighing (None: not weighed). `tenderloins_in` counts those inside the weighed animal; what was bagged before it
    is added as weighed. `hung_days` are the days of hanging between this weighing and cutting.
    Raises ValueError for weights, counts or regions that cannot be.
    """
    regions = tuple(dict.fromkeys(shot_regions))
    _check(weighed_mg, bloodshot_off_weighed_mg, tenderloins_in, tenderloins_bagged_mg, hung_days, regions)
    bloodshot_known = bloodshot_removed_before_weighing or bloodshot_off_weighed_mg is not None
    factors = _to_bone_in(basis, constants)
    if bloodshot_off_weighed_mg and not bloodshot_removed_before_weighing and basis is not Basis.BONELESS:
        factors.append(_bloodshot_off(bloodshot_off_weighed_mg, weighed_mg * _product(factors)))
    factors += _to_boneless(basis, constants, regions, bloodshot_known, tenderloins_in, hung_days)
    low, likely, high, steps = _chain(weighed_mg, factors)
    return Expected(
        low_mg=low + tenderloins_bagged_mg,
        likely_mg=likely + tenderloins_bagged_mg,
        high_mg=high + tenderloins_bagged_mg,
        coverage=_coverage(basis, tenderloins_in, tenderloins_bagged_mg),
        steps=steps,
        notes=_notes(basis, regions, bloodshot_known, tenderloins_in, tenderloins_bagged_mg),
    )


def part_shares(expected: Expected, shares: Mapping[str, Share]) -> dict[str, ExpectedPart]:
    """The expected range by part, for the parts given; shares are scaled to the whole of these parts.

    The likely weights add up to the animal's exactly (largest remainders). Each part's range combines the animal's
    with its own share's, as in the chain. Raises ValueError without any part that has a share.
    """
    total_bp = sum(share.likely_bp for share in shares.values())
    if total_bp == 0:
        raise ValueError("At least one part needs a share.")
    exact = {part: Fraction(expected.likely_mg * share.likely_bp, total_bp) for part, share in shares.items()}
    likely = {part: int(value) for part, value in exact.items()}
    order = sorted(exact, key=lambda part: exact[part] - likely[part], reverse=True)
    for part in order[: expected.likely_mg - sum(likely.values())]:
        likely[part] += 1
    whole = _around(expected.low_mg, expected.likely_mg, expected.high_mg)
    found = {}
    for part, share in shares.items():
        low, high = _spread([whole, _around(*share.bounds)])
        found[part] = ExpectedPart(
            min(likely[part], round(likely[part] * low)),
            likely[part],
            max(likely[part], round(likely[part] * high)),
        )
    return found


def _check(
    weighed_mg: int,
    off_mg: int | None,
    tenderloins: int,
    bagged_mg: int,
    hung_days: int,
    regions: tuple[str, ...],
) -> None:
    if weighed_mg < 0 or (off_mg or 0) < 0 or bagged_mg < 0:
        raise ValueError("A weight cannot be negative.")
    if tenderloins not in (0, 1, 2):
        raise ValueError("An animal has two tenderloins.")
    if hung_days < 0:
        raise ValueError("Days of hanging cannot be negative.")
    if unknown := [region for region in regions if region not in REGION_FACTOR]:
        raise ValueError(f"Unknown region of a hit: {', '.join(unknown)}.")


def _to_bone_in(basis: Basis, constants: Constants) -> list[_Factor]:
    """From what was weighed to the skinned carcass, head off; nothing when that, or pieces, was weighed."""
    skinned = "skinned, head off"
    if basis is Basis.LIVE:
        return [
            _kept("field-dressed, feet on", constants.dressed_on_of_live),
            _kept(skinned, constants.hanging_of_dressed_on),
        ]
    if basis is Basis.DRESSED_FEET_ON:
        return [_kept(skinned, constants.hanging_of_dressed_on)]
    if basis is Basis.DRESSED_FEET_OFF:
        return [_kept(skinned, constants.hanging_of_dressed_off)]
    return []


def _to_boneless(
    basis: Basis,
    constants: Constants,
    regions: tuple[str, ...],
    bloodshot_known: bool,
    tenderloins_in: int,
    hung_days: int,
) -> list[_Factor]:
    """From the skinned carcass, or the pieces, to boneless meat."""
    if basis is Basis.BONELESS:
        return [_kept("rind, sinew and dirt off", constants.boneless_kept)]
    lean = constants.lean_of_quarters if basis is Basis.QUARTERS else constants.lean_of_hanging
    factors = [
        *_drying(lean, constants, hung_days),
        *_shot(lean, constants, regions, bloodshot_known),
        _kept("bone, fat and silverskin off", lean.share),
    ]
    if basis is not Basis.QUARTERS and tenderloins_in < 2:
        factors.append(_missing_tenderloins(constants.tenderloins, 2 - tenderloins_in))
    return factors


def _bloodshot_off(off_mg: int, bone_in_mg: Fraction) -> _Factor:
    """What was weighed as cut off, as a share of the likely carcass: it was weighed, so it adds no spread."""
    left = max(Fraction(0), 1 - off_mg / bone_in_mg) if bone_in_mg else Fraction(0)
    return _Factor("bloodshot cut off, weighed", left, left, left, "weighed")


def _kept(name: str, share: Share) -> _Factor:
    low, likely, high = (Fraction(bp, WHOLE_BP) for bp in share.bounds)
    return _Factor(name, low, likely, high, share.source)


def _drying(lean: LeanShare, constants: Constants, hung_days: int) -> list[_Factor]:
    """Drying beyond, or short of, what the lean share contains. The first chill counts where only one side had it."""
    days = hung_days - lean.aged_days
    chills = bool(hung_days) - bool(lean.aged_days)
    if days == 0 and chills == 0:
        return []
    per_day, chill = constants.drying_per_day.bounds, constants.first_chill.bounds
    values = sorted(
        (1 - Fraction(day, WHOLE_BP)) ** days * (1 - Fraction(first, WHOLE_BP)) ** chills
        for day, first in zip(per_day, chill, strict=True)
    )
    name = f"drying: days hung {hung_days}, in the lean share {lean.aged_days}"
    return [_Factor(name, values[0], values[1], values[2], constants.drying_per_day.source)]


def _shot(
    lean: LeanShare, constants: Constants, regions: tuple[str, ...], bloodshot_known: bool
) -> list[_Factor]:
    """Meat unfit through the shot: all of it, or what is still found after the bloodshot was cut off."""
    if lean.contains_shot_loss:
        return []
    region = sum((REGION_FACTOR[region] for region in regions), Fraction(0)) if regions else Fraction(1)
    losses = [Fraction(bp, WHOLE_BP) * region for bp in constants.shot_loss.bounds]
    name = f"shot loss, {', '.join(regions)}" if regions else "shot loss, average of all shots"
    if bloodshot_known:
        still = [Fraction(bp, WHOLE_BP) for bp in constants.remaining_shot.bounds]
        losses = [loss * part for loss, part in zip(losses, still, strict=True)]
        name = f"remaining {name}"
    low, likely, high = (1 - min(loss, MAX_LOSS) for loss in reversed(losses))
    return [_Factor(name, low, likely, high, constants.shot_loss.source)]


def _missing_tenderloins(tenderloins: Share, missing: int) -> _Factor:
    low, likely, high = (1 - Fraction(bp * missing, 2 * WHOLE_BP) for bp in reversed(tenderloins.bounds))
    name = "both tenderloins were out" if missing == 2 else "one tenderloin was out"
    return _Factor(name, low, likely, high, tenderloins.source)


def _around(low: int, likely: int, high: int) -> _Factor:
    """A range as a factor of its likely value."""
    of = likely or 1
    return _Factor("", Fraction(low, of), Fraction(likely, of), Fraction(high, of), "")


def _chain(weighed_mg: int, factors: list[_Factor]) -> tuple[int, int, int, tuple[ExpectedStep, ...]]:
    steps, likely = [], Fraction(weighed_mg)
    for factor in factors:
        likely *= factor.likely
        low_bp, likely_bp, high_bp = (round(v * WHOLE_BP) for v in (factor.low, factor.likely, factor.high))
        steps.append(ExpectedStep(factor.name, low_bp, likely_bp, high_bp, round(likely), factor.source))
    low, high = _spread(factors)
    middle = round(likely)
    return min(middle, round(likely * low)), middle, max(middle, round(likely * high)), tuple(steps)


def _spread(factors: Sequence[_Factor]) -> tuple[Fraction, Fraction]:
    """Low and high of the product as ratios to its likely value: root of the summed squares of logarithms."""
    with localcontext() as context:
        context.prec = PRECISION
        down = up = Decimal(0)
        zero = False
        for factor in factors:
            if not factor.likely:
                continue
            zero = zero or factor.low == 0
            down += _log(factor.likely / factor.low) ** 2 if factor.low else 0
            up += _log(factor.high / factor.likely) ** 2
        low = Fraction(0) if zero else Fraction((-down.sqrt()).exp())
        return low, Fraction(up.sqrt().exp())


def _log(ratio: Fraction) -> Decimal:
    return (Decimal(ratio.numerator) / Decimal(ratio.denominator)).ln()


def _product(factors: Sequence[_Factor]) -> Fraction:
    product = Fraction(1)
    for factor in factors:
        product *= factor.likely
    return product


def _coverage(basis: Basis, tenderloins_in: int, bagged_mg: int) -> str:
    if basis is Basis.QUARTERS:
        return "boneless meat of the bone-in pieces weighed, no organs, no added fat"
    if basis is Basis.BONELESS:
        return "the boneless meat weighed, after cleaning up, no added fat"
    inside = {0: "without tenderloins", 1: "with one tenderloin", 2: "with both tenderloins"}[tenderloins_in]
    if bagged_mg:
        inside = f"{inside} inside, bagged tenderloin added as weighed"
    return f"boneless meat of the animal {inside}, no organs, no added fat"


def _notes(
    basis: Basis, regions: tuple[str, ...], bloodshot_known: bool, tenderloins_in: int, bagged_mg: int
) -> tuple[str, ...]:
    notes = [f"Worked from the weight: {BASIS_WORDS[basis]}."]
    if basis is Basis.LIVE:
        notes.append("Gut fill varies: from a live weight the range is wide. Weigh it hanging.")
    if basis is not Basis.BONELESS:
        if not bloodshot_known:
            notes.append("The bloodshot was not weighed: the average loss of the hit is taken.")
        if not regions:
            notes.append("Nobody noted where it was hit: the average of all shots is taken.")
    whole = basis not in (Basis.QUARTERS, Basis.BONELESS)
    if whole and tenderloins_in < 2 and not bagged_mg:
        notes.append("Tenderloins that were not in the weighed animal are not in this range.")
    return tuple(notes)
