"""What came to the wrap table is packed, weighed off as waste, sent back to the grinder, or answered for."""

from __future__ import annotations

from typing import Any

import pytest

from orders.floor.grind import finish_grind, start_grind, take_from_grinder
from orders.ledger.holds import open_hold
from orders.ledger.models import Event, Piece, Run
from orders.ledger.voids import void_event, void_lug
from orders.packing.actions import bring_to_wrap, finish_wrap, pack, void_package
from orders.packing.leftover import record_wrap_waste, send_to_grind
from orders.packing.models import Package
from orders.packing.table import LEFT_TOLERANCE_MG, TableSum, table_sum
from orders.yields.queries import yield_of
from shop.models import Choice, Part
from shop.weights import pounds
from tests.orders.floor.tablet import Tablet, banner, last_event, refused, words
from tests.orders.floor.test_grind_pages import cut_with
from tests.orders.pools import grind_together, pool_on_table, two_deer
from tests.scenario import lb


def fresh(thing: Any) -> Any:
    return type(thing)._default_manager.get(pk=thing.pk)


@pytest.fixture
def table(scenario: Any, by: Any) -> Run:
    """A deer's lugs and tenderloins on the table: 22.4, 28.2 and 1.1 lb, 51.7 lb in all."""
    deer = scenario.deer()
    for lug in (*scenario.ground(deer).values(), deer.pieces.get(kind="tenderloin")):
        run = bring_to_wrap(lug, by=by("wrap")).fetch(Run)
    scenario.pack(run, "tenderloin", "whole", "1.1")
    scenario.pack(run, "backstrap", "steaks", "22.4", count=4)
    return run


def unweighed_ground(scenario: Any, by: Any, deer: Any) -> Piece:
    """The ground meat of a deer, out of the grinder without a weight."""
    run = start_grind(scenario.cut(deer)["grind_trim"], by=by("grind")).fetch(Run)
    lug = take_from_grinder(run, by=by("grind")).fetch(Piece)
    finish_grind(run, by=by("grind"))
    return lug


# --- pounds in no pack ------------------------------------------------------------------------------------------


def test_pounds_in_no_pack_are_asked_for(scenario: Any, by: Any, table: Run) -> None:
    scenario.pack(table, "grind-trim", "ground", "10")
    with refused("left_on_table"):
        finish_wrap(table, by=by("wrap"))
    said = last_event().shown
    assert said == "51.7 lb came to this table and 33.5 lb is packed. Where is the other 18.2 lb?"
    assert fresh(table).closed_at is None


def test_the_reason_and_the_pounds_are_kept_and_shown(
    scenario: Any, by: Any, table: Run, tablet: Tablet
) -> None:
    scenario.pack(table, "grind-trim", "ground", "10")
    finish_wrap(table, by=by("wrap"), reason="The dog had it")
    event = last_event()
    assert event.shown == "26-0001: wrap is finished, 18.2 lb of it in no pack: The dog had it"
    # 51.7 lb less 33.5 lb, each lug and pack in whole milligrams.
    assert event.data["left_mg"] == sum(map(pounds, ("22.4", "28.2", "1.1"))) - sum(
        map(pounds, ("1.1", "22.4", "10"))
    )
    assert event.data["payload"]["reason"] == "The dog had it"
    trail = words(tablet.get("trail", table.code))
    assert "Finished with a reason: The dog had it" in trail
    assert "18.2 lb of it in no pack: The dog had it" in trail
    assert yield_of(table.animal).account.said == ("Wrap was finished with a reason: The dog had it",)


def test_the_owner_reads_the_reason_where_the_pounds_went(
    scenario: Any, by: Any, table: Run, owner_client: Any
) -> None:
    finish_wrap(table, by=by("wrap"), reason="The dog had it")
    page = owner_client.get(f"/yields/{table.animal_id}/")
    assert "Wrap was finished with a reason: The dog had it" in words(page)


