"""How much boneless meat to expect from what was weighed: a range, with every step and its source.

Losses are applied in the order they happen: dressing and skinning, bloodshot cut off at skinning, chill and drying,
what the shot still costs at the block, bone and fat. A published lean share already contains some of them (its
animals had hung 14 days, say): only the difference to this animal is applied.

A factor is known as low, likely and high. Likely values multiply. Low and high are the 5th and 95th percentile, each
factor's and the result's (`COVERAGE`), and combine on logarithms (`spread`). A factor says how much of the meat is
left; the weight beside a step is what would lie on the scale. Weights are whole milligrams in and out; shares are
basis points (1/10,000).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Protocol

from orders.yields import words
from orders.yields.constants import COVERAGE, REGIONS, WHOLE_BP, Basis, Constants, LeanShare, Loss, Share
from orders.yields.shot import Hit, at_block, at_skinning
from orders.yields.spread import SURE, Bounds, varied, widest

# What a weight may be of when nobody said how the animal was dressed, from the least meat to the most.
UNKNOWN = (Basis.LIVE, Basis.DRESSED_FEET_ON, Basis.DRESSED_FEET_OFF)


class Predictive(Protocol):
    """What the shop's own animals say of the next one: ln(packed / likely by the published figures)."""

    @property
    def location(self) -> float: ...

    def interval(self, coverage: float) -> tuple[float, float]: ...


@dataclass(frozen=True, slots=True)
class ExpectedStep:
    """One factor of the chain, in basis points of the meat before it, and the likely weight on the scale after it."""

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


