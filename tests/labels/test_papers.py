"""The papers: receipt, cut sheet, yield statement, custody register."""

import pypdfium2 as pdfium
import pytest
from PIL import Image

from labels.registry import print_all, render
from labels.samples import SAMPLES
from labels.values import LabelError

RECEIPT = SAMPLES["outgoing_receipt"]["signed"]
REGISTER = SAMPLES["custody_register"]["season"]
YIELD = SAMPLES["yield_statement"]["deer"]
READ_BACK = SAMPLES["read_back"]["deer"]


def pages_of(pdf: bytes) -> list[str]:
    with pdfium.PdfDocument(pdf) as document:
        return [" ".join(page.get_textpage().get_text_range().split()) for page in document]


def test_receipt_names_shop_species_count_and_owner(text_of) -> None:
    # South Dakota 41:06:03:11: an outgoing receipt has the facility name, number and species, owner name.
    shown = text_of(render("outgoing_receipt", RECEIPT))
    for words in (
        "Crooked Lantern Game Processing",
        "1 white-tailed deer, buck",
        "Marta Okonek",
        "Ines Vardal",
    ):
        assert words in shown


def test_receipt_says_what_stays(text_of) -> None:
    shown = text_of(render("outgoing_receipt", RECEIPT))
    assert "Still in the shop Box 3 of 3 (summer sausage, waits for its batch); cape" in shown


def test_signature_is_drawn_where_the_strokes_are(raster) -> None:
    """A stroke across the middle of the pad gives one line at half its height, from edge to edge."""
    plain = {**RECEIPT, "mark": [[[0, 500], [1000, 500]]]}
    other = {**RECEIPT, "mark": [[[0, 500]]]}
    with_line, with_dot = (raster(render("outgoing_receipt", values), 72)[0] for values in (plain, other))
    changed = [
        x
        for x in range(with_line.width)
        if with_line.crop((x, 0, x + 1, with_line.height)).tobytes()
        != with_dot.crop((x, 0, x + 1, with_dot.height)).tobytes()
    ]
    assert changed[0] == pytest.approx(36, abs=2)
    assert changed[-1] == pytest.approx(36 + 240, abs=2)


@pytest.mark.parametrize("mark", [[[[0, 1001]]], [[[-1, 0]]], [[]]])
def test_signature_outside_its_pad_is_refused(mark: list) -> None:
    with pytest.raises(LabelError, match="outside its pad"):
        render("outgoing_receipt", {**RECEIPT, "mark": mark})


def test_receipt_needs_a_mark() -> None:
    unsigned = {name: value for name, value in RECEIPT.items() if name != "mark"}
    with pytest.raises(LabelError, match="needs a signature or typed initials"):
        render("outgoing_receipt", unsigned)


def test_receipt_needs_something_that_leaves() -> None:
    with pytest.raises(LabelError, match="needs something that leaves"):
        render("outgoing_receipt", {**RECEIPT, "leaving": []})


def test_typed_initials_say_that_they_were_typed(text_of) -> None:
    shown = text_of(render("outgoing_receipt", SAMPLES["outgoing_receipt"]["initials"]))
    assert "M.O." in shown
    assert "Initials, typed by the collector" in shown


def test_cut_sheet_marks_house_cuts_and_no_others(text_of) -> None:
    shown = text_of(render("read_back", READ_BACK))
    assert shown.count("house cut") == 3 + 1
    assert "Top round Steaks 1/2 in, 4 a pack house cut" in shown
    assert "Backstrap Steaks 3/4 in, 4 a pack Tenderloin" in shown


def test_cut_sheet_without_house_cuts_explains_none(text_of) -> None:
    lines = [{**line, "house": False} for line in READ_BACK["lines"]]
    assert "house cut" not in text_of(render("read_back", {**READ_BACK, "lines": lines}))


