"""How much fat makes a share of the finished grind."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.floor.fat import fat_to_add
from shop.weights import pounds


@pytest.mark.parametrize(
    ("meat", "share_bp", "fat"),
    [
        # Nine parts of meat and one of fat are a 10 % grind, four and one a 20 % one: the meaning of a share.
        ("9", 1_000, "1"),
        ("4", 2_000, "1"),
        ("1", 5_000, "1"),
        ("17", 1_500, "3"),
        ("26", 0, "0"),
    ],
)
def test_whole_pounds(meat: str, share_bp: int, fat: str) -> None:
    assert abs(fat_to_add(pounds(meat), share_bp) - pounds(fat)) <= 1


def test_elk_with_nine_pounds_of_fat() -> None:
    """An elk order of 90 lb of meat with 9 lb of fat is 9/99 of the grind, 909 basis points."""
    assert fat_to_add(pounds(90), 909) == pytest.approx(pounds(9), rel=1e-3)


@pytest.mark.parametrize(
    ("in_mg", "share_bp", "fat"), [(1, 3_334, 1), (3, 2_500, 1), (1, 5_000, 1), (9, 1, 0)]
)
def test_rounds_once_to_the_milligram(in_mg: int, share_bp: int, fat: int) -> None:
    assert fat_to_add(in_mg, share_bp) == fat


def test_half_a_milligram_goes_to_the_even_one() -> None:
    # 5 mg at one tenth part fat to nine of meat would be 5/9; 1,500 bp of 8,500: 17 mg -> 3 mg exactly.
    assert fat_to_add(17, 1_500) == 3
    # One third (3,333.3 bp cannot be written), so halves come from 2,000 bp: 2 mg -> 0.5 mg, 6 mg -> 1.5 mg.
    assert fat_to_add(2, 2_000) == 0
    assert fat_to_add(6, 2_000) == 2


@given(st.integers(0, 10**10), st.integers(0, 9_999))
def test_is_that_share_of_the_whole(in_mg: int, share_bp: int) -> None:
    fat = fat_to_add(in_mg, share_bp)
    assert abs(Fraction(in_mg * share_bp, 10_000 - share_bp) - fat) <= Fraction(1, 2)


@pytest.mark.parametrize(("in_mg", "share_bp"), [(1, 10_000), (1, -1), (-1, 1_000)])
def test_refuses_what_is_no_share(in_mg: int, share_bp: int) -> None:
    with pytest.raises(ValueError, match="share of the grind"):
        fat_to_add(in_mg, share_bp)
