"""The block's pages: opening, the cut sheet, lugs, waste, the tag, changes, and done."""

from __future__ import annotations

from typing import Any

import pytest

from orders.cutsheets.actions import ask_change, save_cut_sheet
from orders.intake.actions import record_order
from orders.ledger.holds import open_hold
from orders.ledger.models import Piece, Run
from tests.orders.floor.tablet import Tablet, banner, last_event, words


@pytest.fixture
def cutting(scenario: Any, tablet: Tablet) -> tuple[Tablet, Run]:
    """A deer open at the block, with the house cut."""
    run = scenario.opened(scenario.deer())
    return tablet.at("block"), run


def test_opens_by_tile(scenario: Any, tablet: Tablet, by: Any) -> None:
    deer = scenario.hung(scenario.deer())
    save_cut_sheet(deer, by=by("counter"))
    page = tablet.at("block").post("floor-block-start", deer.pk)
    assert tablet.landed(page) == f"/floor/block/{deer.runs.get(kind='cut').pk}/"
    assert deer.pieces.get(kind="carcass").state == "table"


def test_shows_sheet_hit_notes_and_cautions(scenario: Any, tablet: Tablet, by: Any) -> None:
    order = scenario.order()
    record_order(order, by=by("counter"), note="No pork in the house")
    deer = scenario.hung(scenario.deer(order))
    save_cut_sheet(deer, by=by("counter"), note="Thin steaks please")
    tablet.at("block").post("floor-block-start", deer.pk)
    said = words(tablet.get("floor-block", deer.runs.get(kind="cut").pk))
    for expected in (
        "HIT: SHOULDER",
        "No pork in the house",
        "Thin steaks please",
        "Backstrap outside, long",
        "Steaks 3/4 in",
        "the gland in the fat between top and bottom round",
        "Do not cut into spine or head.",
        "A half-stripped carcass jerks.",
        "Local rules and licensed practice decide.",
        "where is it kept?",
    ):
        assert expected in said, expected


def test_a_lug_with_tare_parts_and_weight(cutting: tuple[Tablet, Run]) -> None:
    tablet, run = cutting
    backstrap = run.animal.species.parts.get(part__code="backstrap").part
    page = tablet.post(
        "floor-lug", run.pk, contents="whole_cuts", parts=[backstrap.pk], weight="24.6", tare="2.2"
    )
    lug = run.animal.pieces.get(kind="lug")
    weighing = lug.weighings.get()
    assert (weighing.gross, weighing.tare, weighing.net) == (246, 22, 224)
    assert lug.name == "lug 1, whole cuts: backstrap"
    assert "Lug 1, whole cuts: backstrap · 22.4 lb" in words(page)


def test_a_lug_needs_its_contents(cutting: tuple[Tablet, Run]) -> None:
    tablet, run = cutting
    page = tablet.post("floor-lug", run.pk, weight="20")
    assert page.status_code == 422
    assert "Tap what is in the lug." in words(page)
    assert 'value="20"' in page.content.decode()
    page = tablet.post("floor-lug", run.pk, contents="ground", not_weighed="1")
    assert page.status_code == 422
    assert not run.animal.pieces.filter(kind="lug").exists()


def test_lugs_cannot_outweigh_what_hung(cutting: tuple[Tablet, Run]) -> None:
    tablet, run = cutting
    tablet.post("floor-lug", run.pk, contents="whole_cuts", weight="60")
    page = tablet.post("floor-lug", run.pk, contents="grind_trim", weight="60")
    assert (page.status_code, last_event().refusal) == (422, "lugs_beyond_hung")
    assert "That makes 120.0 lb off the block, of 98.4 lb that hung." in words(page)
    assert run.animal.pieces.filter(kind="lug").count() == 1


