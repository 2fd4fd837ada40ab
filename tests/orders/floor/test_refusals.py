"""What the floor's actions refuse, each by its code and on record; and that a refusal leaves nothing behind."""

from __future__ import annotations

from typing import Any

import pytest

from orders.cutsheets.actions import save_cut_sheet
from orders.floor.block import fill_lug, finish_breakdown, open_animal, record_waste, weigh_at_block
from orders.floor.grind import add_fat, finish_grind, start_grind, take_from_grinder
from orders.floor.skin import (
    cut_off_bloodshot,
    finish_skinning,
    hang_up,
    move_cold,
    pull_tenderloins,
    start_skinning,
    take_off,
)
from orders.intake.actions import end_animal
from orders.intake.facts import AnimalFacts
from orders.ledger.holds import open_hold
from orders.ledger.models import Movement, Piece, Run, RunLine
from orders.ledger.voids import void_event, void_lug
from tests.orders.floor.tablet import last_event, refused
from tests.scenario import lb


@pytest.fixture
def skinning(scenario: Any, by: Any) -> Run:
    carcass = scenario.deer().pieces.get(kind="carcass")
    return start_skinning(carcass, by=by("skin")).fetch(Run)


def test_nothing_to_skin_on_a_quarter(scenario: Any, by: Any) -> None:
    quarter = scenario.elk().pieces.filter(kind="quarter").first()
    with refused("nothing_to_skin"):
        start_skinning(quarter, by=by("skin"))


@pytest.mark.parametrize("what", ["tail", "", "x" * 300, "bone_fat"])
def test_only_known_parts_come_off(skinning: Run, by: Any, what: str) -> None:
    with refused("part_unknown"):
        take_off(skinning, by=by("skin"), what=what, keep=False)


def test_feet_are_not_kept(skinning: Run, by: Any) -> None:
    with refused("part_unknown"):
        take_off(skinning, by=by("skin"), what="feet", keep=True)
    assert not Piece.objects.filter(kind="kept").exists()


@pytest.mark.parametrize(("what", "keep"), [("antlers", True), ("feet", False)])
def test_nothing_comes_off_twice(skinning: Run, by: Any, what: str, keep: bool) -> None:
    take_off(skinning, by=by("skin"), what=what, keep=keep)
    lines = RunLine.objects.count()
    with refused("off_already"):
        take_off(skinning, by=by("skin"), what=what, keep=keep)
    assert RunLine.objects.count() == lines


@pytest.mark.parametrize(
    ("sides", "code"),
    [
        ((False, False), "side_missing"),
        ((True, False), "tenderloin_absent"),
        ((True, True), "tenderloin_absent"),
    ],
)
def test_a_tenderloin_taken_in_the_field_is_not_pulled(
    scenario: Any, by: Any, sides: tuple[bool, bool], code: str
) -> None:
    deer = scenario.deer(facts=AnimalFacts(tenderloin_left="field", tenderloin_right="present"))
    with refused(code):
        pull_tenderloins(deer, by=by("skin"), left=sides[0], right=sides[1])
    assert not deer.pieces.filter(kind="tenderloin").exists()


def test_a_tenderloin_is_not_pulled_twice(scenario: Any, by: Any) -> None:
    deer = scenario.deer()
    pull_tenderloins(deer, by=by("skin"), left=True, right=False)
    with refused("pulled_already"):
        pull_tenderloins(deer, by=by("cooler"), left=True, right=True)
    assert deer.pieces.filter(kind="tenderloin").count() == 1


def test_a_hide_has_no_hanging_weight(scenario: Any, by: Any, places: Any) -> None:
    carcass = scenario.deer().pieces.get(kind="carcass")
    with refused("hide_on"):
        hang_up(carcass, by=by("cooler"), place=places.rail, weight=lb("99"))
    carcass.refresh_from_db()
    assert carcass.state == "received"


def test_meat_hangs_in_the_cold_only(scenario: Any, by: Any, places: Any) -> None:
    carcass = scenario.deer().pieces.get(kind="carcass")
    with refused("not_cold"):
        hang_up(carcass, by=by("cooler"), place=places.door)
    with refused("not_cold"):
        move_cold(carcass, by=by("cooler"), place=places.door)


def test_what_is_on_the_table_is_not_hung(scenario: Any, by: Any, places: Any) -> None:
    deer = scenario.deer()
    scenario.opened(deer)
    with refused("not_to_hang"):
        hang_up(deer.pieces.get(kind="carcass"), by=by("cooler"), place=places.rail)


def test_an_animal_is_cut_once(scenario: Any, by: Any) -> None:
    deer = scenario.deer()
    scenario.cut(deer)
    with refused("nothing_to_cut"):
        open_animal(deer, by=by("block"))
    assert deer.runs.filter(kind="cut").count() == 1


def test_only_what_is_on_the_table_is_weighed_there(scenario: Any, by: Any) -> None:
    deer = scenario.hung(scenario.deer())
    with refused("not_on_table"):
        weigh_at_block(deer.pieces.get(kind="carcass"), by=by("block"), weight=lb("90"))


@pytest.mark.parametrize("contents", ["", "ground", "bones"])
def test_a_lug_holds_what_comes_from_the_block(scenario: Any, by: Any, contents: str) -> None:
    run = scenario.opened(scenario.deer())
    with refused("contents_unknown"):
        fill_lug(run, by=by("block"), contents=contents)


