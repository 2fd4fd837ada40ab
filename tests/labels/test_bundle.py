"""Several designs in one file: each page in the size of its own stock, the codes in order, errors in sentences."""

from __future__ import annotations

import pypdfium2
import pytest
import zxingcpp

from labels.bundle import render_bundle
from labels.samples import SAMPLES
from labels.values import LabelError

PARTS = [
    (design, [SAMPLES[design][sample]]) for design, sample in (("box_label", "deer"), ("lug_card", "grind"))
]


def test_each_page_has_the_size_of_its_stock_and_its_code() -> None:
    printed = render_bundle([*PARTS, ("claim_slip", [])])
    document = pypdfium2.PdfDocument(printed.pdf)
    try:
        sizes = [tuple(round(side / 72, 2) for side in page.get_size()) for page in document]
        codes = [zxingcpp.read_barcodes(page.render(scale=203 / 72).to_pil())[0].text for page in document]
    finally:
        document.close()
    assert sizes == [(4, 6), (4, 3)]
    assert codes == [many[0]["code"] for _, many in PARTS]
    assert printed.pages == 2


def test_the_same_values_give_the_same_bytes() -> None:
    assert render_bundle(PARTS).pdf == render_bundle(PARTS).pdf


@pytest.mark.parametrize(
    ("parts", "sentence"),
    [
        ([], "There is nothing to print."),
        ([("box_label", [])], "There is nothing to print."),
        ([("poster", [{}])], "There is no label called “poster”."),
        ([("lug_card", [{"code": "1"}])], "The lug card needs “order”."),
    ],
)
def test_what_cannot_be_printed_says_so(parts: list[tuple[str, list[dict[str, str]]]], sentence: str) -> None:
    with pytest.raises(LabelError, match=sentence):
        render_bundle(parts)
