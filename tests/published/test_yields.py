"""The yield arithmetic against published figures (ids of fixtures/published_yields.csv, which holds each source).

Every row is compared (`lines`), or a constant was taken from it (`fitted_to` in fixtures/yield_figures.json), or it
cannot be compared, and says why. A row never checks a constant that was taken from it.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from typing import Any

import pytest

from orders.yields.constants import Basis, Share
from orders.yields.expected import expected_boneless
from orders.yields.spans import round_parts
from shop.weights import pounds
from tests.published.comparisons import (
    AGED_IN_BULLETIN,
    BALANCE,
    CHAIN,
    KG,
    PREDICTS,
    Line,
    boneless,
    clean,
)
from tests.published.lines import LINES
from tests.published.sources import catalog, constants, figures, published, table

# Trade, newspaper and hunting-press text gives context and checks nothing.
LOW_GRADE = "low grade"
NOT_COMPARABLE = {
    "trade, newspaper or hunting-press text: context, never a check value": (
        "Y016 Y017 Y018 Y019 Y020 Y092 Y093 Y094 Y100 Y129 Y158 Y159 Y160 Y161 Y180 Y187 Y224"
    ),
    "a text, a design or a rule, no number to work": "Y006 Y015 Y082 Y144 Y172 Y188 Y218 Y219",
    "from girth alone, which is not weighed here; Y008 gives the live weights for Y007": "Y008 Y011 Y012",
    "a weight by itself, no share": "Y083 Y085 Y086",
    "a spread between animals, places or sides, no share": "Y005 Y217 Y220 Y221 Y222 Y223",
    "an ideal of a rule from memory, no trim standard; above our range of 51 to 63 %": "Y022",
    "edible lean of another trim standard, its shot loss not told apart; above our range": "Y043 Y044",
    "suspect in the source itself": "Y096",
    "from memory, one bull, dressed by an unnamed cut; another source says 700 lb for 500": "Y095",
    "a dressed weight by an unnamed cut": "Y097",
    "from one muscle of a dissected side": "Y098",
    "offal, which is not weighed against the carcass here": "Y123 Y141",
    "within-season change, not a share between our bases": "Y088 Y126 Y127",
    "dissected muscle, or muscle and bone, not trimmed boneless": "Y090 Y102 Y103 Y111 Y130 Y207",
    "bone-in joints of another cutting scheme": "Y112 Y113 Y115 Y135 Y139 Y140 Y152 Y155",
    "a whole country's average, intake basis not told": "Y146",
    "temperature or days": "Y167 Y168 Y169 Y171 Y173 Y175 Y176 Y177 Y179 Y216",
    "storage and freezer room": "Y198 Y199 Y201 Y202 Y203 Y204 Y206",
    "beef in 24 hours, 2 to 5 %: disagrees with the 1 to 2 % of Y184 that is used": "Y185",
    "carcasses or samples counted, not weighed": "Y195 Y196",
    "dried and cured products, which this arithmetic leaves alone": "Y210 Y211 Y212 Y213 Y214",
}


def name_of(line: Line) -> str:
    return f"{line.row}, {line.what}"


@pytest.mark.parametrize("line", LINES, ids=name_of)
def test_a_published_figure(line: Line) -> None:
    row = published(line.row)
    printed = " ".join(row[name] for name in ("quantity", "from_basis", "value", "sd", "where"))
    for number in line.printed.split():
        assert re.search(rf"(?<![\d.]){re.escape(number)}(?!\d|\.\d)", printed), f"{number} is not in the row"
    low, likely, high = line.run(catalog(figures()))
    if line.held:
        assert low <= line.low <= high, row["source"]
    else:
        assert line.low <= likely <= line.high, row["source"]


def fitted() -> set[str]:
    return {row for figure in figures() for row in figure["fitted_to"]}


def changed(figure: dict[str, Any]) -> list[dict[str, Any]]:
    """The catalog's rows with this figure's likely value, and its bounds, moved by a hundredth."""
    moved = {name: figure[name] * 99 // 100 for name in ("low_bp", "likely_bp", "high_bp")}
    return [{**row, **moved} if row["code"] == figure["code"] else row for row in figures()]


def depends(line: Line, figure: dict[str, Any]) -> bool:
    """Whether the program's answer for a line depends on a figure."""
    return line.run(catalog(changed(figure))) != line.run(catalog(figures()))


@pytest.mark.parametrize("line", LINES, ids=name_of)
def test_a_row_never_checks_a_constant_that_was_taken_from_it(line: Line) -> None:
    own = [figure for figure in figures() if line.row in figure["fitted_to"]]
    assert [figure["code"] for figure in own if depends(line, figure)] == []


