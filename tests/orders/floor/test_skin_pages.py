"""The skinning station's pages, from the queue to the rail."""

from __future__ import annotations

from typing import Any

import pytest

from orders.floor.skin import take_off
from orders.intake.facts import AnimalFacts
from orders.ledger.holds import open_hold
from orders.ledger.models import Piece, Run
from tests.orders.floor.tablet import Tablet, banner, last_event, words


@pytest.fixture
def skinning(scenario: Any, tablet: Tablet) -> tuple[Tablet, Run]:
    """A deer open at the skinning, by the tablet."""
    deer = scenario.deer()
    answer = tablet.at("skin").post("floor-skin-start", deer.pieces.get(kind="carcass").pk)
    run = deer.runs.get(kind="skin")
    assert tablet.landed(answer) == f"/floor/skin/{run.pk}/"
    return tablet, run


def test_the_open_page_says_what_matters(skinning: tuple[Tablet, Run]) -> None:
    tablet, run = skinning
    page = tablet.get("floor-skin", run.pk)
    said = words(page)
    assert run.animal is not None
    assert run.animal.label in said
    assert "HIT: SHOULDER" in said
    assert "Antlers off the hunter keeps them: tag them" in said
    assert "Head off to waste" in said
    assert "Hide off to waste" in said
    assert "Cape off" not in said
    assert "pull and bag: left and right" in said
    assert "Hang it still to come off: antlers" in said


def test_one_tap_takes_off_and_tags_what_is_kept(skinning: tuple[Tablet, Run]) -> None:
    tablet, run = skinning
    page = tablet.post("floor-take-off", run.pk, "antlers", keep="keep", not_weighed="1")
    assert banner(page)[0] == "good"
    antlers = run.animal.pieces.get(kind="kept")
    assert (antlers.name, antlers.state, antlers.form.code) == ("antlers", "waiting", "antlers")
    line = run.lines.get(what="antlers")
    assert (line.direction, line.weighing) == ("out", None)
    assert "Antlers are off kept" in words(page)


def test_a_part_can_be_weighed(skinning: tuple[Tablet, Run]) -> None:
    tablet, run = skinning
    tablet.post("floor-take-off", run.pk, "feet", keep="waste", weight="2.25")
    line = run.lines.get(what="feet")
    assert line.weighing is not None
    assert (line.direction, line.weighing.net, line.weighing.decimals, line.weighing.unit) == (
        "waste",
        225,
        2,
        "lb",
    )


def test_a_kept_part_does_not_go_to_waste(skinning: tuple[Tablet, Run]) -> None:
    tablet, run = skinning
    page = tablet.post("floor-take-off", run.pk, "antlers", keep="waste", not_weighed="1")
    assert page.status_code == 422
    assert last_event().refusal == "kept_part"
    sentence = f"The antlers of {run.animal.label} are kept: tag them."
    assert f'<p class="error" id="id_keep_error">{sentence}</p>' in page.content.decode()
    assert not run.lines.filter(what="antlers").exists()


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("", "Type the weight, or tap “not weighed”."),
        ("much", "“much” is not a weight."),
        ("-3", "A weight cannot be negative."),
        ("9" * 38, "more than any scale here can show"),
        ("1.23456", "at most three decimals"),
        ("1" * 500, "at most 40 characters"),
        ("1\x002", "Null characters are not allowed"),
        ("0", "Nothing is on the scale"),
    ],
)
def test_what_is_no_weight_is_said_beside_the_field(
    skinning: tuple[Tablet, Run], typed: str, sentence: str
) -> None:
    tablet, run = skinning
    page = tablet.post("floor-take-off", run.pk, "feet", keep="waste", weight=typed)
    assert page.status_code == 422
    assert sentence in words(page)
    assert not run.lines.filter(what="feet").exists()


def test_a_weight_and_not_weighed_together_are_asked_about(skinning: tuple[Tablet, Run]) -> None:
    tablet, run = skinning
    page = tablet.post("floor-take-off", run.pk, "feet", keep="waste", weight="2", not_weighed="1")
    assert page.status_code == 422
    assert "“not weighed” was tapped" in words(page)
    assert 'value="2"' in page.content.decode()


def test_the_same_form_sent_twice_is_done_once(skinning: tuple[Tablet, Run]) -> None:
    tablet, run = skinning
    sent = {"keep": "waste", "not_weighed": "1", "sender_id": "6b8c2a3e-7f55-4b6f-8f0b-0d3f6d2f1a10"}
    tablet.post("floor-take-off", run.pk, "feet", **sent)
    page = tablet.post("floor-take-off", run.pk, "feet", **sent)
    assert banner(page)[0] == "already"
    assert run.lines.filter(what="feet").count() == 1


def test_tenderloins_are_bagged_with_both_sides(skinning: tuple[Tablet, Run]) -> None:
    tablet, run = skinning
    page = tablet.post("floor-tenderloins", run.animal_id, side="both", weight="1.1")
    assert tablet.landed(page) == f"/floor/skin/{run.pk}/"
    bag = run.animal.pieces.get(kind="tenderloin")
    assert (bag.name, bag.weighings.get().net) == ("tenderloins, left and right", 11)
    assert "Tenderloins bagged" in words(page)


def test_one_tenderloin_leaves_the_other_to_pull(skinning: tuple[Tablet, Run]) -> None:
    tablet, run = skinning
    page = tablet.post("floor-tenderloins", run.animal_id, side="left", not_weighed="1")
    assert "pull and bag: right" in words(page)
    page = tablet.post("floor-tenderloins", run.animal_id, side="left", not_weighed="1")
    assert page.status_code == 422


