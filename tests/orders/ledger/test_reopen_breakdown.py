"""A breakdown that was finished too early is opened again, while all its lugs still wait."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from orders.floor.block import fill_lug, finish_breakdown, open_animal, record_waste
from orders.floor.grind import finish_grind, start_grind, take_from_grinder
from orders.floor.skin import finish_skinning, move_cold, pull_tenderloins, start_skinning, take_off
from orders.intake.actions import file_tag
from orders.ledger.entry import By
from orders.ledger.holds import open_hold, release_hold
from orders.ledger.models import Event, Piece, Run
from orders.ledger.voids import put_back, reopen_job, void_event, void_lug
from orders.packing.actions import bring_to_wrap
from tests.orders.floor.tablet import Tablet, banner, last_event, refused, words
from tests.scenario import Scenario, lb

Stations = Callable[[str], By]


def fresh(thing: Any) -> Any:
    return type(thing)._default_manager.get(pk=thing.pk)


def where(piece: Piece) -> tuple[str, str]:
    piece = Piece.objects.select_related("place").get(pk=piece.pk)
    assert piece.place is not None
    return piece.state, piece.place.name


def test_a_breakdown_is_opened_again_and_mended(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    lugs = scenario.cut(deer, whole="22.4", trim="26.0")
    run = deer.runs.get(kind="cut")
    move_cold(fresh(lugs["grind_trim"]), by=by("cooler"), place=scenario.places.rack)
    with refused("run_closed"):
        void_lug(lugs["whole_cuts"], by=by("block"), reason="wrong weight")
    reopen_job(run, by=by("block"), reason="A wrong weight")
    assert last_event().shown == "26-0001: breakdown is open again: A wrong weight"
    assert where(deer.pieces.get(kind="carcass")) == ("table", "Block 1")
    assert where(lugs["grind_trim"]) == ("waiting", "Rack 1")
    assert fresh(deer).state == "cutting"
    void_lug(lugs["whole_cuts"], by=by("block"), reason="wrong weight")
    void_event(
        Event.objects.get(verb="record_waste", data__payload__what="bone_fat"), by=by("block"), reason="wrong"
    )
    fill_lug(run, by=by("block"), contents="whole_cuts", weight=lb("20.4"))
    with refused("waste_unanswered"):
        finish_breakdown(run, by=by("block"))
    record_waste(run, by=by("block"), what="bone_fat", weight=lb("25"))
    finish_breakdown(run, by=by("block"))
    assert where(deer.pieces.get(kind="carcass")) == ("used", "Used up")
    assert fresh(deer).state == "grinding"


def test_a_breakdown_can_even_be_put_back_once_nothing_of_it_is_left(
    scenario: Scenario, by: Stations
) -> None:
    deer = scenario.deer()
    lugs = scenario.cut(deer)
    run = deer.runs.get(kind="cut")
    reopen_job(run, by=by("block"), reason="Another animal")
    for lug in lugs.values():
        void_lug(lug, by=by("block"), reason="another animal")
    for event in Event.objects.filter(verb="record_waste", outcome="ok"):
        void_event(event, by=by("block"), reason="another animal")
    put_back(fresh(run), by=by("block"), reason="another animal")
    assert where(deer.pieces.get(kind="carcass")) == ("hanging", "Rail A")
    assert fresh(open_animal(deer, by=by("block")).fetch(Run)).closed_at is None


@pytest.mark.parametrize(
    ("step", "lug", "state"),
    [
        ("grind", "grind_trim", "on the table"),
        ("ground", "grind_trim", "used up"),
        ("wrap", "whole_cuts", "on the table"),
    ],
)
def test_a_lug_that_went_on_keeps_the_breakdown_closed(
    scenario: Scenario, by: Stations, step: str, lug: str, state: str
) -> None:
    deer = scenario.deer()
    lugs = scenario.cut(deer)
    if step == "wrap":
        went_on = bring_to_wrap(lugs[lug], by=by("wrap")).fetch(Run)
    else:
        went_on = start_grind(lugs[lug], by=by("grind")).fetch(Run)
    if step == "ground":
        take_from_grinder(went_on, by=by("grind"), weight=lb("25"))
        finish_grind(went_on, by=by("grind"))
    run = deer.runs.get(kind="cut")
    with refused("lug_went_on"):
        reopen_job(run, by=by("block"), reason="A wrong weight")
    said = last_event().shown
    assert said.startswith(f"{lugs[lug].name.capitalize()} went on already: it is {state}, by Kit Barlow at ")
    if step != "ground":
        put_back(went_on, by=by(step), reason="tapped by mistake")
        reopen_job(run, by=by("block"), reason="A wrong weight")
        assert fresh(deer).state == "cutting"


def test_tenderloins_that_were_bagged_at_the_block_go_on_as_lugs_do(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    run = start_skinning(deer.pieces.get(), by=by("skin")).fetch(Run)
    take_off(run, by=by("skin"), what="antlers", keep=True)
    finish_skinning(run, by=by("skin"), place=scenario.places.rail, weight=lb("98"), left_in="later")
    run = scenario.opened(fresh(deer))
    bag = pull_tenderloins(deer, by=by("block"), left=True, right=True, weight=lb("1")).fetch(Piece)
    fill_lug(run, by=by("block"), contents="grind_trim", weight=lb("40"))
    for what in ("bone_fat", "waste"):
        record_waste(run, by=by("block"), what=what)
    file_tag(deer, by=by("block"), where="tag box")
    finish_breakdown(run, by=by("block"))
    bring_to_wrap(bag, by=by("wrap"))
    with refused("lug_went_on"):
        reopen_job(run, by=by("block"), reason="A wrong weight")
    assert last_event().shown.startswith("Tenderloins, left and right went on already")


def test_a_hold_and_a_second_person_keep_a_breakdown_closed(
    scenario: Scenario, by: Stations, people: Any
) -> None:
    deer = scenario.deer()
    scenario.cut(deer)
    run = deer.runs.get(kind="cut")
    open_hold(deer, by=by("counter"), kind="recall")
    with refused("on_hold"):
        reopen_job(run, by=by("block"), reason="A wrong lug")
    release_hold(deer.holds.get(), by=by("counter"), note="another lot")
    reopen_job(run, by=By(people.owner, None, by("counter").station), reason="A wrong lug")
    with refused("open_already"):
        reopen_job(run, by=by("block"), reason="A wrong lug")


def test_a_late_quarter_on_the_block_comes_first(scenario: Scenario, by: Stations) -> None:
    elk = scenario.elk(head=False)
    scenario.cut(elk, whole="80", trim="60")
    run = elk.runs.get(kind="cut")
    scenario.bring(elk, "saddle", "30")
    open_animal(fresh(elk), by=by("block"))
    with refused("already_open"):
        reopen_job(run, by=by("block"), reason="A wrong lug")


def test_a_breakdown_is_opened_again_from_its_page(
    scenario: Scenario, by: Stations, people: Any, stations: Any
) -> None:
    client = Client()
    client.force_login(people.cutter)
    tablet = Tablet(client, stations)
    deer = scenario.deer()
    scenario.cut(deer)
    run = deer.runs.get(kind="cut")
    page = tablet.at("block").get("trail", run.code)
    assert "Open this breakdown again" in words(page)
    page = tablet.get("floor-reopen", run.pk)
    assert "What went in lies at Block 1 once more. It is finished there anew." in words(page)
    page = tablet.post("floor-reopen", run.pk, reason_tile="Finished too early")
    assert tablet.landed(page) == f"/floor/block/{run.pk}/"
    assert banner(page)[1] == "Done. 26-0001: breakdown is open again: Finished too early"
