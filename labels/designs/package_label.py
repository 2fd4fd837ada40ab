"""What stands on each retail package in the freezer."""

from __future__ import annotations

from dataclasses import dataclass, fields

from labels.sheet import Sheet
from labels.text import ASCENT, BOLD, CAP_HEIGHT, NARROW, REGULAR
from labels.values import LabelError

# 9 CFR 317.2(l): the four handling lines are good advice; the sentence before them speaks of inspected meat,
# which game is not. A caution for a species says that local rules and licensed practice decide.
_UNTRUE = "inspected and passed"


@dataclass(frozen=True, slots=True)
class PackageLabel:
    """`net` is text: `1.25 lb`, `nominal 1 lb` or `count: 4`; no `of` while the last number is not known."""

    code: str
    order: str
    owner: str
    cut: str
    net: str
    number: int
    packed: str
    species: str
    shop: str
    shop_address: str
    style: str = ""
    of: int | None = None
    origin: str = "Own meat"
    keep: str = "Keep frozen. Thaw in the refrigerator."
    cook: str = "Cook thoroughly."
    caution: str = ""
    ingredients: str = ""


@dataclass(frozen=True, slots=True)
class _Sizes:
    order: float
    owner: float
    cut: float
    detail: float
    net: float
    fine: float
    bars: float
    digits: float


_TALL = _Sizes(order=42, owner=16, cut=20, detail=11, net=22, fine=10.5, bars=42, digits=11)
_SMALL = _Sizes(order=25, owner=11, cut=14, detail=8.5, net=15, fine=7.5, bars=26, digits=10.5)
_CROWDED = _Sizes(order=22, owner=10, cut=12, detail=8, net=12.5, fine=7, bars=24, digits=10.5)
# Net weight in letters of 1/8 in on a panel of 5 to 25 square inches (from memory: 9 CFR 317.2(h)).
_LEAST_NET = 12.4
_LEAST_FINE = 5.5


def draw(sheet: Sheet, label: PackageLabel) -> None:
    """One label, 4 x 3 or 4 x 2 in. LabelError when a required statement does not fit."""
    for field in fields(label):
        if _UNTRUE in " ".join(str(getattr(label, field.name)).lower().split()):
            raise LabelError("A game package must not say that its meat was inspected and passed.")
    tall = sheet.stock.height_mm > 60
    sizes = _TALL if tall else _CROWDED if label.caution or label.ingredients else _SMALL
    top = sheet.new_page()
    words = sheet.not_for_sale_at_bottom()
    width = sheet.code_width(label.code)
    if tall:
        top = _tall_head(sheet, label, sizes, top)
        below = _tall_cut(sheet, label, sizes, top, sheet.width - width - 4)
    else:
        top = _small_head(sheet, label, sizes, top)
        below = _small_cut(sheet, label, sizes, top, sheet.width - width - 4)
    left = sheet.right - width
    below_code = sheet.code(label.code, top + 1, sizes.bars, x=left, size=sizes.digits)
    if tall:
        packed = f"Packed {label.packed}"
        below_code = sheet.line(packed, below_code + 3, sizes.detail, x=left, font=REGULAR, align="center")
    _fine_print(sheet, label, sizes, max(below_code, below) + 1, words - 3)


def _count(label: PackageLabel) -> str:
    return f"{label.number} of {label.of}" if label.of else f"no. {label.number}"


def _about(label: PackageLabel) -> str:
    return " · ".join(part for part in (label.species, label.style) if part)


def _tall_head(sheet: Sheet, label: PackageLabel, sizes: _Sizes, top: float) -> float:
    below = sheet.line(label.order, top, sizes.order, width=sheet.width * 0.64, font=NARROW, tight=True)
    size = sizes.order * 0.62
    left = sheet.left + sheet.width * 0.66
    sheet.line(_count(label), below - size * CAP_HEIGHT, size, x=left, font=NARROW, align="right", tight=True)
    return below + 4


def _small_head(sheet: Sheet, label: PackageLabel, sizes: _Sizes, top: float) -> float:
    below = sheet.line(label.order, top, sizes.order, width=sheet.width * 0.4, font=NARROW, tight=True)
    size = sizes.order * 0.7
    left = sheet.left + sheet.width * 0.74
    sheet.line(_count(label), below - size * CAP_HEIGHT, size, x=left, font=NARROW, align="right", tight=True)
    packed_top = below - sizes.detail * CAP_HEIGHT
    packed_left = sheet.left + sheet.width * 0.42
    sheet.line(
        f"Packed {label.packed}",
        packed_top,
        sizes.detail,
        x=packed_left,
        width=sheet.width * 0.31,
        font=REGULAR,
        tight=True,
    )
    return below + 3


def _tall_cut(sheet: Sheet, label: PackageLabel, sizes: _Sizes, top: float, width: float) -> float:
    below = sheet.line(label.owner, top, sizes.owner, width=width, minimum=8, font=REGULAR)
    below = sheet.line(label.cut, below, sizes.cut, width=width, minimum=8, font=NARROW)
    below = sheet.line(_about(label), below, sizes.detail, width=width, minimum=6.5, font=REGULAR)
    return sheet.line(label.net, below, sizes.net, width=width, minimum=_LEAST_NET, must_fit=True)


def _small_cut(sheet: Sheet, label: PackageLabel, sizes: _Sizes, top: float, width: float) -> float:
    below = sheet.line(label.owner, top, sizes.owner, width=width, minimum=8, font=REGULAR)
    below = sheet.line(label.cut, below, sizes.cut, width=width, minimum=8, font=NARROW)
    net_width = sheet.line_width(label.net, BOLD, sizes.net) + 7
    lower = below + (sizes.net - sizes.detail) * ASCENT
    end = sheet.line(label.net, below, sizes.net, width=width, minimum=_LEAST_NET, must_fit=True)
    room = width - net_width
    if room > 20:
        sheet.line(
            _about(label),
            lower,
            sizes.detail,
            x=sheet.left + net_width,
            width=room,
            minimum=5.5,
            font=REGULAR,
        )
        return end
    return sheet.line(_about(label), end, sizes.detail, width=width, minimum=6.5, font=REGULAR)


def _fine_print(sheet: Sheet, label: PackageLabel, sizes: _Sizes, top: float, bottom: float) -> None:
    """The statements, in one size for all, as large as the space between `top` and `bottom` allows."""
    handling = f"{label.keep} {label.cook}"
    shop = f"{label.origin} · {label.shop}, {label.shop_address}"
    statements = [(label.caution, BOLD), (handling, REGULAR), (label.ingredients, REGULAR), (shop, REGULAR)]
    sheet.paragraphs([part for part in statements if part[0].strip()], top, bottom, sizes.fine, _LEAST_FINE)
