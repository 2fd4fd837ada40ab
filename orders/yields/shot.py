"""What a shot costs: bloodshot that was cut off, before the weight that counts or after it, and what is found later.

All of it is reckoned in meat. A loss stated of the lean is that share of it. A loss stated of the carcass, and
bloodshot that was weighed, are a piece of the carcass, of which `bloodshot_meat` is meat and the rest bone, fat and
hair side: since the bone mostly stays, a pound of bloodshot costs more meat than a pound of carcass holds. Nothing is
counted twice: what came off before the weight is not taken off it again, and what a published lean share already
contains is divided out of it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from orders.yields.constants import Constants, LeanShare, Loss, ShotBase, ShotLoss
from orders.yields.spread import SURE, Bounds, varied

# More than this share of an animal's meat is never taken to be lost to shots.
MOST = Fraction(6, 10)
NOTHING = Fraction(0)


@dataclass(frozen=True, slots=True)
class Hit:
    """Where it was hit and what was cut off for it, in milligrams; None: not weighed.

    `off_mg`: cut off at skinning, before the weight that counts when `off_before`. `block_mg`: at the block.
    """

    regions: tuple[str, ...] = ()
    off_mg: int | None = None
    off_before: bool = False
    block_mg: int | None = None

    @property
    def weighed(self) -> bool:
        """Whether what was cut off was weighed, at skinning or at the block."""
        return self.off_mg is not None or self.block_mg is not None

    @property
    def known(self) -> bool:
        """Whether it is known what was cut off, or at least that it was off before the weight."""
        return self.off_before or self.weighed

    @property
    def words(self) -> str:
        return ", ".join(self.regions) or "average of all shots"


def at_skinning(
    hit: Hit, weight_mg: Fraction, lean: LeanShare, constants: Constants
) -> tuple[str, Bounds] | None:
    """What bloodshot cut off at skinning means for the meat in `weight_mg`: the step's name and the meat that is left.

    None where nothing was cut off there, or nobody said so.
    """
    share, meat = lean.share.bounds[1], constants.bloodshot_meat.bounds
    if hit.off_before and hit.off_mg is None:
        return "bloodshot off before this weight, not weighed", _off_before_unweighed(hit, lean, constants)
    if not hit.off_mg or not weight_mg:
        return None
    off = hit.off_mg / weight_mg
    if hit.off_before:
        # The bone of what was cut off is still in this weight, its meat is not.
        return "bloodshot off before this weight, weighed", varied(
            lambda of_meat: max(NOTHING, 1 + off - of_meat * off / share), meat
        )
    return "bloodshot cut off at skinning, weighed", varied(
        lambda of_meat: max(NOTHING, 1 - of_meat * off / share), meat
    )


def _off_before_unweighed(hit: Hit, lean: LeanShare, constants: Constants) -> Bounds:
    """As though the usual loss of such a hit, less what is found at the block, had come off before the weight."""
    share = lean.share.bounds[1]

    def left(loss: Fraction, times: Fraction, of_meat: Fraction, found_later: Fraction) -> Fraction:
        gone = _of_lean(constants.shot_loss, share, loss, times, of_meat) * (1 - found_later)
        return (1 - gone) / (1 - gone * share / of_meat)

    found = varied(left, *_causes(hit, constants), constants.remaining_shot.bounds)
    return _no_more_than(Fraction(1), found)


def at_block(hit: Hit, meat_mg: Fraction, lean: LeanShare, constants: Constants) -> tuple[str, Bounds] | None:
    """What the shot still costs at the block, where `meat_mg` of meat is expected; None where it costs nothing more."""
    share = lean.share.bounds[1]
    inside = _inside(lean, constants)
    causes = _causes(hit, constants)
    if hit.block_mg is not None:
        if not meat_mg:
            return None
        off = hit.block_mg / meat_mg
        name = "bloodshot cut off at the block, weighed"
        found = varied(
            lambda loss, times, of_meat: max(NOTHING, 1 - of_meat * off) / inside(loss, of_meat), *causes
        )
    elif hit.off_mg is not None:
        # What was cut off tells how bad this shot was, better than the average of such a hit.
        name = ", ".join(["remaining shot loss", *hit.regions])
        off = Fraction(hit.off_mg) / meat_mg if meat_mg else NOTHING

        def still(loss: Fraction, of_meat: Fraction, later: Fraction) -> Fraction:
            return max(NOTHING, 1 - of_meat * off * later / (1 - later)) / inside(loss, of_meat)

        found = varied(still, causes[0], causes[2], constants.remaining_shot.bounds)
    elif hit.off_before:
        name = f"remaining shot loss, {hit.words}"

        def remaining(loss: Fraction, times: Fraction, of_meat: Fraction, later: Fraction) -> Fraction:
            all_of_it = _of_lean(constants.shot_loss, share, loss, times, of_meat)
            return (1 - later * all_of_it / (1 - (1 - later) * all_of_it)) / inside(loss, of_meat)

        found = varied(remaining, *causes, constants.remaining_shot.bounds)
    else:
        name = f"shot loss, {hit.words}"
        found = varied(
            lambda loss, times, of_meat: (
                (1 - _of_lean(constants.shot_loss, share, loss, times, of_meat)) / inside(loss, of_meat)
            ),
            *causes,
        )
    if Loss.SHOT in lean.contains:
        name = f"{name}, against the average that the lean share contains"
    found = _no_more_than(1 / inside(causes[0][1], causes[2][1]), found)
    return None if found == SURE else (name, found)


def _no_more_than(most: Fraction, bounds: Bounds) -> Bounds:
    """A shot never adds meat, however far apart its causes may be."""
    return bounds[0], bounds[1], min(most, bounds[2])


def _inside(lean: LeanShare, constants: Constants) -> Callable[[Fraction, Fraction], Fraction]:
    """The meat that is left in a published lean share after the average shot loss that it contains; all without."""
    if lean.shot_base is None:
        return lambda loss, of_meat: Fraction(1)
    stated = ShotLoss(constants.shot_loss.share, lean.shot_base)
    share = lean.share.bounds[1]
    return lambda loss, of_meat: 1 - _of_lean(stated, share, loss, Fraction(1), of_meat)


def _causes(hit: Hit, constants: Constants) -> tuple[Bounds, Bounds, Bounds]:
    """The average loss, how often it costs where it was hit, and the meat in bloodshot."""
    return constants.shot_loss.share.bounds, _times(hit, constants), constants.bloodshot_meat.bounds


def _times(hit: Hit, constants: Constants) -> Bounds:
    """How often the average shot loss these regions cost together; once where nobody noted any."""
    if not hit.regions:
        return SURE
    each = [constants.regions[region].bounds for region in hit.regions]
    low, likely, high = (sum(values, NOTHING) for values in zip(*each, strict=True))
    return low, likely, high


def _of_lean(shot: ShotLoss, share: Fraction, loss: Fraction, times: Fraction, of_meat: Fraction) -> Fraction:
    """A shot loss as a share of the lean, whatever it was stated of."""
    stated = loss * times
    return min(MOST, stated if shot.base is ShotBase.LEAN else stated * of_meat / share)
