"""Published rows against what the program makes of the same inputs: a line each.

`shows` says what a line can show. PREDICTS: constants taken from other animals, sources or species predict this
figure. CHAIN: the source's own constant times the weight, so only that our chain of steps comes to the same.
BALANCE: what was weighed in one source adds up in our account; no constant of ours is in it.

A figure is met by our likely value, within its rounding or its stated spread (`spread`); or, where the source states
neither and its animals are not those of our constants, our 90 % range has to hold it (`held`). For a species that the
catalog does not have the widened range of the deer family is used, as the program does.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from orders.yields.constants import WHOLE_BP, Basis, Constants, LeanShare, Share, ShotLoss
from orders.yields.expected import expected_boneless, part_shares
from orders.yields.figures import Figures
from orders.yields.spans import Flow, FlowKind, Point, own_mg, spans, where_it_went
from shop.weights import MG_PER_UNIT, pounds
from tests.published.sources import constants_of

KG = int(MG_PER_UNIT["kg"])
LB = pounds(1)
NONE = Share(0, 0, 0)
ALL = Share(WHOLE_BP, WHOLE_BP, WHOLE_BP)
NO_SHOT = ShotLoss(NONE)
AGED_IN_BULLETIN = 14
PREDICTS, CHAIN, BALANCE = "predicts", "chain", "balance"
# Low, likely and high of ours, in the unit of the figure.
Ours = tuple[float, float, float]


@dataclass(frozen=True)
class Line:
    """`printed`: numbers that have to stand in the row. `low` to `high`: the figure with its rounding or spread."""

    row: str
    what: str
    printed: str
    run: Callable[[Figures], Ours]
    low: float
    high: float
    shows: str = PREDICTS
    held: bool = False


def spread(
    row: str,
    what: str,
    printed: str,
    run: Callable[[Figures], Ours],
    between: tuple[float, float],
    shows: str = PREDICTS,
) -> Line:
    """The figure has a rounding or a spread: our likely value lies in it."""
    return Line(row, what, printed, run, *between, shows)


def held(row: str, what: str, printed: str, run: Callable[[Figures], Ours], figure: float) -> Line:
    """The figure has neither: our range holds it."""
    return Line(row, what, printed, run, figure, figure, held=True)


def clean(constants: Constants) -> Constants:
    """For an animal without any shot loss, as those of a bulletin or a dissection."""
    return replace(constants, shot_loss=NO_SHOT)


def carcass(constants: Constants) -> Constants:
    """As far as the skinned carcass only: nothing is boned, shot or dried."""
    return replace(
        constants, lean_of_hanging=LeanShare(ALL), shot_loss=NO_SHOT, first_chill=NONE, drying_per_day=NONE
    )


def dressed(constants: Constants) -> Constants:
    """As far as field-dressed, feet on, only."""
    return replace(carcass(constants), hanging_of_dressed_on=ALL)


def boneless(
    species: str,
    weighed: float,
    basis: Basis,
    *,
    unit: int = LB,
    only: Callable[[Constants], Constants] = clean,
    animal_class: str = "",
    hung_days: int = 0,
) -> Callable[[Figures], Ours]:
    """What the program expects of a weight, in the weight's unit."""

    def run(figures: Figures) -> Ours:
        constants = only(constants_of(figures, species, animal_class))
        found = expected_boneless(round(weighed * unit), basis, constants, hung_days=hung_days)
        return found.low_mg / unit, found.likely_mg / unit, found.high_mg / unit

    return run


def live_for(species: str, dressed_lb: float, animal_class: str = "") -> Callable[[Figures], Ours]:
    """The live weight to which a dressed one belongs."""

    def run(figures: Figures) -> Ours:
        of_100 = boneless(species, 100, Basis.LIVE, only=dressed, animal_class=animal_class)(figures)
        low, likely, high = (100 * dressed_lb / share for share in reversed(of_100))
        return low, likely, high

    return run


