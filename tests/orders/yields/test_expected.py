"""The expected range: what each basis and each loss does to it. Published figures are in tests/published."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.yields.constants import COVERAGE, FAMILY, REGIONS, WHOLE_BP, Basis, Figure, LeanShare, Loss, Share
from orders.yields.expected import Expected, expected_boneless, part_shares
from orders.yields.learning import Predictive
from shop.weights import pounds
from tests.published.sources import constants, part_split

MAMMALS = ["white-tailed-deer", "mule-deer", "elk", "pronghorn", "moose", "black-bear", "wild-boar"]
DEER = constants("mule-deer")
HANGING = pounds(96)


def likely(**more: object) -> int:
    return expected_boneless(HANGING, Basis.HANGING, DEER, **more).likely_mg  # type: ignore[arg-type]


@pytest.mark.parametrize("basis", list(Basis))
@pytest.mark.parametrize("species", MAMMALS)
def test_every_species_has_a_range_from_every_basis(species: str, basis: Basis) -> None:
    found = expected_boneless(pounds(100), basis, constants(species), hung_days=5)
    assert 0 < found.low_mg < found.likely_mg < found.high_mg < pounds(100)
    assert all(step.source for step in found.steps)


def test_the_same_number_of_pounds_is_worth_more_the_more_is_off_already() -> None:
    order = [
        Basis.LIVE,
        Basis.DRESSED_FEET_ON,
        Basis.DRESSED_FEET_OFF,
        Basis.HANGING,
        Basis.QUARTERS,
        Basis.BONELESS,
    ]
    found = [expected_boneless(pounds(100), basis, DEER, hung_days=7).likely_mg for basis in order]
    assert found == sorted(set(found))


def test_a_live_weight_gives_the_widest_range() -> None:
    def width(basis: Basis) -> float:
        found = expected_boneless(pounds(100), basis, DEER)
        return math.log(found.high_mg / found.low_mg)

    assert width(Basis.LIVE) > width(Basis.DRESSED_FEET_ON) > width(Basis.HANGING)
    said = expected_boneless(pounds(100), Basis.LIVE, DEER).notes
    assert any("Weigh it hanging" in note for note in said)


def test_steps_multiply_to_the_likely_weight() -> None:
    found = expected_boneless(pounds(150), Basis.LIVE, DEER, shot_regions=("shoulder",), hung_days=3)
    assert [step.name for step in found.steps] == [
        "field-dressed, feet on",
        "skinned, head off",
        "drying: days hung 3, in the lean share 14",
        "shot loss, shoulder",
        "bone, fat and silverskin off",
    ]
    product = math.prod(step.likely_bp / WHOLE_BP for step in found.steps)
    assert found.likely_mg == found.steps[-1].likely_mg
    assert found.likely_mg / pounds(150) == pytest.approx(product, rel=0.0005)
    on_the_scale = [step.likely_mg for step in found.steps]
    assert on_the_scale == sorted(on_the_scale, reverse=True)


def test_range_is_the_root_of_the_summed_squares_of_logarithms() -> None:
    """Worked by hand with the float logarithm of the standard library, not the decimal one used inside."""
    found = expected_boneless(HANGING, Basis.HANGING, DEER, hung_days=14)
    down = math.hypot(math.log(8676 / 7500), math.log(5729 / 5200))
    up = math.hypot(math.log(9800 / 8676), math.log(6200 / 5729))
    assert found.low_mg == pytest.approx(found.likely_mg * math.exp(-down), rel=1e-6)
    assert found.high_mg == pytest.approx(found.likely_mg * math.exp(up), rel=1e-6)


def test_only_the_difference_in_drying_is_applied() -> None:
    """Water leaves the meat and not the bone: of a hundredth of the carcass, 0.9 / 0.5729 hundredths are meat's."""
    assert DEER.lean_of_hanging.aged_days == 14
    kept = 1 - DEER.drying_per_day.likely_bp / WHOLE_BP
    chilled = 1 - DEER.first_chill.likely_bp / WHOLE_BP
    meat = DEER.drying_meat.likely_bp / DEER.lean_of_hanging.share.likely_bp
    for days in (7, 15):
        more = chilled * (kept**days - kept**14)
        assert likely(hung_days=days) / likely(hung_days=14) == pytest.approx(1 + meat * more, rel=1e-6)
    assert not any(
        "drying" in step.name for step in expected_boneless(1, Basis.HANGING, DEER, hung_days=14).steps
    )


