"""Fractions of an inch, pack sizes and percent, as they are said and read."""

from __future__ import annotations

from fractions import Fraction
from types import SimpleNamespace

import pytest

from orders.cutsheets.words import (
    COMMON_16THS,
    details,
    pack_words,
    percent,
    percent_figure,
    read_pack,
    thickness_words,
)
from shop.weights import WeightError


@pytest.mark.parametrize(
    ("sixteenths", "said"),
    [
        (2, "1/8 in"),
        (3, "3/16 in"),
        (8, "1/2 in"),
        (12, "3/4 in"),
        (16, "1 in"),
        (20, "1 1/4 in"),
        (64, "4 in"),
    ],
)
def test_thickness(sixteenths: int, said: str) -> None:
    assert thickness_words(sixteenths) == said


def test_every_thickness_that_is_offered_says_what_it_is() -> None:
    """Against the exact fractions of the standard library."""
    for sixteenths in COMMON_16THS:
        parts = thickness_words(sixteenths).removesuffix(" in").split()
        assert sum(Fraction(part) for part in parts) == Fraction(sixteenths, 16)


# 1 lb is 16 oz: NIST Handbook 44, Appendix C, units of mass, avoirdupois.
@pytest.mark.parametrize(
    ("typed", "ounces", "said"),
    [
        ("1", 16, "1 lb"),
        ("1.5", 24, "1 lb 8 oz"),
        ("12 oz", 12, "12 oz"),
        ("1 lb 8 oz", 24, "1 lb 8 oz"),
        ("0.25 lb", 4, "4 oz"),
        (" 2 LB ", 32, "2 lb"),
    ],
)
def test_pack_sizes(typed: str, ounces: int, said: str) -> None:
    assert (read_pack(typed), pack_words(ounces)) == (ounces, said)
    assert read_pack(said) == ounces


@pytest.mark.parametrize("typed", ["", "large", "0.3 lb", "500 g", "1 kg", "-1", "1 lb 0.5 oz", "9" * 60])
def test_what_is_not_a_pack_size_is_refused(typed: str) -> None:
    with pytest.raises(WeightError):
        read_pack(typed)


@pytest.mark.parametrize(
    ("bp", "figure"), [(0, "0"), (1000, "10"), (1250, "12.5"), (10_000, "100"), (1, "0.01")]
)
def test_percent(bp: int, figure: str) -> None:
    assert (percent_figure(bp), percent(bp)) == (figure, f"{figure} %")


def test_details() -> None:
    plain = {
        "share_bp": 10_000,
        "thickness_16ths": None,
        "pieces_per_pack": None,
        "pack_oz": None,
        "fat_bp": 0,
        "fat_kind": "",
    }
    steaks = SimpleNamespace(**{**plain, "thickness_16ths": 12, "pieces_per_pack": 4, "share_bp": 2500})
    ground = SimpleNamespace(**{**plain, "fat_bp": 1000, "fat_kind": "pork", "pack_oz": 16})
    assert details(steaks) == "25 % of it, 3/4 in, 4 in a pack"
    assert details(ground) == "10 % pork fat, 1 lb packs"
    assert details(SimpleNamespace(**plain)) == ""
