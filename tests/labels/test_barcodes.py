"""Code 128 in whole printer dots, read back by an independent reader."""

import json

import pytest
import zxingcpp

from labels.barcodes import bars, module_dots
from labels.registry import DESIGNS, render
from labels.samples import SAMPLES
from labels.stocks import STOCKS
from labels.values import LabelError
from shop.codes import Kind, make_code

# ISO/IEC 15417, Table 1 (from memory): start C, and the stop pattern that ends every symbol.
START_C = "11010011100"
STOP = "1100011101011"

EVERY_SAMPLE = [
    pytest.param(design, name, stock, id=f"{design}-{name}-{stock}")
    for design, samples in SAMPLES.items()
    for name, values in samples.items()
    if "code" in values or "badge" in values
    for stock in DESIGNS[design].stocks
]


def test_ten_digits_take_ninety_modules() -> None:
    # ISO/IEC 15417: W = 11 for start, each pair and check, 13 for stop: 11 + 5 x 11 + 11 + 13 = 90.
    modules = bars("1000001479")
    assert len(modules) == 90
    assert modules.startswith(START_C)
    assert modules.endswith(STOP)


def test_check_character_is_the_standards() -> None:
    # ISO/IEC 15417: (start value + sum of value x position) mod 103; start C is 105.
    pairs = [10, 0, 0, 14, 79]
    check = (105 + sum(place * value for place, value in enumerate(pairs, start=1))) % 103
    assert check == (105 + 10 + 0 + 0 + 56 + 395) % 103 == 51
    # Value 51 in ISO/IEC 15417, Table 1 (from memory): 11011101000.
    assert bars("1000001479")[66:77] == "11011101000"


@pytest.mark.parametrize(
    ("stock", "dots", "wide"), [("label-4x6", 2, 3), ("label-4x6-300", 3, 4), ("letter", 3, 4)]
)
def test_a_module_is_a_whole_number_of_dots(stock: str, dots: int, wide: int) -> None:
    assert module_dots(STOCKS[stock]) == dots
    assert module_dots(STOCKS[stock], wide=True) == wide


@pytest.mark.parametrize("digits", ["", "12345", "12a4", "٣٤", "9912345678"])
def test_what_cannot_be_a_barcode_is_refused(digits: str) -> None:
    with pytest.raises(LabelError):
        bars(digits)


def test_every_design_with_a_code_is_in_the_list() -> None:
    assert {parameter.values[0] for parameter in EVERY_SAMPLE} == set(DESIGNS) - {
        "custody_register",
        "season_report",
    }


@pytest.mark.parametrize(("design", "name", "stock"), EVERY_SAMPLE)
def test_reads_back_at_the_printers_own_dots(raster, design: str, name: str, stock: str) -> None:
    values = json.loads(json.dumps(SAMPLES[design][name]))
    wanted = values.get("code") or values["badge"]
    pdf = render(design, values, stock=stock)
    for dpi in {STOCKS[stock].dpi, 300}:
        (page,) = raster(pdf, dpi)
        read = [(result.text, result.format) for result in zxingcpp.read_barcodes(page)]
        assert read == [(wanted, zxingcpp.BarcodeFormat.Code128)], f"at {dpi} dpi"


@pytest.mark.parametrize("serial", [1, 99, 999_999, 12_345_678, 99_999_999])
@pytest.mark.parametrize("kind", list(Kind))
def test_serials_of_every_kind_read_back(raster, kind: Kind, serial: int) -> None:
    code = make_code(kind, serial)
    (page,) = raster(render("place_code", {"code": code, "name": "Rail B"}))
    assert [result.text for result in zxingcpp.read_barcodes(page)] == [code]


@pytest.mark.parametrize(("design", "name", "stock"), EVERY_SAMPLE)
def test_bars_are_exactly_the_modules_in_dots(raster, design: str, name: str, stock: str) -> None:
    """Rows of dots through the bars are the symbol in black and white, with ten white modules on each side.

    Quiet zone of ten modules: GS1 General Specifications 5.4.4.
    """
    values = SAMPLES[design][name]
    dpi = STOCKS[stock].dpi
    (page,) = raster(render(design, values, stock=stock), dpi)
    symbol = "0" * 10 + bars(values.get("code") or values["badge"]) + "0" * 10
    wanted = ["".join(module * dots for module in symbol).encode() for dots in (2, 3, 4)]
    shades = bytes(ord("1") if shade < 30 else ord("0") if shade > 225 else ord("?") for shade in range(256))
    dots = page.tobytes().translate(shades)
    rows = [dots[start : start + page.width] for start in range(0, len(dots), page.width)]
    found = sum(any(line in row for line in wanted) for row in rows)
    # 6 mm of them and more, so that a hand-held scanner meets them.
    assert found >= 6 / 25.4 * dpi


def test_a_code_with_a_wrong_digit_is_not_printed() -> None:
    values = {**SAMPLES["package_label"]["deer"], "code": "4000582138"}
    with pytest.raises(LabelError, match="One digit of this code is wrong"):
        render("package_label", values)