def test_the_first_chill_counts_once() -> None:
    """Cut warm: neither the chill nor the 14 days that the lean share contains have happened."""
    kept = 1 - DEER.drying_per_day.likely_bp / WHOLE_BP
    chilled = 1 - DEER.first_chill.likely_bp / WHOLE_BP
    meat = DEER.drying_meat.likely_bp / DEER.lean_of_hanging.share.likely_bp
    warm, hung = likely(hung_days=0), likely(hung_days=14)
    assert warm / hung == pytest.approx(1 + meat * (1 - chilled * kept**14), rel=1e-6)
    never_chilled = replace(DEER.lean_of_hanging, contains=frozenset({Loss.DRYING}))
    found = expected_boneless(
        HANGING, Basis.HANGING, replace(DEER, lean_of_hanging=never_chilled), hung_days=14
    )
    assert found.likely_mg < hung


def test_tenderloins_taken_in_the_field_are_not_expected() -> None:
    both, one, none = (likely(tenderloins_in=count) for count in (2, 1, 0))
    share = DEER.tenderloins.likely_bp
    assert none == pytest.approx(both * (1 - share / WHOLE_BP), abs=1)
    assert both - one == pytest.approx(one - none, abs=1)
    found = expected_boneless(HANGING, Basis.HANGING, DEER, tenderloins_in=0)
    assert "without tenderloins, which were not in this weight" in found.coverage
    assert "Tenderloins that were not in the weighed animal are not in this range." in found.notes


def test_bagged_tenderloins_are_added_as_weighed() -> None:
    without = expected_boneless(HANGING, Basis.HANGING, DEER, tenderloins_in=0)
    bagged = expected_boneless(
        HANGING, Basis.HANGING, DEER, tenderloins_in=0, tenderloins_bagged_mg=pounds("1.5")
    )
    assert [more - less for more, less in zip(_three(bagged), _three(without), strict=True)] == [
        pounds("1.5")
    ] * 3
    assert "the bagged ones added as weighed" in bagged.coverage


def test_one_tenderloin_is_said() -> None:
    found = expected_boneless(HANGING, Basis.HANGING, DEER, tenderloins_in=1)
    assert "with the one tenderloin that was in this weight" in found.coverage
    assert found.steps[-1].name == "one tenderloin was out"


def test_tenderloins_that_nobody_spoke_of_widen_the_range_downwards() -> None:
    said = expected_boneless(HANGING, Basis.HANGING, DEER)
    not_said = expected_boneless(HANGING, Basis.HANGING, DEER, tenderloins_said=False)
    assert "with both tenderloins, which were in this weight" in said.coverage
    assert "with the tenderloins, if they were in this weight" in not_said.coverage
    assert "Nobody said whether the tenderloins were in: they are taken to be." in not_said.notes
    assert (not_said.likely_mg, not_said.high_mg) == (said.likely_mg, said.high_mg)
    assert not_said.low_mg < said.low_mg


def test_the_range_says_how_many_animals_it_is_meant_to_hold() -> None:
    assert COVERAGE == 0.90
    for basis in (*Basis, None):
        said = expected_boneless(HANGING, basis, DEER).coverage
        assert said.endswith("; 90 % of animals like it lie between low and high")