def test_a_lug_is_taken_back_with_a_reason(cutting: tuple[Tablet, Run]) -> None:
    tablet, run = cutting
    tablet.post("floor-lug", run.pk, contents="grind_trim", not_weighed="1")
    lug = run.animal.pieces.get(kind="lug")
    assert tablet.post("floor-lug-void", lug.pk).status_code == 422
    page = tablet.post("floor-lug-void", lug.pk, reason_tile="other", reason="fell on the floor")
    lug.refresh_from_db()
    assert lug.state == "void"
    assert tablet.landed(page) == f"/floor/block/{run.pk}/"
    assert "No lug yet." in words(page)


def test_each_lug_gets_a_number_of_its_own_after_one_was_taken_back(cutting: tuple[Tablet, Run]) -> None:
    tablet, run = cutting
    for _ in range(2):
        tablet.post("floor-lug", run.pk, contents="grind_trim", not_weighed="1")
    first = run.animal.pieces.filter(kind="lug").first()
    tablet.post("floor-lug-void", first.pk, reason_tile="Tapped by mistake")
    tablet.post("floor-lug", run.pk, contents="grind_trim", not_weighed="1")
    assert [piece.n for piece in run.animal.pieces.filter(kind="lug")] == [1, 2, 3]


def test_waste_is_weighed_or_said_to_be_not_weighed(cutting: tuple[Tablet, Run]) -> None:
    tablet, run = cutting
    tablet.post("floor-waste", run.pk, "bone_fat", weight="24.5")
    page = tablet.post("floor-waste", run.pk, "waste", not_weighed="1")
    lines = {line.what: line.weighing for line in run.lines.filter(direction="waste")}
    assert lines["bone_fat"].net == 245
    assert lines["waste"] is None
    assert "Waste not weighed" in words(page)


def test_the_cold_weight_is_kept_and_cannot_grow(cutting: tuple[Tablet, Run]) -> None:
    tablet, run = cutting
    carcass = run.animal.pieces.get(kind="carcass")
    page = tablet.post("floor-weigh", run.pk, carcass.pk, weight="98.6")
    assert (page.status_code, last_event().refusal) == (422, "weighs_more_than_hung")
    page = tablet.post("floor-weigh", run.pk, carcass.pk, not_weighed="1")
    assert page.status_code == 422
    page = tablet.post("floor-weigh", run.pk, carcass.pk, weight="96.1")
    assert carcass.weighings.get(point="at_block").net == 961
    assert "carcass, cold: 96.1 lb" in words(page)


def test_done_asks_for_what_is_missing_one_after_another(cutting: tuple[Tablet, Run]) -> None:
    tablet, run = cutting
    for code, say, remedy in (
        ("waste_unanswered", "Bone and fat: weigh it", ("floor-waste", "bone_fat", {"not_weighed": "1"})),
        ("waste_unanswered", "Waste: weigh it", ("floor-waste", "waste", {"not_weighed": "1"})),
        ("tag_not_filed", "Where is tag WT-10021 kept", ("floor-tag", None, {"where": "tag box, row 3"})),
    ):
        page = tablet.post("floor-block-done", run.pk)
        assert (page.status_code, last_event().refusal) == (422, code)
        assert say in banner(page)[1]
        name, what, data = remedy
        assert tablet.post(name, run.pk, *([what] if what else []), **data).status_code == 200
    page = tablet.post("floor-block-done", run.pk)
    assert (page.status_code, last_event().refusal) == (422, "no_lugs")
    assert "Nothing was put in a lug." in words(page)
    page = tablet.post("floor-block-done", run.pk, reason_tile="It was spoiled")
    run.refresh_from_db()
    assert run.close_reason == "It was spoiled"
    assert tablet.landed(page) == "/floor/"