def expected_boneless(
    weighed_mg: int,
    basis: Basis | None,
    constants: Constants,
    *,
    shot_regions: Iterable[str] = (),
    bloodshot_off_weighed_mg: int | None = None,
    bloodshot_removed_before_weighing: bool = False,
    bloodshot_at_block_mg: int | None = None,
    tenderloins_in: int = 2,
    tenderloins_said: bool = True,
    tenderloins_bagged_mg: int = 0,
    hung_days: int = 0,
    learned: Predictive | None = None,
) -> Expected:
    """The range of boneless meat from one animal, both tenderloins included where they are there.

    `weighed_mg` was on the scale in the state `basis` says; None where nobody said how the animal was dressed, and
    then the range spans every state it may have been in. `bloodshot_off_weighed_mg` was cut off at skinning and
    `bloodshot_at_block_mg` at the block (None: not weighed); `bloodshot_removed_before_weighing` says that the first
    was off before the weight was taken. `tenderloins_in` counts those inside the weighed animal, for certain only
    when `tenderloins_said`; what was bagged before it is added as weighed. `hung_days` are the days of hanging
    between this weighing and cutting. `learned` replaces the published spread from the skinned carcass on.
    Raises ValueError for weights, counts or regions that cannot be.
    """
    facts = _Facts(
        Hit(
            tuple(dict.fromkeys(shot_regions)),
            bloodshot_off_weighed_mg,
            bloodshot_removed_before_weighing,
            bloodshot_at_block_mg,
        ),
        tenderloins_in,
        tenderloins_said,
        tenderloins_bagged_mg,
        hung_days,
    )
    facts.check(weighed_mg)
    if basis is not None:
        return _of_basis(weighed_mg, basis, constants, facts, learned)
    found = [_of_basis(weighed_mg, each, constants, facts, learned) for each in UNKNOWN]
    middle = found[UNKNOWN.index(Basis.DRESSED_FEET_ON)]
    return Expected(
        low_mg=min(each.low_mg for each in found),
        likely_mg=middle.likely_mg,
        high_mg=max(each.high_mg for each in found),
        coverage=middle.coverage,
        steps=middle.steps,
        notes=(words.BASIS_UNKNOWN, *middle.notes[1:]),
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
    low, middle, high = (Fraction(mg) for mg in (expected.low_mg, expected.likely_mg, expected.high_mg))
    found = {}
    for part, share in shares.items():
        ratios = widest([(low, middle, high), share.bounds])
        found[part] = ExpectedPart(
            min(likely[part], round(likely[part] * ratios[0])),
            likely[part],
            max(likely[part], round(likely[part] * ratios[2])),
        )
    return found


@dataclass(frozen=True, slots=True)
class _Facts:
    """What is known of the animal besides its weight."""

    hit: Hit
    tenderloins_in: int
    tenderloins_said: bool
    bagged_mg: int
    hung_days: int

    def check(self, weighed_mg: int) -> None:
        if min(weighed_mg, self.hit.off_mg or 0, self.hit.block_mg or 0, self.bagged_mg) < 0:
            raise ValueError("A weight cannot be negative.")
        if self.tenderloins_in not in (0, 1, 2):
            raise ValueError("An animal has two tenderloins.")
        if self.hung_days < 0:
            raise ValueError("Days of hanging cannot be negative.")
        if unknown := [region for region in self.hit.regions if region not in REGIONS]:
            raise ValueError(f"Unknown region of a hit: {', '.join(unknown)}.")


class _Chain:
    """The steps taken so far. `meat_mg` times the lean share is the likely meat; `weight_mg` would be on the scale."""

    def __init__(self, weighed_mg: int) -> None:
        self.meat_mg = self.weight_mg = Fraction(weighed_mg)
        self.bounds: list[Bounds] = []
        self.steps: list[ExpectedStep] = []
        self.lent: list[tuple[str, Share]] = []

    def take(self, name: str, bounds: Bounds, source: str, weight_mg: Fraction | None = None) -> None:
        """One more factor; `weight_mg` is left on the scale, by default what the factor leaves."""
        before = self.meat_mg
        self.meat_mg *= bounds[1]
        if weight_mg is None:
            self.weight_mg = self.weight_mg * self.meat_mg / before if before else Fraction(0)
        else:
            self.weight_mg = max(Fraction(0), weight_mg)
        low, likely, high = (round(value * WHOLE_BP) for value in bounds)
        self.bounds.append(bounds)
        self.steps.append(ExpectedStep(name, low, likely, high, round(self.weight_mg), source))

    def take_share(self, name: str, what: str, share: Share, *, boned: bool = False) -> None:
        """A published share; once `boned`, only the meat is left on the scale."""
        left = self.meat_mg * share.bounds[1] if boned else None
        self.take(name, share.bounds, share.source, left)
        self.lent.append((what, share))


def _of_basis(
    weighed_mg: int, basis: Basis, constants: Constants, facts: _Facts, learned: Predictive | None
) -> Expected:
    chain = _Chain(weighed_mg)
    _to_bone_in(chain, basis, constants)
    before = len(chain.bounds)
    _to_boneless(chain, basis, constants, facts)
    low, likely, high = _range(chain, before, learned)
    return Expected(
        low_mg=low + facts.bagged_mg,
        likely_mg=likely + facts.bagged_mg,
        high_mg=high + facts.bagged_mg,
        coverage=words.coverage(basis, facts.tenderloins_in, facts.tenderloins_said, facts.bagged_mg),
        steps=tuple(chain.steps),
        notes=(
            *words.notes(basis, facts.hit, facts.tenderloins_in, facts.tenderloins_said, facts.bagged_mg),
            *words.lent(constants.species, chain.lent),
        ),
    )


def _range(chain: _Chain, before: int, learned: Predictive | None) -> tuple[int, int, int]:
    """Low, likely and high in milligrams. What was learned stands for every factor from the skinned carcass on."""
    if learned is None:
        low, _, high = widest(chain.bounds)
    else:
        down, up = learned.interval(COVERAGE)
        low, _, high = widest(
            chain.bounds[:before], more_down=learned.location - down, more_up=up - learned.location
        )
        ratios = [Fraction(math.exp(value)) for value in (down, learned.location, up)]
        chain.take(words.LEARNED, (ratios[0], ratios[1], ratios[2]), words.LEARNED_SOURCE)
    middle = round(chain.meat_mg)
    return min(middle, round(chain.meat_mg * low)), middle, max(middle, round(chain.meat_mg * high))


def _to_bone_in(chain: _Chain, basis: Basis, constants: Constants) -> None:
    """From what was weighed to the skinned carcass, head off; nothing when that, or pieces, was weighed."""
    dressed = "field-dressed, feet on"
    skinned = "skinned, head off"
    if basis is Basis.LIVE:
        chain.take_share(dressed, "field-dressed share", constants.dressed_on_of_live)
    if basis in (Basis.LIVE, Basis.DRESSED_FEET_ON):
        chain.take_share(skinned, "skinned share", constants.hanging_of_dressed_on)
    if basis is Basis.DRESSED_FEET_OFF:
        chain.take_share(skinned, "skinned share", constants.hanging_of_dressed_off)


def _to_boneless(chain: _Chain, basis: Basis, constants: Constants, facts: _Facts) -> None:
    """From the skinned carcass, or the pieces, to boneless meat."""
    if basis is Basis.BONELESS:
        chain.take_share("rind, sinew and dirt off", "cleaning loss", constants.boneless_kept)
        return
    lean = constants.lean_of_quarters if basis is Basis.QUARTERS else constants.lean_of_hanging
    _bloodshot_at_skinning(chain, facts.hit, lean, constants)
    _drying(chain, lean, constants, facts.hung_days)
    _shot_at_block(chain, facts.hit, lean, constants)
    chain.take_share("bone, fat and silverskin off", "lean share", lean.share, boned=True)
    if basis is Basis.QUARTERS:
        return
    if facts.tenderloins_in < 2:
        _without_tenderloins(chain, constants.tenderloins, 2 - facts.tenderloins_in)
    elif not facts.tenderloins_said:
        low = 1 - constants.tenderloins.bounds[1]
        bounds = (low, Fraction(1), Fraction(1))
        chain.take("tenderloins, nobody said whether they were in", bounds, constants.tenderloins.source)


def _bloodshot_at_skinning(chain: _Chain, hit: Hit, lean: LeanShare, constants: Constants) -> None:
    found = at_skinning(hit, chain.weight_mg, lean, constants)
    if found is not None:
        gone = 0 if hit.off_before else hit.off_mg or 0
        source = "weighed" if hit.off_mg else constants.shot_loss.share.source
        chain.take(found[0], found[1], source, chain.weight_mg - gone)


def _shot_at_block(chain: _Chain, hit: Hit, lean: LeanShare, constants: Constants) -> None:
    share = lean.share.bounds[1]
    found = at_block(hit, chain.meat_mg * share, lean, constants)
    if found is None:
        return
    name, bounds = found
    cut: int | Fraction | None = hit.block_mg
    if cut is None:
        # So much of it is cut off bone-in that this much of the meat goes with it.
        lost = max(Fraction(0), 1 - bounds[1])
        cut = chain.meat_mg * share * lost / constants.bloodshot_meat.bounds[1]
    source = "weighed" if hit.block_mg is not None else _shot_source(hit, constants)
    chain.take(name, bounds, source, chain.weight_mg - cut)
    if not hit.weighed:
        chain.lent.append(("shot loss", constants.shot_loss.share))


def _shot_source(hit: Hit, constants: Constants) -> str:
    if hit.off_mg is not None:
        return constants.remaining_shot.source
    source = f"{constants.shot_loss.share.source}; a share of the {constants.shot_loss.base}"
    if not hit.regions:
        return source
    own = any(constants.regions[region].own for region in hit.regions)
    return f"{source}; {words.OWN_REGION if own else words.BY_REGION}"


def _drying(chain: _Chain, lean: LeanShare, constants: Constants, hung_days: int) -> None:
    """Drying beyond, or short of, what the lean share contains."""
    per_day, chill = constants.drying_per_day.bounds, constants.first_chill.bounds
    chilled_inside = Loss.CHILL in lean.contains
    found = _dried(
        per_day, chill, constants.drying_meat.bounds, lean.share, hung_days, lean.aged_days, chilled_inside
    )
    if found == SURE:
        return
    name = f"drying: days hung {hung_days}, in the lean share {lean.aged_days}"
    left = _left(per_day[1], chill[1], hung_days, hung_days > 0)
    chain.take(name, found, constants.drying_per_day.source, chain.weight_mg * left)


# The animals of a season have hung for a few numbers of days.
@lru_cache(maxsize=1024)
def _dried(
    per_day: Bounds,
    chill: Bounds,
    meat: Bounds,
    lean: Share,
    hung_days: int,
    aged_days: int,
    chilled_inside: bool,
) -> Bounds:
    """What is left of the meat against a lean share that contains `aged_days` of drying, and perhaps the first chill.

    The first chill counts where only one side had it. Water leaves the meat and not the bone: of what the carcass
    loses, `meat` is meat.
    """
    share = lean.bounds[1]

    def of_meat(a_day: Fraction, first: Fraction, part: Fraction) -> Fraction:
        here = _left(a_day, first, hung_days, hung_days > 0)
        return max(Fraction(0), 1 + part * (here - _left(a_day, first, aged_days, chilled_inside)) / share)

    return varied(of_meat, per_day, chill, meat)


def _left(per_day: Fraction, chill: Fraction, days: int, chilled: bool) -> Fraction:
    """What is left of a carcass after so many days."""
    return (1 - per_day) ** days * (1 - chill if chilled else 1)


def _without_tenderloins(chain: _Chain, share: Share, missing: int) -> None:
    """Tenderloins that were not in the weighed animal; `share` is that of both."""
    low, likely, high = (1 - value * missing / 2 for value in reversed(share.bounds))
    name = "both tenderloins were out" if missing == 2 else "one tenderloin was out"
    chain.take(name, (low, likely, high), share.source)
