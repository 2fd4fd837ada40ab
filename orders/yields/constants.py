"""What the yield arithmetic knows of a species: shares with their spread, and which losses each already contains.

Shares are basis points (1/10,000). The numbers themselves are rows of the catalog, each with its source.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

WHOLE_BP = 10_000


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

# Shot loss of a region against the average of all shots. The rank is published: neck and rib shots below the
# average, shoulder shots above it (von La Chevallerie & van Zyl, S. Afr. J. Anim. Sci. 1(1):113-116, 1971).
# The numbers are common practice, no source.
REGION_FACTOR = {
    "head": Fraction(1, 10),
    "neck": Fraction(4, 10),
    "ribs": Fraction(5, 10),
    "gut": Fraction(8, 10),
    "loin": Fraction(12, 10),
    "hind": Fraction(15, 10),
    "shoulder": Fraction(16, 10),
}


@dataclass(frozen=True, slots=True)
class Share:
    """A share in basis points: low, likely and high, with where it comes from."""

    low_bp: int
    likely_bp: int
    high_bp: int
    source: str = ""

    def __post_init__(self) -> None:
        if not 0 <= self.low_bp <= self.likely_bp <= self.high_bp <= WHOLE_BP:
            raise ValueError("A share needs 0 <= low <= likely <= high <= 10,000 basis points.")

    @property
    def bounds(self) -> tuple[int, int, int]:
        """Low, likely and high."""
        return self.low_bp, self.likely_bp, self.high_bp

    def around(self, likely_bp: int) -> Share:
        """The same spread around the shop's own likely value, within 0 and 10,000."""
        if self.likely_bp == 0:
            return Share(min(self.low_bp, likely_bp), likely_bp, max(self.high_bp, likely_bp), self.source)
        low, high = (bp * likely_bp // self.likely_bp for bp in (self.low_bp, self.high_bp))
        return Share(min(low, likely_bp), likely_bp, min(WHOLE_BP, max(high, likely_bp)), self.source)


@dataclass(frozen=True, slots=True)
class LeanShare:
    """Boneless lean as a share of a bone-in weight, and which losses the published share already contains."""

    share: Share
    aged_days: int = 0
    contains_shot_loss: bool = False

    @classmethod
    def read(cls, share: Share, basis: str) -> LeanShare:
        """From the words after “contains:” in a figure's basis: `aging 14 days`, `shot loss`, or `nothing`.

        Raises ValueError when the basis does not say what the share contains.
        """
        _, found, contained = basis.partition("contains:")
        if not found:
            raise ValueError(f"“{basis}” does not say what the share contains.")
        days = re.search(r"aging (\d+) days", contained)
        return cls(share, int(days[1]) if days else 0, "shot loss" in contained)


@dataclass(frozen=True, slots=True)
class Constants:
    """What the arithmetic knows of a species. The names are those of the quantities in the yield figures."""

    dressed_on_of_live: Share
    dressed_off_of_live: Share
    hanging_of_dressed_on: Share
    hanging_of_dressed_off: Share
    lean_of_hanging: LeanShare
    lean_of_quarters: LeanShare
    boneless_kept: Share
    shot_loss: Share
    remaining_shot: Share
    first_chill: Share
    drying_per_day: Share
    tenderloins: Share

    @classmethod
    def from_figures(cls, figures: Mapping[str, tuple[Share, str]], tenderloins: Share) -> Constants:
        """From quantity -> (share, basis in words); `tenderloins` is the share of both in the boneless lean.

        Raises KeyError for a quantity that is missing, ValueError for a basis that does not say what it contains.
        """
        lean = {name: LeanShare.read(*figures[name]) for name in ("lean_of_hanging", "lean_of_quarters")}
        plain = {
            name: figures[name][0] for name in cls.__slots__ if name not in lean and name != "tenderloins"
        }
        return cls(**plain, **lean, tenderloins=tenderloins)  # type: ignore[arg-type]
