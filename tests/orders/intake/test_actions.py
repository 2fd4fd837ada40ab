"""What is refused at the tailgate and the counter, each with its own code, and what is corrected."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from orders.intake.actions import (
    add_animal,
    bring_piece,
    correct_animal,
    end_animal,
    file_tag,
    name_hunter,
    new_order,
    record_order,
    record_tag,
    weigh_received,
)
from orders.intake.facts import AnimalFacts, HunterFacts
from orders.intake.models import Animal, Contact, Order
from orders.ledger.entry import By
from orders.ledger.holds import open_hold, release_hold
from orders.ledger.models import Event, Hold, Piece, Run, Weighing
from orders.ledger.voids import void_event
from orders.ledger.weights import received_mg
from orders.pickup.actions import close_order
from shop.models import NoTagReason, PieceForm, Species
from shop.weights import Reading, pounds
from tests.scenario import DEER, Scenario, lb

pytestmark = pytest.mark.django_db
Refused = Callable[..., Any]
Who = Callable[[str], By]


@pytest.fixture
def clerk(by: Who) -> By:
    return by("counter")


def take_in(scenario: Scenario, order: Order, **facts: Any) -> Any:
    known = {
        "species": Species.objects.get(code="white-tailed-deer"),
        "arrived_as": "whole",
        "facts": DEER,
        "place": scenario.places.door,
        "by": scenario.by("counter"),
        **facts,
    }
    return add_animal(order, **known)


def bird(scenario: Scenario, order: Order, **facts: Any) -> Any:
    goose = Species.objects.get(code="canada-goose")
    known = {"species": goose, "arrived_as": "birds", "facts": AnimalFacts(bird_count=3), **facts}
    return take_in(scenario, order, **known)


# --- orders and hunters ---------------------------------------------------------------------------------------


def test_numbers_count_up_within_the_season(scenario: Scenario, clerk: By) -> None:
    numbers = [new_order(scenario.season, by=clerk).fetch(Order).number for _ in range(3)]
    assert numbers == ["26-0001", "26-0002", "26-0003"]


def test_a_hunter_without_a_name_is_refused(scenario: Scenario, clerk: By, refused: Refused) -> None:
    order = new_order(scenario.season, by=clerk).fetch(Order)
    assert refused("name_missing", name_hunter, order, by=clerk, facts=HunterFacts("  ")).field == "name"
    assert refused("name_missing", name_hunter, order, by=clerk).field == "name"


def test_a_wrong_phone_number_is_refused_beside_its_field(
    scenario: Scenario, clerk: By, refused: Refused
) -> None:
    order = new_order(scenario.season, by=clerk).fetch(Order)
    refusal = refused("phone_wrong", name_hunter, order, by=clerk, facts=HunterFacts("Odell Finch", "12"))
    assert refusal.field == "phone"
    assert Contact.objects.count() == 0


def test_correcting_a_hunter_keeps_what_was_there_before(scenario: Scenario, clerk: By) -> None:
    order = scenario.order("Odel Finch", "406-555-0177")
    name_hunter(
        order,
        by=clerk,
        contact=order.hunter,
        facts=HunterFacts("Odell Finch", "406-555-0177", license_no="7"),
    )
    order.hunter.refresh_from_db()
    assert (order.hunter.name, order.hunter.search, order.hunter.license_no) == (
        "Odell Finch",
        "odell finch",
        "7",
    )
    assert Event.objects.filter(verb="name_hunter").latest("id").data["before"]["name"] == "Odel Finch"


def test_the_animals_follow_when_somebody_else_is_the_hunter(scenario: Scenario, clerk: By) -> None:
    order = scenario.order("Wrong Namesake", "406-555-0101")
    animal = scenario.deer(order)
    assert animal.taker == order.hunter
    name_hunter(order, by=clerk, facts=HunterFacts("Right Namesake", "406-555-0102"))
    animal.refresh_from_db()
    assert animal.taker.name == "Right Namesake"


def test_an_animal_that_somebody_else_took_does_not_follow(scenario: Scenario, clerk: By) -> None:
    order = scenario.order("Father Alder", "406-555-0101")
    son = Contact.objects.create(name="Son Alder", search="son alder")
    animal = scenario.deer(order, facts=replace(DEER, taker=son))
    name_hunter(order, by=clerk, facts=HunterFacts("Uncle Alder", "406-555-0102"))
    animal.refresh_from_db()
    assert animal.taker == son


def test_grinding_together_cannot_change_once_grinding_began(
    scenario: Scenario, clerk: By, refused: Refused
) -> None:
    animal = scenario.deer()
    scenario.ground(animal)
    refusal = refused("grind_began", record_order, animal.order, by=clerk, grind_together=True)
    assert refusal.field == "grind_together"


def test_what_concerns_the_whole_order_is_written_down(scenario: Scenario, clerk: By) -> None:
    order = scenario.order()
    day = timezone.localdate() + timedelta(days=9)
    record_order(
        order,
        by=clerk,
        dropped_off_by=" Pip ",
        may_collect="Tamsin",
        note="call first",
        rush=True,
        promised_on=day,
    )
    order.refresh_from_db()
    assert (order.dropped_off_by, order.may_collect, order.note) == ("Pip", "Tamsin", "call first")
    assert (order.rush, order.promised_on) == (True, day)


# --- taking an animal in --------------------------------------------------------------------------------------


def test_a_closed_order_takes_nothing_in(scenario: Scenario, clerk: By, refused: Refused) -> None:
    order = scenario.order()
    close_order(order, by=clerk, reason="booked twice")
    refused("order_closed", take_in, scenario, order, tag_no="T-1")


def test_untagged_migratory_birds_are_refused(scenario: Scenario, clerk: By, refused: Refused) -> None:
    """50 CFR 20.81: no person shall receive or have in custody untagged migratory game birds of another."""
    order = scenario.order()
    refused("untagged_birds", bird, scenario, order)
    refused("untagged_birds", bird, scenario, order, no_tag_reason=NoTagReason.objects.first())
    animal = bird(scenario, order, tag_no="G-5").fetch(Animal)
    assert animal.pieces.get().name == "3 birds"
    refused(
        "untagged_birds",
        record_tag,
        animal,
        by=clerk,
        no_tag_reason=NoTagReason.objects.filter(active=True)[0],
    )


@pytest.mark.parametrize(("species", "came"), [("white-tailed-deer", "birds"), ("canada-goose", "whole")])
def test_a_species_that_cannot_come_in_that_way(
    scenario: Scenario, refused: Refused, species: str, came: str
) -> None:
    known = Species.objects.get(code=species)
    refused(
        "arrival_wrong", take_in, scenario, scenario.order(), species=known, arrived_as=came, tag_no="T-1"
    )


def test_one_tag_is_one_animal_within_a_season(scenario: Scenario, clerk: By, refused: Refused) -> None:
    first = scenario.deer(tag="WT-77")
    order = scenario.order()
    refusal = refused("tag_taken", take_in, scenario, order, tag_no=" WT-77 ")
    assert first.label in refusal.sentence
    other = scenario.deer(order, tag="WT-78")
    refused("tag_taken", record_tag, other, by=clerk, tag_no="WT-77")
    end_animal(first, by=clerk, ending="void", reason="written down twice")
    record_tag(other, by=clerk, tag_no="WT-77")
    other.refresh_from_db()
    assert other.tag_no == "WT-77"


@pytest.mark.parametrize(
    ("code", "field", "facts"),
    [
        ("killed_in_future", "killed_on", {"killed_on": timezone.localdate() + timedelta(days=2)}),
        ("region_unknown", "regions_hit", {"regions_hit": ("elbow",)}),
        ("sample_unnumbered", "sample_no", {"disease_test": "sampled"}),
    ],
)
def test_facts_that_cannot_be(
    scenario: Scenario, clerk: By, refused: Refused, code: str, field: str, facts: dict[str, Any]
) -> None:
    order = scenario.order()
    assert refused(code, take_in, scenario, order, tag_no="T-1", facts=AnimalFacts(**facts)).field == field
    animal = scenario.deer(order)
    assert refused(code, correct_animal, animal, by=clerk, facts=AnimalFacts(**facts)).field == field


def test_a_kill_after_the_arrival_is_refused(
    scenario: Scenario, clerk: By, refused: Refused, at: Any
) -> None:
    came = at(72)
    animal = take_in(scenario, scenario.order(), tag_no="T-1", at=came, facts=AnimalFacts()).fetch(Animal)
    killed = AnimalFacts(killed_on=timezone.localdate())
    assert (
        refused("killed_after_arrival", correct_animal, animal, by=clerk, facts=killed).field == "killed_on"
    )


@pytest.mark.parametrize(
    ("code", "weight"),
    [
        ("weight_impossible", lb("5000")),
        ("weight_doubtful", lb("390")),
        ("weight_zero", lb("12", tare="12.0")),
        ("tare_above_gross", lb("12", tare="13")),
        ("tare_unit", lb("12", tare="1 kg")),
    ],
)
def test_weights_that_are_not_believed(scenario: Scenario, refused: Refused, code: str, weight: Any) -> None:
    order = scenario.order()
    assert refused(code, take_in, scenario, order, tag_no="T-1", weight=weight).field == "weight"
    assert Animal.objects.count() == 0
    assert Weighing.objects.count() == 0


def test_a_doubtful_weight_is_kept_once_it_is_confirmed(scenario: Scenario) -> None:
    animal = take_in(scenario, scenario.order(), tag_no="T-1", weight=lb("390", confirmed=True)).fetch(Animal)
    assert received_mg(animal) == pounds(390)


def test_a_reading_too_large_for_its_tare_is_refused_and_no_error(
    scenario: Scenario, refused: Refused
) -> None:
    """Two billion pounds fit a reading, but not with the three decimals of this tare."""
    weight = replace(lb("2000000000"), tare=Reading(1, "lb", 3))
    refused("weight_impossible", take_in, scenario, scenario.order(), tag_no="T-1", weight=weight)


def test_a_disease_test_opens_a_hold(scenario: Scenario) -> None:
    facts = replace(DEER, disease_test="sampled", sample_no="S-12")
    animal = take_in(scenario, scenario.order(), tag_no="T-1", facts=facts).fetch(Animal)
    assert [(hold.kind, hold.note) for hold in animal.holds.all()] == [("disease_test", "sample S-12")]


def test_without_a_tag_it_is_here_but_not_received(scenario: Scenario, clerk: By) -> None:
    animal = take_in(scenario, scenario.order()).fetch(Animal)
    assert animal.state == "not_received"
    record_tag(animal, by=clerk, no_tag_reason=NoTagReason.objects.get(code="farm-raised"))
    animal.refresh_from_db()
    assert (animal.state, animal.tag_no, animal.no_tag_reason.code) == ("received", "", "farm-raised")


def test_a_corrected_tag_says_from_what_to_what(scenario: Scenario, clerk: By) -> None:
    animal = scenario.deer(tag="TL-884213")
    said = record_tag(animal, by=clerk, tag_no="TL-884231").shown
    assert said == f"{animal.label}: tag corrected from TL-884213 to TL-884231."


def test_no_tag_and_no_reason_is_refused(scenario: Scenario, clerk: By, refused: Refused) -> None:
    animal = scenario.deer(tag="")
    assert refused("tag_missing", record_tag, animal, by=clerk).field == "tag_no"
    given_up = NoTagReason.objects.get(code="farm-raised")
    given_up.active = False
    given_up.save()
    refused("tag_missing", record_tag, animal, by=clerk, no_tag_reason=given_up)


def test_where_the_tag_is_kept_has_to_be_said(scenario: Scenario, clerk: By, refused: Refused) -> None:
    animal = scenario.deer()
    assert refused("where_missing", file_tag, animal, by=clerk, where=" ").field == "where"
    file_tag(animal, by=clerk, where="envelope 12")
    animal.refresh_from_db()
    assert animal.tag_filed_at == "envelope 12"


# --- pieces ---------------------------------------------------------------------------------------------------


def bring(scenario: Scenario, animal: Animal, form: str, **facts: Any) -> Any:
    known = {"by": scenario.by("counter"), "place": scenario.places.door, **facts}
    return bring_piece(animal, form=PieceForm.objects.get(code=form), **known)


def test_pieces_that_cannot_have_come(scenario: Scenario, clerk: By, refused: Refused) -> None:
    deer, elk = scenario.deer(), scenario.elk()
    refused("came_whole", bring, scenario, deer, "hind-quarter-left")
    refused("form_wrong", bring, scenario, elk, "whole-carcass")
    refused("piece_twice", bring, scenario, elk, "hind-quarter-left")
    refused("piece_twice", bring, scenario, elk, "head")
    refused("weight_impossible", bring, scenario, elk, "bag-neck", weight=lb("4000"))
    refused("weight_impossible", bring, scenario, elk, "cape", weight=lb("4000"))
    end_animal(elk, by=clerk, ending="spoiled", reason="sour")
    refused("animal_ended", bring, scenario, elk, "cape")


def test_the_pieces_of_an_animal_cannot_weigh_more_than_it_can(scenario: Scenario, refused: Refused) -> None:
    elk = scenario.elk()
    before = received_mg(elk)
    refused("weight_impossible", bring, scenario, elk, "side-left", weight=lb("1180", confirmed=True))
    assert received_mg(elk) == before == pounds(240)


def test_nothing_is_added_once_it_is_at_the_block(scenario: Scenario, refused: Refused) -> None:
    elk = scenario.elk()
    scenario.opened(elk)
    refused("cutting_began", bring, scenario, elk, "bag-boneless")


def test_weighing_later_and_taking_a_weight_back(scenario: Scenario, clerk: By, refused: Refused) -> None:
    animal = scenario.deer(weight="")
    piece = animal.pieces.get()
    assert received_mg(animal) is None
    weigh_received(piece, by=clerk, weight=lb("131.5"))
    assert received_mg(animal) == pounds("131.5")
    assert refused("weighed_already", weigh_received, piece, by=clerk, weight=lb("130")).field == "weight"
    weighed = Event.objects.get(verb="weigh_received", outcome="ok")
    assert refused("reason_missing", void_event, weighed, by=clerk, reason=" ").field == "reason"
    void_event(weighed, by=clerk, reason="read the wrong scale")
    assert received_mg(animal) is None
    refused("voided_already", void_event, weighed, by=clerk, reason="again")
    weigh_received(piece, by=clerk, weight=lb("130"))
    assert received_mg(animal) == pounds(130)


def test_a_hunter_cannot_be_taken_back(scenario: Scenario, clerk: By, refused: Refused) -> None:
    scenario.order()
    refused("not_voidable", void_event, Event.objects.get(verb="name_hunter"), by=clerk, reason="no")


def test_a_piece_past_the_door_is_not_weighed_there(scenario: Scenario, clerk: By, refused: Refused) -> None:
    animal = scenario.deer(weight="")
    scenario.opened(animal)
    refused("not_to_weigh", weigh_received, animal.pieces.get(kind="carcass"), by=clerk, weight=lb("100"))


# --- corrections and endings ----------------------------------------------------------------------------------


def test_what_is_kept_cannot_change_after_skinning(scenario: Scenario, clerk: By, refused: Refused) -> None:
    animal = scenario.hung(scenario.deer())
    changed = replace(DEER, keep_cape="keep")
    assert refused("skinned_already", correct_animal, animal, by=clerk, facts=changed).field == "keep_cape"


def test_a_correction_keeps_what_was_there_before(scenario: Scenario, clerk: By) -> None:
    animal = scenario.deer()
    correct_animal(animal, by=clerk, facts=replace(DEER, sex="female", kill_place="unit 5"))
    animal.refresh_from_db()
    assert (animal.sex, animal.kill_place) == ("female", "unit 5")
    assert animal.taker == animal.order.hunter
    before = Event.objects.get(verb="correct_animal").data["before"]
    assert (before["sex"], before["kill_place"]) == ("male", "Tamarack County, unit 4")


def test_endings(scenario: Scenario, clerk: By, refused: Refused) -> None:
    animal = scenario.deer()
    assert (
        refused("ending_unknown", end_animal, animal, by=clerk, ending="eaten", reason="x").field == "ending"
    )
    assert (
        refused("reason_missing", end_animal, animal, by=clerk, ending="spoiled", reason=" ").field
        == "reason"
    )
    end_animal(animal, by=clerk, ending="refused", reason="smells")
    animal.refresh_from_db()
    assert animal.state == "refused"
    refused("animal_ended", end_animal, animal, by=clerk, ending="void", reason="x")


def test_an_animal_with_packs_does_not_end(scenario: Scenario, clerk: By, refused: Refused) -> None:
    animal = scenario.deer()
    scenario.packed(animal)
    refused("packed_already", end_animal, animal, by=clerk, ending="spoiled", reason="x")


def test_ending_an_open_animal_frees_the_block(scenario: Scenario, clerk: By) -> None:
    animal = scenario.deer()
    run = scenario.opened(animal)
    end_animal(animal, by=clerk, ending="spoiled", reason="sour at the bone")
    run = Run.objects.get(pk=run.pk)
    assert (run.closed_at is not None, run.close_reason) == (True, "sour at the bone")
    assert animal.pieces.get(kind="carcass").state == "received"
    animal.refresh_from_db()
    assert animal.state == "spoiled"
    assert scenario.opened(scenario.deer(tag="WT-2")).closed_at is None


def test_holds(scenario: Scenario, clerk: By, refused: Refused) -> None:
    animal = scenario.deer()
    assert refused("hold_unknown", open_hold, animal, by=clerk, kind="whim").field == "kind"
    hold = open_hold(animal, by=clerk, kind="deposit").fetch(Hold)
    assert refused("held_already", open_hold, animal, by=clerk, kind="deposit").field == "kind"
    assert refused("reason_missing", release_hold, hold, by=clerk, note="").field == "note"
    release_hold(hold, by=clerk, note="paid")
    refused("released_already", release_hold, hold, by=clerk, note="paid")


def test_a_refused_piece_leaves_nothing_behind(scenario: Scenario, refused: Refused) -> None:
    elk = scenario.elk()
    before = Piece.objects.count()
    refused("weight_zero", bring, scenario, elk, "bag-boneless", weight=lb("2", tare="2"))
    assert Piece.objects.count() == before
