"""A page to draw on, measured in points from its top left corner, that remembers what it could not print."""

from __future__ import annotations

from io import BytesIO

from reportlab.pdfgen.canvas import Canvas

from labels import barcodes
from labels.stocks import Stock, points
from labels.text import (
    ASCENT,
    BOLD,
    CAP_HEIGHT,
    LEADING,
    NARROW,
    REGULAR,
    Fitted,
    fit_block,
    fit_line,
    printable,
    register_fonts,
    width_of,
    wrap,
)
from labels.values import LabelError
from shop.codes import CodeError, read_code, spaced

SMALLEST = 5.5
NOT_FOR_SALE = "NOT FOR SALE"
# 9 CFR 317.16 and 316.16: letters at least 3/8 in (27 pt) high; a little more covers the printer's rounding.
NOT_FOR_SALE_CAPS = 27.8
_NARROWEST = 0.82
# Round letters reach a little beyond the height of capitals and below the line.
_OVERSHOOT = 0.9


class Sheet:
    """Pages of one stock, in points; `top` counts downward from the top edge; methods return the new top.

    `after` is a sheet whose file goes on with these pages, of another stock perhaps; it is not finished itself.
    """

    def __init__(self, stock: Stock, title: str, after: Sheet | None = None) -> None:
        register_fonts()
        self.stock = stock
        self.title = title
        self.notes: list[str] = []
        self.pages = 0
        self._page_width, self._page_height = stock.size
        margin = points(stock.margin_mm)
        self.left = margin
        self.right = self._page_width - margin
        self.top = margin + points(stock.hole_mm) + _OVERSHOOT
        self.bottom = self._page_height - margin - _OVERSHOOT
        self.width = self.right - self.left
        self._follows = after is not None
        self._bytes: BytesIO = after._bytes if after else BytesIO()
        self.canvas: Canvas = after.canvas if after else self._new_canvas()

    def _new_canvas(self) -> Canvas:
        canvas = Canvas(self._bytes, pagesize=self.stock.size, invariant=1, pageCompression=1)
        canvas.setTitle(self.title)
        return canvas

    def new_page(self) -> float:
        """Begin a page; returns the top of its printable area."""
        if self.pages or self._follows:
            self.canvas.showPage()
            self.canvas.setPageSize(self.stock.size)
        self.pages += 1
        return self.top

    def finish(self) -> bytes:
        """The PDF. Nothing can be drawn afterwards."""
        self.canvas.showPage()
        self.canvas.save()
        return self._bytes.getvalue()

    def clean(self, text: str) -> str:
        """`text` as it can be printed; characters that cannot are noted."""
        shown, missing = printable(text)
        for letter in missing:
            self._note(f"The character “{letter}” in “{text}” cannot be printed; a mark stands for it.")
        return shown

    def line(
        self,
        text: str,
        top: float,
        size: float,
        *,
        x: float | None = None,
        width: float | None = None,
        minimum: float | None = None,
        font: str = BOLD,
        align: str = "left",
        tight: bool = False,
        must_fit: bool = False,
    ) -> float:
        """Draw one line, shrunk to `width`, cut at `minimum`; `tight` takes the height of capitals only."""
        shown = self.clean(text)
        if not shown:
            return top
        left = self.left if x is None else x
        room = (self.right - left) if width is None else width
        least = max(SMALLEST, size * 0.6) if minimum is None else minimum
        fitted = fit_line(shown, font, size, least, room)
        self._report_cut(fitted, text, must_fit)
        # What was shrunk stands on the same line, and takes the same height, as what was not.
        self._draw(
            fitted,
            top + (size - fitted.size) * (CAP_HEIGHT if tight else ASCENT),
            left,
            room,
            font,
            align,
            tight,
        )
        return top + size * (CAP_HEIGHT if tight else LEADING)

    def block(
        self,
        text: str,
        top: float,
        size: float,
        *,
        x: float | None = None,
        width: float | None = None,
        height: float,
        minimum: float = SMALLEST,
        font: str = REGULAR,
        must_fit: bool = False,
        align: str = "left",
    ) -> float:
        """Draw wrapped text in at most `height`, shrunk, then cut; with `must_fit` refused instead."""
        shown = self.clean(text)
        if not shown:
            return top
        left = self.left if x is None else x
        room = (self.right - left) if width is None else width
        fitted = fit_block(shown, font, size, minimum, room, height)
        self._report_cut(fitted, text, must_fit)
        return self._draw(fitted, top, left, room, font, align, tight=False)

    def paragraphs(
        self, parts: list[tuple[str, str]], top: float, bottom: float, size: float, minimum: float
    ) -> float:
        """Statements (text, font) that must all be printed, in one size down to `minimum`, or LabelError."""
        shown = [(self.clean(text), font) for text, font in parts]
        while size >= minimum:
            lines = [(line, font) for text, font in shown for line in wrap(text, font, size, self.width)]
            if top + len(lines) * size * LEADING <= bottom + 0.01:
                break
            size -= 0.25
        else:
            raise LabelError(
                f"The statements do not fit on this {self.title}. Use a larger one, or shorten them."
            )
        for line, font in lines:
            self._put(line, self.left, top + size * ASCENT, font, size)
            top += size * LEADING
        return top

    def pair(
        self,
        caption: str,
        text: str,
        top: float,
        size: float,
        *,
        x: float | None = None,
        width: float | None = None,
        font: str = BOLD,
    ) -> float:
        """A small caption and its value on one line; nothing when the value is empty."""
        if not text:
            return top
        left = self.left if x is None else x
        room = (self.right - left) if width is None else width
        small = max(SMALLEST, size * 0.72)
        taken = width_of(caption, REGULAR, small) + size * 0.4
        self._put(caption, left, top + size * ASCENT, REGULAR, small)
        return self.line(text, top, size, x=left + taken, width=room - taken, font=font)

    def rule(
        self, top: float, *, thickness: float = 0.8, x: float | None = None, width: float | None = None
    ) -> float:
        """A black line across; returns a little below it."""
        left = self.left if x is None else x
        room = (self.right - left) if width is None else width
        self.canvas.rect(left, self._page_height - top - thickness, room, thickness, stroke=0, fill=1)
        return top + thickness + 3

    def band(self, text: str, top: float, size: float, *, align: str = "left", pad: float = 4) -> float:
        """White words on a black bar as wide as the page."""
        height = size * CAP_HEIGHT + 2 * pad
        self.canvas.rect(self.left, self._page_height - top - height, self.width, height, stroke=0, fill=1)
        self.canvas.setFillGray(1)
        self.line(text, top + pad, size, x=self.left + 6, width=self.width - 12, align=align, tight=True)
        self.canvas.setFillGray(0)
        return top + height

    def frame(self, top: float, height: float, *, x: float, width: float, thickness: float = 0.8) -> None:
        """The outline of a box."""
        self.canvas.setLineWidth(thickness)
        inset = thickness / 2
        self.canvas.rect(
            x + inset, self._page_height - top - height + inset, width - thickness, height - thickness, fill=0
        )

    def stroke(self, line: list[tuple[float, float]], *, thickness: float = 1.2) -> None:
        """A line through points (x, top); one point is a dot."""
        path = self.canvas.beginPath()
        first_x, first_top = line[0]
        path.moveTo(first_x, self._page_height - first_top)
        for x, top in line[1:] or [(first_x + 0.1, first_top)]:
            path.lineTo(x, self._page_height - top)
        self.canvas.setLineWidth(thickness)
        self.canvas.setLineCap(1)
        self.canvas.setLineJoin(1)
        self.canvas.drawPath(path)

    def code_width(self, digits: str, *, wide: bool = False) -> float:
        """Points that the barcode of `digits` takes with its quiet zones."""
        return barcodes.width_with_quiet(digits, self.stock, wide=wide)

    def code(
        self, code: str, top: float, height: float, *, x: float, wide: bool = False, size: float = 11
    ) -> float:
        """The barcode of one of our codes, its digits large below; LabelError when it is none of ours."""
        try:
            _, digits = read_code(code)
        except CodeError as error:
            raise LabelError(str(error)) from error
        return self.digits(digits, spaced(digits), top, height, x=x, wide=wide, size=size)

    def digits(
        self, digits: str, shown: str, top: float, height: float, *, x: float, wide: bool, size: float
    ) -> float:
        """Bars of `digits`, and `shown` centered below them."""
        barcodes.draw_bars(self.canvas, self.stock, digits, x, top, height, wide=wide)
        width = self.code_width(digits, wide=wide)
        below = top + height + 3
        return self.line(shown, below, size, x=x, width=width, font=NARROW, align="center", tight=True)

    def not_for_sale(self, top: float, *, x: float | None = None, width: float | None = None) -> float:
        """The words NOT FOR SALE, capitals of more than 3/8 in; LabelError rather than smaller ones."""
        left = self.left if x is None else x
        room = (self.right - left) if width is None else width
        below = top + NOT_FOR_SALE_CAPS
        if below > self.bottom + 0.01:
            raise LabelError("NOT FOR SALE does not fit on this label in letters of 3/8 inch.")
        size = NOT_FOR_SALE_CAPS / CAP_HEIGHT
        font = BOLD if width_of(NOT_FOR_SALE, BOLD, size) <= room else NARROW
        natural = width_of(NOT_FOR_SALE, font, size)
        squeeze = min(1.0, room / natural)
        if squeeze < _NARROWEST:
            raise LabelError("NOT FOR SALE does not fit on this label in letters of 3/8 inch.")
        self.canvas.saveState()
        words = self.canvas.beginText(left + (room - natural * squeeze) / 2, self._page_height - below)
        words.setFont(font, size)
        words.setHorizScale(squeeze * 100)
        words.textOut(NOT_FOR_SALE)
        self.canvas.drawText(words)
        self.canvas.restoreState()
        return below

    def not_for_sale_at_bottom(self) -> float:
        """The words along the lower margin; returns their top."""
        top = self.bottom - NOT_FOR_SALE_CAPS
        self.not_for_sale(top)
        return top

    def line_width(self, text: str, font: str, size: float) -> float:
        """Points that a line of our own words takes."""
        return width_of(text, font, size)

    def put(
        self,
        text: str,
        x: float,
        top: float,
        font: str,
        size: float,
        *,
        width: float = 0,
        align: str = "left",
    ) -> None:
        """Draw `text`, already cleaned and measured, in a line that begins at `top`."""
        shift = width - width_of(text, font, size) if align == "right" else 0.0
        self._put(text, x + shift, top + size * ASCENT, font, size)

    def note_cut(self, text: str) -> None:
        """Remember that `text` was cut short."""
        self._note(f"“{text}” is too long for its place and was cut short with “…”.")

    def _note(self, sentence: str) -> None:
        if sentence not in self.notes:
            self.notes.append(sentence)

    def _report_cut(self, fitted: Fitted, text: str, must_fit: bool) -> None:
        if fitted.cut and must_fit:
            raise LabelError(f"“{text}” does not fit on this {self.title}. Use a larger one, or shorten it.")
        if fitted.cut:
            self.note_cut(text)

    def _draw(
        self, fitted: Fitted, top: float, left: float, room: float, font: str, align: str, tight: bool
    ) -> float:
        rise = CAP_HEIGHT if tight else ASCENT
        for number, text in enumerate(fitted.lines):
            spare = room - width_of(text, font, fitted.size)
            shift = {"left": 0.0, "center": spare / 2, "right": spare}[align]
            baseline = top + (rise + number * LEADING) * fitted.size
            self._put(text, left + shift, baseline, font, fitted.size)
        height = fitted.size * CAP_HEIGHT if tight else len(fitted.lines) * fitted.size * LEADING
        return top + height

    def _put(self, text: str, x: float, baseline: float, font: str, size: float) -> None:
        self.canvas.setFont(font, size)
        self.canvas.drawString(x, self._page_height - baseline, text)
