"""From a pack up to the hunter and the tag, and from a carcass down to everything that came of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from orders.billing.actions import set_amount
from orders.custody.book import load
from orders.custody.trail import job
from orders.floor.block import fill_lug, record_waste
from orders.floor.skin import hang_up
from orders.intake.models import Order
from orders.ledger.entry import By
from orders.ledger.models import Event, Piece, PieceKind, Run
from orders.ledger.refusal import Refusal
from orders.ledger.voids import void_event
from orders.pickup.actions import release
from shop.codes import check_digit
from shop.weights import pounds
from tests.scenario import Scenario, lb


def page(client: Client, code: str) -> str:
    response = client.get(f"/trail/{code}/")
    assert response.status_code == 200
    return response.content.decode()


def test_a_pack_leads_up_to_its_animal_tag_and_every_weight(clerk_client: Client, scenario: Scenario) -> None:
    deer = scenario.deer(tag="WT-77001")
    box = scenario.stored(deer)
    ground = deer.packages.filter(choice__code="ground").first()
    assert ground is not None
    text = page(clerk_client, ground.piece.code)
    kinds = [run.kind for run in load(deer.order).ancestry(ground.piece)]
    assert kinds == ["wrap", "grind", "cut", "skin"]
    for said in (
        "WT-77001",
        "Rowan Sedgewick",
        "131.5 lb",
        "98.4 lb",
        "26.0 lb",
        "box 1, at Shelf 1",
        "Kit Barlow",
    ):
        assert said in text, said
    assert "pork fat" in text
    assert f"/trail/{deer.pieces.get(kind=PieceKind.CARCASS).code}/" in text
    assert box.code not in ground.piece.code


def test_a_steak_came_not_through_the_grinder_job_alone(clerk_client: Client, scenario: Scenario) -> None:
    """The wrap job had the ground meat on its table too: the page says what lay there, and guesses nothing."""
    deer = scenario.deer()
    scenario.packed(deer)
    steak = deer.packages.filter(choice__code="steaks").first()
    assert steak is not None
    assert "A pack comes from what lay on the wrap table in its job" in page(clerk_client, steak.piece.code)


def test_a_job_shows_what_a_piece_weighed_then(clerk_client: Client, scenario: Scenario) -> None:
    """131.5 lb came to the skinner and 98.4 lb to the block, though the newest weight is one of them only."""
    deer = scenario.deer()
    scenario.cut(deer)
    jobs = {run.kind: job(load(deer.order), run) for run in load(deer.order).runs.values()}
    assert [thing.mg for thing in jobs["skin"].went_in] == [pounds("131.5")]
    assert [thing.mg for thing in jobs["cut"].went_in] == [pounds("98.4")]


def test_a_carcass_leads_down_to_every_piece_and_where_it_is(
    clerk_client: Client, scenario: Scenario, by: Callable[[str], By]
) -> None:
    deer = scenario.deer()
    box = scenario.stored(deer)
    release(
        deer.order,
        by=by("counter"),
        pieces=(box,),
        collector="Wren Okafor",
        initials="WO",
        vouched="the hunter called",
    )
    carcass = deer.pieces.get(kind=PieceKind.CARCASS)
    book = load(deer.order)
    made = book.made_of(book.pieces[carcass.pk])
    packs = [piece for piece in made if piece.kind == PieceKind.PACKAGE]
    assert len(packs) == deer.packages.count() == 45
    assert {piece.name for piece in made if piece.kind == PieceKind.KEPT} == {"antlers"}
    assert {piece.name for piece in made if piece.kind == PieceKind.TENDERLOIN} == {
        "tenderloins, left and right"
    }
    text = page(clerk_client, carcass.code)
    assert "45 packs" in text
    assert "box 1, collected by Wren Okafor" in text
    assert "at Hook 1" in text


def test_nothing_of_another_animal_is_on_the_trail(clerk_client: Client, scenario: Scenario) -> None:
    order = scenario.order()
    first, second = scenario.deer(order, tag="WT-1"), scenario.deer(order, tag="WT-2")
    scenario.cut(first)
    scenario.cut(second)
    lug = first.pieces.filter(kind=PieceKind.LUG).first()
    assert lug is not None
    text = page(clerk_client, lug.code)
    assert "WT-1" in text
    assert "WT-2" not in text
    assert f"{order.number}/2" not in text


def test_a_weight_taken_back_is_shown_as_such(
    clerk_client: Client, scenario: Scenario, by: Callable[[str], By]
) -> None:
    deer = scenario.deer(weight="181.5")
    weighed = Event.objects.get(verb="add_animal")
    void_event(weighed, by=by("counter"), reason="hook not tared")
    text = page(clerk_client, deer.pieces.get().code)
    assert "181.5 lb" in text
    assert "(taken back)" in text
    assert "<dt>Weight</dt><dd>not weighed</dd>" in text


def test_a_refused_try_is_on_the_trail(
    clerk_client: Client, scenario: Scenario, by: Callable[[str], By]
) -> None:
    deer = scenario.deer()
    carcass = deer.pieces.get()
    with pytest.raises(Refusal, match="not a place to hang"):
        hang_up(carcass, by=by("cooler"), place=scenario.places.door)
    text = page(clerk_client, carcass.code)
    assert "Refused" in text
    assert "is not a place to hang meat" in text


def test_a_box_shows_what_is_in_it(clerk_client: Client, scenario: Scenario) -> None:
    box = scenario.stored(scenario.deer())
    text = page(clerk_client, box.code)
    assert "In this box" in text
    assert "Backstrap, steaks, pack 2" in text
    # 1.05 + 6 x 1.1 + 10 x 1.4 + 28 x 1.0 lb
    assert "<dd>49.6 lb</dd>" in text or "<dd>49.7 lb</dd>" in text


def test_an_order_code_shows_everything_of_it(cutter_client: Client, scenario: Scenario) -> None:
    deer = scenario.deer()
    box = scenario.stored(deer)
    text = page(cutter_client, deer.order.code)
    assert f"/trail/{box.code}/" in text
    assert "antlers" in text
    assert "Breakdown" in text


def test_a_run_shows_what_went_in_and_came_out(clerk_client: Client, scenario: Scenario) -> None:
    deer = scenario.deer()
    scenario.ground(deer)
    run = deer.runs.get(kind="grind")
    text = page(clerk_client, run.code)
    assert "lug 2, grind trim" in text
    assert "lug 3, ground meat" in text
    assert "pork fat" in text
    assert "2.6 lb" in text


def test_a_place_and_a_station_show_what_is_there(
    cutter_client: Client, scenario: Scenario, stations: Any
) -> None:
    deer = scenario.deer()
    run = scenario.opened(deer)
    rack = page(cutter_client, scenario.places.rack.code)
    assert "tenderloins, left and right" in rack
    assert deer.order.number in rack
    block = page(cutter_client, stations.block.code)
    assert f"/trail/{run.code}/" in block
    assert "carcass" in block


def test_the_floor_sees_no_money_and_no_phone(
    cutter_client: Client, clerk_client: Client, scenario: Scenario, by: Callable[[str], By]
) -> None:
    deer = scenario.deer()
    box = scenario.stored(deer)
    set_amount(deer.order, by=by("counter"), cents=12_345)
    with pytest.raises(Refusal):
        release(deer.order, by=by("counter"), pieces=(box,), collector="Rowan Sedgewick", initials="R")
    assert "$123.45" in page(clerk_client, deer.order.code)
    for code in (deer.order.code, box.code, deer.pieces.get(kind=PieceKind.CARCASS).code):
        text = page(cutter_client, code)
        assert "$" not in text
        assert "555-0117" not in text
        assert "5550117" not in text


@pytest.mark.parametrize("code", ["1", "abc", "9000000019", "2000000019", "9" * 300, "20000000190"])
def test_a_code_that_cannot_be_gets_a_sentence(cutter_client: Client, code: str, db: None) -> None:
    response = cutter_client.get(f"/trail/{code}/")
    assert response.status_code == 404
    assert "Nothing found" in response.content.decode()


def test_a_right_code_of_nothing_is_not_found(cutter_client: Client, db: None) -> None:
    for kind in "12345678":
        body = f"{kind}00099999"
        response = cutter_client.get(f"/trail/{body}{check_digit(body)}/")
        assert response.status_code == 404
        assert "There is nothing at this address" in response.content.decode()


def test_the_number_of_queries_does_not_grow_with_the_packs(
    clerk_client: Client, scenario: Scenario, by: Callable[[str], By], queries_of: Callable[[Any], int]
) -> None:
    few, many = scenario.deer(tag="WT-1"), scenario.deer(tag="WT-2")
    run = scenario.opened(few)
    fill_lug(run, by=by("block"), contents="whole_cuts", weight=lb("9"))
    record_waste(run, by=by("block"), what="waste")
    scenario.stored(many)
    codes = [deer.pieces.get(kind=PieceKind.CARCASS).code for deer in (few, many)]
    assert queries_of(lambda: page(clerk_client, codes[0])) == queries_of(
        lambda: page(clerk_client, codes[1])
    )


def test_pieces_of_an_elk_have_their_own_trails(clerk_client: Client, scenario: Scenario) -> None:
    elk = scenario.elk()
    quarter = Piece.objects.get(animal=elk, form__code="hind-quarter-left")
    text = page(clerk_client, quarter.code)
    assert "58.5 lb" in text
    assert "EK-30077" in text
    assert Order.objects.count() == 1
    assert Run.objects.count() == 0