def test_a_row_that_checked_its_own_constant_would_be_found() -> None:
    """The guard above, on the row that the mule deer's lean share was taken from."""
    run = boneless("mule-deer", 96, Basis.HANGING, hung_days=AGED_IN_BULLETIN)
    own = Line("Y030", "boneless of 96 lb skinned", "57.3", run, 54.5, 55.5)
    found = [figure["code"] for figure in figures() if "Y030" in figure["fitted_to"] and depends(own, figure)]
    assert found == ["mule-deer-lean-of-hanging"]


def test_every_published_row_is_compared_or_fitted_or_says_why_not() -> None:
    compared = {line.row for line in LINES}
    told = [number for numbers in NOT_COMPARABLE.values() for number in numbers.split()]
    rows = table("published_yields.csv")
    assert len(told) == len(set(told))
    assert compared.isdisjoint(told)
    assert fitted().isdisjoint(told)
    assert compared | fitted() | set(told) == set(rows)
    assert all(row["source"] and row["grade"] for row in rows.values())


def test_at_least_forty_rows_are_compared_without_memory_and_low_grades() -> None:
    rows = {line.row for line in LINES}
    grades = Counter(published(row)["grade"] for row in rows)
    assert not any(LOW_GRADE in grade or "suspect" in grade for grade in grades)
    assert len(rows) - grades["MEMORY"] >= 40
    shows = {kind: {line.row for line in LINES if line.shows == kind} for kind in (PREDICTS, CHAIN, BALANCE)}
    assert len(shows[PREDICTS]) >= 24
    assert len(shows[CHAIN]) == 10
    assert all("constant 0." in published(row)["quantity"] for row in shows[CHAIN])
    assert all("from memory" in line.what for line in LINES if published(line.row)["grade"] == "MEMORY")


def test_constants_from_low_grades_and_memory_say_so() -> None:
    for figure in figures():
        for row in figure["fitted_to"]:
            if LOW_GRADE in published(row)["grade"]:
                assert "low grade" in figure["source"], figure["code"]
        assert not any(published(row)["grade"] == "MEMORY" for row in figure["fitted_to"])


def test_lean_share_less_shot_loss_is_the_half_that_shops_state() -> None:
    """57.3 % of the skinned mule deer (Y030) x (1 - 13.24 %) (Y192), 14 days hung: the 50 % that shops state."""
    lean, shot = published("Y030")["value"], published("Y192")["value"]
    assert (lean, shot) == ("57.3", "13.24")
    found = expected_boneless(
        pounds(96), Basis.HANGING, constants("mule-deer"), hung_days=AGED_IN_BULLETIN
    ).likely_mg
    product = float(lean) / 100 * (1 - float(shot) / 100)
    assert found / pounds(96) == pytest.approx(product, abs=0.0005)
    assert round(100 * found / pounds(96)) == 50


@pytest.mark.parametrize(
    ("species", "dressed", "boneless"), [("mule-deer", "93", "44"), ("elk", "339", "169")]
)
def test_wyoming_does_and_cows(species: str, dressed: str, boneless: str) -> None:
    """The other sex of each bulletin (B-589R, B-594R), as quoted in the trade: our constants are of bucks and bulls."""
    found = expected_boneless(
        pounds(dressed), Basis.DRESSED_FEET_OFF, clean(constants(species)), hung_days=AGED_IN_BULLETIN
    )
    assert abs(found.likely_mg - pounds(boneless)) <= pounds("1")
    assert found.low_mg < pounds(boneless) < found.high_mg


def test_oklahoma_animals_fall_in_our_range_nearly_as_often_as_stated() -> None:
    """Y004, Y005: whole weights around 134 lb, SD 3.8 lb, at 105 lb dressed. Another place, another season than the
    Minnesota deer of our share: at least 85 of 100 of these deer lie in our 90 % range."""
    assert published("Y005")["value"] == "3.8"
    share = constants("white-tailed-deer").dressed_on_of_live
    light, heavy = (105 * 10_000 / bp for bp in (share.high_bp, share.low_bp))

    def below(weight: float) -> float:
        return (1 + math.erf((weight - 134) / 3.8 / math.sqrt(2))) / 2

    assert 0.85 <= below(heavy) - below(light) <= 0.95


