"""Stocks: sizes in millimeters, points and whole dots."""

import pytest

from labels.registry import DESIGNS
from labels.stocks import STOCKS, points


def test_an_inch_is_seventy_two_points() -> None:
    # The inch is 25.4 mm exactly (NIST Handbook 44, Appendix C).
    assert points(25.4) == 72


@pytest.mark.parametrize(
    ("code", "inches"),
    [
        ("label-4x6", (4, 6)),
        ("label-4x3", (4, 3)),
        ("label-4x2", (4, 2)),
        ("tag-4x6", (4, 6)),
        ("half-letter", (5.5, 8.5)),
        ("letter", (8.5, 11)),
        ("letter-wide", (11, 8.5)),
    ],
)
def test_sizes_are_the_inches_of_their_names(code: str, inches: tuple[float, float]) -> None:
    assert STOCKS[code].size == pytest.approx((inches[0] * 72, inches[1] * 72))


def test_a4_is_the_iso_size() -> None:
    # ISO 216: A4 is 210 mm by 297 mm.
    assert (STOCKS["a4"].width_mm, STOCKS["a4"].height_mm) == (210, 297)


def test_every_thermal_stock_exists_for_both_print_heads() -> None:
    thermal = {code for code in STOCKS if code.startswith(("label", "tag"))}
    coarse = {code for code in thermal if not code.endswith("-300")}
    assert {f"{code}-300" for code in coarse} == thermal - coarse
    assert {STOCKS[code].dpi for code in coarse} == {203}
    assert {STOCKS[code].dpi for code in thermal - coarse} == {300}


def test_only_tags_keep_room_for_a_hole() -> None:
    assert {code for code, stock in STOCKS.items() if stock.hole_mm} == {"tag-4x6", "tag-4x6-300"}


def test_designs_name_known_stocks() -> None:
    assert {code for design in DESIGNS.values() for code in design.stocks} <= set(STOCKS)
