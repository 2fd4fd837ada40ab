"""Grammar of what is named on the floor: the antlers are off, the head is. Pure words."""

from __future__ import annotations

# The last word of a piece's name, before any comma, that stands for several.
SEVERAL = ("antlers", "organs", "feet", "tenderloins", "birds")


def is_several(name: str) -> bool:
    """Whether a part or piece is spoken of as several: antlers, organs, `tenderloins, left and right`, `4 birds`."""
    return name.partition(",")[0].rstrip().lower().endswith(SEVERAL)


def are(name: str) -> str:
    """`are` or `is`, as it goes with a name."""
    return "are" if is_several(name) else "is"


def them(name: str) -> str:
    """`them` or `it`, as it goes with a name."""
    return "them" if is_several(name) else "it"
