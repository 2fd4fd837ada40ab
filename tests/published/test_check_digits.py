"""GS1 check digits and Code 128 check characters against published examples (fixtures/worked_examples.csv)."""

from __future__ import annotations

import re

import pytest
from barcode.charsets.code128 import CODES

from labels.barcodes import bars
from shop.codes import Kind, check_digit, make_code
from tests.published.sources import example


@pytest.mark.parametrize("number", ["S072", "S073", "S075", "S076", "S078"])
def test_gs1_check_digit(number: str) -> None:
    row = example(number)
    digits, check = row["inputs"].removeprefix("digits="), row["expected"].removeprefix("check=")
    assert check_digit(digits) == int(check)


@pytest.mark.parametrize("number", ["S072", "S073", "S075", "S076", "S078"])
def test_gs1_check_digit_catches_every_single_wrong_digit(number: str) -> None:
    """GS1 General Specifications 7.9.1: weights 3 and 1 are prime to 10, so one wrong digit never agrees."""
    digits = example(number)["inputs"].removeprefix("digits=")
    right = check_digit(digits)
    for place, digit in enumerate(digits):
        for wrong in set("0123456789") - {digit}:
            assert check_digit(digits[:place] + wrong + digits[place + 1 :]) != right


def code128_check(start: int, values: list[int]) -> int:
    """ISO/IEC 15417: start + sum of position x value, modulo 103."""
    return (start + sum(place * value for place, value in enumerate(values, start=1))) % 103


STARTS = {"A": 103, "B": 104, "C": 105}


@pytest.mark.parametrize("number", ["S080", "S081", "S083", "S085"])
def test_code128_check_character(number: str) -> None:
    row = example(number)
    inputs, expected = row["inputs"], row["expected"]
    start = STARTS[inputs.removeprefix("start=")[0]]
    written = re.search(r"values=([\d,]+)", inputs)
    # Code set B: the value of a character is its ASCII code less 32 (ISO/IEC 15417).
    values = (
        [int(value) for value in written[1].split(",")] if written else [ord(char) - 32 for char in "abcdef"]
    )
    check = re.search(r"check_value=(\d+)", expected)
    assert check is not None
    assert code128_check(start, values) == int(check[1])
    if total := re.search(r"sum=(\d+)", expected):
        assert start + sum(place * value for place, value in enumerate(values, start=1)) == int(total[1])


def test_gs1_128_check_character() -> None:
    """S087: start C, FNC1 (102), then the digits in pairs; the net weight 001275 with AI 3202 is 12.75 lb."""
    row = example("S087")
    digits = "".join(re.findall(r"\d+", row["inputs"].split(";")[2]))
    pairs = [int(digits[place : place + 2]) for place in range(0, len(digits), 2)]
    assert f"check_value={code128_check(105, [102, *pairs])}" in row["expected"]


@pytest.mark.parametrize("serial", [1, 42, 12_345_678, 99_999_999])
@pytest.mark.parametrize("kind", [Kind.ORDER, Kind.PACKAGE, Kind.RUN])
def test_our_bars_end_in_that_check_character(kind: Kind, serial: int) -> None:
    """Symbols are 11 modules: start C, five pairs, the check character; then the stop of 13: 90 modules in all."""
    code = make_code(kind, serial)
    modules = bars(code)
    assert len(modules) == 90
    symbols = [CODES.index(modules[place : place + 11]) for place in range(0, 77, 11)]
    pairs = [int(code[place : place + 2]) for place in range(0, 10, 2)]
    assert symbols == [105, *pairs, code128_check(105, pairs)]
    assert modules[77:] == "1100011101011"