def test_yield_statement_keeps_added_fat_apart(text_of) -> None:
    shown = text_of(render("yield_statement", YIELD))
    own, added = shown.split("Added, not your own meat")
    assert "2 of 7 points weighed" in own
    assert "Beef fat" in added
    assert "Beef fat" not in own
    assert "not weighed" in own


def test_yield_range_is_drawn_to_scale(raster) -> None:
    """Only the mark moves with the packed weight: from 5 to 15 on a scale to 21.2 across 540 points."""
    pages = []
    for packed in (5_000_000, 15_000_000):
        values = {**YIELD, "expected_mg": [10_000_000, 15_000_000, 20_000_000], "packed_mg": packed}
        pages += raster(render("yield_statement", {**values, "packed": "x"}), 72)
    first, second = (page.transpose(Image.Transpose.TRANSPOSE) for page in pages)
    columns = [
        x
        for x in range(first.height)
        if first.crop((0, x, first.width, x + 1)).tobytes()
        != second.crop((0, x, first.width, x + 1)).tobytes()
    ]
    left = [x for x in columns if x < 290]
    right = [x for x in columns if x > 290]
    assert (left[0] + left[-1] + 1) / 2 == pytest.approx(36 + 540 * 5 / 21.2, abs=1.5)
    assert (right[0] + right[-1] + 1) / 2 == pytest.approx(36 + 540 * 15 / 21.2, abs=1.5)


@pytest.mark.parametrize("expected", [[3, 2, 1], [1, 2]])
def test_yield_range_out_of_order_is_refused(expected: list[int]) -> None:
    with pytest.raises(LabelError, match="low, a likely and a high"):
        render("yield_statement", {**YIELD, "expected_mg": expected})


def test_register_repeats_its_heading_and_counts_its_pages() -> None:
    rows = [[f"26-{number:04d}", *REGISTER["rows"][0][1:]] for number in range(1, 301)]
    pages = pages_of(render("custody_register", {**REGISTER, "rows": rows}))
    assert len(pages) > 5
    for number, page in enumerate(pages, start=1):
        assert f"page {number} of {len(pages)}" in page
        assert "Where killed" in page
    together = " ".join(pages)
    assert all(f"26-{number:04d}" in together for number in range(1, 301))
    assert "300 rows, all complete" in pages[0]


def test_register_marks_what_is_missing_and_counts_rows_not_cells(text_of) -> None:
    row = REGISTER["rows"][0]
    rows = [row, ["26-0002", "", " ", *row[3:]], ["26-0003", *row[1:-1], ""]]
    shown = text_of(render("custody_register", {**REGISTER, "rows": rows}))
    assert "3 rows, 2 incomplete" in shown
    # Three cells, and the line that explains the word.
    assert shown.count("MISSING") == 3 + 1


def test_register_without_rows_says_so(text_of) -> None:
    assert "0 rows, all complete" in text_of(render("custody_register", {**REGISTER, "rows": []}))


def test_register_row_with_a_cell_too_few_is_refused() -> None:
    with pytest.raises(LabelError, match="Row 2 of the register has 15 cells, not 16"):
        render("custody_register", {**REGISTER, "rows": [REGISTER["rows"][0], REGISTER["rows"][0][1:]]})


def test_register_cell_longer_than_a_page_is_cut_and_reported() -> None:
    row = REGISTER["rows"][0]
    printed = print_all("custody_register", [{**REGISTER, "rows": [["word " * 4000, *row[1:]]]}])
    assert printed.pages == 2
    assert len(printed.notes) == 1
    assert "cut short" in printed.notes[0]


@pytest.mark.parametrize("count", [1, 40, 120])
def test_long_cut_sheets_lose_no_line(count: int) -> None:
    lines = [{"part": f"Part{number:03d}", "choice": "Grind"} for number in range(count)]
    pages = pages_of(render("read_back", {**READ_BACK, "lines": lines}))
    together = " ".join(pages)
    assert [together.count(f"Part{number:03d}") for number in range(count)] == [1] * count
    assert all("Cut as" in page for page in pages[: (count + 39) // 40])
