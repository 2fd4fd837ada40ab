"""What is printed on: sizes in millimeters, the printer's dots per inch, and where no ink may go."""

from __future__ import annotations

from dataclasses import dataclass, replace

MM_PER_INCH = 25.4
POINTS_PER_INCH = 72


def points(millimeters: float) -> float:
    """PostScript points (1/72 in) of a length in millimeters."""
    return millimeters * POINTS_PER_INCH / MM_PER_INCH


@dataclass(frozen=True, slots=True)
class Stock:
    """One kind of label, tag or paper. `hole_mm` is kept free at the top of a tag for its punched hole."""

    code: str
    name: str
    width_mm: float
    height_mm: float
    dpi: int = 203
    margin_mm: float = 2.0
    hole_mm: float = 0.0

    @property
    def dot(self) -> float:
        """Points of one printer dot."""
        return POINTS_PER_INCH / self.dpi

    @property
    def size(self) -> tuple[float, float]:
        """Width and height in points."""
        return points(self.width_mm), points(self.height_mm)


def _inches(code: str, name: str, width: float, height: float, **more: float) -> Stock:
    return Stock(code, name, width * MM_PER_INCH, height * MM_PER_INCH, **more)  # type: ignore[arg-type]


_THERMAL = (
    _inches("label-4x6", "Label 4 x 6 in", 4, 6),
    _inches("label-4x3", "Label 4 x 3 in", 4, 3),
    _inches("label-4x2", "Label 4 x 2 in", 4, 2),
    _inches("tag-4x6", "Waterproof tag 4 x 6 in, punched", 4, 6, hole_mm=16.0),
)
_PAPER = (
    _inches("half-letter", "Half letter 5.5 x 8.5 in", 5.5, 8.5, dpi=300, margin_mm=9.0),
    _inches("letter", "Letter 8.5 x 11 in", 8.5, 11, dpi=300, margin_mm=12.7),
    _inches("letter-wide", "Letter, landscape", 11, 8.5, dpi=300, margin_mm=10.0),
    Stock("a4", "A4", 210, 297, dpi=300, margin_mm=12.7),
    Stock("a4-wide", "A4, landscape", 297, 210, dpi=300, margin_mm=10.0),
)
# The printer's dots belong to the stock: each label and tag also exists for 300 dpi printers.
_FINE = tuple(
    replace(stock, code=f"{stock.code}-300", name=f"{stock.name}, 300 dpi", dpi=300) for stock in _THERMAL
)

STOCKS: dict[str, Stock] = {stock.code: stock for stock in (*_THERMAL, *_FINE, *_PAPER)}
