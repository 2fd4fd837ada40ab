"""Code 128, code set C, drawn with bars of whole printer dots: a fraction of a dot is what scanners fail on.

Symbol: ISO/IEC 15417. Ten digits take 90 modules (start 11, five pairs 55, check 11, stop 13), 22.5 mm at two
dots of a 203 dpi printer. Quiet zone: ten modules on each side (GS1 General Specifications 5.4).
"""

from __future__ import annotations

import math
import re
from typing import Any

from barcode import Code128

from labels.stocks import MM_PER_INCH, Stock
from labels.values import LabelError

QUIET_MODULES = 10
# Of a dot, off each edge: a renderer paints every dot that a bar touches, even by a rounding error.
_INSET = 0.05
NORMAL_MM = 0.25
WIDE_MM = 0.375


def bars(digits: str) -> str:
    """The modules of `digits` (an even number): 1 for bar and 0 for space, without quiet zones.

    Raises LabelError when they are not digits, are odd in number, or begin with 99, which the encoder drops.
    """
    if not (digits.isascii() and digits.isdigit()) or len(digits) % 2:
        raise LabelError(f"“{digits}” cannot be a barcode: it needs an even number of digits.")
    if digits.startswith("99"):
        raise LabelError("A barcode here cannot begin with 99.")
    return str(Code128(digits).build()[0])


def module_dots(stock: Stock, *, wide: bool = False) -> int:
    """Printer dots of one module: 2 at 203 dpi and 3 at 300 dpi, one half more when `wide`."""
    return max(2, round((WIDE_MM if wide else NORMAL_MM) * stock.dpi / MM_PER_INCH))


def width_with_quiet(digits: str, stock: Stock, *, wide: bool = False) -> float:
    """Points that the symbol takes with both quiet zones."""
    modules = len(bars(digits)) + 2 * QUIET_MODULES
    return modules * module_dots(stock, wide=wide) * stock.dot


def draw_bars(
    canvas: Any, stock: Stock, digits: str, x: float, top: float, height: float, *, wide: bool = False
) -> None:
    """Draw bars whose left quiet zone begins at `x` points, `top` points below the top of the page."""
    dots = module_dots(stock, wide=wide)
    first = math.ceil(x / stock.dot - 0.001) + QUIET_MODULES * dots
    upper = stock.size[1] / stock.dot - round(top / stock.dot)
    tall = round(height / stock.dot)
    at = 0
    for run in re.findall(r"1+|0+", bars(digits)):
        if run[0] == "1":
            left, across = first + at * dots, len(run) * dots
            canvas.rect(
                (left + _INSET) * stock.dot,
                (upper - tall + _INSET) * stock.dot,
                (across - 2 * _INSET) * stock.dot,
                (tall - 2 * _INSET) * stock.dot,
                stroke=0,
                fill=1,
            )
        at += len(run)
