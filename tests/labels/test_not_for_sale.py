"""The words NOT FOR SALE as a ruler would measure them on the printed label.

9 CFR 317.16 (packages) and 9 CFR 316.16 (carcasses and parts): "Not for Sale" in letters at least
three-eighths inch in height: 9.525 mm, 76.1 dots at 203 dpi, so 77 whole dots.
"""

import math

import pypdfium2 as pdfium
import pytest
from PIL import Image

from labels.registry import DESIGNS, render
from labels.samples import SAMPLES
from labels.sheet import Sheet
from labels.stocks import STOCKS, Stock
from labels.values import LabelError

MARKED = ["package_label", "piece_tag", "box_label"]
CASES = [
    pytest.param(design, name, stock, id=f"{design}-{name}-{stock}")
    for design in MARKED
    for name in SAMPLES[design]
    for stock in DESIGNS[design].stocks
]


def letter_heights(pdf: bytes, dpi: int) -> list[int]:
    """Rows of dark dots of each letter of the words, found where the page says that they stand."""
    with pdfium.PdfDocument(pdf) as document:
        page = document[0]
        words = page.get_textpage()
        searcher = words.search("NOT FOR SALE", match_case=True)
        start, count = searcher.get_next()
        assert searcher.get_next() is None
        boxes = [words.get_charbox(start + offset) for offset in range(count)]
        image = page.render(scale=dpi / 72).to_pil().convert("L")
        letters = [letter for letter in range(count) if words.get_text_range(start + letter, 1) != " "]
        return [_dark_rows(image, boxes[letter], dpi / 72, page.get_height()) for letter in letters]


def _dark_rows(image: Image.Image, box: tuple[float, ...], scale: float, height: float) -> int:
    left, bottom, right, top = box
    area = (
        math.floor(left * scale),
        math.floor((height - top) * scale) - 3,
        math.ceil(right * scale),
        min(image.height, math.ceil((height - bottom) * scale) + 3),
    )
    dark = image.crop(area).point(lambda shade: 255 if shade < 128 else 0).getbbox()
    assert dark is not None
    return int(dark[3] - dark[1])


@pytest.mark.parametrize(("design", "name", "stock"), CASES)
def test_every_letter_is_three_eighths_of_an_inch(design: str, name: str, stock: str) -> None:
    dpi = STOCKS[stock].dpi
    heights = letter_heights(render(design, SAMPLES[design][name], stock=stock), dpi)
    assert len(heights) == 10
    assert min(heights) >= math.ceil(9.525 / 25.4 * dpi)
    # Nor is it something else that was measured.
    assert max(heights) <= 12 / 25.4 * dpi


def test_they_are_never_made_smaller() -> None:
    narrow = Sheet(Stock("narrow", "Label 2 x 2 in", 50.8, 50.8), "label")
    narrow.new_page()
    with pytest.raises(LabelError, match="letters of 3/8 inch"):
        narrow.not_for_sale(10)
    low = Sheet(Stock("low", "Label 4 x 1/4 in", 101.6, 6.35), "label")
    low.new_page()
    with pytest.raises(LabelError, match="letters of 3/8 inch"):
        low.not_for_sale(2)


def test_the_receipt_says_it_too(text_of) -> None:
    assert "Not for sale." in text_of(render("outgoing_receipt", SAMPLES["outgoing_receipt"]["signed"]))


@pytest.mark.parametrize("field", ["keep", "cook", "caution", "ingredients", "cut"])
def test_a_package_never_speaks_of_inspected_meat(field: str) -> None:
    # 9 CFR 317.2(l): the federal text begins "This product was prepared from inspected and passed meat and/or
    # poultry", which is untrue of game.
    sentence = "This product was prepared from Inspected  and\nPassed meat and/or poultry."
    with pytest.raises(LabelError, match="must not say that its meat was inspected"):
        render("package_label", {**SAMPLES["package_label"]["deer"], field: sentence})


def test_no_sample_carries_the_federal_sentence(text_of) -> None:
    for name, values in SAMPLES["package_label"].items():
        assert "inspected" not in text_of(render("package_label", values)).lower(), name


def test_a_bear_package_carries_its_caution_whole(text_of) -> None:
    values = SAMPLES["package_label"]["bear"]
    for stock in DESIGNS["package_label"].stocks:
        shown = text_of(render("package_label", values, stock=stock))
        assert values["caution"] in shown
        assert values["ingredients"] in shown


def test_statements_that_do_not_fit_are_refused_not_shortened() -> None:
    values = {
        **SAMPLES["package_label"]["bear"],
        "ingredients": "Ingredients: " + "bear, pork, water, salt, " * 20,
    }
    with pytest.raises(LabelError, match="do not fit on this package label"):
        render("package_label", values, stock="label-4x2")