def test_a_weight_of_unknown_basis_spans_every_basis_it_may_be_of() -> None:
    unknown = expected_boneless(HANGING, None, DEER, hung_days=3, shot_regions=("ribs",))
    known = [
        expected_boneless(HANGING, basis, DEER, hung_days=3, shot_regions=("ribs",))
        for basis in (Basis.LIVE, Basis.DRESSED_FEET_ON, Basis.DRESSED_FEET_OFF)
    ]
    assert unknown.low_mg == min(each.low_mg for each in known) == known[0].low_mg
    assert unknown.high_mg == max(each.high_mg for each in known) == known[2].high_mg
    assert unknown.likely_mg == known[1].likely_mg
    assert unknown.notes[0].startswith("Nobody said what was on the scale: the range runs from not dressed")
    assert not any(note.startswith("Worked from the weight") for note in unknown.notes)


def test_what_the_shop_has_learned_stands_for_the_spread_from_the_carcass_on() -> None:
    """By hand: Student t of 30 animals, 3 % above the published figures, 8 % wide."""
    learned = Predictive(0.03, 0.08, 30)
    down, up = learned.interval(COVERAGE)
    plain = expected_boneless(HANGING, Basis.HANGING, DEER, hung_days=14)
    found = expected_boneless(HANGING, Basis.HANGING, DEER, hung_days=14, learned=learned)
    assert found.likely_mg == pytest.approx(plain.likely_mg * math.exp(0.03), abs=1)
    assert found.low_mg == pytest.approx(plain.likely_mg * math.exp(down), rel=1e-6)
    assert found.high_mg == pytest.approx(plain.likely_mg * math.exp(up), rel=1e-6)
    assert found.steps[:-1] == plain.steps
    step = found.steps[-1]
    assert (step.name, step.likely_mg) == ("as this shop's own animals turn out", found.likely_mg)
    assert step.likely_bp == round(WHOLE_BP * math.exp(0.03))


def test_what_was_learned_leaves_the_spread_of_dressing() -> None:
    learned = Predictive(-0.02, 0.05, 12)
    found = expected_boneless(pounds(150), Basis.LIVE, DEER, hung_days=14, learned=learned)
    down = learned.location - learned.interval(COVERAGE)[0]
    dressed, hung = DEER.dressed_on_of_live, DEER.hanging_of_dressed_on
    before = math.hypot(math.log(dressed.likely_bp / dressed.low_bp), math.log(hung.likely_bp / hung.low_bp))
    assert found.low_mg == pytest.approx(found.likely_mg * math.exp(-math.hypot(before, down)), rel=1e-6)
    certain = expected_boneless(
        pounds(150), Basis.LIVE, DEER, hung_days=14, learned=Predictive(-0.02, 1e-9, 12)
    )
    assert certain.low_mg == pytest.approx(certain.likely_mg * math.exp(-before), rel=1e-6)


def test_a_species_without_a_published_figure_says_so() -> None:
    bear = replace(constants("black-bear"), species="black bear")
    for basis in (Basis.LIVE, Basis.HANGING):
        said = expected_boneless(HANGING, basis, bear).notes
        assert f"No published figure for black bear: {FAMILY}'s range, widened." in said
    unheard = replace(constants("okapi"), species="okapi")
    assert "No published figure for okapi: the deer family's range, widened." in (
        expected_boneless(HANGING, Basis.HANGING, unheard).notes
    )


def test_a_species_without_a_figure_has_a_wider_range() -> None:
    def width(species: str) -> float:
        found = expected_boneless(HANGING, Basis.HANGING, constants(species), hung_days=14)
        return math.log(found.high_mg / found.low_mg)

    assert width("black-bear") > width("elk") > width("mule-deer")
    assert width("black-bear") > width("white-tailed-deer") > width("mule-deer")