def carcass_of(species: str, live: float) -> Callable[[Figures], Ours]:
    """The skinned carcass of a live weight."""
    return boneless(species, live, Basis.LIVE, unit=KG, only=carcass)


def _exactly(value: float) -> Ours:
    return value, value, value


def left_over(whole: float, end: float, taken: Sequence[float], unit: int = KG) -> Callable[[Figures], Ours]:
    """What our account does not find between two weighings, with these takings in between."""

    def run(figures: Figures) -> Ours:
        points = [Point("whole", "received", round(whole * unit)), Point("end", "packed", round(end * unit))]
        flows = [Flow(FlowKind.OFF, f"taking {n}", round(each * unit)) for n, each in enumerate(taken)]
        (span,) = spans(points, [flows])
        return _exactly(span.remainder_mg / unit)

    return run


def share_lost(whole: float, end: float) -> Callable[[Figures], Ours]:
    def run(figures: Figures) -> Ours:
        return _exactly(100 * left_over(whole, end, [])(figures)[1] / whole)

    return run


def all_told(parts: Sequence[float]) -> Callable[[Figures], Ours]:
    """All rows of the account together."""

    def run(figures: Figures) -> Ours:
        whole, end = (
            Point("whole", "received", round(16.0 * KG)),
            Point("end", "packed", round(parts[-1] * KG)),
        )
        flows = [Flow(FlowKind.OFF, f"taking {n}", round(each * KG)) for n, each in enumerate(parts[:-1])]
        return _exactly(sum(row.mg or 0 for row in where_it_went(spans([whole, end], [flows]))) / KG)

    return run


def sausage(figures: Figures) -> Ours:
    pork = [Flow(FlowKind.ADDED, "pork lean", 5 * LB), Flow(FlowKind.ADDED, "pork fat", 5 * LB)]
    mine = own_mg(spans([Point("grind trim", "lug", 15 * LB), Point("mixed", "grind_out", 25 * LB)], [pork]))
    assert mine is not None
    return _exactly(mine / LB)


def fat_of_sausage(figures: Figures) -> Ours:
    pork = [Flow(FlowKind.ADDED, "pork lean", 5 * LB), Flow(FlowKind.ADDED, "pork fat", 5 * LB)]
    (span,) = spans([Point("grind trim", "lug", 15 * LB), Point("mixed", "grind_out", 25 * LB)], [pork])
    return _exactly(100 * (span.added[1].mg or 0) / span.end_mg)


LEG = ("top-round", "bottom-round", "eye-of-round", "sirloin-tip", "sirloin-butt", "tri-tip", "heel")


def leg(figures: Figures) -> Ours:
    """The leg's part of the boneless meat, half of the shanks with it, in percent."""
    split = figures.parts_of(0)
    halves = [split["shank"].bounds_bp[end] // 2 for end in range(3)]
    legs = [sum(split[part].bounds_bp[end] for part in LEG) + halves[end] for end in range(3)]
    rest = WHOLE_BP - legs[1]
    lean = replace(clean(constants_of(figures, "elk")), boneless_kept=ALL)
    found = expected_boneless(100 * LB, Basis.BONELESS, lean)
    leg = part_shares(found, {"leg": Share(legs[0], legs[1], legs[2]), "rest": Share(rest, rest, rest)})[
        "leg"
    ]
    return leg.low_mg / LB, leg.likely_mg / LB, leg.high_mg / LB


def shot_of_carcass(figures: Figures) -> Ours:
    """What the program cuts off an average mule deer carcass for the shot, in percent of the carcass."""
    constants = constants_of(figures, "mule-deer")
    cut = []
    for bp in constants.shot_loss.share.bounds_bp:
        shot = replace(constants, shot_loss=replace(constants.shot_loss, share=Share(bp, bp, bp)))
        steps = expected_boneless(100 * LB, Basis.HANGING, shot, hung_days=AGED_IN_BULLETIN).steps
        cut.append(100 - next(step.likely_mg for step in steps if step.name.startswith("shot loss")) / LB)
    return cut[0], cut[1], cut[2]
