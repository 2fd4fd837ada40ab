"""When a difference between two weighings is a gap: beyond the work's own loss and what the scales can tell.

Uncertainty of a reading: the scale's division as a uniform distribution, u = d / sqrt(12) (JCGM 100:2008, 4.3.7 and
F.2.2.1). Independent readings add in quadrature (5.1.2). One wrong zero or tare is the same in every pack of a job
and so adds linearly (5.2.2, correlated inputs). Expanded with k = 2. Whole milligrams, rounded up.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

COVERAGE = 2
WHOLE_BP = 10_000


@dataclass(frozen=True, slots=True)
class Readings:
    """`count` readings of one division. `same_tare`: all on one tare or zero, such as the packs of a job."""

    division_mg: int
    count: int
    same_tare: bool = False


def uncertainty_mg(readings: Iterable[Readings]) -> int:
    """Expanded uncertainty (k = 2) of a sum or difference of these readings, in milligrams, rounded up."""
    twelfths = Decimal(0)
    for each in readings:
        square = Decimal(each.division_mg) ** 2
        twelfths += square * each.count
        if each.same_tare:
            twelfths += square * each.count**2
    return int((COVERAGE * (twelfths / 12).sqrt()).to_integral_value(ROUND_CEILING))


def allowed_mg(start_mg: int, loss_bp: int, readings: Iterable[Readings]) -> int:
    """The difference that is no gap: the work's stated loss and the uncertainty of the weighings."""
    return start_mg * loss_bp // WHOLE_BP + uncertainty_mg(readings)


def is_gap(unexplained_mg: int, allowed: int, uncertainty: int) -> bool:
    """More is gone than the work takes, or more has come out than the scales can be wrong by."""
    return unexplained_mg > allowed or unexplained_mg < -uncertainty
