"""How a cut sheet's figures are written and read: fractions of an inch, pounds and ounces, percent."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from shop.weights import WeightError, parse_reading

if TYPE_CHECKING:
    from orders.cutsheets.models import CutLine
    from orders.cutsheets.rules import LineFacts

WHOLE_BP = 10_000

# Fractions that a person finds on a ruler, in sixteenths of an inch.
COMMON_16THS = (2, 3, 4, 6, 8, 10, 12, 14, 16, 20, 24, 28, 32, 40, 48, 64)


def thickness_words(sixteenths: int) -> str:
    """Sixteenths of an inch as a ruler says it: `3/4 in`, `1 1/4 in`."""
    whole, rest = divmod(sixteenths, 16)
    fraction = str(Fraction(rest, 16)) if rest else ""
    return f"{' '.join(part for part in (str(whole) if whole else '', fraction) if part) or '0'} in"


def pack_words(ounces: int) -> str:
    """A pack size in ounces as it is said: `1 lb`, `1 lb 8 oz`, `12 oz`."""
    pounds, rest = divmod(ounces, 16)
    parts = [f"{pounds} lb" if pounds else "", f"{rest} oz" if rest or not pounds else ""]
    return " ".join(part for part in parts if part)


def read_pack(typed: str) -> int:
    """A typed pack size in whole ounces; pounds where no unit is typed. Raises WeightError with a sentence."""
    reading = parse_reading(typed, "lb")
    number = Decimal(reading.value).scaleb(-reading.decimals)
    if reading.unit not in ("lb", "oz"):
        raise WeightError("A pack size is in pounds and ounces: 1 lb, 12 oz, 1 lb 8 oz.")
    ounces = number * 16 if reading.unit == "lb" else number
    if ounces != ounces.to_integral_value():
        raise WeightError("A pack size is in whole ounces: 1 lb, 12 oz, 1 lb 8 oz.")
    return int(ounces)


def percent(basis_points: int) -> str:
    """Basis points as percent, without needless decimals: `12.5 %`."""
    return f"{percent_figure(basis_points)} %"


def percent_figure(basis_points: int) -> str:
    """Basis points as the number before the percent sign: `12.5`."""
    return f"{(Decimal(basis_points) / 100).normalize():f}"


def details(line: CutLine | LineFacts) -> str:
    """A line's details beside its choice: `3/4 in, 4 in a pack`, `10 % pork fat, 1 lb packs`, or nothing."""
    said = []
    if line.share_bp != WHOLE_BP:
        said.append(f"{percent(line.share_bp)} of it")
    if line.thickness_16ths:
        said.append(thickness_words(line.thickness_16ths))
    if line.fat_bp:
        said.append(f"{percent(line.fat_bp)} {line.fat_kind} fat")
    if line.pieces_per_pack:
        said.append(f"{line.pieces_per_pack} in a pack")
    if line.pack_oz:
        said.append(f"{pack_words(line.pack_oz)} packs")
    return ", ".join(said)