def test_bloodshot_is_waste_by_region_and_can_be_taken_back(skinning: tuple[Tablet, Run]) -> None:
    tablet, run = skinning
    tablet.post("floor-bloodshot", run.pk, region="shoulder", weight="3.4")
    event = last_event()
    line = run.lines.get(what="bloodshot")
    assert (line.direction, line.note, line.weighing.net) == ("waste", "shoulder", 34)
    page = tablet.post("floor-take-back", event.pk)
    assert page.status_code == 422
    assert last_event().refusal == "reason_missing"
    tablet.post("floor-take-back", event.pk, reason_tile="Wrong weight")
    assert last_event().voids_id == event.uid
    assert not run.lines.filter(what="bloodshot", event__voided_by=None).exists()


def test_hangs_with_a_weight_once_all_is_off(skinning: tuple[Tablet, Run], places: Any) -> None:
    tablet, run = skinning
    tablet.post("floor-take-off", run.pk, "antlers", keep="keep", not_weighed="1")
    page = tablet.post("floor-hang", run.pk, place=places.rail.pk, weight="98.4", left_in="later")
    assert tablet.landed(page) == "/floor/"
    carcass = run.animal.pieces.get(kind="carcass")
    run.refresh_from_db()
    assert (carcass.state, carcass.place) == ("hanging", places.rail)
    assert run.closed_at is not None
    assert carcass.weighings.get(point="hanging").net == 984


def test_a_kept_part_left_on_needs_a_reason(skinning: tuple[Tablet, Run], places: Any) -> None:
    tablet, run = skinning
    page = tablet.post("floor-hang", run.pk, place=places.rail.pk, not_weighed="1")
    assert (page.status_code, last_event().refusal) == (422, "kept_part_missing")
    text = page.content.decode()
    assert f"{run.animal.label} keeps its antlers: take them off and tag them." in text
    # Beside its own tiles, and those before the rails.
    assert text.index("id_reason_error") < text.index('name="reason_tile"') < text.index('name="place"')
    tablet.post(
        "floor-hang",
        run.pk,
        place=places.rail.pk,
        not_weighed="1",
        left_in="block",
        reason_tile="The hunter changed their mind",
        reason="",
    )
    run.refresh_from_db()
    assert run.close_reason == "The hunter changed their mind"


def test_hanging_more_than_came_in_is_refused_beside_the_weight(
    skinning: tuple[Tablet, Run], places: Any
) -> None:
    tablet, run = skinning
    take_off(run, by=_by(tablet, run), what="antlers", keep=True)
    page = tablet.post("floor-hang", run.pk, place=places.rail.pk, weight="140", left_in="later")
    assert (page.status_code, last_event().refusal) == (422, "hangs_more_than_came")
    assert "140.0 lb hanging cannot be: 131.5 lb came in." in words(page)
    assert 'value="140"' in page.content.decode()


def _by(tablet: Tablet, run: Run) -> Any:
    from orders.ledger.entry import By

    return By(run.opened_by, None, tablet.stations.skin)


def test_a_freezer_shelf_is_no_tile_for_a_carcass(skinning: tuple[Tablet, Run], places: Any) -> None:
    tablet, run = skinning
    page = tablet.post("floor-hang", run.pk, place=places.shelf.pk, not_weighed="1")
    assert page.status_code == 422
    assert "That place is not here." in words(page)


def test_a_finished_skinning_leads_back_and_says_who(scenario: Any, tablet: Tablet, people: Any) -> None:
    deer = scenario.hung(scenario.deer())
    page = tablet.at("skin").client.get(f"/floor/skin/{deer.runs.get(kind='skin').pk}/", follow=True)
    kind, said = banner(page)
    assert kind == "already"
    assert f"This skinning was finished by {people.cutter} at" in said


def test_the_queue_says_why_something_cannot_be_opened(scenario: Any, tablet: Tablet, by: Any) -> None:
    held = scenario.deer(tag="WT-1")
    open_hold(held, by=by("counter"), kind="disease_test", note="sample 12")
    untagged = scenario.deer(tag="")
    page = tablet.at("skin").get("floor")
    said = words(page)
    assert f"{held.label} White-tailed deer on hold: disease test pending (sample 12)" in said
    assert f"{untagged.label} White-tailed deer tag missing: not received yet" in said
    assert "floor/skin/start" not in page.content.decode()
    assert "Nothing waits with its hide on." in said


@pytest.mark.parametrize("step", ["skin", "cooler", "block", "grind", "wrap", "freezer"])
def test_an_empty_station_says_so(scenario: Any, tablet: Tablet, stations: Any, step: str) -> None:
    calm = {
        "skin": "Nothing waits with its hide on.",
        "cooler": "Everything hangs.",
        "block": "Nothing is ready to cut.",
        "grind": "No trim waits for the grinder.",
        "wrap": "Nothing waits for the table.",
        "freezer": "Every box has its place.",
    }
    said = words(tablet.at(step).get("floor"))
    assert calm[step] in said
    assert getattr(stations, step).name in said


def test_a_hide_that_nobody_asked_about_is_kept(scenario: Any, tablet: Tablet) -> None:
    deer = scenario.deer(facts=AnimalFacts())
    tablet.at("skin").post("floor-skin-start", deer.pieces.get(kind="carcass").pk)
    said = words(tablet.get("floor-skin", deer.runs.get(kind="skin").pk))
    assert "Head off nobody was asked: keep and tag" in said
    assert "Hide off nobody was asked: keep and tag" in said
    assert "Cape off" not in said
    assert Piece.objects.filter(kind="kept").count() == 0
