"""What a cut sheet refuses, each with its own code, and what it makes of what was not answered."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from orders.cutsheets.actions import answer_change, ask_change, save_cut_sheet
from orders.cutsheets.models import CutLine, CutRequest, CutSheet
from orders.cutsheets.queries import current_sheet, last_time, lines_to_start_from
from orders.cutsheets.rules import LineFacts, offers
from orders.floor.block import finish_breakdown, record_waste
from orders.intake.actions import add_animal, end_animal, file_tag
from orders.intake.facts import AnimalFacts
from orders.intake.models import Animal
from orders.ledger.action import action
from orders.ledger.entry import Answer, By, Entry
from shop.models import Choice, Part, ShopSettings, Species
from tests.scenario import DEER, Scenario

pytestmark = pytest.mark.django_db
Refused = Callable[..., Any]


@pytest.fixture
def clerk(by: Callable[[str], By]) -> By:
    return by("counter")


def line(part: str, choice: str, **details: Any) -> LineFacts:
    return LineFacts(part=Part.objects.get(code=part), choice=Choice.objects.get(code=choice), **details)


def steaks(part: str = "backstrap", **details: Any) -> LineFacts:
    return line(part, "steaks", **{"thickness_16ths": 12, "pieces_per_pack": 4, **details})


def offered(animal: Animal) -> dict[str, set[str]]:
    return {offer.part.code: {choice.code for choice in offer.choices} for offer in offers(animal)}


# --- what is refused ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "lines"),
    [
        ("choice_impossible", [("tenderloin", "ground", {})]),
        ("choice_impossible", [("backstrap", "chops", {"thickness_16ths": 12, "pieces_per_pack": 2})]),
        (
            "choice_twice",
            [("tenderloin", "whole", {"share_bp": 5000}), ("tenderloin", "whole", {"share_bp": 5000})],
        ),
        (
            "split_not_whole",
            [("tenderloin", "whole", {"share_bp": 5000}), ("tenderloin", "halved", {"share_bp": 4999})],
        ),
        ("share_wrong", [("tenderloin", "whole", {"share_bp": 0})]),
        ("thickness_missing", [("backstrap", "steaks", {"pieces_per_pack": 4})]),
        ("thickness_missing", [("backstrap", "steaks", {"pieces_per_pack": 4, "thickness_16ths": 65})]),
        ("pieces_missing", [("backstrap", "steaks", {"thickness_16ths": 12})]),
        ("pieces_missing", [("backstrap", "steaks", {"thickness_16ths": 12, "pieces_per_pack": 51})]),
        ("pack_missing", [("backstrap", "roast", {})]),
        ("pack_missing", [("backstrap", "roast", {"pack_oz": 401})]),
        ("fat_not_here", [("tenderloin", "whole", {"fat_bp": 1000, "fat_kind": "pork"})]),
        ("fat_too_much", [("grind-trim", "ground", {"pack_oz": 16, "fat_bp": 5001, "fat_kind": "pork"})]),
        ("fat_kind_missing", [("grind-trim", "ground", {"pack_oz": 16, "fat_bp": 1000})]),
    ],
)
def test_lines_that_cannot_be(
    scenario: Scenario, clerk: By, refused: Refused, code: str, lines: list[tuple[str, str, dict[str, Any]]]
) -> None:
    animal = scenario.deer()
    told = tuple(line(part, choice, **details) for part, choice, details in lines)
    assert refused(code, save_cut_sheet, animal, by=clerk, lines=told).field == lines[0][0]
    assert CutSheet.objects.count() == 0


def test_a_part_that_did_not_come_is_refused(scenario: Scenario, clerk: By, refused: Refused) -> None:
    animal = scenario.deer(facts=replace(DEER, tenderloin_left="field", tenderloin_right="damaged"))
    told = (line("tenderloin", "whole"),)
    assert refused("part_absent", save_cut_sheet, animal, by=clerk, lines=told).field == "tenderloin"


def test_a_wrap_nobody_has(scenario: Scenario, clerk: By, refused: Refused) -> None:
    assert refused("wrap_unknown", save_cut_sheet, scenario.deer(), by=clerk, wrap="foil").field == "wrap"


def test_an_ended_animal_is_not_cut(scenario: Scenario, clerk: By, refused: Refused) -> None:
    animal = scenario.deer()
    end_animal(animal, by=clerk, ending="spoiled", reason="sour")
    refused("animal_ended", save_cut_sheet, animal, by=clerk)


def test_two_clerks_do_not_overwrite_each_other_unseen(
    scenario: Scenario, clerk: By, refused: Refused
) -> None:
    animal = scenario.deer()
    save_cut_sheet(animal, by=clerk, based_on=0)
    refusal = refused("sheet_changed", save_cut_sheet, animal, by=clerk, based_on=0)
    assert refusal.sentence.startswith("Clem Tansy has saved version 1 meanwhile.")
    save_cut_sheet(animal, by=clerk, based_on=1)
    assert current_sheet(animal).version == 2


def test_after_cutting_began_a_change_is_a_request(
    scenario: Scenario, clerk: By, refused: Refused, by: Any
) -> None:
    animal = scenario.deer()
    assert refused("not_cutting", ask_change, animal, by=clerk, text="no roasts").field == "text"
    run = scenario.opened(animal)
    refused("cutting_began", save_cut_sheet, animal, by=clerk)
    assert refused("text_missing", ask_change, animal, by=clerk, text="  ").field == "text"
    asked = ask_change(animal, by=clerk, text="no roasts").fetch(CutRequest)
    refused("request_open", _finish, run, by("block"))
    answer_change(asked, by=by("block"), accepted=True, answer="just in time")
    refused("answered_already", answer_change, asked, by=by("block"), accepted=False)
    asked.refresh_from_db()
    assert (asked.accepted, asked.answer, asked.answered_by.username) == (True, "just in time", "kit")


def _finish(run: Any, cutter: By) -> None:
    record_waste(run, by=cutter, what="bone_fat")
    record_waste(run, by=cutter, what="waste")
    file_tag(run.animal, by=cutter, where="box")
    finish_breakdown(run, by=cutter)


def test_after_the_breakdown_it_is_too_late(scenario: Scenario, clerk: By, refused: Refused) -> None:
    animal = scenario.deer()
    scenario.cut(animal)
    refused("cut_already", ask_change, animal, by=clerk, text="no roasts")


# --- what is kept ---------------------------------------------------------------------------------------------


def test_no_lines_is_the_house_cut_and_says_so(scenario: Scenario, clerk: By) -> None:
    animal = scenario.deer()
    sheet = save_cut_sheet(animal, by=clerk, wrap="paper", note="bones for the dog").fetch(CutSheet)
    lines = {row.part.code: row for row in sheet.lines.select_related("part", "choice")}
    assert set(lines) == set(offered(animal))
    assert all(row.from_house and row.share_bp == 10_000 for row in lines.values())
    assert (lines["backstrap"].choice.code, lines["backstrap"].thickness_16ths) == ("steaks", 12)
    assert (sheet.wrap, sheet.note) == ("paper", "bones for the dog")


def test_what_was_chosen_is_kept_beside_the_house_cut(scenario: Scenario, clerk: By) -> None:
    animal = scenario.deer()
    told = (steaks(share_bp=4000), line("backstrap", "roast", pack_oz=32, share_bp=6000))
    sheet = save_cut_sheet(animal, by=clerk, lines=told).fetch(CutSheet)
    rows = sheet.lines.filter(part__code="backstrap").order_by("share_bp")
    assert [(row.choice.code, row.share_bp, row.from_house) for row in rows] == [
        ("steaks", 4000, False),
        ("roast", 6000, False),
    ]
    assert not sheet.lines.exclude(part__code="backstrap").filter(from_house=False).exists()


def test_details_that_a_choice_does_not_ask_for_are_dropped(scenario: Scenario, clerk: By) -> None:
    told = (line("tenderloin", "whole", thickness_16ths=8, pieces_per_pack=2, pack_oz=16),)
    sheet = save_cut_sheet(scenario.deer(), by=clerk, lines=told).fetch(CutSheet)
    row = CutLine.objects.get(sheet=sheet, part__code="tenderloin")
    assert (row.thickness_16ths, row.pieces_per_pack, row.pack_oz) == (None, None, None)


# --- what can be asked of an animal ---------------------------------------------------------------------------


def test_without_the_saw_no_bone_in_cut_is_offered(scenario: Scenario, clerk: By) -> None:
    animal = scenario.deer()
    sawn = set(Choice.objects.filter(bone_in=True).values_list("code", flat=True))
    assert not any(choices & sawn for choices in offered(animal).values())
    ShopSettings.objects.filter(pk=1).update(boneless_only=False)
    assert "chops" in offered(animal)["backstrap"]


def test_pieces_offer_only_what_they_bring(scenario: Scenario) -> None:
    hind = {
        "top-round",
        "bottom-round",
        "eye-of-round",
        "sirloin-tip",
        "sirloin-butt",
        "tri-tip",
        "heel",
        "shank",
    }
    animal = add_animal(
        scenario.order(),
        by=scenario.by("counter"),
        species=Species.objects.get(code="elk"),
        arrived_as="pieces",
        facts=AnimalFacts(),
        place=scenario.places.door,
        tag_no="EK-2",
    ).fetch(Animal)
    scenario.bring(animal, "hind-quarter-left", "58")
    assert set(offered(animal)) == hind | {"grind-trim", "bones"}
    scenario.bring(animal, "bag-backstrap", "19")
    assert set(offered(animal)) == hind | {"grind-trim", "bones", "backstrap"}


def test_small_parts_of_a_deer_go_to_the_grind(scenario: Scenario) -> None:
    deer, elk = offered(scenario.deer()), offered(scenario.elk())
    assert deer["tri-tip"] == {"grind"}
    assert "whole" in elk["tri-tip"]


def test_organs_are_asked_about_unless_they_are_gone(scenario: Scenario) -> None:
    assert "organs" in offered(scenario.deer(facts=AnimalFacts()))
    assert "organs" not in offered(scenario.deer(tag="WT-2", facts=replace(DEER, keep_organs="absent")))


def queries(call: Callable[[], Any]) -> int:
    with CaptureQueriesContext(connection) as seen:
        call()
    return len(seen)


def test_what_is_offered_is_asked_in_few_queries(scenario: Scenario) -> None:
    """The shop, the parts, their choices, the house cuts; and the pieces of an animal that came in pieces."""
    deer, elk = scenario.deer(), scenario.elk()
    assert queries(lambda: offers(deer)) == 4
    assert queries(lambda: offers(elk)) == 5


def test_a_first_cut_sheet_takes_eight_queries_and_those_of_its_event(scenario: Scenario, clerk: By) -> None:
    """What is offered (4), whether cutting began, the last version, the sheet and its lines; the event around them."""
    deer = scenario.deer()
    around = queries(lambda: record_nothing(deer, by=clerk))
    assert queries(lambda: save_cut_sheet(deer, by=clerk)) == around + 8


@action("record_order")
def record_nothing(entry: Entry, animal: Animal) -> Answer:
    """An event without anything in it."""
    entry.about(animal)
    return Answer("Nothing.")


# --- same as last time ----------------------------------------------------------------------------------------


def test_last_time_is_the_same_hunters_and_the_same_species_first(scenario: Scenario, clerk: By) -> None:
    order = scenario.order()
    deer, elk = scenario.deer(order), scenario.elk(order)
    other = scenario.deer(scenario.order("Somebody Else", "406-555-0199"), tag="WT-3")
    for animal in (deer, elk, other):
        save_cut_sheet(animal, by=clerk)
    again = scenario.deer(order, tag="WT-4")
    assert last_time(again).animal == deer
    assert last_time(deer).animal == elk


def test_a_start_from_last_time_leaves_out_what_this_animal_has_not(scenario: Scenario, clerk: By) -> None:
    order = scenario.order()
    first = scenario.deer(order)
    told = (line("tenderloin", "halved"), steaks(thickness_16ths=16))
    sheet = save_cut_sheet(first, by=clerk, lines=told).fetch(CutSheet)
    second = scenario.deer(
        order, tag="WT-2", facts=replace(DEER, tenderloin_left="field", tenderloin_right="field")
    )
    start = {each.part.code: each for each in lines_to_start_from(second, sheet)}
    assert "tenderloin" not in start
    assert (start["backstrap"].thickness_16ths, start["backstrap"].from_house) == (16, False)
    assert start["neck"].from_house
