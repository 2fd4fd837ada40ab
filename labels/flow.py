"""Running text and tables on paper: laid out first, so that every page can say “page 2 of 3”, then drawn."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from labels.sheet import Sheet
from labels.text import ASCENT, BOLD, LEADING, REGULAR, cut_to, wrap

_FOOT = 7.5
_CELL_PAD = 2.5


@dataclass(frozen=True, slots=True)
class Column:
    """A table column: its share of the width, and how its cells stand."""

    title: str
    share: float
    align: str = "left"
    font: str = REGULAR


@dataclass(frozen=True, slots=True)
class _Row:
    cells: tuple[tuple[str, ...], ...]
    fonts: tuple[str, ...]
    height: float
    pad: float


class Flow:
    """A column of blocks over as many pages as they need; nothing is drawn before `finish`."""

    def __init__(self, sheet: Sheet, *, footer: str, running: str = "") -> None:
        self.sheet = sheet
        self.footer = sheet.clean(footer)
        self.running = sheet.clean(running)
        self._bottom = sheet.bottom - _FOOT * LEADING - 4
        self._pages: list[list[Callable[[], object]]] = [[]]
        self._top = sheet.top

    @property
    def pages(self) -> int:
        """How many pages the blocks take so far."""
        return len(self._pages)

    def gap(self, height: float) -> None:
        """White space, in points."""
        self._top += height

    def keep(self, height: float) -> None:
        """Begin a new page unless `height` points are left on this one."""
        if self._top + height > self._bottom + 0.01 and self._pages[-1]:
            self._pages.append([])
            self._top = self.sheet.top
            if self.running:
                self.text(self.running, 9, font=BOLD)
                self.rule()

    def drawn(self, height: float, draw: Callable[[float], object]) -> None:
        """A block of `height` that `draw(top)` puts on the sheet."""
        self.keep(height)
        top = self._top
        self._pages[-1].append(lambda: draw(top))
        self._top += height

    def rule(self, thickness: float = 0.8) -> None:
        """A line across the page."""
        self.drawn(thickness + 4, lambda top: self.sheet.rule(top + 1, thickness=thickness))

    def text(self, text: str, size: float, *, font: str = REGULAR, width: float | None = None) -> None:
        """Wrapped text."""
        room = self.sheet.width if width is None else width
        for line in wrap(self.sheet.clean(text), font, size, room):
            self._put_line(line, size, font)

    def heading(self, text: str, size: float = 13) -> None:
        """Bold text with air above it that stays with what follows."""
        self.keep(size * LEADING + 40)
        self.gap(size * 0.7)
        self.text(text, size, font=BOLD)
        self.gap(2)

    def pairs(self, pairs: Sequence[tuple[str, str]], size: float = 11, caption_width: float = 130) -> None:
        """Captions with their values beside them; pairs without a value are left out."""
        for caption, value in pairs:
            lines = wrap(self.sheet.clean(value), BOLD, size, self.sheet.width - caption_width)
            for number, line in enumerate(lines):
                self._put_pair(caption if number == 0 else "", line, size, caption_width)

    def table(
        self,
        columns: Sequence[Column],
        rows: Sequence[Sequence[str]],
        size: float = 9.5,
        *,
        bold: Callable[[str], bool] = lambda cell: False,
        pad: float = _CELL_PAD,
    ) -> None:
        """A ruled table whose heading is repeated on each page; cells for which `bold` holds are bold.

        `pad`: points above and below a cell's text.
        """
        widths = [column.share * self.sheet.width / sum(c.share for c in columns) for column in columns]
        head = self._row([column.title for column in columns], [BOLD] * len(columns), widths, size, pad)
        self.keep(head.height * 2)
        self._put_row(head, columns, widths, size, heavy=True)
        for cells in rows:
            fonts = [BOLD if bold(cell) else column.font for cell, column in zip(cells, columns, strict=True)]
            row = self._row(cells, fonts, widths, size, pad)
            pages = len(self._pages)
            self.keep(row.height)
            if len(self._pages) > pages:
                self._put_row(head, columns, widths, size, heavy=True)
            self._put_row(row, columns, widths, size, heavy=False)

    def finish(self) -> None:
        """Draw all pages, each with the footer and its number."""
        sheet = self.sheet
        for number, page in enumerate(self._pages, start=1):
            sheet.new_page()
            for operation in page:
                operation()
            foot = sheet.bottom - _FOOT * LEADING
            shown = f"page {number} of {len(self._pages)}"
            sheet.line(self.footer, foot, _FOOT, width=sheet.width * 0.8, font=REGULAR)
            sheet.line(shown, foot, _FOOT, font=REGULAR, align="right")

    def _put_line(self, line: str, size: float, font: str) -> None:
        self.drawn(size * LEADING, lambda top: self.sheet.put(line, self.sheet.left, top, font, size))

    def _put_pair(self, caption: str, line: str, size: float, caption_width: float) -> None:
        def draw(top: float) -> None:
            small = size * 0.85
            self.sheet.put(caption, self.sheet.left, top + (size - small) * ASCENT, REGULAR, small)
            self.sheet.put(line, self.sheet.left + caption_width, top, BOLD, size)

        self.drawn(size * LEADING + 1.5, draw)

    def _row(
        self, cells: Sequence[str], fonts: Sequence[str], widths: Sequence[float], size: float, pad: float
    ) -> _Row:
        most = int((self._bottom - self.sheet.top) / (size * LEADING)) - 6
        wrapped: list[tuple[str, ...]] = []
        for cell, font, width in zip(cells, fonts, widths, strict=True):
            room = width - 2 * _CELL_PAD
            lines = wrap(self.sheet.clean(cell), font, size, room)
            if len(lines) > most:
                lines = [*lines[: most - 1], cut_to(" ".join(lines[most - 1 :]), font, size, room)]
                self.sheet.note_cut(cell)
            wrapped.append(tuple(lines))
        height = max(1, *(len(lines) for lines in wrapped)) * size * LEADING + 2 * pad
        return _Row(tuple(wrapped), tuple(fonts), height, pad)

    def _put_row(
        self, row: _Row, columns: Sequence[Column], widths: Sequence[float], size: float, *, heavy: bool
    ) -> None:
        def draw(top: float) -> None:
            left = self.sheet.left
            for lines, font, column, width in zip(row.cells, row.fonts, columns, widths, strict=True):
                for number, line in enumerate(lines):
                    self.sheet.put(
                        line,
                        left + _CELL_PAD,
                        top + row.pad + number * size * LEADING,
                        font,
                        size,
                        width=width - 2 * _CELL_PAD,
                        align=column.align,
                    )
                left += width
            self.sheet.rule(top + row.height - (1.2 if heavy else 0.4), thickness=1.2 if heavy else 0.4)

        self.drawn(row.height, draw)
