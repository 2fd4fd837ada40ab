"""Tenderloins before the carcass hangs: pulled, left in on purpose, or not there; and the list of pulls that are due.

That they begin to dry within a day and are lost after about four is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.utils import timezone

from orders.cutsheets.actions import save_cut_sheet
from orders.floor.block import open_animal
from orders.floor.left_in import day_words, left_in_words, pull_by, sides_words
from orders.floor.skin import finish_skinning, pull_tenderloins, start_skinning, take_off
from orders.floor.tenderloins import find_tenderloins
from orders.intake.actions import correct_animal
from orders.intake.facts import AnimalFacts
from orders.intake.models import Animal
from orders.ledger.entry import By
from orders.ledger.models import Run
from tests.orders.floor.tablet import Tablet, last_event, refused, words
from tests.scenario import DEER, Scenario, lb

Stations = Callable[[str], By]


@pytest.fixture
def skinning(scenario: Scenario, by: Stations, tablet: Tablet) -> tuple[Tablet, Run]:
    """A deer on the hook, its antlers off, both tenderloins in."""
    run = start_skinning(scenario.deer().pieces.get(), by=by("skin")).fetch(Run)
    take_off(run, by=by("skin"), what="antlers", keep=True)
    return tablet.at("skin"), run


# --- the question before hanging -------------------------------------------------------------------------------


def test_hanging_asks_first_and_shows_no_rails(skinning: tuple[Tablet, Run]) -> None:
    tablet, run = skinning
    page = tablet.get("floor-hang", run.pk)
    said = words(page)
    by_day = day_words(timezone.localdate() + timedelta(days=3))
    for expected in (
        "Left and right tenderloins still in?",
        "Pull and bag them now",
        "Not there",
        f"Leave them in; pull them by {by_day}",
        "Leave them in: the hunter wants them left in",
    ):
        assert expected in said, expected
    assert "Rail A" not in said
    assert 'name="weight"' not in page.content.decode()


def test_hanging_without_an_answer_is_refused_beside_its_tiles(
    skinning: tuple[Tablet, Run], places: Any
) -> None:
    tablet, run = skinning
    page = tablet.post("floor-hang", run.pk, place=places.rail.pk, weight="98.4")
    assert (page.status_code, last_event().refusal) == (422, "tenderloins_unanswered")
    text = page.content.decode()
    sentence = f"{run.animal.label}: left and right tenderloins still in. Pull and bag, or say why not."
    assert f'<p class="error" id="id_left_in_error">{sentence}</p>' in text
    assert text.index("id_left_in_error") < text.index('value="later"') < text.index('name="place"')
    assert 'value="98.4"' in text
    run.refresh_from_db()
    assert run.closed_at is None


def test_left_in_by_an_explicit_tap_is_kept_on_the_event(skinning: tuple[Tablet, Run], places: Any) -> None:
    tablet, run = skinning
    page = tablet.client.get(f"/floor/skin/{run.pk}/hang/?left_in=later")
    assert '<input type="hidden" name="left_in" value="later">' in page.content.decode()
    page = tablet.post("floor-hang", run.pk, place=places.rail.pk, not_weighed="1", left_in="later")
    assert tablet.landed(page) == "/floor/"
    event, today = last_event(), timezone.localdate()
    assert event.data["left_in"] == {
        "sides": ["left", "right"],
        "why": "later",
        "pull_by": (today + timedelta(days=3)).isoformat(),
    }
    assert event.shown.endswith(
        f"Left in: left and right tenderloins; pull by {day_words(today + timedelta(days=3))}."
    )


@pytest.mark.parametrize("answer", ["", "never", "\x00", "x" * 500])
def test_no_other_answer_leaves_them_in(skinning: tuple[Tablet, Run], places: Any, answer: str) -> None:
    tablet, run = skinning
    page = tablet.post("floor-hang", run.pk, place=places.rail.pk, not_weighed="1", left_in=answer)
    assert (page.status_code, last_event().refusal) == (422, "tenderloins_unanswered")


def test_pulled_on_the_way_leads_on_to_hanging(skinning: tuple[Tablet, Run]) -> None:
    tablet, run = skinning
    page = tablet.client.post(
        f"/floor/animals/{run.animal_id}/tenderloins/?then=hang", {"side": "both", "weight": "1.1"}
    )
    assert page.url == f"/floor/skin/{run.pk}/hang/"
    said = words(tablet.get("floor-hang", run.pk))
    assert "Where does it hang?" in said
    assert "still in" not in said


def test_one_side_still_in_is_asked_about(skinning: tuple[Tablet, Run]) -> None:
    tablet, run = skinning
    tablet.post("floor-tenderloins", run.animal_id, side="left", not_weighed="1")
    assert "Right tenderloin still in?" in words(tablet.get("floor-hang", run.pk))


def test_nobody_was_asked_counts_as_still_in(scenario: Scenario, by: Stations, places: Any) -> None:
    facts = AnimalFacts(keep_head="discard", keep_cape="discard", keep_hide="discard")
    run = start_skinning(scenario.deer(facts=facts).pieces.get(), by=by("skin")).fetch(Run)
    with refused("tenderloins_unanswered"):
        finish_skinning(run, by=by("skin"), place=places.rail)


def test_taken_in_the_field_is_not_asked_about(scenario: Scenario, by: Stations, places: Any) -> None:
    facts = AnimalFacts(
        keep_head="discard",
        keep_cape="discard",
        keep_hide="discard",
        tenderloin_left="field",
        tenderloin_right="damaged",
    )
    run = start_skinning(scenario.deer(facts=facts).pieces.get(), by=by("skin")).fetch(Run)
    answer = finish_skinning(run, by=by("skin"), place=places.rail)
    assert answer.shown == f"{run.animal.label if run.animal else ''} hangs at Rail A."


# --- not there -------------------------------------------------------------------------------------------------


def test_not_there_is_written_down_with_what_was_said_before(skinning: tuple[Tablet, Run]) -> None:
    tablet, run = skinning
    page = tablet.client.post(
        f"/floor/animals/{run.animal_id}/tenderloins/found/?then=hang", {"side": "both", "found": "field"}
    )
    assert page.url == f"/floor/skin/{run.pk}/hang/"
    event = last_event()
    assert event.shown == f"{run.animal.label}: left and right tenderloins not there, taken in the field."
    assert event.data["before"] == {"tenderloin_left": "present", "tenderloin_right": "present"}
    run.animal.refresh_from_db()
    assert (run.animal.tenderloin_left, run.animal.tenderloin_right) == ("field", "field")
    assert "Where does it hang?" in words(tablet.get("floor-hang", run.pk))


def test_there_after_all(skinning: tuple[Tablet, Run]) -> None:
    tablet, run = skinning
    tablet.post("floor-tenderloins-found", run.animal_id, side="left", found="damaged")
    page = tablet.post("floor-tenderloins-found", run.animal_id, side="left", found="present")
    assert tablet.landed(page) == f"/floor/skin/{run.pk}/"
    assert last_event().shown == f"{run.animal.label}: left tenderloin there after all."
    assert "pull and bag: left and right" in words(page)


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        ({"found": "field"}, "Tap left, right or both."),
        ({"side": "left"}, "Tap what is found."),
        ({"side": "left", "found": "gone"}, "Select a valid choice."),
    ],
)
def test_what_is_missing_is_said_beside_the_tiles(
    skinning: tuple[Tablet, Run], data: dict[str, str], sentence: str
) -> None:
    tablet, run = skinning
    page = tablet.post("floor-tenderloins-found", run.animal_id, **data)
    assert page.status_code == 422
    assert sentence in words(page)


def test_a_bagged_tenderloin_is_there(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    pull_tenderloins(deer, by=by("skin"), left=True, right=False)
    with refused("pulled_already"):
        find_tenderloins(deer, by=by("skin"), sides=("left", "right"), found="field")
    find_tenderloins(deer, by=by("skin"), sides=("right",), found="field")
    with refused("side_missing"):
        find_tenderloins(deer, by=by("skin"), sides=(), found="field")
    with refused("wrong_station"):
        find_tenderloins(deer, by=by("wrap"), sides=("right",), found="present")
    elk = scenario.elk()
    with refused("tenderloin_unknown"):
        find_tenderloins(elk, by=by("block"), sides=("left",), found="field")


def test_a_refused_pull_is_said_beside_its_tiles(skinning: tuple[Tablet, Run]) -> None:
    tablet, run = skinning
    tablet.post("floor-tenderloins", run.animal_id, side="both", not_weighed="1")
    page = tablet.post("floor-tenderloins", run.animal_id, side="left", not_weighed="1")
    assert (page.status_code, last_event().refusal) == (422, "pulled_already")
    assert 'id="id_side_error">The left tenderloin of' in page.content.decode()


def test_found_missing_does_not_make_the_cut_sheet_stale(
    scenario: Scenario, by: Stations, places: Any
) -> None:
    """The sheet was written when both were said to be there; only what comes to it makes it stale."""
    deer = scenario.deer()
    save_cut_sheet(deer, by=by("counter"))
    _hang(scenario, deer, left_in="later")
    find_tenderloins(deer, by=by("cooler"), sides=("left", "right"), found="field")
    open_animal(deer, by=by("block"))


def test_tenderloins_that_came_to_the_sheet_make_it_stale(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer(facts=replace(DEER, tenderloin_left="field", tenderloin_right="field"))
    _hang(scenario, deer, left_in="")
    save_cut_sheet(deer, by=by("counter"))
    find_tenderloins(deer, by=by("cooler"), sides=("left",), found="present")
    with refused("sheet_stale"):
        open_animal(deer, by=by("block"))


def _hang(scenario: Scenario, deer: Animal, *, left_in: str, at: datetime | None = None) -> None:
    by = scenario.by("skin")
    run = start_skinning(deer.pieces.get(), by=by, at=at).fetch(Run)
    if deer.keep_head == "antlers":
        take_off(run, by=by, what="antlers", keep=True, at=at)
    finish_skinning(run, by=by, place=scenario.places.rail, weight=lb("98"), left_in=left_in, at=at)
    deer.refresh_from_db()


# --- the cooler ------------------------------------------------------------------------------------------------


def test_pulls_that_are_due_are_listed_by_day(
    tablet: Tablet, scenario: Scenario, at: Callable[[float], datetime]
) -> None:
    deer = {}
    for days, tag in ((1, "WT-1"), (3, "WT-2"), (4, "WT-3")):
        deer[days] = scenario.deer(tag=tag)
        _hang(scenario, deer[days], left_in="later", at=at(24 * days))
    page = tablet.at("cooler").get("floor")
    today = timezone.localdate()
    assert [(pull.animal.pk, pull.by, pull.past) for pull in page.context["cooler"].to_pull] == [
        (deer[4].pk, today - timedelta(days=1), True),
        (deer[3].pk, today, False),
        (deer[1].pk, today + timedelta(days=2), False),
    ]
    said = words(page)
    assert "Tenderloin pulls due" in said
    assert f"past: was due {day_words(today - timedelta(days=1))}" in said
    assert f"pull by {day_words(today)}" in said


@pytest.mark.parametrize("why", ["block", "hunter"])
def test_what_stays_in_on_purpose_is_not_due(
    tablet: Tablet, scenario: Scenario, at: Callable[[float], datetime], why: str
) -> None:
    _hang(scenario, scenario.deer(), left_in=why, at=at(24 * 5))
    assert tablet.at("cooler").get("floor").context["cooler"].to_pull == []


def test_found_missing_is_not_due(
    tablet: Tablet, scenario: Scenario, by: Stations, at: Callable[[float], datetime]
) -> None:
    deer = scenario.deer()
    _hang(scenario, deer, left_in="later", at=at(24 * 5))
    find_tenderloins(deer, by=by("cooler"), sides=("left", "right"), found="damaged")
    assert tablet.at("cooler").get("floor").context["cooler"].to_pull == []


# --- the words -------------------------------------------------------------------------------------------------


def test_days_and_sides_in_words() -> None:
    hung = date(2026, 11, 28)
    assert pull_by(hung) == date(2026, 12, 1)
    assert day_words(hung) == "Sat, Nov 28"
    assert sides_words(["right"]) == "right tenderloin"
    assert left_in_words(["left", "right"], "later", hung) == (
        "Left in: left and right tenderloins; pull by Tue, Dec 1."
    )
    assert (
        left_in_words(["left"], "hunter", hung) == "Left in: left tenderloin; the hunter wants them left in."
    )


def test_the_counter_may_still_correct_it(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    find_tenderloins(deer, by=by("skin"), sides=("left",), found="field")
    correct_animal(deer, by=by("counter"), facts=DEER)
    deer.refresh_from_db()
    assert deer.tenderloin_left == "present"
