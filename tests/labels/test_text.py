"""Text that shrinks before it is cut, and letters that the font lacks."""

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labels.text import (
    BOLD,
    CAP_HEIGHT,
    REGULAR,
    UNPRINTABLE,
    cut_to,
    fit_block,
    fit_line,
    printable,
    register_fonts,
    width_of,
    wrap,
)

NAMES = [
    "Siobhán Ó Faoláin-Brânză",
    "Nguyễn Thị Phương Thảo",
    "Željko Đurđević",
    "Ольга Щербакова",
    "Ιωάννα Παπαδοπούλου",
    "Þórdís Æsa Ñandú",
]


@pytest.mark.parametrize("name", NAMES)
def test_names_of_many_languages_print_whole(name: str) -> None:
    assert printable(name) == (name, ())


def test_combining_accents_are_composed() -> None:
    assert printable("Nguye\u0302\u0303n") == ("Nguyễn", ())


def test_white_space_and_control_characters_become_nothing_worse_than_a_space() -> None:
    assert printable(" Marta\t\n  Oko\u200bnek\u00ad ") == ("Marta Okonek", ())


def test_missing_letters_are_marked_and_reported() -> None:
    assert printable("佐藤 Jim 藤") == (f"{UNPRINTABLE * 2} Jim {UNPRINTABLE}", ("佐", "藤"))


def test_right_to_left_writing_is_marked_not_reversed() -> None:
    shown, missing = printable("דוד")
    assert shown == UNPRINTABLE * 3
    assert missing == ("ד", "ו")


def test_all_fonts_have_the_mark_itself() -> None:
    assert all(ord(UNPRINTABLE) in font.face.charToGlyph for font in register_fonts().values())


def test_short_text_keeps_its_size() -> None:
    assert fit_line("Elk", BOLD, 20, 8, 200).size == 20


def test_longer_text_shrinks_to_the_width() -> None:
    fitted = fit_line("Marta Okonek of Tamarack Fork", BOLD, 20, 8, 200)
    assert 8 <= fitted.size < 20
    assert fitted.lines == ("Marta Okonek of Tamarack Fork",)
    assert width_of(fitted.lines[0], BOLD, fitted.size) == pytest.approx(200)


def test_only_below_the_minimum_is_text_cut_and_it_shows() -> None:
    fitted = fit_line("Marta Okonek of Tamarack Fork", BOLD, 20, 18, 100)
    assert fitted.cut
    assert fitted.size == 18
    assert fitted.lines[0].endswith("…")
    assert "Marta Okonek".startswith(fitted.lines[0][:-1])


@given(st.text(alphabet=string.ascii_letters + " ", min_size=1, max_size=300), st.integers(20, 300))
def test_no_line_is_wider_than_its_place(text: str, width: int) -> None:
    shown = printable(text)[0] or "x"
    line = fit_line(shown, REGULAR, 20, 6, width)
    assert width_of(line.lines[0], REGULAR, line.size) <= width + 0.01
    block = fit_block(shown, REGULAR, 12, 6, width, 40)
    assert all(width_of(part, REGULAR, block.size) <= width + 0.01 for part in block.lines)
    assert len(block.lines) * block.size * 1.17 <= 40.02
    if not block.cut:
        assert "".join(block.lines).replace(" ", "") == shown.replace(" ", "")


def test_a_word_longer_than_the_line_is_broken_not_lost() -> None:
    word = "Donaudampfschifffahrtsgesellschaft"
    lines = wrap(word, REGULAR, 10, 60)
    assert len(lines) > 1
    assert "".join(lines) == word


def test_cut_text_keeps_as_much_as_fits() -> None:
    kept = cut_to("abcdefghij", REGULAR, 10, 40)
    longer = "abcdefghij"[: len(kept)] + "…"
    assert width_of(kept, REGULAR, 10) <= 40 < width_of(longer, REGULAR, 10)


def test_cap_height_is_the_fonts() -> None:
    # DejaVu Sans, OS/2 table: capitals are 1493 of 2048 units high.
    assert round(CAP_HEIGHT, 3) == round(1493 / 2048, 3)
