"""The facts and the flags of one animal: what to look at, why, and where next, ranked by the pounds at stake.

The pounds of a flag are what is left once everything ordinary has been allowed for: a gap beyond the scales and the
work's own loss, a yield beyond its range. No pound is counted twice: a missing lug is taken out of the gap it makes,
a scale's known error out of both gap and yield, and only what then is left is laid to the trim standard. Shot and
drying that are known lie in the animal's own range already: they are shown as explained, after all that is open.
Weights are whole milligrams. Nothing here knows who did the work.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from shop.weights import pounds

# A known loss smaller than this explains nothing that anybody would ask about. Common practice, no source.
WORTH_SAYING_MG = pounds("0.2")
# Keys of the points that mean something here; any other may be named too.
HANGING, AT_BLOCK, LUGS, PACKED = "hanging", "at_block", "lugs", "packed"


class Kind(StrEnum):
    """What a flag is about."""

    LUG = "missing lug"
    GAP = "gap"
    SCALE = "scale"
    TRIM = "trim standard"
    SHOT = "shot"
    DRIED = "dried"
    ABOVE = "above the range"
    BELOW = "below the range"


class Standing(StrEnum):
    """Where the packed weight stands. Explained: under an ordinary animal's range, within its own."""

    UNKNOWN = "not known"
    WITHIN = "within the range"
    EXPLAINED = "explained"
    BELOW = "below the range"
    ABOVE = "above the range"


@dataclass(frozen=True, slots=True)
class Range:
    """Boneless meat expected, in milligrams. ValueError unless 0 <= low <= likely <= high."""

    low_mg: int
    likely_mg: int
    high_mg: int

    def __post_init__(self) -> None:
        if not 0 <= self.low_mg <= self.likely_mg <= self.high_mg:
            raise ValueError("A range needs 0 <= low <= likely <= high.")


@dataclass(frozen=True, slots=True)
class GapFacts:
    """Two points with everything between them weighed; `missing_mg` > 0: more at the first than after.

    `scales_mg`: expanded uncertainty (k = 2). `loss_mg`: what the work itself takes. `ground`: it went through the
    grinder. `start` and `end` are the keys of points, `start_name` and `end_name` their names.
    """

    start: str
    end: str
    start_name: str
    end_name: str
    missing_mg: int
    scales_mg: int
    loss_mg: int
    ground: bool = False


@dataclass(frozen=True, slots=True)
class ScaleFacts:
    """A scale's last check: `error_mg` > 0 reads too heavy. `readings`: how many of this animal at `point` it took.

    A wrong zero or tare is in every one of them, so their errors add up.
    """

    name: str
    point: str
    error_mg: int
    tolerance_mg: int
    readings: int = 1

    @property
    def total_mg(self) -> int:
        """What the scale added to all of its readings; 0 while it is within its tolerance."""
        return self.error_mg * self.readings if abs(self.error_mg) > self.tolerance_mg else 0


@dataclass(frozen=True, slots=True)
class LugFacts:
    """A lug that left the block and was scanned nowhere after. `mg` None: not weighed."""

    name: str
    mg: int | None
    last_place: str = ""


@dataclass(frozen=True, slots=True)
class AnimalFacts:
    """Everything the flags of one animal are reasoned from.

    `own_mg`: the hunter's own boneless meat in packs, None when not weighed. `expected`: its range with all that is
    known of it. `ordinary`: the range of the same weight with an average shot and the usual days of hanging;
    `likely_as_hung_mg`: that with its own days. `worst_shot_mg`: what the worst hit would cost beyond an average one.
    `weighed_mg` at `basis_point` is what the ranges start from. `to_trim_mg`: whole cuts sent to grind trim;
    `to_trim_asked`: as the cut sheet asked. `waste_mg`: bone, fat and sinew, with what animals like this leave.
    """

    own_mg: int | None
    expected: Range | None
    ordinary: Range | None = None
    likely_as_hung_mg: int | None = None
    weighed_mg: int = 0
    basis_point: str = HANGING
    shot_regions: tuple[str, ...] = ()
    bloodshot_known: bool = False
    worst_shot_mg: int = 0
    hung_days: int = 0
    usual_days: int = 0
    gaps: tuple[GapFacts, ...] = ()
    scales: tuple[ScaleFacts, ...] = ()
    lugs: tuple[LugFacts, ...] = ()
    waste_mg: int | None = None
    usual_waste_mg: int | None = None
    to_trim_mg: int = 0
    to_trim_asked: bool = True
    unit: str = "lb"


@dataclass(frozen=True, slots=True)
class Flag:
    """One thing to look at: pounds at stake in milligrams, the likely reason, and what to look at next.

    `explained`: the pounds are accounted for, and nothing needs looking at.
    """

    kind: Kind
    pounds_mg: int
    likely_reason: str
    look_next: str
    explained: bool = False


@dataclass(frozen=True, slots=True)
class Audit:
    """Where the animal stands, that in a sentence, and its flags: open before explained, most pounds first."""

    standing: Standing
    sentence: str
    flags: tuple[Flag, ...]


def rank(flags: Iterable[Flag]) -> tuple[Flag, ...]:
    """Open flags before explained ones, most pounds first; of equals, by kind and wording."""
    return tuple(
        sorted(flags, key=lambda flag: (flag.explained, -flag.pounds_mg, flag.kind, flag.likely_reason))
    )
