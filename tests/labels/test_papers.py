"""The papers: receipt, cut sheet, yield statement, custody register."""

import pypdfium2 as pdfium
import pytest
from PIL import Image
from reportlab.graphics.shapes import Drawing, Rect, String
from reportlab.lib.colors import Color

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


def test_yield_statement_says_whats_own_and_what_was_added(text_of) -> None:
    shown = text_of(render("yield_statement", YIELD))
    assert "Less beef fat \u22121.90 lb added, not your own meat Your own meat 44.60 lb" in shown
    assert "At the block not weighed" in shown
    assert "30.00 lb, nominal" in shown


def cuts(many: int) -> list[dict[str, str]]:
    return [{"what": f"Cut{n:02d}, steaks", "packs": "4", "weight": "4.00 lb"} for n in range(many)]


@pytest.mark.parametrize("stock", ["letter", "a4"])
@pytest.mark.parametrize("many", [0, 1, 6, 7, 12, 20])
def test_yield_statement_is_one_page_with_as_many_cuts_as_a_deer_has(stock: str, many: int) -> None:
    (page,) = pages_of(render("yield_statement", {**YIELD, "cuts": cuts(many)}, stock=stock))
    assert [page.count(f"Cut{n:02d}.") or page.count(f"Cut{n:02d},") for n in range(many)] == [1] * many
    assert page.count("Packed 46.50 lb") == 1


def test_yield_statement_of_sixty_cuts_goes_on_with_its_heading() -> None:
    """All on one page if it can be, else on a second that says what it belongs to: nothing lost, nothing cut."""
    printed = print_all("yield_statement", [{**YIELD, "cuts": cuts(60)}])
    pages = pages_of(printed.pdf)
    together = " ".join(pages)
    assert [together.count(f"Cut{n:02d},") for n in range(60)] == [1] * 60
    assert (len(pages), printed.notes) == (2, ())
    assert pages[1].startswith("Yield statement · 26-0147 Cut Packs Weight")
    assert "page 2 of 2" in pages[1]


def test_yield_statement_with_long_names_says_them_whole() -> None:
    name = "Nguyễn Thị Phương Thảo Щербакова-Đurđević of the Upper Tamarack Fork Ranch and Sawmill Company"
    many = [{**cut, "what": f"{cut['what']} of {name}"} for cut in cuts(8)]
    printed = print_all("yield_statement", [{**YIELD, "hunter": name, "tag": name, "cuts": many}])
    together = " ".join(pages_of(printed.pdf))
    assert together.count("Щербакова-Đurđević") == 10
    assert printed.notes == ()


def test_yield_statement_without_a_packed_weight_has_no_mark(raster) -> None:
    """The mark is drawn above the bar: without it nothing but the caption differs."""
    with_mark, without = (
        raster(render("yield_statement", {**YIELD, "packed": "x", "packed_mg": mg}), 72)[0]
        for mg in (20_230_000, None)
    )
    assert with_mark.tobytes() != without.tobytes()
    at_zero = raster(render("yield_statement", {**YIELD, "packed": "x", "packed_mg": 0}), 72)[0]
    assert at_zero.tobytes() != without.tobytes()


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


SEASON = SAMPLES["season_report"]["season"]


def season_table(many: int) -> dict:
    names = [f"Cutter {n:03d}" for n in range(many)]
    return {
        "title": "By crew",
        "columns": ["Cutter", "Animals", "Hung", "Packed, own"],
        "rows": [[name, "1", "100.0", "50.0"] for name in names],
        "total": ["Season", str(many), f"{100 * many:,}.0", f"{50 * many:,}.0"],
    }


def test_season_report_of_four_hundred_rows_repeats_its_heading_and_counts_its_pages() -> None:
    pages = pages_of(render("season_report", {**SEASON, "tables": [season_table(400)]}))
    assert len(pages) > 8
    for number, page in enumerate(pages, start=1):
        assert f"page {number} of {len(pages)}" in page
        assert "Season report · Fall 2026" in page
    with_rows = [page for page in pages if "Cutter 0" in page or "Cutter 1" in page or "Cutter 3" in page]
    assert all("Cutter Animals Hung Packed, own" in page for page in with_rows)
    together = " ".join(pages)
    assert all(together.count(f"Cutter {n:03d} 1 100.0 50.0") == 1 for n in range(400))
    assert together.count("Season 400 40,000.0 20,000.0") == 1


def test_season_report_of_one_row_is_one_page() -> None:
    (page,) = pages_of(render("season_report", {**SEASON, "tables": [season_table(1)]}))
    assert "Cutter 000 1 100.0 50.0 Season 1 100.0 50.0" in page
    assert "All weights in lb." in page


def test_season_without_animals_says_so(text_of) -> None:
    shown = text_of(render("season_report", SAMPLES["season_report"]["empty"]))
    assert "No animal was finished in this season." in shown
    assert "No animal was finished" not in text_of(render("season_report", SEASON))


@pytest.mark.parametrize(("width", "height"), [(300, 120), (2000, 300), (400, 3000)])
def test_season_report_draws_its_pictures_inside_the_page(raster, width: float, height: float) -> None:
    drawing = Drawing(width, height)
    drawing.add(Rect(0, 0, width, height, fillColor=Color(1, 0, 0), strokeColor=None))
    drawing.add(String(width / 2, height / 2, "Dummy picture", fontName="Gambrel", fontSize=height / 20))
    pdf = render("season_report", {**SEASON, "charts": [drawing, drawing]})
    assert " ".join(pages_of(pdf)).count("Dummy picture") == 2
    # Red is 76 in gray: nothing of it in the margins (10 mm), and as wide as it fits.
    for page in raster(pdf, 72):
        red = page.point(lambda shade: 255 if 70 < shade < 82 else 0).getbbox()
        assert red is None or (red[0] >= 27 and red[2] <= page.width - 27 and red[3] <= page.height - 27)
    assert any(page.point(lambda shade: 255 if 70 < shade < 82 else 0).getbbox() for page in raster(pdf, 72))


def test_season_report_refuses_a_row_that_does_not_fit_its_columns() -> None:
    table = {**season_table(2), "total": ["Season", "2"]}
    with pytest.raises(LabelError, match="Row 3 of “By crew” has 2 cells, not 4"):
        render("season_report", {**SEASON, "tables": [table]})
    with pytest.raises(LabelError, match="cannot print"):
        render("season_report", {**SEASON, "charts": ["a picture"]})
