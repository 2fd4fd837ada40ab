"""No pound from nowhere, and no scale that stops a day's work for its own last digit."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from orders.cutsheets.actions import save_cut_sheet
from orders.floor.block import fill_lug, finish_breakdown, open_animal, record_waste, weigh_at_block
from orders.floor.grind import add_fat, finish_grind, start_grind, take_from_grinder
from orders.floor.skin import cut_off_bloodshot, finish_skinning, hang_up, pull_tenderloins, start_skinning
from orders.floor.skin import take_off as take_part_off
from orders.intake.actions import end_animal, file_tag, weigh_received
from orders.ledger.check import problems
from orders.ledger.entry import By
from orders.ledger.models import Event, Piece, Run
from orders.ledger.voids import void_event, void_lug
from orders.ledger.weights import packed_mg, received_mg
from orders.packing.actions import bring_to_wrap, finish_wrap, store
from orders.packing.models import Package
from orders.pickup.actions import release
from shop.weights import pounds
from tests.orders.floor.tablet import refused
from tests.orders.pools import grind_together, ground_trim, pool_on_table, taken_in, two_deer
from tests.scenario import Scenario, lb

Stations = Callable[[str], By]


def fresh(thing: Any) -> Any:
    return type(thing)._default_manager.get(pk=thing.pk)


def on_table(lug: Piece, by: Stations) -> Run:
    return bring_to_wrap(fresh(lug), by=by("wrap")).fetch(Run)


# --- the limit of the packs -------------------------------------------------------------------------------------


def test_fat_that_was_not_weighed_leaves_no_limit_to_refuse_by(scenario: Scenario, by: Stations) -> None:
    run, lug = ground_trim(scenario, "22", fat="")
    finish_grind(run, by=by("grind"))
    table = on_table(lug, by)
    scenario.pack(table, "grind-trim", "ground", "11", "11")
    finish_wrap(table, by=by("wrap"))
    assert packed_mg(table.animal) == 2 * pounds(11)
    assert problems() == []


def test_what_the_grinder_may_add_the_wrap_may_pack(scenario: Scenario, by: Stations) -> None:
    """20.1 lb of 20 lb: within a hundredth of it, which wash water and the scale's own step can make."""
    run, lug = ground_trim(scenario, "20.1")
    with refused("out_beyond_in"):
        take_from_grinder(run, by=by("grind"), weight=lb("0.2"))
    finish_grind(run, by=by("grind"))
    table = on_table(lug, by)
    scenario.pack(table, "grind-trim", "ground", "10.05", "10.05")
    with refused("packed_beyond_hung"):
        scenario.pack(table, "grind-trim", "ground", "0.2")
    assert problems() == []


def test_an_unweighed_animal_that_was_refused_does_not_switch_the_limit_off(
    scenario: Scenario, by: Stations
) -> None:
    order, first, second = two_deer(scenario)
    third = scenario.deer(order, tag="WT-3", weight="")
    end_animal(third, by=by("counter"), ending="refused", reason="warm")
    lugs = scenario.cut(first)
    table = on_table(lugs["whole_cuts"], by)
    with refused("packed_beyond_hung"):
        scenario.pack(table, "backstrap", "steaks", *["20"] * 40)
    scenario.pack(table, "backstrap", "steaks", "20", "2")
    assert packed_mg(first) == pounds(20) + pounds(2)
    assert fresh(second).state == "received"


def test_a_pool_packs_no_more_than_its_animals_hung(scenario: Scenario, by: Stations) -> None:
    order, first, second = two_deer(scenario)
    scenario.deer(order, tag="WT-3")
    grind_together(scenario, first, second)
    table = pool_on_table(scenario, order)
    with refused("packed_beyond_hung"):
        scenario.pack(table, "grind-trim", "ground", *["20"] * 10)
    scenario.pack(table, "grind-trim", "ground", *["20"] * 9)
    assert packed_mg(order) == 9 * pounds(20)


# --- more than an animal can weigh ------------------------------------------------------------------------------


