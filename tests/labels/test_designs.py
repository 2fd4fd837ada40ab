"""Every design: on its stock, in its margins, with its words, the same bytes twice, long names and all."""

import json
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from itertools import combinations

import pypdfium2 as pdfium
import pytest
from PIL import Image

from labels.designs.box_label import BoxLabel
from labels.designs.claim_slip import ClaimSlip
from labels.registry import DESIGNS, print_all, render, render_many
from labels.samples import SAMPLES
from labels.stocks import STOCKS, Stock
from labels.values import LabelError, build

CASES = [
    pytest.param(design, name, stock, id=f"{design}-{name}-{stock}")
    for design, samples in SAMPLES.items()
    for name in samples
    for stock in DESIGNS[design].stocks
]
LONG = (
    "Nguyễn Thị Phương Thảo Щербакова-Đurđević Ó Faoláin of the Upper Tamarack Fork Ranch and Sawmill Company"
)


def ink_outside(page: Image.Image, stock: Stock, dpi: int) -> list[str]:
    """The sides of the stock on which there is ink in the margin or the hole's place."""
    margin = int(stock.margin_mm / 25.4 * dpi)
    hole = int((stock.margin_mm + stock.hole_mm) / 25.4 * dpi)
    width, height = page.size
    strips = {
        "left": (0, 0, margin, height),
        "right": (width - margin, 0, width, height),
        "top": (0, 0, width, hole),
        "bottom": (0, height - margin, width, height),
    }
    return [side for side, box in strips.items() if page.crop(box).getextrema()[0] < 200]


def stretched(values, key=""):
    """The sample with every name and remark replaced by a very long one."""
    keep = {"code", "badge", "order", "net", "columns", "mark", "packed"}
    if isinstance(values, dict):
        return {name: values[name] if name in keep else stretched(values[name], name) for name in values}
    if isinstance(values, list):
        return [stretched(item, key) for item in values]
    return LONG if isinstance(values, str) else values


def collisions(pdf: bytes) -> list[tuple[str, str]]:
    """Pairs of printed runs of text of which one covers a good part of the other's height."""
    found = []
    with pdfium.PdfDocument(pdf) as document:
        for page in document:
            words = page.get_textpage()
            boxes = [words.get_rect(index) for index in range(words.count_rects())]
            for first, second in combinations(boxes, 2):
                across = min(first[2], second[2]) - max(first[0], second[0])
                down = min(first[3], second[3]) - max(first[1], second[1])
                least = min(first[3] - first[1], second[3] - second[1])
                if across > 1 and down > 0.35 * least:
                    found.append((words.get_text_bounded(*first), words.get_text_bounded(*second)))
    return found


def test_every_design_has_a_sample() -> None:
    assert set(SAMPLES) == set(DESIGNS)


@pytest.mark.parametrize(("design", "name", "stock"), CASES)
def test_page_has_the_size_of_the_stock_and_free_margins(raster, design: str, name: str, stock: str) -> None:
    pages = raster(render(design, SAMPLES[design][name], stock=stock))
    for page in pages:
        assert page.size == pytest.approx([length * 203 / 72 for length in STOCKS[stock].size], abs=1)
        assert ink_outside(page, STOCKS[stock], 203) == []
        assert page.getextrema()[0] < 30


@pytest.mark.parametrize(("design", "name", "stock"), CASES)
def test_samples_print_without_a_loss(design: str, name: str, stock: str) -> None:
    printed = print_all(design, [SAMPLES[design][name]], stock)
    assert printed.notes == ()
    assert collisions(printed.pdf) == []


@pytest.mark.parametrize(("design", "name", "stock"), CASES)
def test_long_names_stay_in_the_margins_and_are_reported_when_cut(raster, design, name, stock) -> None:
    values = stretched(SAMPLES[design][name])
    if design == "package_label":
        values |= {"caution": "", "ingredients": "", "keep": "Keep frozen.", "cook": "Cook thoroughly."}
        values |= {
            "shop": "Crooked Lantern Game Processing",
            "shop_address": "14 Sawmill Lane",
            "origin": "Own meat",
        }
    printed = print_all(design, [values], stock)
    for page in raster(printed.pdf):
        assert ink_outside(page, STOCKS[stock], 203) == []
    assert collisions(printed.pdf) == []
    assert all("cut short" in note for note in printed.notes)
    if design in {"lug_card", "staff_badge", "box_label", "package_label", "piece_tag"}:
        assert printed.notes


@pytest.mark.parametrize("design", list(DESIGNS))
def test_same_values_give_the_same_bytes(design: str) -> None:
    for values in SAMPLES[design].values():
        assert render(design, values) == render(design, json.loads(json.dumps(values)))


def test_another_process_gives_the_same_bytes() -> None:
    program = (
        "import sys; from labels.registry import render; from labels.samples import SAMPLES; "
        "sys.stdout.buffer.write(render('claim_slip', SAMPLES['claim_slip']['deer']))"
    )
    other = subprocess.run([sys.executable, "-c", program], capture_output=True, check=True)
    assert other.stdout == render("claim_slip", SAMPLES["claim_slip"]["deer"])


def test_fonts_are_embedded() -> None:
    pdf = render("claim_slip", SAMPLES["claim_slip"]["deer"])
    assert pdf.count(b"/FontFile2") == 3
    # The built-in fonts of a PDF viewer are not relied upon for any text.
    assert pdf.count(b"/ToUnicode") == 3


@pytest.mark.parametrize("name", ["Siobhán Ó Faoláin", "Nguyễn Thị Phương Thảo", "Ольга Щербакова"])
def test_names_come_out_as_they_went_in(text_of, name: str) -> None:
    printed = print_all("piece_tag", [{**SAMPLES["piece_tag"]["carcass"], "hunter": name}])
    assert name in text_of(printed.pdf)
    assert printed.notes == ()