def test_minnesota_s_range_of_single_animals_is_taken_to_90_percent() -> None:
    """Y001: 14 to 39 % lost, 1,027 animals. The range of a normal sample of 1,000 is 6.48 standard deviations
    (Tippett, Biometrika 17:364-387, 1925), 90 % is 2 x 1.645 of them."""
    assert (published("Y001")["sd"], published("Y001")["n"]) == ("range 14-39", "1027")
    half = (39 - 14) / 6.48 * 1.645
    share = constants("white-tailed-deer").dressed_on_of_live
    assert share.likely_bp == 10_000 - 2540
    assert (share.low_bp, share.high_bp) == pytest.approx((7460 - 100 * half, 7460 + 100 * half), abs=10)


def test_regions_keep_the_published_rank() -> None:
    """Y190: neck and rib shots below the average, shoulder shots high; only the rank is published."""
    assert (
        "neck and rib shots significantly below average; shoulder shots high" in published("Y190")["quantity"]
    )
    times = {region: share.likely_bp for region, share in constants("elk").regions.items()}
    assert max(times["neck"], times["ribs"]) < 10_000 < times["shoulder"] == max(times.values())


def test_roe_deer_joints_printed_add_up() -> None:
    """Y158 to Y161 printed with one decimal add up to the printed 11.8 kg of Y157 (plain rounding gives 11.7)."""
    joints = [
        round(float(published(row)["value"].split(" ")[0]) * KG) for row in ("Y158", "Y159", "Y160", "Y161")
    ]
    printed = round_parts(joints, "kg", 1)
    assert f"{sum(printed)} (73.6)" == published("Y157")["value"]
    assert [str(part) for part in printed] == ["5.0", "2.2", "2.1", "2.5"]


def widened(share: Share, times: float, *, loss: bool = False) -> tuple[float, float, float]:
    """Low, likely and high with this many times the distance on logarithms: of what is left, where it is a loss."""
    low, likely, high = (bp / 10_000 for bp in share.bounds_bp)
    if loss:
        low, likely, high = 1 - high, 1 - likely, 1 - low
    wide = likely * (low / likely) ** times, likely, min(1.0, likely * (high / likely) ** times)
    return (1 - wide[2], 1 - wide[1], 1 - wide[0]) if loss else wide


NEAR, FAR = 1.25, 2.0
LENT = [
    ("white-tailed-deer", "mule-deer", "lean_of_hanging", NEAR),
    ("white-tailed-deer", "mule-deer", "hanging_of_dressed_off", NEAR),
    ("white-tailed-deer", "mule-deer", "shot_loss", NEAR),
    ("moose", "mule-deer", "shot_loss", NEAR),
    ("moose", "elk", "lean_of_hanging", NEAR),
    ("moose", "white-tailed-deer", "dressed_on_of_live", NEAR),
    ("elk", "white-tailed-deer", "dressed_on_of_live", NEAR),
    ("pronghorn", "mule-deer", "lean_of_hanging", FAR),
]


@pytest.mark.parametrize(("species", "lender", "quantity", "times"), LENT)
def test_what_is_lent_is_widened(species: str, lender: str, quantity: str, times: float) -> None:
    """1.25 times as wide within the deer family, twice beyond it: common practice, no source."""

    def of(name: str) -> Share:
        found = getattr(constants(name), quantity)
        return found if isinstance(found, Share) else found.share

    assert of(species).lent_by
    low, likely, high = widened(of(lender), times, loss=quantity == "shot_loss")
    assert [bp / 10_000 for bp in of(species).bounds_bp] == pytest.approx([low, likely, high], abs=0.001)


@pytest.mark.parametrize(
    ("quantity", "lenders"),
    [
        ("lean_of_hanging", ("mule-deer", "elk")),
        ("hanging_of_dressed_on", ("mule-deer", "elk")),
        ("hanging_of_dressed_off", ("mule-deer", "elk")),
        ("dressed_on_of_live", ("white-tailed-deer", "mule-deer")),
        ("shot_loss", ("mule-deer", "elk")),
    ],
)
def test_the_deer_family_s_range_is_that_of_its_species_and_twice_as_wide(
    quantity: str, lenders: tuple[str, str]
) -> None:
    def of(name: str) -> Share:
        found = getattr(constants(name), quantity)
        return found if isinstance(found, Share) else found.share

    shares = [of(name) for name in lenders]
    middle = round(math.sqrt(shares[0].likely_bp * shares[1].likely_bp))
    whole = Share(min(s.low_bp for s in shares), middle, max(s.high_bp for s in shares))
    expected = widened(whole, FAR, loss=quantity == "shot_loss")
    for species in ("black-bear", "wild-boar", "a species not in the catalog"):
        if species == "wild-boar" and quantity == "dressed_on_of_live":
            continue
        assert of(species).lent_by == "the deer family"
        assert [bp / 10_000 for bp in of(species).bounds_bp] == pytest.approx(expected, abs=0.002)
