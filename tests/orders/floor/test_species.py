"""What the block says and offers depends on the animal: hoofs, paws, feathers, and the parts that were brought."""

from __future__ import annotations

from typing import Any

import pytest

from orders.cutsheets.actions import save_cut_sheet
from orders.floor.block import open_animal
from orders.floor.cautions import DECIDE, block_cautions
from orders.floor.forms import LugForm
from orders.floor.skin import hang_up
from orders.floor.words import are, is_several, them
from orders.intake.actions import add_animal
from orders.intake.facts import AnimalFacts
from orders.intake.models import Animal
from orders.ledger.models import Run
from shop.models import Species, SpeciesPart
from tests.orders.floor.tablet import Tablet, words
from tests.orders.floor.test_queues import hang
from tests.scenario import Scenario, lb

GLAND, LEAD, SPINE = "gland in the fat", "lead goes farther", "Do not cut into spine or head."
JERKS, COOK = "half-stripped carcass jerks", "Cook to 165 °F inside"
HOOFED = ("white-tailed-deer", "mule-deer", "elk", "pronghorn", "moose", "wild-boar")
BIRDS = ("mallard", "canada-goose", "wild-turkey")


def said_of(code: str) -> str:
    return " ".join(block_cautions(Species.objects.get(code=code)))


@pytest.mark.parametrize("code", HOOFED)
def test_hoofed_game_has_gland_lead_and_spine(catalog: None, code: str) -> None:
    said = said_of(code)
    assert all(words in said for words in (GLAND, LEAD, SPINE, JERKS))


@pytest.mark.parametrize("code", ["black-bear", *BIRDS])
def test_nothing_else_has_them(catalog: None, code: str) -> None:
    said = said_of(code)
    assert not any(words in said for words in (GLAND, LEAD, SPINE))


@pytest.mark.parametrize("code", ["black-bear", "wild-boar", *BIRDS])
def test_cook_it_through_stands_first_where_it_is_due(catalog: None, code: str) -> None:
    assert block_cautions(Species.objects.get(code=code))[0].startswith(COOK)


@pytest.mark.parametrize("code", ["white-tailed-deer", "mule-deer", "elk", "pronghorn", "moose"])
def test_and_nowhere_else(catalog: None, code: str) -> None:
    assert COOK not in said_of(code)


def test_every_species_ends_with_who_decides_and_says_it_once(catalog: None) -> None:
    for species in Species.objects.all():
        lines = block_cautions(species)
        assert lines[-1] == DECIDE
        assert " ".join(lines).count(DECIDE) == 1, species
        assert "jerks" not in " ".join(lines) or not species.is_bird


def test_a_species_that_the_shop_adds_counts_as_hoofed() -> None:
    assert any(GLAND in line for line in block_cautions(Species(code="mountain-goat")))


def choices_of(animal: Animal) -> list[str]:
    return [words for _, words in LugForm(animal=animal).fields["contents"].choices]  # type: ignore[attr-defined]


def birds(scenario: Scenario, code: str = "mallard") -> Animal:
    answer = add_animal(
        scenario.order(),
        by=scenario.by("counter"),
        species=Species.objects.get(code=code),
        arrived_as="birds",
        facts=AnimalFacts(bird_count=6),
        place=scenario.places.door,
        tag_no="MB-90017",
        weight=lb("14"),
    )
    return answer.fetch(Animal)


@pytest.mark.parametrize("code", BIRDS)
def test_birds_have_no_tenderloins(scenario: Scenario, code: str) -> None:
    animal = birds(scenario, code)
    offered = choices_of(animal)
    ground = SpeciesPart.objects.filter(species=animal.species, part__choices__is_grind=True).exists()
    assert offered == ["Whole cuts", *(["Grind trim"] if ground else [])]


def test_a_deer_has_all_three(scenario: Scenario) -> None:
    assert choices_of(scenario.deer()) == ["Whole cuts", "Grind trim", "Tenderloins"]


def test_no_lug_of_tenderloins_that_are_not_there(scenario: Scenario) -> None:
    gone = AnimalFacts(tenderloin_left="field", tenderloin_right="damaged")
    assert choices_of(scenario.deer(facts=gone)) == ["Whole cuts", "Grind trim"]


def test_only_parts_that_came_are_asked_for(scenario: Scenario) -> None:
    elk = scenario.elk(head=False)
    form = LugForm(animal=elk)
    codes = set(form.fields["parts"].queryset.values_list("code", flat=True))  # type: ignore[attr-defined]
    assert {"backstrap", "tenderloin", "neck", "top-round"} <= codes
    assert "ribs" not in codes
    assert "grind-trim" not in codes


def test_birds_at_the_block(scenario: Scenario, tablet: Tablet) -> None:
    animal = birds(scenario)
    hang_up(animal.pieces.get(), by=scenario.by("cooler"), place=scenario.places.rack)
    save_cut_sheet(animal, by=scenario.by("counter"))
    run = open_animal(animal, by=scenario.by("block")).fetch(Run)
    said = words(tablet.at("block").get("floor-block", run.pk))
    assert COOK in said
    assert SPINE not in said
    assert "Tenderloins" not in words(tablet.get("floor-lug", run.pk))
    page = tablet.post("floor-lug", run.pk, contents="tenderloins", not_weighed="1")
    assert page.status_code == 422
    assert "Tenderloins" not in words(page)
    page = tablet.post("floor-lug", run.pk, contents="whole_cuts", not_weighed="1")
    assert "Lug 1, whole cuts" in words(page)


def test_late_is_said_once_on_a_card(scenario: Scenario, tablet: Tablet, at: Any) -> None:
    deer = scenario.deer()
    limit = deer.species.hang_limit_days
    hang(scenario, deer, at(24 * (limit + 2)))
    text = tablet.at("block").get("floor").content.decode()
    card = text[text.index("tile job first") : text.index("</button>", text.index("tile job first"))]
    assert f'<b class="mark late">LATE: hangs {limit + 2} days, limit {limit}</b>' in card
    assert card.lower().count("late") == 2  # the mark's class, and the word


@pytest.mark.parametrize(
    ("name", "several"),
    [
        ("antlers", True),
        ("organs", True),
        ("feet", True),
        ("tenderloins, left and right", True),
        ("6 birds", True),
        ("head", False),
        ("cape", False),
        ("hide", False),
        ("carcass", False),
        ("tenderloin, left", False),
        ("lug 1, whole cuts", False),
        ("hind quarter, left", False),
    ],
)
def test_one_is_and_several_are(name: str, several: bool) -> None:
    assert is_several(name) is several
    assert (are(name), them(name)) == (("are", "them") if several else ("is", "it"))
