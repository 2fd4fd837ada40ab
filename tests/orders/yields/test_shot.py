"""What a shot costs: never counted twice, whether bloodshot came off before the weight or after it, weighed or not.

Worked by hand with floats: lean share L, shot loss s of the lean, the part of it r that is found at the block, and
the part m of bloodshot that is meat.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from orders.yields.constants import REGIONS, WHOLE_BP, Basis, Constants, Loss, Share, ShotBase, ShotLoss
from orders.yields.expected import Expected, expected_boneless
from shop.weights import pounds
from tests.published.sources import constants

DEER = constants("mule-deer")
LEAN = 0.5729
SHOT = 0.1324
LATER = 0.2
MEAT = 0.85
# Of what was cut off at skinning, as much again as this is found at the block.
REMAINING = LATER / (1 - LATER)
AGED = 14
# Milligrams of a pound, exactly.
LB = 453_592.37


def hanging(weight: str | float, given: Constants = DEER, **more: object) -> Expected:
    """From a skinned carcass that hung as long as those of the lean share."""
    mg = round(float(weight) * LB)
    return expected_boneless(mg, Basis.HANGING, given, hung_days=AGED, **more)  # type: ignore[arg-type]


def three(found: Expected) -> tuple[int, int, int]:
    return found.low_mg, found.likely_mg, found.high_mg


def test_still_on_and_not_weighed() -> None:
    assert hanging(100).likely_mg == pytest.approx(pounds(100) * LEAN * (1 - SHOT), abs=1)


def test_cut_off_after_the_weight_and_weighed() -> None:
    """The bone stays: of 4 lb cut off, 3.4 lb were meat, and a quarter of that is found at the block besides."""
    found = hanging(100, bloodshot_off_weighed_mg=pounds(4))
    by_hand = LB * (LEAN * 100 - MEAT * 4 * (1 + REMAINING))
    assert found.likely_mg == pytest.approx(by_hand, abs=1)
    assert found.steps[0].name == "bloodshot cut off at skinning, weighed"
    assert found.steps[0].likely_mg == pounds(96)


def test_cut_off_before_the_weight_and_weighed_is_the_same_animal() -> None:
    """96 lb without 4 lb of bloodshot is 100 lb with it: whichever was weighed first, the same meat."""
    before = hanging(96, bloodshot_off_weighed_mg=pounds(4), bloodshot_removed_before_weighing=True)
    after = hanging(100, bloodshot_off_weighed_mg=pounds(4))
    for one, other in zip(three(before), three(after), strict=True):
        assert abs(one - other) <= 1
    assert "Bloodshot was off before this weight, and was weighed." in before.notes


def test_cut_off_before_the_weight_and_not_weighed_is_the_same_animal() -> None:
    """The usual loss is off a carcass of 100 lb: what is left of it gives what the whole of it was to give."""
    gone = (1 - LATER) * SHOT * LEAN / MEAT
    before = hanging(100 * (1 - gone), bloodshot_removed_before_weighing=True)
    assert before.likely_mg == pytest.approx(hanging(100).likely_mg, rel=1e-6)
    said = "Bloodshot was off before this weight and not weighed: the usual loss of such a hit is taken."
    assert said in before.notes
    names = [step.name for step in before.steps]
    assert names[0] == "bloodshot off before this weight, not weighed"
    assert names[1] == "remaining shot loss, average of all shots"


def test_the_four_answers_are_in_order() -> None:
    """Of the same weight, most meat is left where the bloodshot is off already, least where it is all still on."""
    still_on = hanging(100)
    off_after = hanging(100, bloodshot_off_weighed_mg=pounds(5))
    off_before = hanging(100, bloodshot_off_weighed_mg=pounds(5), bloodshot_removed_before_weighing=True)
    unweighed = hanging(100, bloodshot_removed_before_weighing=True)
    clean = LEAN * pounds(100)
    assert still_on.likely_mg < off_after.likely_mg < off_before.likely_mg < clean
    assert still_on.likely_mg < unweighed.likely_mg < clean


def test_weighed_at_the_block_nothing_more_is_found() -> None:
    found = hanging(100, bloodshot_at_block_mg=pounds(4))
    assert found.likely_mg == pytest.approx(LB * (LEAN * 100 - MEAT * 4), abs=1)
    assert [step.name for step in found.steps] == [
        "bloodshot cut off at the block, weighed",
        "bone, fat and silverskin off",
    ]
    assert hanging(100, bloodshot_at_block_mg=0).likely_mg == pytest.approx(pounds(100) * LEAN, abs=1)


def test_at_the_block_it_is_cut_off_the_dried_carcass() -> None:
    """Four pounds are four pounds, however long it hung."""
    for days in (0, 5, 30):
        plain = expected_boneless(pounds(100), Basis.HANGING, DEER, hung_days=days, bloodshot_at_block_mg=0)
        cut = expected_boneless(
            pounds(100), Basis.HANGING, DEER, hung_days=days, bloodshot_at_block_mg=pounds(4)
        )
        assert plain.likely_mg - cut.likely_mg == pytest.approx(MEAT * pounds(4), abs=2)


def test_some_off_at_skinning_and_the_rest_at_the_block() -> None:
    found = hanging(
        96,
        bloodshot_off_weighed_mg=pounds(4),
        bloodshot_removed_before_weighing=True,
        bloodshot_at_block_mg=pounds(1),
    )
    assert found.likely_mg == pytest.approx(LB * (LEAN * 100 - MEAT * 5), abs=2)


def test_zero_weighed_is_known_and_not_weighed_is_not() -> None:
    said = "The bloodshot was not weighed: the average loss of the hit is taken."
    assert said in hanging(100).notes
    zero = hanging(100, bloodshot_off_weighed_mg=0)
    assert said not in zero.notes
    assert zero.likely_mg == pytest.approx(pounds(100) * LEAN, abs=1)
    assert "Nobody noted where it was hit: the average of all shots is taken." not in zero.notes


@pytest.mark.parametrize("where", ["bloodshot_off_weighed_mg", "bloodshot_at_block_mg"])
def test_more_bloodshot_than_carcass_leaves_nothing(where: str) -> None:
    assert three(hanging(10, **{where: pounds(11)})) == (0, 0, 0)


def test_no_weight_has_no_meat_and_no_error() -> None:
    for before in (True, False):
        found = hanging(0, bloodshot_off_weighed_mg=pounds(1), bloodshot_removed_before_weighing=before)
        assert three(found) == (0, 0, 0)


def test_regions_keep_their_order() -> None:
    """Neck and rib shots below the average, shoulder shots above: von La Chevallerie & van Zyl, S. Afr. J. Anim.
    Sci. 1(1):113-116, 1971. The top of the neck and the head cost about nothing: common practice."""
    found = {region: hanging(100, shot_regions=(region,)).likely_mg for region in REGIONS}
    assert sorted(found, key=lambda region: -found[region]) == list(REGIONS)
    average, none_lost = hanging(100).likely_mg, pounds(100) * LEAN
    assert found["shoulder"] < average < found["ribs"] < found["neck"] < found["head"] < none_lost
    assert found["head"] == pytest.approx(none_lost, rel=0.01)
    assert hanging(100, shot_regions=("neck",)).high_mg >= none_lost
    both = hanging(100, shot_regions=("shoulder", "hind")).likely_mg
    assert both == pytest.approx(pounds(100) * LEAN * (1 - 3.1 * SHOT), abs=1)
    assert hanging(100, shot_regions=("neck", "neck")).likely_mg == found["neck"]


def test_a_step_names_the_region_its_base_and_where_both_come_from() -> None:
    step = hanging(100, shot_regions=("shoulder",)).steps[0]
    assert step.name == "shot loss, shoulder"
    assert "mmb2019" in step.source
    assert "a share of the lean" in step.source
    assert "by region: common practice, for only the rank is published [Y190]" in step.source
    own = replace(DEER.regions["shoulder"], own=True)
    ours = replace(DEER, regions={**DEER.regions, "shoulder": own})
    assert "by region: the shop's own" in hanging(100, ours, shot_regions=("shoulder",)).steps[0].source


def test_every_region_at_once_still_leaves_meat() -> None:
    found = hanging(100, shot_regions=REGIONS)
    assert 0 < found.low_mg < found.likely_mg
    assert found.likely_mg == pytest.approx(pounds(100) * LEAN * 0.4, abs=1)


def test_a_shot_never_adds_meat() -> None:
    for species in ("mule-deer", "pronghorn", "black-bear"):
        for regions in ((), ("head",), ("shoulder",)):
            found = hanging(100, constants(species), shot_regions=regions)
            assert all(step.high_bp <= WHOLE_BP for step in found.steps)


def test_a_loss_of_the_carcass_is_more_of_the_lean() -> None:
    """13.9 % of the carcass [Y189], 85 % of it meat, is 20.6 % of a lean that is 57.29 % of the carcass."""
    pronghorn = constants("pronghorn")
    assert pronghorn.shot_loss.base is ShotBase.CARCASS
    of_lean = 0.139 * MEAT / LEAN
    found = hanging(100, pronghorn)
    assert found.likely_mg == pytest.approx(pounds(100) * LEAN * (1 - of_lean), abs=1)
    # 13.9 lb are cut off the 100 lb on the scale.
    assert found.steps[0].likely_mg == pytest.approx(pounds("86.1"), abs=1)
    stated_of_lean = replace(pronghorn, shot_loss=replace(pronghorn.shot_loss, base=ShotBase.LEAN))
    assert hanging(100, stated_of_lean).likely_mg == pytest.approx(pounds(100) * LEAN * (1 - 0.139), abs=1)


def contained(base: ShotBase) -> Constants:
    lean = DEER.lean_of_hanging
    inside = replace(lean, contains=lean.contains | {Loss.SHOT}, shot_base=base)
    return replace(DEER, lean_of_hanging=inside)


def test_a_lean_share_that_contains_the_average_loss_is_not_docked_again() -> None:
    found = hanging(100, contained(ShotBase.LEAN))
    assert found.likely_mg == pytest.approx(pounds(100) * LEAN, abs=1)
    assert [step.name for step in found.steps] == ["bone, fat and silverskin off"]


def test_of_a_contained_loss_only_the_difference_is_applied() -> None:
    """A shoulder costs 1.6 times the average: (1 - 1.6 s) / (1 - s); the carcass base is 0.85 / 0.5729 of the lean."""
    shoulder = hanging(100, contained(ShotBase.LEAN), shot_regions=("shoulder",))
    by_hand = (1 - 1.6 * SHOT) / (1 - SHOT)
    assert shoulder.likely_mg == pytest.approx(pounds(100) * LEAN * by_hand, abs=1)
    assert shoulder.steps[0].name == "shot loss, shoulder, against the average that the lean share contains"
    none = hanging(100, contained(ShotBase.LEAN), bloodshot_at_block_mg=0)
    assert none.likely_mg == pytest.approx(pounds(100) * LEAN / (1 - SHOT), abs=1)
    of_carcass = hanging(100, contained(ShotBase.CARCASS), bloodshot_at_block_mg=0)
    assert of_carcass.likely_mg == pytest.approx(pounds(100) * LEAN / (1 - SHOT * MEAT / LEAN), abs=1)


def test_what_is_not_certain_of_bloodshot_widens_the_range() -> None:
    certain = replace(DEER, bloodshot_meat=Share(8500, 8500, 8500))
    more = {"bloodshot_off_weighed_mg": pounds(8), "bloodshot_removed_before_weighing": True}
    wide, narrow = hanging(92, DEER, **more), hanging(92, certain, **more)
    assert wide.likely_mg == narrow.likely_mg
    assert wide.low_mg < narrow.low_mg
    assert wide.high_mg > narrow.high_mg


def test_no_shot_loss_at_all_is_no_step() -> None:
    clean = replace(DEER, shot_loss=ShotLoss(Share(0, 0, 0)))
    assert [step.name for step in hanging(100, clean).steps] == ["bone, fat and silverskin off"]