def test_a_figure_that_is_lent_is_named_with_its_lender() -> None:
    deer = replace(constants("white-tailed-deer"), species="white-tailed deer")
    said = expected_boneless(HANGING, Basis.HANGING, deer).notes
    assert "No published shot loss or lean share for white-tailed deer: that of mule deer, widened." in said
    weighed = expected_boneless(HANGING, Basis.HANGING, deer, bloodshot_at_block_mg=0).notes
    assert "No published lean share for white-tailed deer: that of mule deer, widened." in weighed
    assert not any("No published" in note for note in expected_boneless(HANGING, Basis.HANGING, DEER).notes)


def test_the_shop_s_own_value_needs_no_lender() -> None:
    deer = replace(constants("white-tailed-deer"), species="white-tailed deer")
    lean = replace(deer.lean_of_hanging, share=replace(deer.lean_of_hanging.share, own=True))
    said = expected_boneless(HANGING, Basis.HANGING, replace(deer, lean_of_hanging=lean)).notes
    assert "No published shot loss for white-tailed deer: that of mule deer, widened." in said


def test_a_class_has_its_own_figure_where_one_is_published() -> None:
    """Pronghorn, Alberta: class means 66 to 75 % dressed [Y074], mature males 1/1.36 [Y076]."""
    assert constants("pronghorn", "male-adult").dressed_on_of_live.likely_bp == 7353
    for other in ("", "female-adult", "male-young", "unknown-unknown"):
        assert constants("pronghorn", other).dressed_on_of_live.likely_bp == 7050
    assert constants("elk", "male-adult") == constants("elk")


def test_pieces_are_not_docked_for_tenderloins() -> None:
    for basis in (Basis.QUARTERS, Basis.BONELESS):
        with_them = expected_boneless(pounds(40), basis, DEER, tenderloins_in=2)
        assert expected_boneless(pounds(40), basis, DEER, tenderloins_in=0).likely_mg == with_them.likely_mg


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"weighed_mg": -1}, "negative"),
        ({"bloodshot_off_weighed_mg": -1}, "negative"),
        ({"bloodshot_at_block_mg": -1}, "negative"),
        ({"tenderloins_bagged_mg": -1}, "negative"),
        ({"tenderloins_in": 3}, "two tenderloins"),
        ({"hung_days": -1}, "Days"),
        ({"shot_regions": ("tail",)}, "tail"),
    ],
)
def test_what_cannot_be_is_refused(wrong: dict[str, object], said: str) -> None:
    given_values = {"weighed_mg": HANGING, "basis": Basis.HANGING, "constants": DEER, **wrong}
    with pytest.raises(ValueError, match=said):
        expected_boneless(**given_values)  # type: ignore[arg-type]


@pytest.mark.parametrize("bounds", [(-1, 0, 1), (2, 1, 3), (1, 3, 2), (0, 1, 10_001)])
def test_a_share_is_in_order(bounds: tuple[int, int, int]) -> None:
    with pytest.raises(ValueError, match="low <= likely <= high"):
        Share(*bounds)


@pytest.mark.parametrize(
    ("contains", "days", "base", "said"),
    [
        (("drying",), 0, "", "of how many days"),
        (("first chill",), 14, "", "of how many days"),
        (("shot loss",), 0, "", "what it is a share of"),
        (("fat",), 0, "lean", "what it is a share of"),
        (("luck",), 0, "", "luck"),
    ],
)
def test_a_lean_share_says_what_it_contains(
    contains: tuple[str, ...], days: int, base: str, said: str
) -> None:
    with pytest.raises(ValueError, match=said):
        LeanShare.of(Figure(Share(1, 2, 3), contains, days, base))


def test_another_likely_value_keeps_the_spread() -> None:
    share = Share(5000, 6000, 7200, "somewhere")
    assert share.spread_around(5000) == (4166, 5000, 6000)
    assert share.spread_around(9000) == (7500, 9000, 10_000)
    assert Share(0, 0, 500).spread_around(700) == (0, 700, 700)


