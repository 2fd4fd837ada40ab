"""Legal factors: NIST Handbook 44, Appendix C (rows S114 and S115 of fixtures/worked_examples.csv)."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from shop.weights import MG_PER_UNIT, Reading, parse_reading
from tests.published.sources import example


@pytest.mark.parametrize(("number", "unit"), [("S114", "lb"), ("S115", "oz")])
def test_pound_and_ounce_are_exact(number: str, unit: str) -> None:
    row = example(number)
    grams = re.match(r"([\d.]+) g exactly", row["expected"])
    assert grams is not None
    assert (row["inputs"], row["source"]) == (f"1 {unit}", "NIST HB 44 Appendix C")
    assert MG_PER_UNIT[unit] == Decimal(grams[1]) * 1000


@pytest.mark.parametrize("number", ["S114", "S115"])
def test_a_reading_is_rounded_once_to_the_milligram(number: str) -> None:
    """1,000,000 units are exact milligrams, so nothing of the factor is lost on the way."""
    unit = example(number)["inputs"].split(" ")[1]
    grams = Decimal(example(number)["expected"].split(" ")[0])
    assert Reading(1_000_000, unit, 0).mg == grams * 1_000_000_000
    assert Reading(1, unit, 0).mg == (grams * 1000).to_integral_value()


def test_sixteen_ounces_are_a_pound() -> None:
    """NIST Handbook 44, Appendix C: 1 lb = 16 oz; 12 lb 4 oz typed is 12.25 lb."""
    assert MG_PER_UNIT["oz"] * 16 == MG_PER_UNIT["lb"]
    assert parse_reading("12 lb 4 oz").mg == parse_reading("12.25 lb").mg
