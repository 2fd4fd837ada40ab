"""The embedded font, what it can print, and text that shrinks before it is cut."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

REGULAR = "Gambrel"
BOLD = "Gambrel-Bold"
NARROW = "Gambrel-Narrow"
_FILES = {REGULAR: "DejaVuSans.ttf", BOLD: "DejaVuSans-Bold.ttf", NARROW: "DejaVuSansCondensed-Bold.ttf"}

# Of the font size, from the font's own tables (of 2048 units: 1493, 1901); the tests measure the first.
CAP_HEIGHT = 0.729
ASCENT = 0.928
LEADING = 1.17

# Stands where the font has no letter: visible, and not mistaken for one.
UNPRINTABLE = "\ufffd"
ELLIPSIS = "…"
_STEP = 0.25


@cache
def register_fonts() -> dict[str, TTFont]:
    """Load the three embedded fonts once; returns them by name."""
    folder = Path(__file__).resolve().parent / "fonts"
    fonts = {name: TTFont(name, str(folder / file)) for name, file in _FILES.items()}
    for font in fonts.values():
        pdfmetrics.registerFont(font)
    return fonts


@cache
def _covered() -> frozenset[int]:
    """The characters that all three fonts have."""
    sets = [frozenset(font.face.charToGlyph) for font in register_fonts().values()]
    return sets[0] & sets[1] & sets[2]


def printable(text: str) -> tuple[str, tuple[str, ...]]:
    """`text` as it can be printed, and the characters that were replaced by a visible mark.

    Composed (NFC), white space to single spaces, invisible characters dropped. Writing that runs from right
    to left would come out reversed, so it is replaced and reported as well.
    """
    printed: list[str] = []
    missing: list[str] = []
    for letter in " ".join(unicodedata.normalize("NFC", text).split()):
        if unicodedata.category(letter) in {"Cc", "Cf"}:
            continue
        if ord(letter) in _covered() and unicodedata.bidirectional(letter) not in {"R", "AL"}:
            printed.append(letter)
        else:
            printed.append(UNPRINTABLE)
            missing.append(letter)
    return "".join(printed), tuple(dict.fromkeys(missing))


def width_of(text: str, font: str, size: float) -> float:
    """Points that `text` takes on one line."""
    register_fonts()
    return float(pdfmetrics.stringWidth(text, font, size))


@dataclass(frozen=True, slots=True)
class Fitted:
    """Lines that fit their place at `size`; `cut` when the end was left out and “…” stands for it."""

    lines: tuple[str, ...]
    size: float
    cut: bool


def fit_line(text: str, font: str, size: float, minimum: float, width: float) -> Fitted:
    """One line of `text` in `width` points: shrunk from `size` to `minimum`, and only then cut with “…”."""
    natural = width_of(text, font, 1)
    wanted = size if natural * size <= width else width / natural
    if wanted >= minimum:
        return Fitted((text,), wanted, cut=False)
    return Fitted((cut_to(text, font, minimum, width),), minimum, cut=True)


def cut_to(text: str, font: str, size: float, width: float) -> str:
    """The longest beginning of `text` that fits `width` together with “…”."""
    fits, too_long = 0, len(text) + 1
    while too_long - fits > 1:
        middle = (fits + too_long) // 2
        if width_of(text[:middle].rstrip() + ELLIPSIS, font, size) <= width:
            fits = middle
        else:
            too_long = middle
    return text[:fits].rstrip() + ELLIPSIS


def wrap(text: str, font: str, size: float, width: float) -> list[str]:
    """Lines of at most `width` points, broken between words; a word longer than a line is broken inside."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        candidate = f"{line} {word}" if line else word
        if width_of(candidate, font, size) <= width:
            line = candidate
            continue
        if line:
            lines.append(line)
        *full, line = _break_word(word, font, size, width)
        lines.extend(full)
    return [*lines, line] if line else lines


def _break_word(word: str, font: str, size: float, width: float) -> list[str]:
    pieces = [""]
    for letter in word:
        if pieces[-1] and width_of(pieces[-1] + letter, font, size) > width:
            pieces.append("")
        pieces[-1] += letter
    return pieces


def fit_block(text: str, font: str, size: float, minimum: float, width: float, height: float) -> Fitted:
    """Wrapped `text` in a box of points: shrunk from `size` to `minimum`, and only then cut with “…”."""
    wanted = max(size, minimum)
    while True:
        lines = wrap(text, font, wanted, width)
        if len(lines) * wanted * LEADING <= height + 0.01:
            return Fitted(tuple(lines), wanted, cut=False)
        if wanted <= minimum:
            break
        wanted = max(minimum, wanted - _STEP)
    room = max(1, int((height + 0.01) / (minimum * LEADING)))
    kept, rest = lines[: room - 1], " ".join(lines[room - 1 :])
    return Fitted((*kept, cut_to(rest, font, minimum, width)), minimum, cut=True)
