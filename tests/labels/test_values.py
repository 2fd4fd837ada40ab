"""Sentences for values that a design cannot print."""

import pytest

from labels.registry import render, render_many
from labels.samples import SAMPLES
from labels.values import LabelError

LUG = SAMPLES["lug_card"]["grind"]
SLIP = SAMPLES["claim_slip"]["deer"]


def sentence(design: str, values: object, **more: object) -> str:
    with pytest.raises(LabelError) as caught:
        render(design, values, **more)  # type: ignore[arg-type]
    return str(caught.value)


def test_missing_value_is_named() -> None:
    values = {name: value for name, value in LUG.items() if name != "hunter"}
    assert sentence("lug_card", values) == "The lug card needs “hunter”."


def test_unknown_value_is_named() -> None:
    assert sentence("lug_card", {**LUG, "color": "red"}) == "The lug card has no place for “color”."


@pytest.mark.parametrize("number", ["2", 2.0, None, True, [2]])
def test_value_of_the_wrong_kind_is_shown(number: object) -> None:
    assert (
        sentence("lug_card", {**LUG, "number": number})
        == f"The lug card cannot print {number!r} as “number”."
    )


def test_missing_value_deep_inside_is_named() -> None:
    assert sentence("claim_slip", {**SLIP, "animals": [{"number": 1}]}) == (
        "The claim slip (animals) needs “species”."
    )


def test_values_must_have_names() -> None:
    assert sentence("lug_card", ["26-0147"]) == "The lug card needs its values by name."


def test_unknown_design_stock_and_mismatch() -> None:
    assert sentence("poster", {}) == "There is no label called “poster”."
    assert sentence("lug_card", LUG, stock="label-9x9") == "There is no stock called “label-9x9”."
    assert sentence("lug_card", LUG, stock="letter") == (
        "The lug card is not made for the stock “Letter 8.5 x 11 in”."
    )


@pytest.mark.parametrize("copies", [0, -1, 101])
def test_number_of_copies_has_limits(copies: int) -> None:
    assert sentence("lug_card", LUG, copies=copies) == "Print between 1 and 100 copies at a time."


def test_nothing_to_print() -> None:
    with pytest.raises(LabelError, match="There is nothing to print"):
        render_many("lug_card", [])


@pytest.mark.parametrize(
    ("badge", "words"),
    [
        ("12345", "twelve digits"),
        ("99" + "0" * 10, "cannot begin with 99"),
        ("12345678901a", "even number of digits"),
    ],
)
def test_badges_that_no_scanner_would_read(badge: str, words: str) -> None:
    assert words in sentence("staff_badge", {**SAMPLES["staff_badge"]["floor"], "badge": badge})


def test_signature_points_have_two_numbers() -> None:
    receipt = {**SAMPLES["outgoing_receipt"]["signed"], "mark": [[[1, 2, 3]]]}
    assert sentence("outgoing_receipt", receipt) == "The receipt needs 2 parts in “mark”, not 3."
