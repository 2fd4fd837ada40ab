"""Expected against packed, from the ledger: which weight is taken, fat apart, not weighed stays not weighed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from orders.cutsheets.actions import save_cut_sheet
from orders.floor.block import fill_lug, finish_breakdown, open_animal, record_waste
from orders.floor.grind import add_fat, finish_grind, start_grind, take_from_grinder
from orders.floor.skin import cut_off_bloodshot, finish_skinning, hang_up, start_skinning, take_off
from orders.intake.actions import add_animal, file_tag, record_order
from orders.intake.facts import AnimalFacts
from orders.intake.models import Animal
from orders.ledger.entry import By
from orders.ledger.models import Piece, Run
from orders.packing.actions import bring_to_wrap, finish_wrap, pack
from orders.packing.leftover import record_wrap_waste
from orders.yields.constants import Basis
from orders.yields.expected import expected_boneless
from orders.yields.figures import load_figures
from orders.yields.queries import yield_of, yields_of
from shop.models import Choice, Part, Species, YieldFigure
from shop.weights import pounds
from tests.scenario import DEER, Scenario, lb

Stations = Callable[[str], By]


def points(animal: Animal) -> dict[str, int | None]:
    return {point.key: point.mg for point in yield_of(animal).account.points}


def fresh(animal: Animal) -> Animal:
    return Animal.objects.select_related("order", "species").get(pk=animal.pk)


def test_own_meat_is_what_was_packed_less_the_fat(scenario: Scenario) -> None:
    deer = scenario.deer()
    scenario.stored(deer)
    found = yield_of(fresh(deer))
    packed = pounds("1.05") + 6 * pounds("1.1") + 10 * pounds("1.4") + 28 * pounds("1")
    assert found.account.packed_mg == packed
    assert found.account.added_mg == pounds("2.6")
    assert found.own_mg == packed - pounds("2.6")
    assert found.account.pack_count == 45
    assert found.difference_mg == found.own_mg - found.estimate.likely_mg


def test_every_point_that_was_weighed(scenario: Scenario) -> None:
    deer = scenario.deer()
    scenario.stored(deer)
    assert points(fresh(deer)) == {
        "received": pounds("131.5"),
        # 98.4 lb hung, and both tenderloins (1.1 lb) had been bagged before.
        "hanging": pounds("98.4") + pounds("1.1"),
        "at_block": None,
        "lugs": pounds("22.4") + pounds("26") + pounds("1.1"),
        "to_wrap": pounds("22.4") + pounds("28.2") + pounds("1.1"),
        "packed": yield_of(fresh(deer)).account.packed_mg,
    }
    assert yield_of(fresh(deer)).points_weighed == "5 of 6 points weighed"


def test_the_expectation_starts_from_the_hanging_weight(scenario: Scenario) -> None:
    """The same call to the arithmetic by hand: what the ledger says is what goes into it."""
    deer = scenario.deer()
    scenario.stored(deer)
    deer = fresh(deer)
    found = yield_of(deer).estimate
    by_hand = expected_boneless(
        pounds("98.4"),
        Basis.HANGING,
        load_figures().by_species[deer.species_id],
        shot_regions=["shoulder"],
        bloodshot_off_weighed_mg=None,
        bloodshot_removed_before_weighing=False,
        tenderloins_in=0,
        tenderloins_bagged_mg=pounds("1.1"),
        hung_days=0,
    )
    assert found is not None
    assert (found.low_mg, found.likely_mg, found.high_mg) == (
        by_hand.low_mg,
        by_hand.likely_mg,
        by_hand.high_mg,
    )
    assert found.weighed_words == "hanging weight"
    assert found.steps == by_hand.steps


def test_before_it_hangs_the_received_weight_counts_on_its_own_basis(scenario: Scenario) -> None:
    deer = fresh(scenario.deer(facts=replace(DEER, weight_basis="dressed_feet_off")))
    found = yield_of(deer)
    by_hand = expected_boneless(
        pounds("131.5"),
        Basis.DRESSED_FEET_OFF,
        load_figures().by_species[deer.species_id],
        shot_regions=["shoulder"],
        hung_days=deer.species.hang_days,
    )
    assert found.estimate is not None
    assert found.estimate.likely_mg == by_hand.likely_mg
    assert found.own_mg is None
    assert not found.finished


def test_tenderloins_taken_in_the_field_are_not_expected(scenario: Scenario) -> None:
    facts = replace(DEER, tenderloin_left="field", tenderloin_right="damaged")
    both, none = fresh(scenario.deer()), fresh(scenario.deer(tag="WT-2", facts=facts))
    expected = [yield_of(each).estimate for each in (both, none)]
    assert expected[0] is not None
    assert expected[1] is not None
    assert expected[1].likely_mg < expected[0].likely_mg
    assert "Tenderloins that were not in the weighed animal are not in this range." in expected[1].notes


def test_nothing_weighed_at_the_door_has_no_range(scenario: Scenario) -> None:
    deer = fresh(scenario.deer(weight=""))
    found = yield_of(deer)
    assert found.estimate is None
    assert found.difference_mg is None
    assert found.points_weighed == "0 of 1 points weighed"


def test_quarters_and_bags_are_each_on_their_own_basis(scenario: Scenario) -> None:
    elk = fresh(scenario.elk())
    constants = load_figures().by_species[elk.species_id]
    bone_in = pounds("58.5") + pounds("57") + pounds("41") + pounds("42.5")
    boneless = pounds("19.5") + pounds("4.5") + pounds("17")
    quarters = expected_boneless(bone_in, Basis.QUARTERS, constants, hung_days=elk.species.hang_days)
    bags = expected_boneless(boneless, Basis.BONELESS, constants)
    found = yield_of(elk).estimate
    assert found is not None
    assert found.weighed_mg == bone_in + boneless
    assert found.likely_mg == quarters.likely_mg + bags.likely_mg
    assert found.low_mg == quarters.low_mg + bags.low_mg


def test_one_quarter_not_weighed_leaves_no_range(scenario: Scenario) -> None:
    elk = scenario.elk()
    scenario.bring(elk, "ribs")
    assert yield_of(fresh(elk)).estimate is None


def test_the_shop_s_own_value_wins_over_the_published_one(scenario: Scenario) -> None:
    deer = fresh(scenario.deer())
    before = yield_of(deer).estimate
    YieldFigure.objects.filter(species=deer.species, quantity="lean_of_hanging").update(override_bp=4_000)
    after = yield_of(deer).estimate
    assert before is not None
    assert after is not None
    assert after.likely_mg < before.likely_mg
    assert any(
        step.source.startswith("the shop's own value") and step.likely_bp == 4_000 for step in after.steps
    )


def test_bloodshot_cut_off_before_it_hung_is_known(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    run = start_skinning(deer.pieces.get(), by=by("skin")).fetch(Run)
    take_off(run, by=by("skin"), what="antlers", keep=True)
    cut_off_bloodshot(run, by=by("skin"), region="shoulder", weight=lb("3.2"))
    finish_skinning(run, by=by("skin"), place=scenario.places.rail, weight=lb("95"), left_in="later")
    found = yield_of(fresh(deer)).estimate
    assert found is not None
    assert "The bloodshot was not weighed: the average loss of the hit is taken." not in found.notes
    assert any(step.name == "remaining shot loss, shoulder" for step in found.steps)


def cut_and_packed(
    scenario: Scenario, by: Stations, deer: Animal, *, weighed: bool = True, fat_weighed: bool = True
) -> Animal:
    """A deer with one lug, ground with fat, in two packs; the packs or the fat perhaps not weighed."""
    run = scenario.opened(deer)
    lug = fill_lug(run, by=by("block"), contents="grind_trim", weight=lb("40")).fetch(Piece)
    for what in ("bone_fat", "waste"):
        record_waste(run, by=by("block"), what=what)
    file_tag(deer, by=by("block"), where="box")
    finish_breakdown(run, by=by("block"))
    run = start_grind(lug, by=by("grind")).fetch(Run)
    add_fat(run, by=by("grind"), kind="beef", weight=lb("4") if fat_weighed else None)
    ground = take_from_grinder(run, by=by("grind"), weight=lb("43.5")).fetch(Piece)
    finish_grind(run, by=by("grind"))
    run = bring_to_wrap(ground, by=by("wrap")).fetch(Run)
    bring_to_wrap(deer.pieces.get(kind="tenderloin"), by=by("wrap"))
    part, choice = Part.objects.get(code="grind-trim"), Choice.objects.get(code="ground")
    pack(run, by=by("wrap"), part=part, choice=choice, weights=(lb("20"),), unweighed=0 if weighed else 1)
    scenario.pack(run, "tenderloin", "whole", "1.05")
    finish_wrap(run, by=by("wrap"), reason="nobody knows where the rest is")
    return fresh(deer)


def test_packs_not_weighed_leave_own_meat_not_weighed(scenario: Scenario, by: Stations) -> None:
    found = yield_of(cut_and_packed(scenario, by, scenario.deer(), weighed=False))
    assert found.finished
    assert found.own_mg is None
    assert found.difference_mg is None
    assert found.account.unweighed_packs == 1
    assert "packs not weighed" in found.flags
    assert found.account.points[-1].mg is None


def test_fat_not_weighed_leaves_own_meat_not_known(scenario: Scenario, by: Stations) -> None:
    found = yield_of(cut_and_packed(scenario, by, scenario.deer(), fat_weighed=False))
    assert found.account.packed_mg == pounds("20") + pounds("1.05")
    assert found.own_mg is None
    assert "fat not weighed" in found.flags


def test_a_gap_is_flagged_where_everything_was_weighed(scenario: Scenario, by: Stations) -> None:
    """43.5 lb and the tenderloins came to the table, 21.05 lb are in packs: no scale is that wrong."""
    found = yield_of(cut_and_packed(scenario, by, scenario.deer()))
    assert [gap.flagged for gap in found.gaps if gap.span.end.key == "packed"] == [True]
    assert "gap: On the wrap table to Packed" in found.flags
    assert "below the range" in found.flags
    assert found.account.said == ("Wrap was finished with a reason: nobody knows where the rest is",)
    # From the block to the lugs the waste was not weighed: a remainder, and never a gap.
    assert not any(gap.span.end.key == "lugs" for gap in found.gaps)


def test_days_of_hanging_are_counted_to_the_knife(scenario: Scenario, by: Stations, at: Any) -> None:
    deer = add_animal(
        scenario.order(),
        by=by("counter"),
        at=at(24 * 9),
        species=Species.objects.get(code="white-tailed-deer"),
        arrived_as="skinned",
        facts=AnimalFacts(),
        place=scenario.places.door,
        tag_no="WT-5",
        weight=lb("100"),
    ).fetch(Animal)
    hang_up(deer.pieces.get(), by=by("cooler"), at=at(24 * 8), place=scenario.places.rail, weight=lb("99"))
    save_cut_sheet(deer, by=by("counter"))
    open_animal(deer, by=by("block"), at=at(24 * 2))
    found = yield_of(fresh(deer)).estimate
    assert found is not None
    assert found.weighed_mg == pounds("99")
    assert any(step.name.startswith("drying") and " 6" in step.name for step in found.steps)


def ground_together(scenario: Scenario, by: Stations) -> list[Animal]:
    order = scenario.order()
    animals = [scenario.deer(order, tag=f"WT-{n}") for n in (1, 2)]
    record_order(order, by=by("counter"), grind_together=True)
    lugs = [scenario.cut(animal) for animal in animals]
    for pair in lugs:
        run = start_grind(pair["grind_trim"], by=by("grind")).fetch(Run)
    ground = take_from_grinder(run, by=by("grind"), weight=lb("51.5")).fetch(Piece)
    finish_grind(run, by=by("grind"))
    run = bring_to_wrap(ground, by=by("wrap")).fetch(Run)
    scenario.pack(run, "grind-trim", "ground", *["1.0"] * 50)
    finish_wrap(run, by=by("wrap"))
    for animal, pair in zip(animals, lugs, strict=True):
        for lug in (pair["whole_cuts"], animal.pieces.get(kind="tenderloin")):
            run = bring_to_wrap(lug, by=by("wrap")).fetch(Run)
        scenario.pack(run, "tenderloin", "whole", "1.05")
        scenario.pack(run, "top-round", "steaks", *["2.0"] * 10, count=4)
        record_wrap_waste(run, by=by("wrap"), weight=lb("1.8"))
        finish_wrap(run, by=by("wrap"))
    return [fresh(animal) for animal in animals]


def test_animals_ground_together_are_reckoned_together(scenario: Scenario, by: Stations) -> None:
    animals = ground_together(scenario, by)
    found = yield_of(animals[1])
    assert found.together
    assert {animal.pk for animal in found.animals} == {animal.pk for animal in animals}
    assert found.own_mg == 50 * pounds("1") + 2 * pounds("1.05") + 20 * pounds("2")
    assert found.account.points[0].mg == 2 * pounds("131.5")
    assert found.estimate is not None
    assert found.estimate.weighed_mg == 2 * pounds("98.4")
    assert len(yields_of(animals)) == 1


def test_another_animal_of_the_order_is_not_in_the_pool(scenario: Scenario, by: Stations) -> None:
    animals = ground_together(scenario, by)
    other = scenario.deer(animals[0].order, tag="WT-3")
    found = yield_of(animals[0])
    assert found.finished
    assert {animal.pk for animal in found.animals} == {animal.pk for animal in animals}
    assert found.pooled
    assert not yield_of(fresh(other)).pooled


def test_organs_and_bones_are_not_counted_as_boneless_meat(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer(facts=replace(DEER, keep_organs=""))
    lugs = scenario.ground(deer)
    run = bring_to_wrap(lugs["ground"], by=by("wrap")).fetch(Run)
    for lug in (lugs["whole_cuts"], deer.pieces.get(kind="tenderloin")):
        bring_to_wrap(lug, by=by("wrap"))
    scenario.pack(run, "tenderloin", "whole", "1.0")
    scenario.pack(run, "organs", "keep", "2.5")
    finish_wrap(run, by=by("wrap"), reason="the rest is packed another day")
    found = yield_of(fresh(deer))
    assert found.account.packed_mg == pounds("1")
    assert found.account.apart_mg == pounds("2.5")


@pytest.mark.parametrize("many", [1, 3])
def test_the_number_of_queries_is_the_same_for_one_and_three(
    scenario: Scenario, queries_of: Callable[[Any], int], many: int
) -> None:
    for n in range(many):
        scenario.packed(scenario.deer(tag=f"WT-{n}"))
    animals = list(Animal.objects.select_related("species", "order__hunter"))
    assert queries_of(lambda: yields_of(animals)) == 6


def test_a_weight_basis_of_the_animal_is_one_of_the_arithmetic() -> None:
    from orders.intake.models import WeightBasis

    assert set(WeightBasis.values) <= {basis.value for basis in Basis}


def test_birds_have_no_range(scenario: Scenario, by: Stations) -> None:
    bird = add_animal(
        scenario.order(),
        by=by("counter"),
        species=Species.objects.get(code="mallard"),
        arrived_as="birds",
        facts=AnimalFacts(bird_count=4),
        place=scenario.places.door,
        tag_no="B-1",
        weight=lb("9"),
    ).fetch(Animal)
    assert yield_of(fresh(bird)).estimate is None


def test_a_knife_recorded_before_the_weight_is_no_day_of_hanging(
    scenario: Scenario, by: Stations, at: Any
) -> None:
    """Clocks of two tablets, or a tablet that was without Wi-Fi: never a negative number of days."""
    deer = scenario.hung(scenario.deer())
    save_cut_sheet(deer, by=by("counter"))
    open_animal(deer, by=by("block"), at=at(24 * 3))
    found = yield_of(fresh(deer)).estimate
    assert found is not None
    assert any(step.name == "drying: days hung 0, in the lean share 14" for step in found.steps)
