"""From the ledger to the range: which weight counts, on which basis, what is not known, and what cannot be said."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from django.test import Client

from orders.floor.block import record_waste
from orders.floor.skin import cut_off_bloodshot, finish_skinning, pull_tenderloins, start_skinning, take_off
from orders.intake.actions import add_animal, weigh_received
from orders.intake.facts import AnimalFacts
from orders.intake.models import Animal
from orders.ledger.entry import By
from orders.ledger.models import Event, Run
from orders.ledger.voids import void_event
from orders.yields.constants import Basis
from orders.yields.estimate import NOT_SAID, Estimate
from orders.yields.expected import expected_boneless
from orders.yields.figures import load_figures
from orders.yields.queries import Yield, yield_of
from shop.models import Species
from shop.weights import pounds
from tests.scenario import DEER, Scenario, lb

Stations = Callable[[str], By]


def found_of(animal: Animal) -> Yield:
    return yield_of(Animal.objects.select_related("order", "species").get(pk=animal.pk))


def range_of(animal: Animal) -> Estimate:
    found = found_of(animal).estimate
    assert found is not None
    return found


def constants_of(animal: Animal) -> Any:
    return load_figures().by_species[animal.species_id]


def in_pieces(scenario: Scenario, *pieces: tuple[str, str]) -> Animal:
    """An elk of these pieces, each as it was typed at its own scale; an empty weight is not weighed."""
    animal = add_animal(
        scenario.order(),
        by=scenario.by("counter"),
        species=Species.objects.get(code="elk"),
        arrived_as="pieces",
        facts=AnimalFacts(),
        place=scenario.places.door,
        tag_no="EK-7",
    ).fetch(Animal)
    for form, weight in pieces:
        scenario.bring(animal, form, weight)
    return animal


def test_nobody_said_what_was_on_the_scale(scenario: Scenario) -> None:
    deer = scenario.deer(facts=replace(DEER, weight_basis=""))
    found = range_of(deer)
    assert found.basis == NOT_SAID
    assert found.notes[0].startswith("Nobody said what was on the scale")
    by_hand = [
        expected_boneless(
            pounds("131.5"),
            basis,
            constants_of(deer),
            shot_regions=["shoulder"],
            hung_days=deer.species.hang_days,
        )
        for basis in (Basis.LIVE, Basis.DRESSED_FEET_ON, Basis.DRESSED_FEET_OFF)
    ]
    assert (found.low_mg, found.likely_mg, found.high_mg) == (
        by_hand[0].low_mg,
        by_hand[1].likely_mg,
        by_hand[2].high_mg,
    )


def test_once_it_hangs_the_door_s_basis_does_not_matter(scenario: Scenario) -> None:
    deer = scenario.hung(scenario.deer(facts=replace(DEER, weight_basis="")))
    found = range_of(deer)
    assert found.basis == "hanging"
    assert not any("Nobody said what was on the scale" in note for note in found.notes)


def test_pounds_kilograms_and_ounces_are_added_as_weights(scenario: Scenario) -> None:
    """58.5 lb, 26.3 kg and 652 oz of quarters, 19 lb of bags."""
    elk = in_pieces(
        scenario,
        ("hind-quarter-left", "58.5 lb"),
        ("hind-quarter-right", "26.3 kg"),
        ("front-quarter-left", "652 oz"),
        ("bag-backstrap", "19 lb"),
    )
    found = range_of(elk)
    bone_in = pounds("58.5") + 26_300_000 + round(652 * 28_349.523125)
    assert found.weighed_mg == bone_in + pounds(19)
    quarters = expected_boneless(bone_in, Basis.QUARTERS, constants_of(elk), hung_days=elk.species.hang_days)
    bags = expected_boneless(pounds(19), Basis.BONELESS, constants_of(elk))
    assert found.likely_mg == quarters.likely_mg + bags.likely_mg
    assert (found.basis, found.parts) == ("mixed", {})
    assert "Worked from the weight: bone-in pieces." in found.notes
    assert "Worked from the weight: boneless meat as received." in found.notes


def test_a_piece_that_was_not_weighed_is_said(scenario: Scenario, owner_client: Client) -> None:
    elk = in_pieces(scenario, ("hind-quarter-left", "58.5"), ("hind-quarter-right", ""))
    found = found_of(elk)
    assert found.estimate is None
    assert found.no_range == "1 of 2 pieces not weighed: no range is given for a part of it."
    assert found.no_range in owner_client.get(f"/yields/{elk.pk}/").content.decode()


def test_nothing_weighed_and_birds_are_said(scenario: Scenario) -> None:
    deer = scenario.deer(weight="")
    assert found_of(deer).no_range == "Nothing was weighed that a range could start from."
    bird = add_animal(
        scenario.order(),
        by=scenario.by("counter"),
        species=Species.objects.get(code="mallard"),
        arrived_as="birds",
        facts=AnimalFacts(bird_count=4),
        place=scenario.places.door,
        tag_no="B-1",
        weight=lb("9"),
    ).fetch(Animal)
    assert found_of(bird).no_range == "Nothing is published for birds, so no range is given."


def test_a_species_without_a_published_figure_says_so_on_its_page(
    scenario: Scenario, owner_client: Client
) -> None:
    bear = scenario.deer(species="black-bear", facts=AnimalFacts())
    said = "No published figure for black bear: the deer family's range, widened."
    assert said in range_of(bear).notes
    page = owner_client.get(f"/yields/{bear.pk}/").content.decode()
    assert said.replace("'", "&#x27;") in page
    assert "90 % of animals like it lie between low and high" in page


def test_tenderloins_that_nobody_asked_about(scenario: Scenario) -> None:
    deer = scenario.deer(facts=replace(DEER, tenderloin_left="", tenderloin_right="present"))
    found = range_of(deer)
    assert "with the tenderloins, if they were in this weight" in found.coverage
    assert "Nobody said whether the tenderloins were in: they are taken to be." in found.notes


def test_one_tenderloin_taken_in_the_field(scenario: Scenario) -> None:
    deer = scenario.deer(facts=replace(DEER, tenderloin_left="field"))
    found = range_of(deer)
    assert "with the one tenderloin that was in this weight" in found.coverage
    assert any(step.name == "one tenderloin was out" for step in found.steps)
    both = range_of(scenario.deer(tag="WT-2"))
    assert found.parts["tenderloin"].likely_mg == pytest.approx(
        both.parts["tenderloin"].likely_mg / 2, rel=0.001
    )


def skinned(
    scenario: Scenario, by: Stations, deer: Animal, *, off: str = "", hung: str = "95", pulled: bool = True
) -> Animal:
    """Skinned, perhaps with bloodshot cut off (weighed, or `-` for not weighed), and hung."""
    run = start_skinning(deer.pieces.get(), by=by("skin")).fetch(Run)
    take_off(run, by=by("skin"), what="antlers", keep=True)
    if off:
        cut_off_bloodshot(run, by=by("skin"), region="shoulder", weight=None if off == "-" else lb(off))
    if pulled:
        pull_tenderloins(deer, by=by("skin"), left=True, right=True, weight=lb("1.1"))
    finish_skinning(
        run,
        by=by("skin"),
        place=scenario.places.rail,
        weight=lb(hung) if hung else None,
        left_in="" if pulled else "block",
    )
    return Animal.objects.select_related("species").get(pk=deer.pk)


@pytest.mark.parametrize(
    ("off", "hung", "more"),
    [
        ("", "95", {}),
        ("3.2", "95", {"bloodshot_off_weighed_mg": pounds("3.2"), "bloodshot_removed_before_weighing": True}),
        ("-", "95", {"bloodshot_removed_before_weighing": True}),
    ],
)
def test_bloodshot_off_before_the_hanging_weight_is_not_taken_off_it_again(
    scenario: Scenario, by: Stations, off: str, hung: str, more: dict[str, Any]
) -> None:
    deer = skinned(scenario, by, scenario.deer(), off=off, hung=hung)
    by_hand = expected_boneless(
        pounds("95"),
        Basis.HANGING,
        constants_of(deer),
        shot_regions=["shoulder"],
        tenderloins_in=0,
        tenderloins_bagged_mg=pounds("1.1"),
        hung_days=deer.species.hang_days,
        **more,
    )
    assert range_of(deer).steps == by_hand.steps
    assert range_of(deer).likely_mg == by_hand.likely_mg


def test_bloodshot_off_after_the_weight_at_the_door_is_taken_off_it(scenario: Scenario, by: Stations) -> None:
    deer = skinned(scenario, by, scenario.deer(), off="3.2", hung="", pulled=False)
    found = range_of(deer)
    assert found.basis == "dressed_feet_on"
    step = next(step for step in found.steps if step.name == "bloodshot cut off at skinning, weighed")
    before = next(step for step in found.steps if step.name == "skinned, head off")
    assert before.likely_mg - step.likely_mg == pounds("3.2")


def test_bloodshot_at_the_block_is_taken_off_there(scenario: Scenario) -> None:
    deer = scenario.deer()
    run = scenario.opened(deer)
    cut_off_bloodshot(run, by=scenario.by("block"), region="shoulder", weight=lb("2.5"))
    record_waste(run, by=scenario.by("block"), what="bone_fat", weight=lb("24"))
    names = [step.name for step in range_of(deer).steps]
    assert "bloodshot cut off at the block, weighed" in names
    assert not any("shot loss" in name for name in names)


def test_one_tenderloin_bagged_before_it_hung(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    run = start_skinning(deer.pieces.get(), by=by("skin")).fetch(Run)
    take_off(run, by=by("skin"), what="antlers", keep=True)
    pull_tenderloins(deer, by=by("skin"), left=True, right=False, weight=lb("0.6"))
    finish_skinning(run, by=by("skin"), place=scenario.places.rail, weight=lb("95"), left_in="block")
    found = range_of(deer)
    assert (
        "with the one tenderloin that was in this weight, the bagged ones added as weighed" in found.coverage
    )
    assert found.parts["tenderloin"].likely_mg > 0


def test_a_weighing_that_was_voided_counts_no_longer(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer(weight="")
    wrong = weigh_received(deer.pieces.get(), by=by("counter"), weight=lb("141.5"))
    assert range_of(deer).weighed_mg == pounds("141.5")
    void_event(Event.objects.get(uid=wrong.uid), by=by("counter"), reason="Somebody leaned on the scale")
    assert found_of(deer).no_range == "Nothing was weighed that a range could start from."
    weigh_received(deer.pieces.get(), by=by("counter"), weight=lb("131.5"))
    assert range_of(deer).weighed_mg == pounds("131.5")


def test_more_own_meat_than_hung_is_above_the_range_and_no_error(scenario: Scenario) -> None:
    """The scales of the rail and of the wrap table may disagree by more than a carcass holds."""
    deer = scenario.deer()
    scenario.stored(deer)
    found = found_of(deer)
    assert found.own_mg is not None
    assert found.estimate is not None
    light = expected_boneless(found.own_mg - pounds(1), Basis.HANGING, constants_of(deer))
    heavy = replace(
        found,
        estimate=replace(
            found.estimate, low_mg=light.low_mg, likely_mg=light.likely_mg, high_mg=light.high_mg
        ),
    )
    assert "above the range" in heavy.flags
    assert heavy.difference_mg == found.own_mg - light.likely_mg


def test_parts_add_up_to_the_animal_as_printed(scenario: Scenario, owner_client: Client) -> None:
    deer = scenario.hung(scenario.deer())
    found = range_of(deer)
    assert sum(part.likely_mg for part in found.parts.values()) == found.likely_mg
    for part in found.parts.values():
        assert part.low_mg < part.likely_mg < part.high_mg
    page = owner_client.get(f"/yields/{deer.pk}/").content.decode()
    table = page[page.index('aria-label="Parts"') :]
    rows = table[: table.index("</table>")].split("<tr>")[2:]
    likely = [row.split('class="number">')[2].split(" lb")[0] for row in rows]
    assert len(likely) == 16
    assert f"{sum(round(float(weight) * 10) for weight in likely) / 10} lb" in page


def test_several_animals_together_have_their_parts_added(scenario: Scenario) -> None:
    one, two = (range_of(scenario.deer(tag=f"WT-{n}")) for n in (1, 2))
    both = Estimate.summed([one, two])
    assert both.parts["neck"].low_mg == one.parts["neck"].low_mg + two.parts["neck"].low_mg
    assert sum(part.likely_mg for part in both.parts.values()) == both.likely_mg
    assert Estimate.summed([one, replace(two, parts={})]).parts == {}
