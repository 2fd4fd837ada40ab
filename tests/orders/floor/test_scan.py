"""A scan at a station does the obvious next thing; what cannot be is refused in words, and recorded."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse

from orders.cutsheets.actions import save_cut_sheet
from orders.floor.scan import turn_away, whose
from orders.ledger.holds import open_hold
from orders.ledger.models import Event
from orders.ledger.refusal import Refusal
from shop.codes import Kind, make_code
from tests.orders.floor.tablet import Tablet, banner, last_event, refused


def test_a_carcass_at_the_skinning_is_started(scenario: Any, tablet: Tablet) -> None:
    deer = scenario.deer()
    carcass = deer.pieces.get(kind="carcass")
    page = tablet.at("skin").scan(carcass.code)
    run = deer.runs.get(kind="skin")
    assert tablet.landed(page) == f"/floor/skin/{run.pk}/"
    assert banner(page) == ("good", f"Done. {deer.label} is yours to skin.")
    assert last_event().raw_code == carcass.code


def test_scanned_again_it_says_who_has_it_and_shows_it(scenario: Any, tablet: Tablet, people: Any) -> None:
    deer = scenario.deer()
    carcass = deer.pieces.get(kind="carcass")
    tablet.at("skin").scan(carcass.code)
    page = tablet.scan(carcass.code)
    kind, said = banner(page)
    assert (kind, last_event().refusal) == ("already", "already_open")
    assert said.startswith(f"Already done. {people.cutter} has had {deer.label} open at Skinning since")
    assert tablet.landed(page) == f"/floor/skin/{deer.runs.get(kind='skin').pk}/"


def test_a_skinned_carcass_says_who_skinned_it(scenario: Any, tablet: Tablet, people: Any) -> None:
    deer = scenario.hung(scenario.deer())
    page = tablet.at("skin").scan(deer.pieces.get(kind="carcass").code)
    kind, said = banner(page)
    assert (kind, last_event().refusal) == ("already", "skinned_already")
    assert f"{deer.label} is skinned already, by {people.cutter} at" in said


@pytest.mark.parametrize("step", ["block", "grind", "wrap"])
def test_lugs_and_carcasses_open_their_job(scenario: Any, tablet: Tablet, by: Any, step: str) -> None:
    deer = scenario.deer()
    if step == "block":
        scenario.hung(deer)
        save_cut_sheet(deer, by=by("counter"))
        code = deer.pieces.get(kind="carcass").code
    elif step == "grind":
        code = scenario.cut(deer)["grind_trim"].code
    else:
        code = scenario.ground(deer)["ground"].code
    page = tablet.at(step).scan(code)
    run = deer.runs.get(kind={"block": "cut"}.get(step, step))
    assert tablet.landed(page) == f"/floor/{step}/{run.pk}/"
    assert banner(page)[0] == "good"


def test_a_lug_scanned_twice_says_who_brought_it(scenario: Any, tablet: Tablet, people: Any) -> None:
    deer = scenario.deer()
    lug = scenario.cut(deer)["grind_trim"]
    tablet.at("grind").scan(lug.code)
    page = tablet.scan(lug.code)
    kind, said = banner(page)
    assert (kind, last_event().refusal) == ("already", "lug_not_waiting")
    assert f"is on the table already, by {people.cutter} at" in said
    assert tablet.landed(page) == f"/floor/grind/{deer.runs.get(kind='grind').pk}/"


@pytest.mark.parametrize(
    ("stage", "piece", "step", "belongs"),
    [
        ("deer", "carcass", "grind", "skinning"),
        ("hung", "carcass", "wrap", "the block"),
        ("hung", "tenderloin", "grind", "wrap"),
        ("hung", "kept", "block", "the freezer or its hook"),
        ("cut", "lug", "block", "wrap"),
        ("stored", "box", "block", "the freezer"),
        ("stored", "package", "skin", "the freezer"),
    ],
)
def test_a_piece_at_the_wrong_station_hears_where_it_belongs(
    scenario: Any, tablet: Tablet, stations: Any, stage: str, piece: str, step: str, belongs: str
) -> None:
    deer = scenario.deer()
    if stage != "deer":
        getattr(scenario, stage)(deer)
    owner = deer.order.pieces if piece == "box" else deer.pieces
    found = owner.filter(kind=piece).first()
    page = tablet.at(step).scan(found.code)
    kind, said = banner(page)
    event = last_event()
    assert (kind, event.refusal, event.raw_code) == ("refused", "wrong_station", found.code)
    place = getattr(stations, step).name
    assert said.endswith(f"{found.name} belongs to {belongs}; you are at {place}.")
    assert said.startswith("Not done. Wrong station.")


def test_grind_trim_at_the_block_belongs_to_grind(scenario: Any, tablet: Tablet) -> None:
    lug = scenario.cut(scenario.deer())["grind_trim"]
    assert "belongs to grind" in banner(tablet.at("block").scan(lug.code))[1]


def test_a_hold_stops_with_its_reason(scenario: Any, tablet: Tablet, by: Any) -> None:
    deer = scenario.deer()
    open_hold(deer, by=by("counter"), kind="disease_test", note="sample 12")
    page = tablet.at("skin").scan(deer.pieces.get(kind="carcass").code)
    kind, said = banner(page)
    assert (kind, last_event().refusal) == ("hold", "on_hold")
    assert said == f"Stop. {deer.label} is on hold: disease test pending (sample 12)."


def test_a_used_up_piece_says_since_when(scenario: Any, tablet: Tablet, people: Any) -> None:
    deer = scenario.deer()
    scenario.cut(deer)
    page = tablet.at("cooler").scan(deer.pieces.get(kind="carcass").code)
    assert last_event().refusal == "piece_ended"
    assert f"carcass is used up already, by {people.cutter} at" in banner(page)[1]


@pytest.mark.parametrize(
    ("typed", "code", "say"),
    [
        (make_code(Kind.PIECE, 99_999_999), "unknown_code", "Unknown code. Nothing here carries it."),
        ("2000000010", "wrong_check_digit", "Wrong check digit. One digit of this code is wrong."),
        ("123456789", "not_a_code", "Unknown code. Our codes have ten digits; this one has 9."),
        ("0" * 10, "not_a_code", "Unknown code. No code of ours begins with this digit."),
        ("9" * 60, "not_a_code", "Unknown code. Our codes have ten digits; this one has 60."),
    ],
)
def test_codes_that_are_none_of_ours_are_on_record(
    tablet: Tablet, catalog: Any, typed: str, code: str, say: str
) -> None:
    page = tablet.at("skin").scan(typed)
    kind, said = banner(page)
    event = last_event()
    assert (kind, event.verb, event.refusal, event.raw_code) == ("refused", "scan_unknown", code, typed)
    assert say in said


def test_a_badge_in_the_box_is_never_recorded(tablet: Tablet, catalog: Any) -> None:
    page = tablet.at("skin").scan("123456789012")
    assert "That is a badge, not a tag." in banner(page)[1]
    assert not Event.objects.filter(raw_code__contains="123456789012").exists()


@pytest.mark.parametrize("typed", ["26-0001", "147", "Sedgewick"])
def test_what_is_no_code_is_looked_up(tablet: Tablet, catalog: Any, typed: str) -> None:
    answer = tablet.at("skin").client.post(reverse("floor-scan"), {"q": typed})
    assert answer.status_code == 302
    assert answer.url == f"/find/?q={typed}"


@pytest.mark.parametrize("typed", ["", " ", "\x00", "x" * 5_000, "٣٣٣٣٣٣٣٣٣٣", "１２３４５６７８９０"])
def test_nonsense_in_the_scan_box_is_answered(tablet: Tablet, catalog: Any, typed: str) -> None:
    answer = tablet.at("skin").client.post(reverse("floor-scan"), {"q": typed, "piece": "9" * 40})
    assert answer.status_code == 302


def test_a_station_card_moves_the_tablet(tablet: Tablet, stations: Any, catalog: Any) -> None:
    page = tablet.at("skin").scan(stations.wrap.code)
    assert page.context["here"] == stations.wrap
    page = tablet.scan(stations.counter.code)
    assert "Counter is not on the floor." in banner(page)[1]
    assert page.context["here"] == stations.wrap


def test_the_same_scan_sent_twice_is_one_event(scenario: Any, tablet: Tablet) -> None:
    code = scenario.deer().pieces.get(kind="carcass").code
    sent = {"sender_id": "3f1f3a1e-53b8-4d8e-8d1e-7a52f1c8f001"}
    tablet.at("skin").scan(code, **sent)
    before = Event.objects.count()
    page = tablet.scan(code, **sent)
    assert Event.objects.count() == before
    assert banner(page)[0] == "already"


def test_whose_names_the_reason() -> None:
    with pytest.raises(Refusal) as caught:
        whose("2000000010")
    assert caught.value.code == "wrong_check_digit"


def test_turn_away_without_a_station(scenario: Any, people: Any) -> None:
    from orders.ledger.entry import By

    carcass = scenario.deer().pieces.get(kind="carcass")
    with refused("wrong_station"):
        turn_away(carcass, by=By(people.cutter))
