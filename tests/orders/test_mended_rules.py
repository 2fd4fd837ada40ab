"""Rules of the trade that an action keeps by itself: what is kept, what a cut sheet speaks of, one tag, one head."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from orders.cutsheets.actions import save_cut_sheet
from orders.cutsheets.rules import offers
from orders.floor.block import fill_lug, finish_breakdown, open_animal, record_waste
from orders.floor.skin import finish_skinning, hang_up, move_cold, start_skinning, take_off
from orders.intake.actions import (
    add_animal,
    correct_animal,
    end_animal,
    file_tag,
    record_tag,
    weigh_received,
)
from orders.intake.facts import AnimalFacts
from orders.intake.models import Animal
from orders.ledger.entry import By
from orders.ledger.models import Piece, Run
from orders.packing.actions import bring_to_wrap, finish_wrap, store
from orders.pickup.actions import notify
from shop.models import NoTagReason, PlaceKind, ShopSettings, Species
from shop.places import add_place, sink
from shop.weights import pounds
from tests.orders.floor.tablet import refused
from tests.orders.pools import PLAIN, grind_together, pieces_of_elk, pool_on_table, taken_in, two_deer
from tests.scenario import DEER, Scenario, lb

Stations = Callable[[str], By]


def fresh(thing: Any) -> Any:
    return type(thing)._default_manager.get(pk=thing.pk)


def skinning(scenario: Scenario, by: Stations, **answers: str) -> tuple[Animal, Run]:
    deer = scenario.deer(facts=replace(DEER, **answers))
    return deer, start_skinning(deer.pieces.get(kind="carcass"), by=by("skin")).fetch(Run)


# --- a tag is one animal ----------------------------------------------------------------------------------------


def test_a_refused_animal_may_come_back_with_its_tag(scenario: Scenario, by: Stations) -> None:
    first = scenario.deer()
    with refused("tag_taken"):
        scenario.deer()
    end_animal(first, by=by("counter"), ending="refused", reason="warm, dirty")
    second = scenario.deer()
    assert (second.tag_no, second.state) == ("WT-10021", "received")
    with refused("tag_taken"):
        scenario.deer()


@pytest.mark.parametrize("typed", ["wt-10021", "WT 10021", " Wt10021 ", "WT.10021"])
def test_one_tag_is_one_tag_however_it_is_written(scenario: Scenario, by: Stations, typed: str) -> None:
    scenario.deer()
    with refused("tag_taken"):
        scenario.deer(tag=typed)
    untagged = scenario.deer(tag="")
    with refused("tag_taken"):
        record_tag(untagged, by=by("counter"), tag_no=typed)
    record_tag(untagged, by=by("counter"), tag_no="WT-10022")
    # Its own tag written otherwise is a correction.
    record_tag(untagged, by=by("counter"), tag_no="wt 10022")
    assert (fresh(untagged).tag_no, fresh(untagged).tag_key) == ("wt 10022", "WT10022")


def test_a_reason_that_was_given_up_is_not_taken(scenario: Scenario, by: Stations) -> None:
    reason = NoTagReason.objects.filter(active=True).first()
    assert scenario.deer(tag="", no_tag_reason=reason).has_tag
    NoTagReason.objects.filter(pk=reason.pk).update(active=False)
    with refused("reason_inactive"):
        scenario.deer(tag="", no_tag_reason=fresh(reason))


def test_a_tag_is_not_swapped_for_a_reason_once_work_began(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    reason = NoTagReason.objects.filter(active=True).first()
    scenario.stored(deer)
    with refused("tag_recorded"):
        record_tag(deer, by=by("counter"), no_tag_reason=reason)
    record_tag(deer, by=by("counter"), tag_no="WT-10012")
    assert (fresh(deer).tag_no, fresh(deer).no_tag_reason) == ("WT-10012", None)


# --- what is kept -----------------------------------------------------------------------------------------------


def test_organs_that_are_kept_are_not_forgotten(scenario: Scenario, by: Stations) -> None:
    deer, run = skinning(scenario, by, keep_organs="keep")
    take_off(run, by=by("skin"), what="antlers", keep=True)
    with refused("kept_part_missing"):
        finish_skinning(run, by=by("skin"), place=scenario.places.rail, left_in="later")
    with refused("kept_part"):
        take_off(run, by=by("skin"), what="organs", keep=False)
    take_off(run, by=by("skin"), what="organs", keep=True)
    finish_skinning(run, by=by("skin"), place=scenario.places.rail, left_in="later")
    assert fresh(deer).state == "hanging"


@pytest.mark.parametrize("what", ["head", "antlers", "cape", "hide", "organs"])
def test_what_nobody_was_asked_about_is_never_thrown_away(
    scenario: Scenario, by: Stations, what: str
) -> None:
    _, run = skinning(scenario, by, keep_head="", keep_cape="", keep_hide="", keep_organs="")
    with refused("kept_part"):
        take_off(run, by=by("skin"), what=what, keep=False)
    assert take_off(run, by=by("skin"), what=what, keep=True).refs["piece"]


def test_antlers_are_not_thrown_away_while_the_head_is_kept(scenario: Scenario, by: Stations) -> None:
    _, run = skinning(scenario, by, keep_head="keep")
    with refused("kept_part"):
        take_off(run, by=by("skin"), what="antlers", keep=False)
    take_off(run, by=by("skin"), what="head", keep=True)
    assert run.lines.filter(what="head").count() == 1


def test_what_the_hunter_does_not_keep_goes_to_waste(scenario: Scenario, by: Stations) -> None:
    deer, run = skinning(scenario, by, keep_head="discard")
    for what in ("head", "antlers", "cape", "hide", "organs"):
        take_off(run, by=by("skin"), what=what, keep=False)
    finish_skinning(run, by=by("skin"), place=scenario.places.rail, left_in="later")
    assert not deer.pieces.filter(kind="kept").exists()


def test_an_animal_has_one_head(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer(facts=replace(DEER, keep_head="keep"))
    scenario.bring(deer, "head", "12")
    for form in ("head", "antlers"):
        with refused("piece_twice"):
            scenario.bring(deer, form)
    run = start_skinning(deer.pieces.get(kind="carcass"), by=by("skin")).fetch(Run)
    for what in ("head", "antlers"):
        with refused("off_already"):
            take_off(run, by=by("skin"), what=what, keep=True)
    finish_skinning(run, by=by("skin"), place=scenario.places.rail, left_in="later")
    assert deer.pieces.filter(kind="kept").count() == 1


@pytest.mark.parametrize("form", ["cape", "hide", "organs", "antlers"])
def test_no_kept_part_is_brought_twice(scenario: Scenario, form: str) -> None:
    deer = scenario.deer()
    scenario.bring(deer, form)
    with refused("piece_twice"):
        scenario.bring(deer, form)


# --- the cut sheet and what came --------------------------------------------------------------------------------


def test_a_cut_sheet_older_than_the_pieces_is_looked_at_again(scenario: Scenario, by: Stations) -> None:
    elk = pieces_of_elk(scenario, "EK-1")
    save_cut_sheet(elk, by=by("counter"))
    scenario.bring(elk, "front-quarter-left", "40")
    with refused("sheet_stale"):
        open_animal(elk, by=by("block"))
    save_cut_sheet(elk, by=by("counter"))
    sheet = elk.cut_sheets.get(current=True)
    assert {line.part_id for line in sheet.lines.all()} == {offer.part.pk for offer in offers(elk)}
    open_animal(elk, by=by("block"))
    assert fresh(elk).state == "cutting"


def test_a_quarter_that_came_after_the_sheet_has_no_line_and_is_asked_about(
    scenario: Scenario, by: Stations
) -> None:
    elk = pieces_of_elk(scenario, "EK-1", ("front-quarter-left", "40"))
    save_cut_sheet(elk, by=by("counter"))
    scenario.bring(elk, "hind-quarter-left", "50")
    with refused("sheet_stale"):
        open_animal(elk, by=by("block"))


@pytest.mark.parametrize("boneless_only", [True, False])
def test_every_animal_that_is_cut_can_be_opened_with_its_house_cut(
    scenario: Scenario, by: Stations, boneless_only: bool
) -> None:
    """The sheet that the house writes is never stale by itself, whatever came and however."""
    ShopSettings.objects.update(boneless_only=boneless_only)
    n = 0
    for species in Species.objects.all():
        arrivals = ["birds"] if species.is_bird else ["whole", "skinned", "pieces", "boneless", "trim"]
        for arrived_as in arrivals:
            n += 1
            facts = replace(PLAIN, bird_count=2 if species.is_bird else None)
            animal = taken_in(scenario, species.code, arrived_as, f"T-{n}", facts=facts)
            if arrived_as == "pieces":
                scenario.bring(animal, "hind-quarter-left")
            elif arrived_as in ("boneless", "trim"):
                scenario.bring(animal, "bag-trim")
            elif arrived_as == "whole":
                run = start_skinning(animal.pieces.get(), by=by("skin")).fetch(Run)
                finish_skinning(run, by=by("skin"), place=scenario.places.rail, left_in="later")
            save_cut_sheet(animal, by=by("counter"))
            open_animal(animal, by=by("block"))
            assert fresh(animal).state == "cutting", (species.code, arrived_as)
    assert n > 20


# --- ready, and told --------------------------------------------------------------------------------------------


def test_a_head_that_comes_before_the_quarters_makes_nothing_ready(scenario: Scenario, by: Stations) -> None:
    elk = pieces_of_elk(scenario, "EK-1", ("head", "38"))
    assert (fresh(elk).state, fresh(elk.order).state, fresh(elk.order).ready_at) == (
        "received",
        "received",
        None,
    )
    with refused("not_ready"):
        notify(elk.order, by=by("counter"), how="by phone")
    scenario.bring(elk, "hind-quarter-left", "50")
    assert fresh(elk).state == "received"


def test_whoever_was_told_is_told_again_when_more_comes(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    scenario.stored(deer)
    order = fresh(deer.order)
    notify(order, by=by("counter"), how="by phone")
    assert fresh(order).state == "notified"
    second = scenario.deer(order, tag="WT-2")
    assert (fresh(order).state, fresh(order).notified_at) == ("received", None)
    scenario.stored(second)
    assert fresh(order).state == "ready"
    notify(fresh(order), by=by("counter"), how="by phone")
    assert fresh(order).state == "notified"


# --- tenderloins in a lug ---------------------------------------------------------------------------------------


def tenderloins_at_the_block(scenario: Scenario, by: Stations, *others: str) -> Run:
    """On the wrap table: a lug of tenderloins that was filled at the block, with no bag before, and other lugs."""
    deer, run = skinning(scenario, by)
    take_off(run, by=by("skin"), what="antlers", keep=True)
    finish_skinning(run, by=by("skin"), place=scenario.places.rail, left_in="later")
    save_cut_sheet(deer, by=by("counter"))
    run = open_animal(deer, by=by("block")).fetch(Run)
    lugs = [
        fill_lug(run, by=by("block"), contents=contents, weight=lb("1")).fetch(Piece)
        for contents in ("tenderloins", *others)
    ]
    for what in ("bone_fat", "waste"):
        record_waste(run, by=by("block"), what=what)
    file_tag(deer, by=by("block"), where="tag box, row 3")
    finish_breakdown(run, by=by("block"))
    return [bring_to_wrap(lug, by=by("wrap")).fetch(Run) for lug in lugs][-1]


def test_tenderloins_that_were_lugged_at_the_block_are_not_missing(scenario: Scenario, by: Stations) -> None:
    table = tenderloins_at_the_block(scenario, by)
    scenario.pack(table, "tenderloin", "whole", "0.95")
    finish_wrap(table, by=by("wrap"))
    assert fresh(table).close_reason == ""


def test_tenderloins_in_no_pack_are_missing(scenario: Scenario, by: Stations) -> None:
    table = tenderloins_at_the_block(scenario, by, "whole_cuts")
    scenario.pack(table, "backstrap", "steaks", "0.95", "0.95", count=2)
    with refused("tenderloin_missing"):
        finish_wrap(table, by=by("wrap"))
    finish_wrap(table, by=by("wrap"), reason="packed with the backstrap")
    assert fresh(table).closed_at is not None


# --- facts that cannot be ---------------------------------------------------------------------------------------


def test_a_weight_for_an_animal_in_pieces_is_not_dropped_silently(scenario: Scenario, by: Stations) -> None:
    with refused("weigh_pieces"):
        taken_in(scenario, "elk", "pieces", "EK-1", weight=lb("300"))
    elk = taken_in(scenario, "elk", "pieces", "EK-1")
    assert scenario.bring(elk, "hind-quarter-left", "58").weighings.get().mg == pounds(58)


@pytest.mark.parametrize("arrived_as", ["boneless", "trim"])
def test_a_bone_in_quarter_is_not_boneless(scenario: Scenario, arrived_as: str) -> None:
    elk = taken_in(scenario, "elk", arrived_as, "EK-1")
    with refused("form_wrong"):
        scenario.bring(elk, "hind-quarter-left", "50")
    assert scenario.bring(elk, "bag-hind", "30").kind == "bag"


@pytest.mark.parametrize("answer", ["field", "damaged"])
def test_a_tenderloin_that_is_bagged_was_not_taken_in_the_field(
    scenario: Scenario, by: Stations, answer: str
) -> None:
    deer = scenario.hung(scenario.deer())
    with refused("pulled_already"):
        correct_animal(deer, by=by("counter"), facts=replace(DEER, tenderloin_left=answer))
    correct_animal(deer, by=by("counter"), facts=replace(DEER, condition_note="mud on the hams"))
    assert fresh(deer).condition_note == "mud on the hams"


@pytest.mark.parametrize("name", ["collected", "used", "hauled", "void"])
def test_nothing_is_put_where_pieces_end(scenario: Scenario, by: Stations, name: str) -> None:
    deer, run = skinning(scenario, by)
    with refused("wrong_place"):
        take_off(run, by=by("skin"), what="antlers", keep=True, place=sink(name))
    with refused("wrong_place"):
        add_animal(
            deer.order,
            by=by("counter"),
            species=deer.species,
            arrived_as="whole",
            facts=AnimalFacts(),
            place=sink(name),
            tag_no="WT-2",
        )
    take_off(run, by=by("skin"), what="antlers", keep=True, place=scenario.places.hook)
    assert deer.pieces.get(kind="kept").place == scenario.places.hook


# --- which cold place for what ----------------------------------------------------------------------------------


FITTING = {
    "carcass": {"rail", "rack"},
    "tenderloin": {"rail", "rack"},
    "lug": {"rail", "rack"},
    "kept": {"hook", "rack", "shelf"},
    "box": {"shelf"},
    "package": {"shelf"},
}


def piece_in_the_cold(scenario: Scenario, by: Stations, kind: str) -> Piece:
    deer = scenario.deer()
    if kind in ("carcass", "tenderloin", "kept"):
        scenario.hung(deer)
    elif kind == "lug":
        return scenario.cut(deer)["whole_cuts"]
    elif kind == "box":
        return scenario.stored(deer)
    else:
        single = scenario.packed(deer)[0].piece
        store(single, by=by("freezer"), place=scenario.places.shelf)
        return fresh(single)
    return deer.pieces.get(kind=kind)


@pytest.mark.parametrize("kind", FITTING)
def test_each_piece_moves_only_where_such_pieces_are_kept(
    scenario: Scenario, by: Stations, kind: str
) -> None:
    piece, moved = piece_in_the_cold(scenario, by, kind), set()
    for name, place_kind in (
        ("rail", PlaceKind.RAIL),
        ("rack", PlaceKind.RACK),
        ("shelf", PlaceKind.FREEZER),
        ("hook", PlaceKind.HOOK),
    ):
        place = add_place(f"Second {name}", place_kind)
        if name in FITTING[kind]:
            move_cold(fresh(piece), by=by("cooler"), place=place)
            moved.add(name)
            assert fresh(piece).place == place
        else:
            with refused("wrong_place"):
                move_cold(fresh(piece), by=by("cooler"), place=place)
    assert moved == FITTING[kind]
    with refused("not_cold"):
        move_cold(fresh(piece), by=by("cooler"), place=scenario.places.door)


def test_a_quarter_hangs_and_frozen_trim_may_wait_in_the_freezer(scenario: Scenario, by: Stations) -> None:
    quarter = pieces_of_elk(scenario, "EK-1", ("hind-quarter-left", "50")).pieces.get()
    for wrong in (scenario.places.shelf, scenario.places.hook):
        with refused("wrong_place"):
            hang_up(quarter, by=by("cooler"), place=wrong)
    hang_up(quarter, by=by("cooler"), place=scenario.places.rail)
    trim = scenario.bring(taken_in(scenario, "elk", "trim", "EK-2"), "bag-trim", "20")
    hang_up(trim, by=by("cooler"), place=scenario.places.shelf)
    assert (fresh(quarter).place, fresh(trim).place) == (scenario.places.rail, scenario.places.shelf)


def test_what_belongs_to_a_whole_order_is_weighed_and_filled_at_its_own_job(
    scenario: Scenario, by: Stations
) -> None:
    order, first, second = two_deer(scenario)
    grind_together(scenario, first, second)
    lug = Piece.objects.get(order=order, contents="ground")
    with refused("not_to_weigh"):
        weigh_received(lug, by=by("counter"), weight=lb("5"))
    table = pool_on_table(scenario, order)
    with refused("wrong_job"):
        fill_lug(table, by=by("block"), contents="grind_trim")
    with refused("wrong_job"):
        finish_breakdown(table, by=by("block"))