def test_waste_has_two_names(scenario: Any, by: Any) -> None:
    run = scenario.opened(scenario.deer())
    with refused("waste_unknown"):
        record_waste(run, by=by("block"), what="bloodshot")


def test_whole_cuts_are_not_ground(scenario: Any, by: Any) -> None:
    lugs = scenario.cut(scenario.deer())
    with refused("wrong_station"):
        start_grind(lugs["whole_cuts"], by=by("grind"))


def test_a_carcass_is_not_ground(scenario: Any, by: Any) -> None:
    with refused("not_grind_trim"):
        start_grind(scenario.deer().pieces.get(kind="carcass"), by=by("grind"))


@pytest.mark.parametrize("kind", ["", "butter", "pork fat"])
def test_fat_is_pork_or_beef(scenario: Any, by: Any, kind: str) -> None:
    lugs = scenario.cut(scenario.deer())
    run = start_grind(lugs["grind_trim"], by=by("grind")).fetch(Run)
    with refused("fat_unknown"):
        add_fat(run, by=by("grind"), kind=kind)


def test_a_finished_job_takes_nothing_more(scenario: Any, by: Any, places: Any) -> None:
    deer = scenario.deer()
    scenario.ground(deer)
    skin, cut, grind = (deer.runs.get(kind=kind) for kind in ("skin", "cut", "grind"))
    attempts = [
        lambda: take_off(skin, by=by("skin"), what="head", keep=False),
        lambda: cut_off_bloodshot(skin, by=by("skin"), region="neck"),
        lambda: finish_skinning(skin, by=by("skin"), place=places.rail),
        lambda: fill_lug(cut, by=by("block"), contents="grind_trim"),
        lambda: record_waste(cut, by=by("block"), what="waste"),
        lambda: finish_breakdown(cut, by=by("block")),
        lambda: add_fat(grind, by=by("grind"), kind="pork"),
        lambda: take_from_grinder(grind, by=by("grind")),
        lambda: finish_grind(grind, by=by("grind")),
    ]
    for again in attempts:
        with refused("run_closed"):
            again()


def test_an_ended_animal_is_worked_no_further(scenario: Any, by: Any) -> None:
    deer = scenario.deer()
    end_animal(deer, by=by("counter"), ending="spoiled", reason="green and sour")
    deer.refresh_from_db()
    with refused("animal_ended"):
        start_skinning(deer.pieces.get(kind="carcass"), by=by("skin"))
    with refused("animal_ended"):
        pull_tenderloins(deer, by=by("skin"), left=True, right=True)


def test_an_untagged_animal_is_not_worked(scenario: Any, by: Any) -> None:
    deer = scenario.deer(tag="")
    with refused("not_received"):
        start_skinning(deer.pieces.get(kind="carcass"), by=by("skin"))


def test_a_hold_stops_work_but_not_the_way_to_the_cold(
    scenario: Any, by: Any, places: Any, skinning: Run
) -> None:
    assert skinning.animal is not None
    open_hold(skinning.animal, by=by("counter"), kind="spoiled")
    for stopped in (
        lambda: take_off(skinning, by=by("skin"), what="feet", keep=False),
        lambda: cut_off_bloodshot(skinning, by=by("skin"), region="neck"),
        lambda: pull_tenderloins(skinning.animal, by=by("skin"), left=True, right=True),
    ):
        with refused("on_hold"):
            stopped()
    finish_skinning(skinning, by=by("skin"), place=places.rail, reason="held: hung as it is", left_in="later")
    carcass = skinning.animal.pieces.get(kind="carcass")
    assert carcass.state == "hanging"
    move_cold(carcass, by=by("cooler"), place=places.rack)
    save_cut_sheet(skinning.animal, by=by("counter"))
    with refused("on_hold"):
        open_animal(skinning.animal, by=by("block"))


def test_a_hold_stops_block_and_grinder(scenario: Any, by: Any) -> None:
    deer = scenario.deer()
    lugs = scenario.cut(deer)
    run = start_grind(lugs["grind_trim"], by=by("grind")).fetch(Run)
    open_hold(deer, by=by("counter"), kind="recall")
    for stopped in (
        lambda: add_fat(run, by=by("grind"), kind="pork"),
        lambda: take_from_grinder(run, by=by("grind")),
        lambda: finish_grind(run, by=by("grind")),
    ):
        with refused("on_hold"):
            stopped()


def test_a_used_lug_is_not_taken_back(scenario: Any, by: Any) -> None:
    deer = scenario.deer()
    lugs = scenario.cut(deer)
    with refused("run_closed"):
        void_lug(lugs["whole_cuts"], by=by("block"), reason="wrong")
    start_grind(lugs["grind_trim"], by=by("grind"))
    with refused("not_voidable"):
        void_lug(lugs["grind_trim"], by=by("block"), reason="wrong")


def test_only_some_events_are_taken_back(scenario: Any, by: Any, skinning: Run) -> None:
    take_off(skinning, by=by("skin"), what="antlers", keep=True)
    with refused("not_voidable"):
        void_event(last_event(), by=by("skin"), reason="wrong")


def test_a_refused_step_leaves_nothing_behind(scenario: Any, by: Any) -> None:
    run = scenario.opened(scenario.deer())
    before = (Piece.objects.count(), Movement.objects.count(), RunLine.objects.count())
    with refused("lugs_beyond_hung"):
        fill_lug(run, by=by("block"), contents="grind_trim", weight=lb("120"))
    assert (Piece.objects.count(), Movement.objects.count(), RunLine.objects.count()) == before
