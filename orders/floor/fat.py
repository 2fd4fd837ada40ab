"""How much fat a grind wants. Pure arithmetic."""

from __future__ import annotations

WHOLE_BP = 10_000


def fat_to_add(in_mg: int, fat_bp: int) -> int:
    """Milligrams of fat that make `fat_bp` of the finished grind, for `in_mg` of meat: in * bp / (10,000 - bp).

    The share is of meat and fat together, as butchers say it: 9 lb of meat and 1 lb of fat is a 10 % grind (common
    practice, no source). Rounded once to the milligram, half to even. Raises ValueError outside 0 <= bp < 10,000.
    """
    if in_mg < 0 or not 0 <= fat_bp < WHOLE_BP:
        raise ValueError(
            "fat is a share of the grind below the whole of it, of a weight that is not negative"
        )
    whole, rest = divmod(in_mg * fat_bp, WHOLE_BP - fat_bp)
    twice = 2 * rest
    up = twice > WHOLE_BP - fat_bp or (twice == WHOLE_BP - fat_bp and whole % 2 == 1)
    return whole + int(up)
