"""What to look at in an animal: one hand-made case for each flag, and animals that look bad and are not.

The deer of these cases hung 100 lb; an animal like it gives 41.0 to 55.0 lb boneless, most likely 48.0.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from orders.yields.audit_math import audit
from orders.yields.flags import (
    AnimalFacts,
    Flag,
    GapFacts,
    Kind,
    LugFacts,
    Range,
    ScaleFacts,
    Standing,
)
from shop.weights import pounds
from tests.orders.yields.deer import EXPECTED, GOOD, SHORT


def gap(
    start: str, end: str, missing: str, scales: str = "0.3", loss: str = "0.5", ground: bool = False
) -> GapFacts:
    return GapFacts(
        start=start,
        end=end,
        start_name=start.capitalize(),
        end_name=end.capitalize(),
        missing_mg=int(pounds(missing.lstrip("-"))) * (-1 if missing.startswith("-") else 1),
        scales_mg=pounds(scales),
        loss_mg=pounds(loss),
        ground=ground,
    )


def scale(point: str, error: str, readings: int = 1, tolerance: str = "0.01") -> ScaleFacts:
    mg = pounds(error.lstrip("-")) * (-1 if error.startswith("-") else 1)
    return ScaleFacts("The wrap scale", point, mg, pounds(tolerance), readings)


def kinds(facts: AnimalFacts) -> list[tuple[Kind, int]]:
    """Open flags: kind and pounds to a tenth."""
    return [(flag.kind, _tenths(flag)) for flag in audit(facts).flags if not flag.explained]


def _tenths(flag: Flag) -> int:
    return round(flag.pounds_mg / pounds("0.1"))


def test_a_good_animal_has_no_flags() -> None:
    found = audit(GOOD)
    assert (found.standing, found.flags) == (Standing.WITHIN, ())
    assert found.sentence == "Packed 47.2 lb; the range is 41.0 to 55.0 lb, most likely 48.0."


# --- gaps -----------------------------------------------------------------------------------------------------------


def test_a_gap_is_said_as_a_person_would() -> None:
    (flag,) = audit(replace(GOOD, gaps=(gap("lugs", "to_wrap", "1.8", ground=True),))).flags
    assert flag.kind is Kind.GAP
    assert flag.pounds_mg == pounds("1.8") - pounds("0.3") - pounds("0.5")
    assert flag.likely_reason == (
        "1.8 lb more went into the grinder than came out; the scales explain 0.3, the usual hang-up 0.5."
    )
    assert "throat and hopper" in flag.look_next


def test_what_the_scales_and_the_work_explain_is_no_gap() -> None:
    for missing in ("0.8", "0.1", "0", "-0.3"):
        assert audit(replace(GOOD, gaps=(gap("lugs", "to_wrap", missing),))).flags == ()
    assert kinds(replace(GOOD, gaps=(gap("lugs", "to_wrap", "0.9"),))) == [(Kind.GAP, 1)]


def test_more_came_out_than_went_in() -> None:
    (flag,) = audit(replace(GOOD, gaps=(gap("to_wrap", "packed", "-1.5"),))).flags
    assert (flag.kind, _tenths(flag)) == (Kind.GAP, 12)
    assert (
        flag.likely_reason
        == "1.5 lb more went into packs than lay on the wrap table; the scales explain 0.3."
    )
    assert "tare" in flag.look_next


def test_printed_parts_of_a_gap_add_up() -> None:
    """0.84 left, 0.34 scales and 0.44 hang-up are 1.62: 1.6 and 0.8 printed, so the hang-up is 0.5 and not 0.4."""
    (flag,) = audit(replace(GOOD, gaps=(gap("lugs", "to_wrap", "1.62", "0.34", "0.44", ground=True),))).flags
    assert flag.likely_reason == (
        "1.6 lb more went into the grinder than came out; the scales explain 0.3, the usual hang-up 0.5."
    )


def test_a_gain_of_half_a_printed_step_adds_up_too() -> None:
    """1.650001 kg more, of which the scales explain 0.000001: 1.7 and 1.6 printed, so the scales are said to be 0.1."""
    found = replace(gap("lugs", "to_wrap", "0"), missing_mg=-1_650_001, scales_mg=1, loss_mg=0)
    (flag,) = audit(replace(GOOD, unit="kg", gaps=(found,))).flags
    assert flag.pounds_mg == 1_650_000
    assert flag.likely_reason.endswith(
        "1.7 kg more came to the wrap table than left the block in lugs; the scales explain 0.1."
    )


def test_a_gap_between_points_without_words_of_their_own_names_them() -> None:
    (flag,) = audit(replace(GOOD, gaps=(gap("cooler", "freezer", "3"),))).flags
    assert flag.likely_reason.startswith("3.0 lb more was weighed at “cooler” than at “freezer”;")


def test_drying_beyond_the_usual_is_dried_and_not_a_gap() -> None:
    (flag,) = audit(replace(GOOD, gaps=(gap("hanging", "at_block", "9.1", "0.3", "4.0"),))).flags
    assert (flag.kind, _tenths(flag)) == (Kind.DRIED, 48)
    assert flag.likely_reason == (
        "9.1 lb more hung than lay on the block; the scales explain 0.3, the usual drying 4.0."
    )
    assert "fan and humidity" in flag.look_next


def test_more_on_the_block_than_hung_did_not_dry() -> None:
    assert kinds(replace(GOOD, gaps=(gap("hanging", "at_block", "-2"),))) == [(Kind.GAP, 17)]


def test_kilograms_are_said_where_the_shop_weighs_in_them() -> None:
    facts = replace(GOOD, unit="kg", gaps=(gap("lugs", "to_wrap", "4.4"),))
    found = audit(facts)
    assert found.flags[0].likely_reason.startswith("2.0 kg more left the block in lugs")
    assert found.sentence.startswith("Packed 21.4 kg")


# --- lugs -----------------------------------------------------------------------------------------------------------

LUG = LugFacts("Lug 3", pounds("8.4"), "grind rack 2")


def test_a_missing_lug_where_nothing_after_it_was_weighed() -> None:
    (flag,) = audit(replace(GOOD, lugs=(LUG,))).flags
    assert (flag.kind, flag.pounds_mg) == (Kind.LUG, pounds("8.4"))
    assert flag.likely_reason == "Lug 3 held 8.4 lb and was not scanned after the block."
    assert flag.look_next.endswith("It was last at grind rack 2.")


def test_a_missing_lug_takes_its_pounds_out_of_the_gap_it_makes() -> None:
    facts = replace(GOOD, lugs=(LUG,), gaps=(gap("lugs", "to_wrap", "8.9"),))
    assert kinds(facts) == [(Kind.LUG, 84)]
    more = replace(facts, gaps=(gap("lugs", "to_wrap", "11.2"),))
    assert kinds(more) == [(Kind.LUG, 84), (Kind.GAP, 20)]
    assert audit(more).flags[1].likely_reason.startswith("Besides what is missing in lugs, 2.8 lb more left")


def test_a_lug_without_a_scan_whose_pounds_arrived_is_not_missing() -> None:
    """Looks bad at first sight: a lug nobody scanned again. The pounds after it add up, so it went on unscanned."""
    (flag,) = audit(replace(GOOD, lugs=(LUG,), gaps=(gap("lugs", "to_wrap", "0.6"),))).flags
    assert flag.explained
    assert flag.pounds_mg == 0
    assert "add up without it missing" in flag.likely_reason
    assert flag.look_next == "Nothing is missing: it went on without a scan."


def test_a_lug_cannot_have_lost_more_than_is_missing() -> None:
    facts = replace(GOOD, lugs=(LUG,), gaps=(gap("lugs", "to_wrap", "4.5"),))
    assert kinds(facts) == [(Kind.LUG, 40)]
    assert "4.0 lb is missing" in audit(facts).flags[0].likely_reason


def test_a_lug_that_nobody_weighed_is_judged_by_what_is_missing() -> None:
    unknown = LugFacts("Lug 2", None)
    by_gap = replace(GOOD, lugs=(unknown,), gaps=(gap("lugs", "to_wrap", "6.5"),))
    assert kinds(by_gap) == [(Kind.LUG, 60)]
    by_range = replace(SHORT, lugs=(unknown,))
    assert kinds(by_range) == [(Kind.LUG, 50)]
    assert audit(by_range).flags[0].likely_reason == (
        "Lug 2 was not weighed and was not scanned after the block; 5.0 lb is missing."
    )
    assert kinds(replace(GOOD, lugs=(unknown,))) == [(Kind.LUG, 0)]


# --- scales ---------------------------------------------------------------------------------------------------------


def test_a_scale_that_reads_light_is_in_every_pack() -> None:
    """40 packs, each read 0.05 lb too light, are 2.0 lb."""
    facts = replace(GOOD, scales=(scale("packed", "-0.05", 40),))
    (flag,) = audit(facts).flags
    assert (flag.kind, flag.pounds_mg) == (Kind.SCALE, 40 * pounds("0.05"))
    assert flag.likely_reason == (
        "The wrap scale reads 0.05 lb too light by its last check, 40 times over: 2.0 lb in all."
    )


def test_a_scale_within_its_tolerance_is_no_flag() -> None:
    assert audit(replace(GOOD, scales=(scale("packed", "-0.01", 41),))).flags == ()


def test_a_scale_s_error_is_taken_out_of_the_gap_and_of_the_yield() -> None:
    light = scale("packed", "-0.05", 100)
    short = replace(SHORT, scales=(light,), gaps=(gap("to_wrap", "packed", "5.4"),))
    assert kinds(short) == [(Kind.SCALE, 50)]
    worse = replace(short, gaps=(gap("to_wrap", "packed", "7.0"),), own_mg=pounds("34.8"))
    assert kinds(worse) == [(Kind.SCALE, 50), (Kind.GAP, 12)]
    assert audit(worse).flags[1].likely_reason.startswith("Besides The wrap scale, 2.0 lb more lay")


def test_a_carcass_read_heavy_promises_too_much() -> None:
    """10 lb too heavy of 100, at 48 lb boneless: 4.8 lb were never there, and 0.2 of the 5.0 are left."""
    facts = replace(SHORT, scales=(scale("hanging", "10"),))
    assert kinds(facts) == [(Kind.SCALE, 100), (Kind.BELOW, 2)]


def test_a_scale_that_reads_heavy_makes_packs_look_many() -> None:
    facts = replace(GOOD, own_mg=pounds(58), scales=(scale("packed", "0.06", 40),))
    assert kinds(facts) == [(Kind.SCALE, 24), (Kind.ABOVE, 6)]


# --- short and above ------------------------------------------------------------------------------------------------


def test_more_bone_and_fat_than_usual_is_the_trim_standard() -> None:
    facts = replace(SHORT, waste_mg=pounds("45.5"))
    (flag,) = audit(facts).flags
    assert (flag.kind, flag.pounds_mg) == (Kind.TRIM, pounds(5))
    assert flag.likely_reason.startswith(
        "Bone, fat and sinew came to 45.5 lb, 6.5 lb more than animals like this"
    )
    assert "trim standard" in flag.look_next
    assert kinds(replace(SHORT, waste_mg=pounds(41))) == [(Kind.BELOW, 30), (Kind.TRIM, 20)]


def test_bone_and_fat_that_nobody_weighed_leave_trimming_as_likely() -> None:
    (flag,) = audit(replace(SHORT, waste_mg=None)).flags
    assert (flag.kind, flag.pounds_mg) == (Kind.TRIM, pounds(5))
    assert "were not weighed" in flag.likely_reason
    assert "Weigh the bone" in flag.look_next


def test_a_hit_that_nobody_noted() -> None:
    facts = replace(SHORT, bloodshot_known=False, worst_shot_mg=pounds("3.5"), waste_mg=None)
    assert kinds(facts) == [(Kind.SHOT, 35), (Kind.TRIM, 15)]
    flag = audit(facts).flags[0]
    assert flag.likely_reason.startswith("Nobody noted where it was hit, and the bloodshot was not weighed")
    for known in ({"shot_regions": ("neck",)}, {"bloodshot_known": True}):
        assert (Kind.SHOT, 35) not in kinds(replace(facts, **known))


def test_a_short_animal_that_nothing_explains() -> None:
    found = audit(SHORT)
    assert found.standing is Standing.BELOW
    assert (
        found.sentence == "Packed 36.0 lb: below the range; the range is 41.0 to 55.0 lb, most likely 48.0."
    )
    assert kinds(SHORT) == [(Kind.BELOW, 50)]


def test_a_gap_that_explains_the_shortness_leaves_nothing_for_the_trimmer() -> None:
    facts = replace(SHORT, waste_mg=None, gaps=(gap("to_wrap", "packed", "6.0"),))
    assert kinds(facts) == [(Kind.GAP, 52)]
    part = replace(facts, gaps=(gap("to_wrap", "packed", "3.8"),))
    assert kinds(part) == [(Kind.GAP, 30), (Kind.TRIM, 20)]


def test_above_the_range() -> None:
    found = audit(replace(GOOD, own_mg=pounds("58.2")))
    assert found.standing is Standing.ABOVE
    (flag,) = found.flags
    assert (flag.kind, flag.pounds_mg) == (Kind.ABOVE, pounds("58.2") - pounds(55))
    assert flag.likely_reason == "It packed 3.2 lb more than the range explains."
    assert "another order's meat" in flag.look_next


def test_more_packed_than_hung() -> None:
    assert kinds(replace(GOOD, own_mg=pounds(104))) == [(Kind.ABOVE, 490)]


def test_a_gain_that_is_flagged_already_is_not_flagged_twice() -> None:
    facts = replace(GOOD, own_mg=pounds(57), gaps=(gap("to_wrap", "packed", "-2.5"),))
    assert kinds(facts) == [(Kind.GAP, 22)]


def test_whole_cuts_that_became_grind_though_asked_for_whole() -> None:
    facts = replace(GOOD, to_trim_mg=pounds("4.2"), to_trim_asked=False)
    (flag,) = audit(facts).flags
    assert (flag.kind, flag.pounds_mg) == (Kind.TRIM, pounds("4.2"))
    assert flag.likely_reason.startswith("4.2 lb of whole cuts went to grind trim")
    assert audit(replace(facts, to_trim_asked=True)).flags == ()
    assert audit(replace(facts, to_trim_mg=pounds("0.1"))).flags == ()


# --- innocent -------------------------------------------------------------------------------------------------------

# Hit in the shoulder and hung 21 days: an ordinary animal of its weight gives 48.0 lb, with its days of hanging 44.3,
# with its shot too 40.2, and its own range is 34.4 to 46.1.
INNOCENT = AnimalFacts(
    own_mg=pounds("39.5"),
    expected=Range(pounds("34.4"), pounds("40.2"), pounds("46.1")),
    ordinary=EXPECTED,
    likely_as_hung_mg=pounds("44.3"),
    weighed_mg=pounds(100),
    shot_regions=("shoulder",),
    hung_days=21,
    usual_days=7,
    waste_mg=None,
)


def test_shoulder_shot_and_hung_long_looks_bad_and_is_explained() -> None:
    found = audit(INNOCENT)
    assert found.standing is Standing.EXPLAINED
    assert kinds(INNOCENT) == []
    assert [(flag.kind, flag.pounds_mg) for flag in found.flags] == [
        (Kind.SHOT, pounds("44.3") - pounds("40.2")),
        (Kind.DRIED, pounds(48) - pounds("44.3")),
    ]
    assert [flag.likely_reason for flag in found.flags] == [
        "Hit in the shoulder: 4.1 lb more than an average hit takes.",
        "Hung 21 days, 14 days longer than usual: 3.7 lb more dried away.",
    ]
    assert {flag.look_next for flag in found.flags} == {"Nothing to look for: its range allows for it."}
    assert found.sentence == (
        "Packed 39.5 lb: 8.5 lb less than an ordinary animal of its weight, and the shot and the long hanging "
        "explain it; the range is 34.4 to 46.1 lb, most likely 40.2."
    )


def test_without_its_shot_and_hanging_noted_the_same_animal_is_flagged() -> None:
    """The innocent case can fail: what clears the animal is what was noted, not a wide range."""
    assert kinds(replace(INNOCENT, expected=EXPECTED, likely_as_hung_mg=None, shot_regions=()))


def test_an_innocent_animal_s_real_gap_is_still_shown_first() -> None:
    facts = replace(INNOCENT, gaps=(gap("lugs", "to_wrap", "1.8"),))
    assert [flag.kind for flag in audit(facts).flags] == [Kind.GAP, Kind.SHOT, Kind.DRIED]


def test_a_bad_animal_s_shot_and_hanging_are_told_beside_what_is_open() -> None:
    facts = replace(INNOCENT, own_mg=pounds("30.4"))
    found = audit(facts)
    assert found.standing is Standing.BELOW
    assert [(flag.kind, flag.explained) for flag in found.flags] == [
        (Kind.TRIM, False),
        (Kind.SHOT, True),
        (Kind.DRIED, True),
    ]


def test_an_ordinary_animal_is_not_told_of_its_shot() -> None:
    assert audit(replace(INNOCENT, own_mg=pounds(43))).flags == ()


# --- what is not known ----------------------------------------------------------------------------------------------


def test_packs_not_weighed() -> None:
    found = audit(replace(GOOD, own_mg=None, gaps=(gap("lugs", "to_wrap", "1.8"),)))
    assert found.standing is Standing.UNKNOWN
    assert found.sentence == "Not everything that was packed was weighed: its yield is not known."
    assert [flag.kind for flag in found.flags] == [Kind.GAP]


def test_a_species_without_a_figure() -> None:
    found = audit(AnimalFacts(own_mg=pounds(40), expected=None))
    assert (found.standing, found.flags) == (Standing.UNKNOWN, ())
    assert (
        found.sentence == "Packed 40.0 lb. There is nothing to compare it with: no range could be reckoned."
    )


def test_a_range_is_in_order() -> None:
    for bounds in ((-1, 0, 1), (2, 1, 3), (1, 3, 2)):
        with pytest.raises(ValueError, match="low <= likely <= high"):
            Range(*bounds)