def test_parts_add_up_and_stay_in_order() -> None:
    found = expected_boneless(HANGING, Basis.HANGING, DEER, hung_days=7)
    parts = part_shares(found, part_split())
    assert sum(part.likely_mg for part in parts.values()) == found.likely_mg
    for part in parts.values():
        assert part.low_mg < part.likely_mg < part.high_mg
        assert part.likely_mg / part.low_mg > found.likely_mg / found.low_mg


def test_the_odd_milligram_goes_to_the_largest_remainder() -> None:
    """10 mg by two thirds and one third are 6.67 and 3.33 mg: 7 and 3."""
    found = Expected(10, 10, 10, "", (), ())
    parts = part_shares(found, {"neck": Share(3333, 3333, 3333), "shank": Share(6667, 6667, 6667)})
    assert {part: weight.likely_mg for part, weight in parts.items()} == {"neck": 3, "shank": 7}


def test_parts_of_what_was_brought_take_the_whole() -> None:
    found = expected_boneless(pounds(20), Basis.QUARTERS, DEER)
    split = part_split()
    parts = part_shares(found, {part: split[part] for part in ("shoulder", "shank")})
    assert sum(part.likely_mg for part in parts.values()) == found.likely_mg
    assert parts["shoulder"].likely_mg / parts["shank"].likely_mg == pytest.approx(1800 / 550, rel=1e-6)
    with pytest.raises(ValueError, match="At least one"):
        part_shares(found, {})


def _three(found: Expected) -> tuple[int, int, int]:
    return found.low_mg, found.likely_mg, found.high_mg


weights = st.integers(min_value=0, max_value=10**13)
bases = st.sampled_from([*Basis, None])
facts = st.fixed_dictionaries(
    {
        "shot_regions": st.lists(st.sampled_from(REGIONS), max_size=4).map(tuple),
        "bloodshot_off_weighed_mg": st.none() | st.integers(min_value=0, max_value=10**8),
        "bloodshot_removed_before_weighing": st.booleans(),
        "bloodshot_at_block_mg": st.none() | st.integers(min_value=0, max_value=10**8),
        "tenderloins_said": st.booleans(),
        "tenderloins_in": st.sampled_from([0, 1, 2]),
        "tenderloins_bagged_mg": st.integers(min_value=0, max_value=10**7),
        "hung_days": st.integers(min_value=0, max_value=60),
    }
)


@given(weighed=weights, basis=bases, species=st.sampled_from(MAMMALS), more=facts)
def test_any_animal_has_whole_milligrams_in_order(
    weighed: int, basis: Basis | None, species: str, more: dict
) -> None:
    found = expected_boneless(weighed, basis, constants(species), **more)
    assert all(type(mg) is int for mg in _three(found))
    assert more["tenderloins_bagged_mg"] <= found.low_mg <= found.likely_mg <= found.high_mg
    parts = part_shares(found, part_split())
    assert sum(part.likely_mg for part in parts.values()) == found.likely_mg
    assert all(0 <= part.low_mg <= part.likely_mg <= part.high_mg for part in parts.values())


@given(weighed=weights, extra=st.integers(min_value=1, max_value=10**9), basis=bases, more=facts)
def test_a_heavier_animal_never_promises_less(
    weighed: int, extra: int, basis: Basis | None, more: dict
) -> None:
    lighter = expected_boneless(weighed, basis, DEER, **more)
    heavier = expected_boneless(weighed + extra, basis, DEER, **more)
    assert all(more_mg >= less_mg for more_mg, less_mg in zip(_three(heavier), _three(lighter), strict=True))


@given(weighed=weights, days=st.integers(min_value=0, max_value=59), basis=bases)
def test_longer_hanging_never_promises_more(weighed: int, days: int, basis: Basis | None) -> None:
    shorter = expected_boneless(weighed, basis, DEER, hung_days=days)
    assert expected_boneless(weighed, basis, DEER, hung_days=days + 1).likely_mg <= shorter.likely_mg