@pytest.mark.parametrize(("last", "asked"), [("6.7", False), ("6.6", True)])
def test_a_little_is_always_left(scenario: Any, by: Any, table: Run, last: str, asked: bool) -> None:
    """3 % of 51.7 lb is 1.551 lb: 1.5 lb may be left, 1.6 lb is asked for."""
    scenario.pack(table, "grind-trim", "ground", "10", "10", last)
    if asked:
        with refused("left_on_table"):
            finish_wrap(table, by=by("wrap"))
    else:
        finish_wrap(table, by=by("wrap"))
    assert fresh(table).close_reason == ""


def test_of_a_small_table_a_pound_may_be_left() -> None:
    came = pounds(10)
    small = TableSum(came_mg=came, packed_mg=came - LEFT_TOLERANCE_MG, packs=3)
    assert (small.tolerance_mg, small.is_left) == (pounds(1), False)
    assert TableSum(came_mg=came, packed_mg=came - LEFT_TOLERANCE_MG - 1, packs=3).is_left


def test_the_pounds_that_are_shown_add_up() -> None:
    """20.66 and 5.64 lb are shown as 20.7 and 5.6 lb: the other is then 15.1 lb, though it is 15.02 lb."""
    table = TableSum(came_mg=pounds("20.66"), packed_mg=pounds("5.64"), packs=4)
    assert table.words == "20.7 lb came to this table and 5.6 lb is packed"
    assert table.left_words == "15.1 lb"


def test_nobody_is_accused_of_what_was_only_counted(scenario: Any, by: Any, table: Run) -> None:
    part, choice = Part.objects.get(code="grind-trim"), Choice.objects.get(code="ground")
    pack(table, by=by("wrap"), part=part, choice=choice, unweighed=1)
    finish_wrap(table, by=by("wrap"))
    assert fresh(table).close_reason == ""


def test_nobody_is_accused_where_a_lug_was_not_weighed(scenario: Any, by: Any) -> None:
    deer = scenario.deer()
    lug = unweighed_ground(scenario, by, deer)
    run = bring_to_wrap(lug, by=by("wrap")).fetch(Run)
    for other in deer.pieces.filter(state="waiting", kind__in=["lug", "tenderloin"]):
        bring_to_wrap(other, by=by("wrap"))
    scenario.pack(run, "tenderloin", "whole", "1.0")
    assert table_sum(run).left_mg is None
    finish_wrap(run, by=by("wrap"))
    assert fresh(run).close_reason == ""


def test_a_void_pack_is_no_pack(scenario: Any, by: Any, table: Run) -> None:
    (torn,) = scenario.pack(table, "grind-trim", "ground", "24.9")
    scenario.pack(table, "grind-trim", "ground", "3.3")
    void_package(Package.objects.get(pk=torn), by=by("wrap"), reason="torn")
    with refused("left_on_table"):
        finish_wrap(table, by=by("wrap"))
    assert "Where is the other 24.9 lb?" in last_event().shown


def test_organs_are_in_no_lug_and_hide_no_pounds(scenario: Any, by: Any, table: Run) -> None:
    scenario.pack(table, "organs", "keep", "4")
    scenario.pack(table, "grind-trim", "ground", "24")
    with refused("left_on_table"):
        finish_wrap(table, by=by("wrap"))
    assert "Where is the other 4.2 lb?" in last_event().shown


def test_more_packed_than_came_is_another_lug_s(scenario: Any, by: Any) -> None:
    deer = scenario.deer()
    lugs = scenario.ground(deer)
    run = bring_to_wrap(lugs["ground"], by=by("wrap")).fetch(Run)
    scenario.pack(run, "grind-trim", "ground", *["10"] * 5)
    with refused("lug_waiting"):
        finish_wrap(run, by=by("wrap"))
    assert (
        "28.2 lb came to this table and 50.0 lb is packed. Which lug did not come to it?"
        in last_event().shown
    )
    for piece in (lugs["whole_cuts"], deer.pieces.get(kind="tenderloin")):
        bring_to_wrap(piece, by=by("wrap"))
    scenario.pack(run, "tenderloin", "whole", "1")
    finish_wrap(run, by=by("wrap"))


# --- lugs that never came ---------------------------------------------------------------------------------------


