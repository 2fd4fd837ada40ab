"""Weights as the shop reads them, and their exact conversion to milligrams.

A reading stays the integer the scale showed, with its unit and number of decimals; milligrams are derived
once, rounded half to even. Legal factors: NIST Handbook 44, Appendix C: 1 lb = 453.592 37 g exactly,
1 oz = 28.349 523 125 g exactly.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

MG_PER_UNIT: dict[str, Decimal] = {
    "lb": Decimal("453592.37"),
    "oz": Decimal("28349.523125"),
    "kg": Decimal("1000000"),
    "g": Decimal("1000"),
}
MAX_DECIMALS = 3
# A reading is stored in a 32-bit integer column on every database.
MAX_READING = 2_000_000_000


class WeightError(ValueError):
    """A weight that cannot be read; its text is a sentence for the person who typed it."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What a scale showed: `value` counts of 10**-decimals `unit`."""

    value: int
    unit: str = "lb"
    decimals: int = 2

    def __post_init__(self) -> None:
        if self.unit not in MG_PER_UNIT:
            raise WeightError(f"“{self.unit}” is not a unit that this shop weighs in.")
        if not 0 <= self.decimals <= MAX_DECIMALS:
            raise WeightError("A weight has at most three decimals.")
        if abs(self.value) > MAX_READING:
            raise WeightError("That is more than any scale here can show.")

    @property
    def mg(self) -> int:
        """Milligrams, rounded once, half to even."""
        exact = Decimal(self.value).scaleb(-self.decimals) * MG_PER_UNIT[self.unit]
        return int(exact.to_integral_value(ROUND_HALF_EVEN))

    def __str__(self) -> str:
        return f"{Decimal(self.value).scaleb(-self.decimals):f} {self.unit}"


_NUMBER = r"(\d+(?:[.,]\d+)?|[.,]\d+)"
_POUNDS_OUNCES = re.compile(rf"^(\d+)\s*(?:lbs?|#)\s*{_NUMBER}\s*oz$")
_SINGLE = re.compile(rf"^(-?){_NUMBER}\s*(lbs?|#|oz|kg|g)?$")


def parse_reading(text: str, unit: str = "lb") -> Reading:
    """Read a typed weight: `101.5`, `101.5 lb`, `12 lb 4 oz`, `48,2 kg`; `unit` is used when none is typed.

    Raises WeightError with a sentence for the person. Pounds and ounces become ounces, exactly.
    """
    typed = " ".join(text.strip().lower().split())
    if not typed:
        raise WeightError("Type the weight, or tap “not weighed”.")
    both = _POUNDS_OUNCES.match(typed)
    if both:
        ounces = Decimal(both[1]) * 16 + Decimal(both[2].replace(",", "."))
        return _from_decimal(ounces, "oz")
    single = _SINGLE.match(typed)
    if not single:
        raise WeightError(f"“{text.strip()}” is not a weight. Type it like 101.5 or 12 lb 4 oz.")
    if single[1]:
        raise WeightError("A weight cannot be negative. Zero the scale and weigh again.")
    written = single[3] or unit
    return _from_decimal(Decimal(single[2].replace(",", ".")), {"lbs": "lb", "#": "lb"}.get(written, written))


def _from_decimal(number: Decimal, unit: str) -> Reading:
    exponent = number.as_tuple().exponent
    decimals = max(0, -exponent) if isinstance(exponent, int) else 0
    if decimals > MAX_DECIMALS:
        raise WeightError("A weight has at most three decimals.")
    if number > MAX_READING:
        raise WeightError("That is more than any scale here can show.")
    return Reading(int(number.scaleb(decimals)), unit, decimals)


def format_mg(mg: int, unit: str = "lb", decimals: int = 1) -> str:
    """Milligrams in `unit` for a person, rounded half to even at the last moment: `48.2 lb`."""
    return f"{mg_in(mg, unit, decimals)} {unit}"


def mg_in(mg: int, unit: str = "lb", decimals: int = 1) -> Decimal:
    """Milligrams as a Decimal of `unit` with exactly `decimals` decimals, half to even."""
    return (Decimal(mg) / MG_PER_UNIT[unit]).quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_EVEN)


def pounds(number: str | int | Decimal) -> int:
    """Milligrams of a number of pounds given as text, integer or Decimal (never a float)."""
    return int((Decimal(number) * MG_PER_UNIT["lb"]).to_integral_value(ROUND_HALF_EVEN))
