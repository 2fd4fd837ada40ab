"""Low, likely and high of what depends on several uncertain causes, worked on logarithms.

Each cause is moved to its low and to its high alone, the others at their likely values. How far the result moves, as
a logarithm, is squared; the squares are added and the root is taken, up and down each on its own, because
independent causes are seldom all bad at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from decimal import Decimal, localcontext
from fractions import Fraction
from functools import lru_cache

# Low, likely and high.
Bounds = tuple[Fraction, Fraction, Fraction]

SURE: Bounds = (Fraction(1), Fraction(1), Fraction(1))
PRECISION = 28


# Many animals of a season ask for the same few: those of the figures.
@lru_cache(maxsize=4096)
def logarithm(ratio: Fraction) -> Decimal:
    """The natural logarithm of a ratio above zero."""
    return (Decimal(ratio.numerator) / Decimal(ratio.denominator)).ln()


def widest(bounds: Iterable[Bounds], *, more_down: float = 0.0, more_up: float = 0.0) -> Bounds:
    """How far a product of these may be from its likely value: low ratio, one, high ratio.

    `more_down` and `more_up` are further distances, given as logarithms. A low of zero makes the low ratio zero.
    """
    with localcontext() as context:
        context.prec = PRECISION
        down, up = Decimal(more_down) ** 2, Decimal(more_up) ** 2
        zero = False
        for low, likely, high in bounds:
            if not likely:
                continue
            zero = zero or low == 0
            down += logarithm(likely / low) ** 2 if low else 0
            up += logarithm(high / likely) ** 2
        low_ratio = Fraction(0) if zero else Fraction((-down.sqrt()).exp())
        return low_ratio, Fraction(1), Fraction(up.sqrt().exp())


def varied(value: Callable[..., Fraction], *causes: Bounds) -> Bounds:
    """Low, likely and high of `value(*causes)`, a function that only rises or only falls with each of its causes."""
    middle = [cause[1] for cause in causes]
    likely = value(*middle)
    moved = []
    for place, (low, _, high) in enumerate(causes):
        ends = [value(*middle[:place], end, *middle[place + 1 :]) for end in (low, high)]
        moved.append((min(*ends, likely), likely, max(*ends, likely)))
    if not likely:
        return likely, likely, likely
    low_ratio, _, high_ratio = widest(moved)
    return likely * low_ratio, likely, likely * high_ratio