def test_nothing_of_an_unweighed_deer_is_more_than_a_deer_can_weigh(scenario: Scenario, by: Stations) -> None:
    """500 lb is the limit of its species in the catalog."""
    deer, skin = scenario.deer(weight=""), by("skin")
    run = start_skinning(deer.pieces.get(), by=skin).fetch(Run)
    too_much = lb("501", confirmed=True)
    with refused("weight_impossible"):
        take_part_off(run, by=skin, what="antlers", keep=True, weight=too_much)
    with refused("weight_impossible"):
        take_part_off(run, by=skin, what="feet", keep=False, weight=too_much)
    with refused("weight_impossible"):
        pull_tenderloins(deer, by=skin, left=True, right=True, weight=too_much)
    with refused("weight_impossible"):
        cut_off_bloodshot(run, by=skin, region="shoulder", weight=too_much)
    take_part_off(run, by=skin, what="antlers", keep=True, weight=lb("3"))
    with refused("weight_impossible"):
        finish_skinning(run, by=skin, place=scenario.places.rail, weight=too_much, left_in="later")
    finish_skinning(run, by=skin, place=scenario.places.rail, left_in="later")
    save_cut_sheet(deer, by=by("counter"))
    run = open_animal(deer, by=by("block")).fetch(Run)
    with refused("weight_impossible"):
        record_waste(run, by=by("block"), what="bone_fat", weight=too_much)
    with refused("weight_impossible"):
        fill_lug(run, by=by("block"), contents="grind_trim", weight=too_much)
    lug = fill_lug(run, by=by("block"), contents="grind_trim").fetch(Piece)
    for what in ("bone_fat", "waste"):
        record_waste(run, by=by("block"), what=what)
    file_tag(deer, by=by("block"), where="tag box, row 3")
    finish_breakdown(run, by=by("block"))
    run = start_grind(lug, by=by("grind")).fetch(Run)
    with refused("weight_impossible"):
        add_fat(run, by=by("grind"), kind="pork", weight=too_much)
    with refused("weight_impossible"):
        take_from_grinder(run, by=by("grind"), weight=too_much)
    ground = take_from_grinder(run, by=by("grind")).fetch(Piece)
    table = on_table(ground, by)
    with refused("packed_beyond_hung"):
        scenario.pack(table, "grind-trim", "ground", *["25"] * 21)
    scenario.pack(table, "grind-trim", "ground", *["25"] * 3)
    assert packed_mg(deer) == 3 * pounds(25)


def test_nothing_of_a_pool_is_more_than_its_animals_can_weigh(scenario: Scenario, by: Stations) -> None:
    _, first, second = two_deer(scenario)
    lugs = [scenario.cut(animal, whole="22", trim="26")["grind_trim"] for animal in (first, second)]
    run = [start_grind(lug, by=by("grind")).fetch(Run) for lug in lugs][-1]
    with refused("weight_impossible"):
        add_fat(run, by=by("grind"), kind="pork", weight=lb("1001", confirmed=True))
    with refused("weight_impossible"):
        take_from_grinder(run, by=by("grind"), weight=lb("1001"))
    with refused("weight_doubtful"):
        add_fat(run, by=by("grind"), kind="pork", weight=lb("60"))
    add_fat(run, by=by("grind"), kind="pork", weight=lb("5"))
    assert take_from_grinder(run, by=by("grind"), weight=lb("56")).refs["piece"]


def test_what_comes_off_a_deer_is_not_more_than_came_in(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer(weight="131.5")
    run = start_skinning(deer.pieces.get(), by=by("skin")).fetch(Run)
    with refused("off_beyond_came"):
        take_part_off(run, by=by("skin"), what="feet", keep=False, weight=lb("131.7"))
    with refused("off_beyond_came"):
        cut_off_bloodshot(run, by=by("skin"), region="shoulder", weight=lb("200"))
    take_part_off(run, by=by("skin"), what="feet", keep=False, weight=lb("2.1"))
    assert run.lines.filter(what="feet").count() == 1


def test_a_head_that_weighs_more_than_the_trim_it_came_with_is_no_mistake(scenario: Scenario) -> None:
    elk = taken_in(scenario, "elk", "trim", "EK-1")
    scenario.bring(elk, "bag-trim", "20")
    assert scenario.bring(elk, "head", "38").weighings.get().mg == pounds(38)


# --- fat, after the fact ----------------------------------------------------------------------------------------


def test_fat_is_not_taken_back_nor_added_once_ground_meat_is_out(scenario: Scenario, by: Stations) -> None:
    run, lug = ground_trim(scenario, "24", fat="4")
    fat = Event.objects.get(verb="add_fat")
    with refused("out_already"):
        void_event(fat, by=by("grind"), reason="beef, not pork")
    with refused("out_already"):
        add_fat(run, by=by("grind"), kind="beef", weight=lb("2"))
    void_lug(lug, by=by("grind"), reason="the fat was wrong")
    void_event(fat, by=by("grind"), reason="beef, not pork")
    add_fat(run, by=by("grind"), kind="beef", weight=lb("4"))
    ground = take_from_grinder(run, by=by("grind"), weight=lb("24")).fetch(Piece)
    finish_grind(run, by=by("grind"))
    table = on_table(ground, by)
    (made,) = scenario.pack(table, "grind-trim", "ground", "12")
    assert Package.objects.get(pk=made).has_added_fat == "beef"


# --- the weight at the door -------------------------------------------------------------------------------------


def test_a_received_weight_is_taken_back_while_it_hangs_and_not_later(
    scenario: Scenario, by: Stations
) -> None:
    deer = scenario.hung(scenario.deer())
    void_event(Event.objects.get(verb="add_animal"), by=by("counter"), reason="with the cart")
    weigh_received(deer.pieces.get(kind="carcass"), by=by("counter"), weight=lb("130"))
    assert received_mg(deer) == pounds(130)
    scenario.cut(fresh(deer))
    with refused("cut_already"):
        void_event(Event.objects.get(verb="weigh_received"), by=by("counter"), reason="with the cart")
    assert received_mg(deer) == pounds(130)


def test_a_received_weight_typed_late_is_not_below_what_hangs(scenario: Scenario, by: Stations) -> None:
    carcass = scenario.hung(scenario.deer(weight="")).pieces.get(kind="carcass")
    with refused("came_less_than_hangs"):
        weigh_received(carcass, by=by("counter"), weight=lb("50"))
    with refused("came_less_than_hangs"):
        weigh_received(carcass, by=by("counter"), weight=lb("98.2"))
    # One division of the coarser scale: both may be right.
    weigh_received(carcass, by=by("counter"), weight=lb("98.35"))
    assert received_mg(carcass.animal) == pounds("98.35")


# --- tenderloins ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("species", "arrived_as"),
    [("white-tailed-deer", "trim"), ("elk", "boneless"), ("elk", "pieces"), ("mallard", "birds")],
)
def test_no_tenderloin_is_pulled_from_what_has_none(
    scenario: Scenario, by: Stations, species: str, arrived_as: str
) -> None:
    animal = taken_in(scenario, species, arrived_as, "T-1")
    if arrived_as != "birds":
        scenario.bring(animal, "bag-trim", "20")
    with refused("tenderloin_absent"):
        pull_tenderloins(animal, by=by("cooler"), left=True, right=True)


