"""What the yield arithmetic knows of a species: shares with their spread, and which losses each already contains.

Shares are basis points (1/10,000). The numbers themselves are rows of the catalog, each with its source. Low and high
of every one are read as the 5th and the 95th percentile of animals.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from typing import ClassVar

from orders.yields.spread import Bounds

# The share of animals that every range, published or the shop's own, is meant to hold.
COVERAGE = 0.90
WHOLE_BP = 10_000
# A hit in one region costs at most three times the average of all hits.
MOST_TIMES_BP = 30_000
# Who lends to a species of another family that has no figure of its own.
FAMILY = "the deer family"


class Basis(StrEnum):
    """What was on the scale."""

    LIVE = "live"
    DRESSED_FEET_ON = "dressed_feet_on"
    DRESSED_FEET_OFF = "dressed_feet_off"
    HANGING = "hanging"
    QUARTERS = "quarters"
    BONELESS = "boneless"


BASIS_WORDS = {
    Basis.LIVE: "whole, not dressed",
    Basis.DRESSED_FEET_ON: "field-dressed, feet on",
    Basis.DRESSED_FEET_OFF: "field-dressed, feet off",
    Basis.HANGING: "skinned, head off",
    Basis.QUARTERS: "bone-in pieces",
    Basis.BONELESS: "boneless meat as received",
}


class Loss(StrEnum):
    """A loss that a published lean share may already contain."""

    CHILL = "first chill"
    DRYING = "drying"
    SHOT = "shot loss"
    FAT = "fat"


class ShotBase(StrEnum):
    """What a shot loss is a share of."""

    LEAN = "lean"
    CARCASS = "carcass"


REGIONS = ("head", "neck", "ribs", "gut", "loin", "hind", "shoulder")
REGION_QUANTITY = "shot_at_"


@dataclass(frozen=True, slots=True)
class Share:
    """A share in basis points: low, likely and high, with where it comes from.

    `lent_by`: the species it was published for, where that is not the one it is used for. `own`: set by the shop.
    """

    limit: ClassVar[int] = WHOLE_BP

    low_bp: int
    likely_bp: int
    high_bp: int
    source: str = ""
    lent_by: str = ""
    own: bool = False

    def __post_init__(self) -> None:
        if not 0 <= self.low_bp <= self.likely_bp <= self.high_bp <= self.limit:
            raise ValueError(f"A share needs 0 <= low <= likely <= high <= {self.limit:,} basis points.")

    @property
    def bounds_bp(self) -> tuple[int, int, int]:
        """Low, likely and high in basis points."""
        return self.low_bp, self.likely_bp, self.high_bp

    @property
    def bounds(self) -> Bounds:
        """Low, likely and high as fractions of one."""
        low, likely, high = (Fraction(bp, WHOLE_BP) for bp in self.bounds_bp)
        return low, likely, high

    def spread_around(self, likely_bp: int) -> tuple[int, int, int]:
        """Low, likely and high with the same spread around another likely value, within 0 and the limit."""
        if self.likely_bp == 0:
            return min(self.low_bp, likely_bp), likely_bp, max(self.high_bp, likely_bp)
        low, high = (bp * likely_bp // self.likely_bp for bp in (self.low_bp, self.high_bp))
        return min(low, likely_bp), likely_bp, min(self.limit, max(high, likely_bp))


@dataclass(frozen=True, slots=True)
class Times(Share):
    """A multiple instead of a share: how often the average of all shots a hit in one region costs."""

    limit: ClassVar[int] = MOST_TIMES_BP


@dataclass(frozen=True, slots=True)
class Figure:
    """A row of the catalog as the arithmetic takes it: what it contains, and what its shot loss is a share of."""

    share: Share
    contains: tuple[str, ...] = ()
    aged_days: int = 0
    shot_base: str = ""


@dataclass(frozen=True, slots=True)
class LeanShare:
    """Boneless lean as a share of a bone-in weight, and which losses the published share already contains.

    `shot_base` is the base of a shot loss that is inside it. Raises ValueError for a loss nobody knows, days of aging
    without drying, or a shot loss without a base.
    """

    share: Share
    contains: frozenset[Loss] = frozenset()
    aged_days: int = 0
    shot_base: ShotBase | None = None

    def __post_init__(self) -> None:
        if bool(self.aged_days) != (Loss.DRYING in self.contains):
            raise ValueError("A share that contains drying says of how many days, and no other share does.")
        if (self.shot_base is None) == (Loss.SHOT in self.contains):
            raise ValueError("A share that contains shot loss says what it is a share of, and no other does.")

    @classmethod
    def of(cls, figure: Figure) -> LeanShare:
        base = ShotBase(figure.shot_base) if figure.shot_base else None
        return cls(figure.share, frozenset(map(Loss, figure.contains)), figure.aged_days, base)


@dataclass(frozen=True, slots=True)
class ShotLoss:
    """Meat unfit through the shot, average of all shots, and what it is stated as a share of."""

    share: Share
    base: ShotBase = ShotBase.LEAN


@dataclass(frozen=True, slots=True)
class Constants:
    """What the arithmetic knows of a species. The names are those of the quantities in the yield figures.

    `bloodshot_meat` and `drying_meat`: how much of what is cut off as bloodshot, and of what dries off a carcass, is
    boneless meat. `regions`: how often the average shot loss a hit there costs.
    """

    dressed_on_of_live: Share
    hanging_of_dressed_on: Share
    hanging_of_dressed_off: Share
    lean_of_hanging: LeanShare
    lean_of_quarters: LeanShare
    boneless_kept: Share
    shot_loss: ShotLoss
    remaining_shot: Share
    bloodshot_meat: Share
    first_chill: Share
    drying_per_day: Share
    drying_meat: Share
    tenderloins: Share
    regions: Mapping[str, Share] = field(default_factory=dict)
    species: str = ""

    @classmethod
    def from_figures(cls, figures: Mapping[str, Figure], tenderloins: Share, species: str = "") -> Constants:
        """From quantity -> figure; `tenderloins` is the share of both in the boneless lean.

        Raises KeyError for a quantity that is missing, ValueError for a figure that contradicts itself.
        """
        lean = {name: LeanShare.of(figures[name]) for name in ("lean_of_hanging", "lean_of_quarters")}
        shot = figures["shot_loss"]
        plain = {name: figures[name].share for name in PLAIN}
        return cls(
            **plain,  # type: ignore[arg-type]
            **lean,  # type: ignore[arg-type]
            shot_loss=ShotLoss(shot.share, ShotBase(shot.shot_base)),
            tenderloins=tenderloins,
            regions={region: figures[REGION_QUANTITY + region].share for region in REGIONS},
            species=species,
        )


PLAIN = (
    "dressed_on_of_live",
    "hanging_of_dressed_on",
    "hanging_of_dressed_off",
    "boneless_kept",
    "remaining_shot",
    "bloodshot_meat",
    "first_chill",
    "drying_per_day",
    "drying_meat",
)
