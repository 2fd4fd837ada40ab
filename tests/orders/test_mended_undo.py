"""Mis-taps and slips of the pen have a way back, and only while nothing came of them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from orders.cutsheets.actions import save_cut_sheet
from orders.floor.block import fill_lug, open_animal, record_waste, weigh_at_block
from orders.floor.grind import add_fat, finish_grind, start_grind, take_from_grinder
from orders.floor.queries import block_queue, skin_queue
from orders.floor.skin import finish_skinning, hang_up, pull_tenderloins, start_skinning, take_off
from orders.intake.actions import end_animal, record_order, record_tag, weigh_received
from orders.ledger.entry import By
from orders.ledger.holds import open_hold
from orders.ledger.models import Event, Piece, Run
from orders.ledger.voids import may_put_back, put_back, void_event, void_lug, void_piece
from orders.ledger.weights import hung_mg
from orders.packing.actions import bring_to_wrap, void_package
from orders.packing.models import Package
from orders.yields.queries import yield_of
from shop.models import NoTagReason
from shop.weights import pounds
from tests.orders.floor.tablet import refused
from tests.orders.pools import pieces_of_elk, two_deer
from tests.scenario import Scenario, lb

Stations = Callable[[str], By]
MISTAKE = {"reason": "tapped by mistake"}


def fresh(thing: Any) -> Any:
    return type(thing)._default_manager.get(pk=thing.pk)


def where(piece: Piece) -> tuple[str, str]:
    piece = Piece.objects.select_related("place").get(pk=piece.pk)
    assert piece.place is not None
    return piece.state, piece.place.name


# --- put back ---------------------------------------------------------------------------------------------------


def test_a_skinning_opened_by_mistake_is_put_back(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    carcass = deer.pieces.get()
    run = start_skinning(carcass, by=by("skin")).fetch(Run)
    assert [row.animal for row in skin_queue().ready] == []
    put_back(run, by=by("skin"), **MISTAKE)
    assert where(carcass) == ("received", "Counter")
    assert (fresh(run).put_back, fresh(run).close_reason) == (True, "tapped by mistake")
    assert (fresh(deer).state, fresh(deer).hung_at) == ("received", None)
    assert [row.animal for row in skin_queue().ready] == [deer]
    # It does not count as skinned, so nothing hides that the hide is on.
    with refused("hide_on"):
        hang_up(fresh(carcass), by=by("cooler"), place=scenario.places.rail, weight=lb("98"))
    scenario.hung(fresh(deer))
    assert fresh(deer).state == "hanging"


def test_a_carcass_opened_at_the_block_goes_back_to_its_rail(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    run = scenario.opened(deer)
    carcass = deer.pieces.get(kind="carcass")
    put_back(run, by=by("block"), **MISTAKE)
    assert where(carcass) == ("hanging", "Rail A")
    assert fresh(deer).state == "hanging"
    # Cutting has not begun: the cut sheet may change again, and the animal is offered again.
    save_cut_sheet(deer, by=by("counter"), note="no bone")
    assert [row.animal for row in block_queue().ready] == [deer]
    open_animal(deer, by=by("block"))
    assert fresh(deer).state == "cutting"


def test_a_lug_put_into_the_grinder_by_mistake_is_not_lost(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    lug = scenario.cut(deer)["grind_trim"]
    run = start_grind(lug, by=by("grind")).fetch(Run)
    put_back(run, by=by("grind"), **MISTAKE)
    assert where(lug) == ("waiting", "Block 1")
    # The grinder is free, and the same lug may come again.
    other = scenario.cut(scenario.deer(tag="WT-2"))["grind_trim"]
    second = start_grind(other, by=by("grind")).fetch(Run)
    with refused("grinder_busy"):
        start_grind(fresh(lug), by=by("grind"))
    put_back(second, by=by("grind"), **MISTAKE)
    again = start_grind(fresh(lug), by=by("grind")).fetch(Run)
    take_from_grinder(again, by=by("grind"), weight=lb("25.8"))
    finish_grind(again, by=by("grind"))
    assert fresh(lug).state == "used"


def test_the_lugs_of_a_pool_go_back_and_it_is_no_pool_any_more(scenario: Scenario, by: Stations) -> None:
    order, first, second = two_deer(scenario)
    lugs = [scenario.cut(animal)["grind_trim"] for animal in (first, second)]
    run = [start_grind(lug, by=by("grind")).fetch(Run) for lug in lugs][-1]
    put_back(run, by=by("grind"), **MISTAKE)
    assert [where(lug) for lug in lugs] == [("waiting", "Block 1")] * 2
    # Nothing was ground: what was agreed may change, an animal may end, and each is ground alone.
    record_order(order, by=by("counter"), grind_together=False)
    alone = start_grind(fresh(lugs[0]), by=by("grind")).fetch(Run)
    assert alone.animal == first
    end_animal(second, by=by("counter"), ending="spoiled", reason="sour")
    assert fresh(second).state == "spoiled"


def test_a_table_laid_by_mistake_is_put_back(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    lugs = scenario.ground(deer)
    run = bring_to_wrap(lugs["ground"], by=by("wrap")).fetch(Run)
    bring_to_wrap(lugs["whole_cuts"], by=by("wrap"))
    (pack_made,) = scenario.pack(run, "grind-trim", "ground", "1.0")
    with refused("work_began"):
        put_back(run, by=by("wrap"), **MISTAKE)
    void_package(Package.objects.get(pk=pack_made), by=by("wrap"), reason="wrong hunter")
    assert may_put_back(fresh(run))
    put_back(run, by=by("wrap"), **MISTAKE)
    assert where(lugs["ground"]) == ("waiting", "Grinder")
    assert where(lugs["whole_cuts"]) == ("waiting", "Block 1")
    assert fresh(deer).state == "wrapping"


def test_nothing_is_put_back_once_something_came_of_it(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    run = start_skinning(deer.pieces.get(), by=by("skin")).fetch(Run)
    take_off(run, by=by("skin"), what="feet", keep=False)
    assert not may_put_back(run)
    with refused("work_began"):
        put_back(run, by=by("skin"), **MISTAKE)
    # Feet to waste by mistake: taken back with their event, and then the job can be put back.
    void_event(Event.objects.get(verb="take_off"), by=by("skin"), **MISTAKE)
    put_back(run, by=by("skin"), **MISTAKE)
    assert fresh(deer).state == "received"


def test_fat_in_the_grinder_is_taken_back_before_the_lugs(scenario: Scenario, by: Stations) -> None:
    run = start_grind(scenario.cut(scenario.deer())["grind_trim"], by=by("grind")).fetch(Run)
    fat = add_fat(run, by=by("grind"), kind="pork", weight=lb("2"))
    with refused("work_began"):
        put_back(run, by=by("grind"), **MISTAKE)
    void_event(Event.objects.get(uid=fat.uid), by=by("grind"), **MISTAKE)
    put_back(run, by=by("grind"), **MISTAKE)
    assert fresh(run).put_back


def test_putting_back_needs_a_reason_and_an_open_job(scenario: Scenario, by: Stations) -> None:
    run = scenario.opened(scenario.deer())
    with refused("reason_missing"):
        put_back(run, by=by("block"), reason="  ")
    put_back(run, by=by("block"), **MISTAKE)
    with refused("run_closed"):
        put_back(run, by=by("block"), **MISTAKE)


def test_what_is_held_may_go_back_into_the_cold(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    run = scenario.opened(deer)
    open_hold(deer, by=by("counter"), kind="disease_test")
    put_back(run, by=by("block"), **MISTAKE)
    assert where(deer.pieces.get(kind="carcass")) == ("hanging", "Rail A")


def test_a_job_that_was_put_back_leaves_no_trace_in_the_pounds(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    put_back(scenario.opened(deer), by=by("block"), **MISTAKE)
    before = [point.key for point in yield_of(fresh(deer)).account.points]
    assert before == ["received", "hanging"]


def test_a_tag_may_still_be_swapped_for_a_reason_after_a_put_back(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    run = start_skinning(deer.pieces.get(), by=by("skin")).fetch(Run)
    reason = NoTagReason.objects.filter(active=True).first()
    with refused("tag_recorded"):
        record_tag(deer, by=by("counter"), no_tag_reason=reason)
    put_back(run, by=by("skin"), **MISTAKE)
    record_tag(deer, by=by("counter"), no_tag_reason=reason)
    assert (fresh(deer).tag_no, fresh(deer).no_tag_reason) == ("", reason)


# --- the hanging weight -----------------------------------------------------------------------------------------


def test_a_wrong_hanging_weight_is_weighed_again_and_the_block_goes_on(
    scenario: Scenario, by: Stations
) -> None:
    deer = scenario.hung(scenario.deer(), "9.84")
    carcass = deer.pieces.get(kind="carcass")
    hang_up(carcass, by=by("cooler"), place=scenario.places.rail, weight=lb("98.4"))
    assert hung_mg(deer) == pounds("98.4")
    assert carcass.weighings.filter(point="hanging").count() == 2
    run = scenario.opened(fresh(deer))
    weigh_at_block(fresh(carcass), by=by("block"), weight=lb("98.0"))
    fill_lug(run, by=by("block"), contents="whole_cuts", weight=lb("22"))
    assert fresh(deer).state == "cutting"


def test_a_hanging_weight_that_was_forgotten_is_taken_later(scenario: Scenario, by: Stations) -> None:
    deer = scenario.hung(scenario.deer(), "")
    assert hung_mg(deer) is None
    carcass = deer.pieces.get(kind="carcass")
    with refused("hangs_more_than_came"):
        hang_up(carcass, by=by("cooler"), place=scenario.places.rail, weight=lb("140"))
    hang_up(fresh(carcass), by=by("cooler"), place=scenario.places.rail, weight=lb("98.4"))
    assert hung_mg(deer) == pounds("98.4")


def test_one_noticed_at_the_block_is_mended_by_putting_back(scenario: Scenario, by: Stations) -> None:
    deer = scenario.hung(scenario.deer(), "9.84")
    run = scenario.opened(deer)
    carcass = deer.pieces.get(kind="carcass")
    with refused("weighs_more_than_hung"):
        weigh_at_block(carcass, by=by("block"), weight=lb("98.0"))
    put_back(run, by=by("block"), reason="the hanging weight is wrong")
    hang_up(fresh(carcass), by=by("cooler"), place=scenario.places.rail, weight=lb("98.4"))
    open_animal(deer, by=by("block"))
    weigh_at_block(fresh(carcass), by=by("block"), weight=lb("98.0"))
    assert hung_mg(deer) == pounds("98.4")


# --- pieces -----------------------------------------------------------------------------------------------------


def test_a_quarter_and_a_head_written_down_by_mistake_are_taken_back(
    scenario: Scenario, by: Stations
) -> None:
    elk = scenario.elk()
    wrong = elk.pieces.get(form__code="hind-quarter-left")
    void_piece(wrong, by=by("counter"), reason="it was the right one")
    assert where(wrong) == ("void", "Void")
    assert hung_mg(elk) == sum(map(pounds, ("57.0", "41.0", "42.5", "19.5", "4.5", "17.0")))
    scenario.bring(elk, "hind-quarter-left", "58.5")
    void_piece(elk.pieces.get(kind="kept"), by=by("counter"), reason="no head was brought")
    scenario.bring(elk, "head", "38")
    assert elk.pieces.exclude(state="void").filter(form__code="head").count() == 1


def test_a_kept_part_tagged_by_mistake_is_taken_back_and_taken_off_again(
    scenario: Scenario, by: Stations
) -> None:
    deer = scenario.deer()
    run = start_skinning(deer.pieces.get(), by=by("skin")).fetch(Run)
    antlers = take_off(run, by=by("skin"), what="antlers", keep=True).fetch(Piece)
    void_piece(antlers, by=by("skin"), reason="another deer's")
    with refused("kept_part_missing"):
        finish_skinning(run, by=by("skin"), place=scenario.places.rail, left_in="later")
    take_off(run, by=by("skin"), what="antlers", keep=True, place=scenario.places.hook)
    finish_skinning(run, by=by("skin"), place=scenario.places.rail, left_in="later")
    assert fresh(deer).state == "hanging"


@pytest.mark.parametrize("what", ["carcass", "tenderloin", "lug", "package", "used quarter"])
def test_what_cannot_be_taken_back_as_a_piece(scenario: Scenario, by: Stations, what: str) -> None:
    if what == "used quarter":
        elk = scenario.elk()
        scenario.cut(elk, whole="50", trim="60")
        piece = elk.pieces.filter(kind="quarter").first()
    else:
        deer = scenario.deer()
        scenario.packed(deer)
        piece = deer.pieces.filter(kind=what).first()
    assert piece is not None
    with refused("not_voidable"):
        void_piece(piece, by=by("counter"), **MISTAKE)


def test_taking_a_piece_back_needs_a_reason_and_is_done_once(scenario: Scenario, by: Stations) -> None:
    quarter = scenario.elk().pieces.filter(kind="quarter").first()
    assert quarter is not None
    with refused("reason_missing"):
        void_piece(quarter, by=by("counter"), reason="")
    void_piece(quarter, by=by("counter"), **MISTAKE)
    with refused("not_voidable"):
        void_piece(quarter, by=by("counter"), **MISTAKE)


def test_waste_of_an_open_job_is_taken_back_but_a_kept_part_not_that_way(
    scenario: Scenario, by: Stations
) -> None:
    deer = scenario.deer()
    run = start_skinning(deer.pieces.get(), by=by("skin")).fetch(Run)
    feet = take_off(run, by=by("skin"), what="feet", keep=False, weight=lb("2.2"))
    antlers = take_off(run, by=by("skin"), what="antlers", keep=True)
    void_event(Event.objects.get(uid=feet.uid), by=by("skin"), **MISTAKE)
    with refused("not_voidable"):
        void_event(Event.objects.get(uid=antlers.uid), by=by("skin"), **MISTAKE)
    take_off(run, by=by("skin"), what="feet", keep=False, weight=lb("2.1"))
    finish_skinning(run, by=by("skin"), place=scenario.places.rail, left_in="later")
    with refused("run_closed"):
        void_event(Event.objects.filter(verb="take_off").latest("id"), by=by("skin"), **MISTAKE)


def test_a_tenderloin_bag_pulled_by_mistake_lets_the_block_be_put_back(
    scenario: Scenario, by: Stations
) -> None:
    deer = scenario.deer()
    run = start_skinning(deer.pieces.get(), by=by("skin")).fetch(Run)
    bag = pull_tenderloins(deer, by=by("skin"), left=True, right=False).fetch(Piece)
    with refused("work_began"):
        put_back(run, by=by("skin"), **MISTAKE)
    void_lug(bag, by=by("skin"), **MISTAKE)
    put_back(run, by=by("skin"), **MISTAKE)
    assert fresh(deer).state == "received"


# --- a late quarter ---------------------------------------------------------------------------------------------


def test_a_quarter_that_comes_after_the_breakdown_is_cut_too(scenario: Scenario, by: Stations) -> None:
    elk = scenario.elk(head=False)
    saddle = scenario.cut(elk, whole="80", trim="60")
    with refused("cutting_began"):
        save_cut_sheet(elk, by=by("counter"))
    late = scenario.bring(elk, "saddle", "30")
    assert fresh(elk).state == "received"
    assert [row.animal for row in block_queue().ready] == [elk]
    run = open_animal(elk, by=by("block")).fetch(Run)
    assert [line.piece for line in run.lines.filter(direction="in")] == [late]
    # What is on the block now cannot come along with it.
    with refused("cutting_began"):
        scenario.bring(elk, "neck", "12")
    fill_lug(run, by=by("block"), contents="whole_cuts", weight=lb("22"))
    with refused("lugs_beyond_hung"):
        fill_lug(run, by=by("block"), contents="whole_cuts", weight=lb("90"))
    record_waste(run, by=by("block"), what="bone_fat", weight=lb("7"))
    assert fresh(saddle["grind_trim"]).state == "waiting"


def test_a_late_quarter_whose_meat_is_packed_is_not_taken_back_nor_weighed_down(
    scenario: Scenario, by: Stations
) -> None:
    elk = pieces_of_elk(scenario, "EK-1", ("hind-quarter-left", "80"))
    lugs = scenario.cut(elk, whole="20", trim="20")
    run = bring_to_wrap(lugs["whole_cuts"], by=by("wrap")).fetch(Run)
    late = scenario.bring(elk, "front-quarter-left")
    weigh_received(late, by=by("counter"), weight=lb("40"))
    scenario.pack(run, "backstrap", "steaks", *["20"] * 5, count=4)
    with refused("packed_already"):
        void_piece(late, by=by("counter"), **MISTAKE)
    with refused("packed_already"):
        hang_up(late, by=by("cooler"), place=scenario.places.rail, weight=lb("4"))
    hang_up(late, by=by("cooler"), place=scenario.places.rail, weight=lb("39.6"))
    void_event(Event.objects.get(verb="weigh_received"), by=by("counter"), reason="with the cart")
    weigh_received(fresh(late), by=by("counter"), weight=lb("39.8"))
    assert hung_mg(elk) == pounds(80) + pounds("39.8")


def test_with_nothing_new_a_broken_down_animal_is_not_opened_again(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    scenario.cut(deer)
    with refused("nothing_to_cut"):
        open_animal(deer, by=by("block"))