def test_a_lug_that_never_came_is_named(scenario: Any, by: Any) -> None:
    deer = scenario.deer()
    lugs = scenario.ground(deer)
    run = bring_to_wrap(lugs["ground"], by=by("wrap")).fetch(Run)
    scenario.pack(run, "grind-trim", "ground", *["14"] * 2)
    with refused("lug_waiting"):
        finish_wrap(run, by=by("wrap"))
    said = last_event().shown
    assert "Lug 1, whole cuts did not come to this table: still at Block 1." in said
    assert "Tenderloins, left and right did not come to this table: still at Rack 1." in said
    finish_wrap(run, by=by("wrap"), reason="More comes to this table later")
    assert fresh(lugs["whole_cuts"]).state == "waiting"


def test_trim_that_goes_to_the_grinder_is_not_waited_for(scenario: Any, by: Any) -> None:
    deer = scenario.deer()
    lugs = scenario.cut(deer)
    run = bring_to_wrap(lugs["whole_cuts"], by=by("wrap")).fetch(Run)
    bring_to_wrap(deer.pieces.get(kind="tenderloin"), by=by("wrap"))
    scenario.pack(run, "backstrap", "steaks", "11", "11", count=4)
    scenario.pack(run, "tenderloin", "whole", "1")
    finish_wrap(run, by=by("wrap"))
    assert fresh(lugs["grind_trim"]).state == "waiting"


def test_trim_that_is_not_ground_is_waited_for(scenario: Any, by: Any) -> None:
    deer = scenario.deer()
    trim = cut_with(scenario, by, deer, trim="18", choice="stew", fat_bp=0)
    run = bring_to_wrap(deer.pieces.get(kind="tenderloin"), by=by("wrap")).fetch(Run)
    scenario.pack(run, "tenderloin", "whole", "1")
    with refused("lug_waiting"):
        finish_wrap(run, by=by("wrap"))
    assert "grind trim did not come to this table" in last_event().shown
    bring_to_wrap(trim, by=by("wrap"))
    scenario.pack(run, "grind-trim", "stew", "9", "8.9")
    finish_wrap(run, by=by("wrap"))


def test_one_reason_answers_what_was_said_together(scenario: Any, by: Any) -> None:
    """Nothing is passed over that the person was not told of."""
    deer = scenario.deer()
    run = bring_to_wrap(scenario.ground(deer)["ground"], by=by("wrap")).fetch(Run)
    scenario.pack(run, "grind-trim", "ground", "5")
    with refused("lug_waiting"):
        finish_wrap(run, by=by("wrap"))
    said = last_event().shown
    assert said.count("did not come to this table") == 2
    assert said.endswith("28.2 lb came to this table and 5.0 lb is packed. Where is the other 23.2 lb?")


# --- waste at the table -----------------------------------------------------------------------------------------


def test_waste_at_the_table_is_weighed_and_no_question_is_left(scenario: Any, by: Any, table: Run) -> None:
    scenario.pack(table, "grind-trim", "ground", "24")
    with refused("weigh_it_too"):
        record_wrap_waste(table, by=by("wrap"))
    record_wrap_waste(table, by=by("wrap"), weight=lb("3.2"))
    assert last_event().shown == "26-0001: waste at wrap, 3.2 lb."
    finish_wrap(table, by=by("wrap"))
    found = yield_of(fresh(table.animal))
    (gap,) = (gap for gap in found.gaps if gap.span.end.key == "packed")
    assert [(flow.name, flow.mg) for flow in gap.span.takings] == [("waste", pounds("3.2"))]
    assert gap.span.unexplained_mg == gap.span.start_mg - gap.span.end_mg - pounds("3.2")
    assert abs(gap.span.unexplained_mg - pounds("1.0")) < 10
    assert found.account.packed_mg == sum(map(pounds, ("1.1", "22.4", "24")))


def test_more_waste_than_came_is_a_slip_of_the_scale(scenario: Any, by: Any, table: Run) -> None:
    scenario.pack(table, "grind-trim", "ground", "24")
    with refused("off_beyond_table"):
        record_wrap_waste(table, by=by("wrap"), weight=lb("32"))
    assert "51.7 lb came to this table, 47.5 lb is packed and 32.0 lb went off" in last_event().shown
    assert table_sum(table).off_mg == 0