def test_a_change_is_answered_before_done(cutting: tuple[Tablet, Run], by: Any) -> None:
    tablet, run = cutting
    ask_change(run.animal, by=by("counter"), text="Neck whole, for a roast")
    assert "The hunter asks: Neck whole, for a roast" in words(tablet.get("floor-block", run.pk))
    tablet.post("floor-waste", run.pk, "bone_fat", not_weighed="1")
    tablet.post("floor-waste", run.pk, "waste", not_weighed="1")
    tablet.post("floor-tag", run.pk, where="tag box")
    tablet.post("floor-block-done", run.pk)
    assert last_event().refusal == "request_open"
    asked = run.animal.cut_requests.get()
    assert tablet.post("floor-request", run.pk, asked.pk).status_code == 422
    page = tablet.post("floor-request", run.pk, asked.pk, accepted="no", answer="ground already")
    asked.refresh_from_db()
    assert (asked.accepted, asked.answer, asked.answered_by.username) == (False, "ground already", "kit")
    assert "No: Neck whole, for a roast ground already" in words(page)
    again = tablet.post("floor-request", run.pk, asked.pk, accepted="yes")
    assert (again.status_code, last_event().refusal) == (422, "answered_already")


def test_what_was_recorded_can_be_taken_back(cutting: tuple[Tablet, Run]) -> None:
    tablet, run = cutting
    tablet.post("floor-waste", run.pk, "waste", weight="24")
    event = last_event()
    assert "waste, 24.0 lb" in words(tablet.get("floor-block", run.pk))
    page = tablet.post("floor-take-back", event.pk, reason_tile="Wrong weight")
    assert tablet.landed(page) == f"/floor/block/{run.pk}/"
    assert "24.0 lb" not in words(tablet.get("floor-block", run.pk))
    assert tablet.post("floor-take-back", event.pk, reason_tile="Wrong weight").status_code == 422
    assert last_event().refusal == "voided_already"


@pytest.mark.parametrize(
    ("spoil", "code", "say"),
    [
        ("hold", "on_hold", "is on hold: deposit"),
        ("hide", "not_skinned", "still has its hide on"),
        ("sheet", "no_cut_sheet", "has no cut sheet yet"),
    ],
)
def test_what_is_not_ready_is_shown_but_does_not_open(
    scenario: Any, tablet: Tablet, by: Any, spoil: str, code: str, say: str
) -> None:
    deer = scenario.deer()
    if spoil != "hide":
        scenario.hung(deer)
    if spoil != "sheet":
        save_cut_sheet(deer, by=by("counter"))
    if spoil == "hold":
        open_hold(deer, by=by("counter"), kind="deposit")
    page = tablet.at("block").get("floor")
    assert page.context["queue"].ready == []
    assert [row.animal.pk for row in page.context["queue"].not_ready] == [deer.pk]
    assert "block/open" not in page.content.decode()
    page = tablet.post("floor-block-start", deer.pk)
    kind, said = banner(page)
    assert last_event().refusal == code
    assert say in said
    assert kind == ("hold" if spoil == "hold" else "refused")


def test_the_second_cutter_hears_who_has_it(cutting: tuple[Tablet, Run], people: Any, stations: Any) -> None:
    tablet, run = cutting
    page = tablet.post("floor-block-start", run.animal_id)
    kind, said = banner(page)
    assert (kind, last_event().refusal) == ("already", "already_open")
    assert f"{people.cutter} has had {run.animal.label} open at {stations.block} since" in said


def test_a_job_of_another_kind_is_not_found_here(cutting: tuple[Tablet, Run]) -> None:
    tablet, run = cutting
    assert tablet.get("floor-grind", run.pk).status_code == 404
    assert tablet.get("floor-skin", run.pk).status_code == 404
    other = Piece.objects.exclude(animal=run.animal).first()
    assert other is None
    assert tablet.get("floor-waste", run.pk, "gold").status_code == 404


def test_parts_are_asked_once_and_folded_up(cutting: tuple[Tablet, Run]) -> None:
    tablet, run = cutting
    text = tablet.get("floor-lug", run.pk).content.decode()
    backstrap = run.animal.species.parts.get(part__code="backstrap").part_id
    assert text.count(f'name="parts" value="{backstrap}"') == 1
    assert text.index("<details") < text.index('name="parts"')