def test_a_letter_without_a_glyph_is_marked_and_reported(text_of) -> None:
    printed = print_all("piece_tag", [{**SAMPLES["piece_tag"]["carcass"], "hunter": "佐 Sato"}])
    assert printed.notes == ("The character “佐” in “佐 Sato” cannot be printed; a mark stands for it.",)
    assert "\ufffd Sato" in text_of(printed.pdf)


def test_order_number_of_a_tag_is_sixty_points(raster) -> None:
    """Digits are 0.729 em high (DejaVu Sans), so 60 pt are 43.7 pt or 123.3 dots of ink."""
    (page,) = raster(render("piece_tag", SAMPLES["piece_tag"]["carcass"]))
    top = STOCKS["tag-4x6"].margin_mm + STOCKS["tag-4x6"].hole_mm
    start = round(top / 25.4 * 203)
    rows = [page.crop((0, y, page.width, y + 1)).getextrema()[0] < 128 for y in range(start, page.height)]
    assert rows.index(False, rows.index(True)) - rows.index(True) >= 124


def test_order_number_that_cannot_be_sixty_points_is_refused() -> None:
    with pytest.raises(LabelError, match="“26-0147-0147” does not fit on this tag"):
        render("piece_tag", {**SAMPLES["piece_tag"]["carcass"], "order": "26-0147-0147"})


def test_kept_part_and_carcass_say_which_they_are(text_of) -> None:
    samples = SAMPLES["piece_tag"]
    assert "KEEP FOR THE HUNTER" in text_of(render("piece_tag", samples["kept"]))
    assert "KEEP FOR THE HUNTER" not in text_of(render("piece_tag", samples["carcass"]))
    assert "HOLD: test result pending" in text_of(render("piece_tag", samples["held"]))


def test_a_tag_says_so_far_until_the_count_is_known(text_of) -> None:
    samples = SAMPLES["piece_tag"]
    assert "1 of 3 so far" in text_of(render("piece_tag", samples["so far"]))
    carcass, kept = (text_of(render("piece_tag", samples[name])) for name in ("carcass", "kept"))
    assert "1 of 3" in carcass
    assert "so far" not in carcass
    assert " of " not in kept


def test_copies_are_pages_and_equal(raster) -> None:
    first, second = raster(render("piece_tag", SAMPLES["piece_tag"]["carcass"], copies=2))
    assert first.tobytes() == second.tobytes()


def test_many_labels_keep_their_order(text_of) -> None:
    many = [{**SAMPLES["package_label"]["deer"], "number": number, "of": 5} for number in range(1, 6)]
    shown = text_of(render_many("package_label", many))
    places = [shown.index(f"{number} of 5") for number in range(1, 6)]
    assert places == sorted(places)


def test_claim_slip_goes_on_when_there_are_many_animals(text_of) -> None:
    values = SAMPLES["claim_slip"]["deer"]
    animals = [{**values["animals"][0], "number": number, "tag": f"M 100{number}"} for number in range(1, 8)]
    printed = print_all("claim_slip", [{**values, "animals": animals}])
    shown = text_of(printed.pdf)
    assert printed.pages == 4
    assert [shown.count(f"M 100{number}") for number in range(1, 8)] == [1] * 7
    assert "more on the next page" in shown
    assert printed.notes == ()


def test_box_list_goes_on_with_a_second_label(text_of) -> None:
    values = SAMPLES["box_label"]["deer"]
    lines = [{"cut": f"Cut{number:02d}.", "count": 1, "weight": "1.00 lb"} for number in range(40)]
    printed = print_all("box_label", [{**values, "lines": lines}])
    shown = text_of(printed.pdf)
    assert printed.pages == 2
    assert [shown.count(f"Cut{number:02d}.") for number in range(40)] == [1] * 40
    assert shown.count("Total") == 1
    assert "CONTINUED" in shown


@pytest.mark.parametrize("count", range(60))
def test_no_box_line_is_lost_at_any_length(text_of, count: int) -> None:
    values = SAMPLES["box_label"]["deer"]
    lines = [{"cut": f"Cut{number:02d}.", "count": 1} for number in range(count)]
    shown = text_of(render("box_label", {**values, "lines": lines}))
    assert [shown.count(f"Cut{number:02d}.") for number in range(count)] == [1] * count
    assert shown.count("Total") == 1


def test_a_lug_that_was_not_weighed_says_so(text_of) -> None:
    assert "not weighed" in text_of(render("lug_card", SAMPLES["lug_card"]["unweighed"]))
    assert "23.4 lb" in text_of(render("lug_card", SAMPLES["lug_card"]["grind"]))


def test_lists_become_tuples() -> None:
    box = build(BoxLabel, SAMPLES["box_label"]["deer"], "box label")
    assert box.lines[0].cut == "Backstrap steaks"
    assert hash(box) == hash(build(BoxLabel, SAMPLES["box_label"]["deer"], "box label"))
    slip = build(ClaimSlip, SAMPLES["claim_slip"]["deer"], "claim slip")
    assert [animal.species for animal in slip.animals] == ["White-tailed deer, buck", "Elk, cow"]


def test_labels_printed_at_the_same_time_do_not_mix() -> None:
    """Web and job threads share the fonts; each document must still get its own letters."""
    many = [{**SAMPLES["lug_card"]["grind"], "hunter": f"Hunter {chr(65 + number)}"} for number in range(24)]
    alone = [render("lug_card", values) for values in many]
    with ThreadPoolExecutor(8) as threads:
        together = list(threads.map(lambda values: render("lug_card", values), many * 4))
    assert together == alone * 4