def test_waste_is_taken_back(scenario: Any, by: Any, table: Run, tablet: Tablet) -> None:
    record_wrap_waste(table, by=by("wrap"), weight=lb("3.2"))
    event = last_event()
    assert table_sum(table).off_mg == pounds("3.2")
    assert (
        f"/floor/events/{event.pk}/take-back/"
        in tablet.at("wrap").get("floor-wrap", table.pk).content.decode()
    )
    void_event(event, by=by("wrap"), reason="wrong weight")
    assert table_sum(table).off_mg == 0
    finish_wrap(table, by=by("wrap"), reason="the rest tomorrow")
    with refused("voided_already"):
        void_event(event, by=by("wrap"), reason="wrong weight")


def test_waste_where_nothing_was_weighed_may_be_unweighed_too(scenario: Any, by: Any) -> None:
    run = bring_to_wrap(unweighed_ground(scenario, by, scenario.deer()), by=by("wrap")).fetch(Run)
    record_wrap_waste(run, by=by("wrap"))
    assert last_event().shown == "26-0001: waste at wrap, not weighed."


# --- back to the grinder ----------------------------------------------------------------------------------------


def test_good_meat_goes_back_to_the_grinder_and_comes_again_ground(scenario: Any, by: Any) -> None:
    deer = scenario.deer()
    lugs = scenario.cut(deer, whole="22.4", trim="26.0")
    run = bring_to_wrap(lugs["whole_cuts"], by=by("wrap")).fetch(Run)
    bring_to_wrap(deer.pieces.get(kind="tenderloin"), by=by("wrap"))
    scenario.pack(run, "tenderloin", "whole", "1.1")
    scenario.pack(run, "backstrap", "steaks", "17.4", count=4)
    lug = send_to_grind(run, by=by("wrap"), weight=lb("5")).fetch(Piece)
    assert (lug.name, lug.contents, lug.state) == ("lug 3, grind trim", "grind_trim", "waiting")
    assert last_event().shown == "26-0001: lug 3, grind trim for the grinder, 5.0 lb."
    finish_wrap(run, by=by("wrap"))
    assert fresh(deer).state == "grinding"
    grind = start_grind(lugs["grind_trim"], by=by("grind")).fetch(Run)
    start_grind(lug, by=by("grind"))
    ground = take_from_grinder(grind, by=by("grind"), weight=lb("31")).fetch(Piece)
    finish_grind(grind, by=by("grind"))
    run = bring_to_wrap(ground, by=by("wrap")).fetch(Run)
    scenario.pack(run, "grind-trim", "ground", "15.5", "15.4")
    finish_wrap(run, by=by("wrap"))
    points = {point.key: point.mg for point in yield_of(fresh(deer)).account.points}
    # 22.4 and 1.1 lb came, 31 lb came ground; the 5 lb that were sent back are among them once.
    assert points["to_wrap"] == sum(map(pounds, ("22.4", "1.1", "31"))) - pounds(5)
    assert points["packed"] == sum(map(pounds, ("1.1", "17.4", "15.5", "15.4")))
    # The block's own lugs are not counted again.
    assert points["lugs"] == sum(map(pounds, ("22.4", "26.0", "1.1")))


def test_what_was_sent_back_by_mistake_is_taken_back(scenario: Any, by: Any, table: Run) -> None:
    lug = send_to_grind(table, by=by("wrap"), weight=lb("5")).fetch(Piece)
    assert table_sum(table).off_mg == pounds(5)
    void_lug(lug, by=by("wrap"), reason="tapped by mistake")
    assert table_sum(table).off_mg == 0


def test_ground_meat_is_not_sent_back(scenario: Any, by: Any) -> None:
    run = bring_to_wrap(scenario.ground(scenario.deer())["ground"], by=by("wrap")).fetch(Run)
    with refused("ground_already"):
        send_to_grind(run, by=by("wrap"), weight=lb("5"))
    order, first, second = two_deer(scenario)
    finish_wrap(run, by=by("wrap"), reason="later")
    grind_together(scenario, first, second)
    pool = pool_on_table(scenario, order)
    with refused("ground_already"):
        send_to_grind(pool, by=by("wrap"), weight=lb("5"))
    # Waste of the pool is weighed as any other.
    record_wrap_waste(pool, by=by("wrap"), weight=lb("2"))
    assert table_sum(pool).off_mg == pounds(2)


