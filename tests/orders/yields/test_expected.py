"""The expected range: what each basis and each loss does to it. Published figures are in tests/published."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.yields.constants import REGION_FACTOR, WHOLE_BP, Basis, LeanShare, Share
from orders.yields.expected import Expected, expected_boneless, part_shares
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


def test_range_is_the_root_of_the_summed_squares_of_logarithms() -> None:
    """Worked by hand with the float logarithm of the standard library, not the decimal one used inside."""
    found = expected_boneless(HANGING, Basis.HANGING, DEER, hung_days=14)
    down = math.hypot(math.log(8676 / 7500), math.log(5729 / 5200))
    up = math.hypot(math.log(9800 / 8676), math.log(6200 / 5729))
    assert found.low_mg == pytest.approx(found.likely_mg * math.exp(-down), rel=1e-6)
    assert found.high_mg == pytest.approx(found.likely_mg * math.exp(up), rel=1e-6)


def test_only_the_difference_in_drying_is_applied() -> None:
    assert DEER.lean_of_hanging.aged_days == 14
    per_day = 1 - DEER.drying_per_day.likely_bp / WHOLE_BP
    assert likely(hung_days=15) / likely(hung_days=14) == pytest.approx(per_day, rel=1e-6)
    assert likely(hung_days=7) / likely(hung_days=14) == pytest.approx(per_day**-7, rel=1e-6)
    assert not any(
        "drying" in step.name for step in expected_boneless(1, Basis.HANGING, DEER, hung_days=14).steps
    )


def test_the_first_chill_counts_once() -> None:
    """Cut warm: neither the chill nor the 14 days that the lean share contains have happened."""
    chill = 1 - DEER.first_chill.likely_bp / WHOLE_BP
    per_day = 1 - DEER.drying_per_day.likely_bp / WHOLE_BP
    assert likely(hung_days=0) / likely(hung_days=1) == pytest.approx(1 / (chill * per_day), rel=1e-6)


def test_a_lean_share_that_contains_shot_loss_is_not_docked_again() -> None:
    contained = replace(DEER, lean_of_hanging=replace(DEER.lean_of_hanging, contains_shot_loss=True))
    found = expected_boneless(HANGING, Basis.HANGING, contained, shot_regions=("shoulder",), hung_days=14)
    assert found.likely_mg == round(HANGING * 5729 / WHOLE_BP)


def test_regions_keep_the_published_rank() -> None:
    """Neck and rib shots below the average, shoulder shots above: von La Chevallerie & van Zyl, S. Afr. J. Anim.
    Sci. 1(1):113-116, 1971."""
    average = likely()
    assert likely(shot_regions=("neck",)) > average
    assert likely(shot_regions=("ribs",)) > average
    assert likely(shot_regions=("shoulder",)) < average
    assert likely(shot_regions=("shoulder", "hind")) < likely(shot_regions=("shoulder",))
    assert likely(shot_regions=("neck", "neck")) == likely(shot_regions=("neck",))


def test_every_region_at_once_still_leaves_meat() -> None:
    found = expected_boneless(HANGING, Basis.HANGING, DEER, shot_regions=tuple(REGION_FACTOR))
    assert 0 < found.low_mg < found.likely_mg


def test_bloodshot_cut_off_before_weighing_costs_less_than_bloodshot_still_on() -> None:
    still_on, off = likely(), likely(bloodshot_removed_before_weighing=True)
    assert off > still_on
    names = [
        step.name
        for step in expected_boneless(1, Basis.HANGING, DEER, bloodshot_removed_before_weighing=True).steps
    ]
    assert "remaining shot loss, average of all shots" in names


def test_bloodshot_weighed_off_equals_weighing_without_it() -> None:
    """100 lb with 4 lb cut off afterwards is 96 lb with the bloodshot off before."""
    after = expected_boneless(pounds(96), Basis.HANGING, DEER, bloodshot_removed_before_weighing=True)
    before = expected_boneless(pounds(100), Basis.HANGING, DEER, bloodshot_off_weighed_mg=pounds(4))
    for one, other in zip(_three(after), _three(before), strict=True):
        assert abs(one - other) <= 1


def test_bloodshot_weighed_before_the_weighing_is_not_taken_off_twice() -> None:
    plain = likely(bloodshot_removed_before_weighing=True)
    assert likely(bloodshot_removed_before_weighing=True, bloodshot_off_weighed_mg=pounds(4)) == plain


def test_zero_bloodshot_weighed_is_known_and_not_weighed_is_not() -> None:
    assert likely(bloodshot_off_weighed_mg=0) > likely(bloodshot_off_weighed_mg=None)
    said = expected_boneless(HANGING, Basis.HANGING, DEER).notes
    assert "The bloodshot was not weighed: the average loss of the hit is taken." in said
    assert not any(
        "not weighed" in note
        for note in expected_boneless(1, Basis.HANGING, DEER, bloodshot_off_weighed_mg=0).notes
    )


def test_more_bloodshot_than_carcass_leaves_nothing() -> None:
    assert _three(
        expected_boneless(pounds(10), Basis.HANGING, DEER, bloodshot_off_weighed_mg=pounds(11))
    ) == (0, 0, 0)


def test_tenderloins_taken_in_the_field_are_not_expected() -> None:
    both, one, none = (likely(tenderloins_in=count) for count in (2, 1, 0))
    share = DEER.tenderloins.likely_bp
    assert none == pytest.approx(both * (1 - share / WHOLE_BP), abs=1)
    assert both - one == pytest.approx(one - none, abs=1)
    found = expected_boneless(HANGING, Basis.HANGING, DEER, tenderloins_in=0)
    assert "without tenderloins" in found.coverage
    assert "Tenderloins that were not in the weighed animal are not in this range." in found.notes


def test_bagged_tenderloins_are_added_as_weighed() -> None:
    without = expected_boneless(HANGING, Basis.HANGING, DEER, tenderloins_in=0)
    bagged = expected_boneless(
        HANGING, Basis.HANGING, DEER, tenderloins_in=0, tenderloins_bagged_mg=pounds("1.5")
    )
    assert [more - less for more, less in zip(_three(bagged), _three(without), strict=True)] == [
        pounds("1.5")
    ] * 3
    assert "bagged tenderloin added" in bagged.coverage


def test_pieces_are_not_docked_for_tenderloins() -> None:
    for basis in (Basis.QUARTERS, Basis.BONELESS):
        with_them = expected_boneless(pounds(40), basis, DEER, tenderloins_in=2)
        assert expected_boneless(pounds(40), basis, DEER, tenderloins_in=0).likely_mg == with_them.likely_mg


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"weighed_mg": -1}, "negative"),
        ({"bloodshot_off_weighed_mg": -1}, "negative"),
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


def test_a_lean_share_has_to_say_what_it_contains() -> None:
    share = Share(1, 2, 3)
    assert LeanShare.read(share, "skinned; contains: aging 14 days, shot loss") == LeanShare(share, 14, True)
    assert LeanShare.read(share, "pieces; contains: nothing") == LeanShare(share, 0, False)
    with pytest.raises(ValueError, match="does not say"):
        LeanShare.read(share, "skinned carcass")


def test_the_shops_own_value_keeps_the_spread() -> None:
    share = Share(5000, 6000, 7200, "somewhere")
    assert share.around(5000) == Share(4166, 5000, 6000, "somewhere")
    assert share.around(9000) == Share(7500, 9000, 10_000, "somewhere")
    assert Share(0, 0, 500).around(700) == Share(0, 700, 700)


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
bases = st.sampled_from(list(Basis))
facts = st.fixed_dictionaries(
    {
        "shot_regions": st.lists(st.sampled_from(sorted(REGION_FACTOR)), max_size=4).map(tuple),
        "bloodshot_off_weighed_mg": st.none() | st.integers(min_value=0, max_value=10**8),
        "bloodshot_removed_before_weighing": st.booleans(),
        "tenderloins_in": st.sampled_from([0, 1, 2]),
        "tenderloins_bagged_mg": st.integers(min_value=0, max_value=10**7),
        "hung_days": st.integers(min_value=0, max_value=60),
    }
)


@given(weighed=weights, basis=bases, species=st.sampled_from(MAMMALS), more=facts)
def test_any_animal_has_whole_milligrams_in_order(
    weighed: int, basis: Basis, species: str, more: dict
) -> None:
    found = expected_boneless(weighed, basis, constants(species), **more)
    assert all(type(mg) is int for mg in _three(found))
    assert more["tenderloins_bagged_mg"] <= found.low_mg <= found.likely_mg <= found.high_mg
    parts = part_shares(found, part_split())
    assert sum(part.likely_mg for part in parts.values()) == found.likely_mg
    assert all(0 <= part.low_mg <= part.likely_mg <= part.high_mg for part in parts.values())


@given(weighed=weights, extra=st.integers(min_value=1, max_value=10**9), basis=bases, more=facts)
def test_a_heavier_animal_never_promises_less(weighed: int, extra: int, basis: Basis, more: dict) -> None:
    lighter = expected_boneless(weighed, basis, DEER, **more)
    heavier = expected_boneless(weighed + extra, basis, DEER, **more)
    assert all(more_mg >= less_mg for more_mg, less_mg in zip(_three(heavier), _three(lighter), strict=True))


@given(weighed=weights, days=st.integers(min_value=0, max_value=59), basis=bases)
def test_longer_hanging_never_promises_more(weighed: int, days: int, basis: Basis) -> None:
    shorter = expected_boneless(weighed, basis, DEER, hung_days=days)
    assert expected_boneless(weighed, basis, DEER, hung_days=days + 1).likely_mg <= shorter.likely_mg