def test_no_tenderloin_is_pulled_from_what_is_cut_or_collected(scenario: Scenario, by: Stations) -> None:
    deer = taken_in(scenario, "white-tailed-deer", "skinned", "WT-1", weight=lb("90"))
    hang_up(deer.pieces.get(), by=by("cooler"), place=scenario.places.rail)
    lugs = scenario.cut(fresh(deer), whole="20", trim="20")
    with refused("tenderloin_absent"):
        pull_tenderloins(deer, by=by("block"), left=True, right=True, weight=lb("1"))
    table = on_table(lugs["whole_cuts"], by)
    (made,) = scenario.pack(table, "backstrap", "steaks", "19", count=4)
    finish_wrap(table, by=by("wrap"), reason="tenderloins packed with other cuts")
    pack = Package.objects.get(pk=made).piece
    store(pack, by=by("freezer"), place=scenario.places.shelf)
    release(deer.order, by=by("counter"), pieces=(fresh(pack),), collector="Rowan Sedgewick", initials="RS")
    with refused("tenderloin_absent"):
        pull_tenderloins(deer, by=by("block"), left=True, right=True, weight=lb("1"))


# --- at the block -----------------------------------------------------------------------------------------------


def test_only_what_is_on_the_block_is_weighed_there(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    carcass = deer.pieces.get()
    with refused("not_on_table"):
        weigh_at_block(carcass, by=by("block"), weight=lb("100"))
    start_skinning(carcass, by=by("skin"))
    with refused("not_on_table"):
        weigh_at_block(fresh(carcass), by=by("block"), weight=lb("100"))
    lug = scenario.cut(scenario.deer(tag="WT-2"))["whole_cuts"]
    on_table(lug, by)
    with refused("not_on_table"):
        weigh_at_block(fresh(lug), by=by("block"), weight=lb("10"))


def test_two_scales_may_differ_by_a_division(scenario: Scenario, by: Stations) -> None:
    """98.42 lb on the block's scale after 98.4 lb on the cooler's, which shows tenths."""
    deer = scenario.hung(scenario.deer(), "98.4")
    scenario.opened(deer)
    carcass = deer.pieces.get(kind="carcass")
    with refused("weighs_more_than_hung"):
        weigh_at_block(carcass, by=by("block"), weight=lb("98.51"))
    weigh_at_block(carcass, by=by("block"), weight=lb("98.42"))
    assert carcass.weighings.get(point="at_block").net == 9842


def test_a_carcass_may_hang_with_a_division_more_than_came(scenario: Scenario, by: Stations) -> None:
    deer = taken_in(scenario, "white-tailed-deer", "skinned", "WT-1", weight=lb("90.0"))
    piece = deer.pieces.get()
    with refused("hangs_more_than_came"):
        hang_up(piece, by=by("cooler"), place=scenario.places.rail, weight=lb("90.2"))
    hang_up(piece, by=by("cooler"), place=scenario.places.rail, weight=lb("90.05"))
    assert piece.weighings.get(point="hanging").net == 9005