def test_where_nothing_is_ground_nothing_is_sent_to_the_grinder(scenario: Any, by: Any) -> None:
    deer = scenario.deer()
    cut_with(scenario, by, deer, trim="18", choice="stew", fat_bp=0)
    run = bring_to_wrap(deer.pieces.get(kind="tenderloin"), by=by("wrap")).fetch(Run)
    with refused("not_ground"):
        send_to_grind(run, by=by("wrap"), weight=lb("0.5"))


@pytest.mark.parametrize("act", [record_wrap_waste, send_to_grind])
def test_what_leaves_the_table_is_stopped_as_packing_is(scenario: Any, by: Any, table: Run, act: Any) -> None:
    with refused("wrong_station"):
        act(table, by=by("block"), weight=lb("1"))
    open_hold(table.animal, by=by("counter"), kind="recall")
    with refused("on_hold"):
        act(table, by=by("wrap"), weight=lb("1"))
    table.animal.holds.update(
        released_at=table.opened_at, released_by=by("counter").person, release_note="so"
    )
    finish_wrap(table, by=by("wrap"), reason="the rest tomorrow")
    with refused("run_closed"):
        act(table, by=by("wrap"), weight=lb("1"))


# --- the pages --------------------------------------------------------------------------------------------------


def test_the_page_asks_and_offers_the_quick_ways(scenario: Any, table: Run, tablet: Tablet) -> None:
    scenario.pack(table, "grind-trim", "ground", "10")
    page = tablet.at("wrap").post("floor-wrap-done", table.pk)
    assert page.status_code == 422
    said = words(page)
    assert "Where is the other 18.2 lb?" in said
    assert 'id="id_reason_error"' in page.content.decode()
    for what in ("waste", "grind-trim"):
        assert f"/floor/wrap/{table.pk}/off/{what}/" in page.content.decode()
    page = tablet.post("floor-off-table", table.pk, "waste", weight="4.2")
    assert banner(page) == ("good", "Done. 26-0001: waste at wrap, 4.2 lb.")
    assert tablet.landed(page) == f"/floor/wrap/{table.pk}/"
    page = tablet.post("floor-off-table", table.pk, "grind-trim", weight="13.9")
    assert "Lug 4, grind trim · 13.9 lb" in words(page)
    assert "33.5 lb of 51.7 lb, 18.1 lb off as waste or grind trim: 0.1 lb left" in words(page)
    page = tablet.post("floor-wrap-done", table.pk)
    assert tablet.landed(page) == f"/floor/orders/{table.animal.order_id}/boxes/"


def test_a_reason_that_is_too_long_stays_with_its_sentence(scenario: Any, table: Run, tablet: Tablet) -> None:
    typed = "x" * 201
    page = tablet.at("wrap").post("floor-wrap-done", table.pk, reason=typed)
    assert page.status_code == 422
    assert "at most 200 characters" in words(page)
    assert typed in page.content.decode()


def test_what_must_be_weighed_offers_no_way_around(
    scenario: Any, by: Any, table: Run, tablet: Tablet
) -> None:
    page = tablet.at("wrap").get("floor-off-table", table.pk, "waste")
    assert "Not weighed" not in words(page)
    page = tablet.post("floor-off-table", table.pk, "waste", not_weighed="1")
    assert page.status_code == 422
    assert not Event.objects.filter(verb="record_wrap_waste").exists()
    assert tablet.get("floor-off-table", table.pk, "bones").status_code == 404
    finish_wrap(table, by=by("wrap"), reason="the rest tomorrow")
    assert tablet.get("floor-off-table", table.pk, "waste").status_code == 302


def test_a_wrong_weight_stays_with_its_sentence(scenario: Any, table: Run, tablet: Tablet) -> None:
    page = tablet.at("wrap").post("floor-off-table", table.pk, "waste", weight="320")
    assert (page.status_code, last_event().refusal) == (422, "off_beyond_came")
    assert 'value="320"' in page.content.decode()
