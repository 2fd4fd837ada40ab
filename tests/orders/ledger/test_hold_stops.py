"""A hold stops every step of the work and the pickup, whoever tries; only the cold is never refused."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest

from orders.floor.block import (
    fill_lug,
    finish_breakdown,
    open_animal,
    record_waste,
    weigh_at_block,
)
from orders.floor.grind import add_fat, finish_grind, start_grind, take_from_grinder
from orders.floor.skin import (
    cut_off_bloodshot,
    finish_skinning,
    hang_up,
    move_cold,
    pull_tenderloins,
    start_skinning,
    take_off,
)
from orders.intake.actions import file_tag
from orders.intake.models import Animal
from orders.ledger.entry import Answer, By
from orders.ledger.holds import open_hold, release_hold
from orders.ledger.models import Event, Hold, Piece, Run
from orders.ledger.refusal import Refusal
from orders.ledger.voids import reopen_job
from orders.packing.actions import bring_to_wrap, finish_wrap, pack, put_in_box, store
from orders.packing.leftover import record_wrap_waste, send_to_grind
from orders.pickup.actions import release
from shop.models import Choice, Part
from tests.scenario import Scenario, lb


@dataclass
class Verb:
    """How to bring an animal to where the verb is next, and how to do it."""

    station: str
    until: Callable[[Scenario, Animal], Any]
    do: Callable[[Scenario, Animal, Any, By], Answer]


def _skinning(scenario: Scenario, animal: Animal) -> Run:
    return start_skinning(animal.pieces.get(), by=scenario.by("skin")).fetch(Run)


def _broken_down(scenario: Scenario, animal: Animal) -> Run:
    run, by = scenario.opened(animal), scenario.by("block")
    fill_lug(run, by=by, contents="whole_cuts", weight=lb("20"))
    record_waste(run, by=by, what="bone_fat")
    record_waste(run, by=by, what="waste")
    file_tag(animal, by=by, where="tag box")
    return run


def _grinding(scenario: Scenario, animal: Animal) -> Run:
    lugs = scenario.cut(animal)
    return start_grind(lugs["grind_trim"], by=scenario.by("grind")).fetch(Run)


def _ground(scenario: Scenario, animal: Animal) -> Run:
    run = _grinding(scenario, animal)
    take_from_grinder(run, by=scenario.by("grind"), weight=lb("25"))
    return run


def _wrapping(scenario: Scenario, animal: Animal) -> Run:
    return bring_to_wrap(scenario.ground(animal)["ground"], by=scenario.by("wrap")).fetch(Run)


def _packing(scenario: Scenario, animal: Animal) -> Run:
    run = _wrapping(scenario, animal)
    scenario.pack(run, "grind-trim", "ground", "1.0")
    return run


def _wrapped(scenario: Scenario, animal: Animal) -> Run:
    scenario.packed(animal)
    return animal.runs.get(kind="wrap")


def _boxed(scenario: Scenario, animal: Animal) -> tuple[Any, Any]:
    from orders.packing.actions import new_box

    packages = scenario.packed(animal)
    return new_box(animal.order, by=scenario.by("wrap")).fetch(Piece), packages


def _one_pack(run: Run, by: By) -> Answer:
    part, choice = Part.objects.get(code="grind-trim"), Choice.objects.get(code="ground")
    return pack(run, by=by, part=part, choice=choice, weights=(lb("1"),))


def _hand_over(animal: Animal, piece: Piece, by: By) -> Answer:
    return release(animal.order, by=by, pieces=(piece,), collector="Rowan Sedgewick", initials="RS")


def _at_block(animal: Animal) -> Piece:
    return animal.pieces.get(kind="carcass")


def _hung_with_sheet(scenario: Scenario, animal: Animal) -> None:
    from orders.cutsheets.actions import save_cut_sheet

    save_cut_sheet(scenario.hung(animal), by=scenario.by("counter"))


VERBS = {
    "start_skinning": Verb("skin", lambda s, a: a.pieces.get(), lambda s, a, p, by: start_skinning(p, by=by)),
    "take_off": Verb("skin", _skinning, lambda s, a, r, by: take_off(r, by=by, what="feet", keep=False)),
    "keep": Verb("skin", _skinning, lambda s, a, r, by: take_off(r, by=by, what="antlers", keep=True)),
    "pull_tenderloins": Verb(
        "skin", _skinning, lambda s, a, r, by: pull_tenderloins(a, by=by, left=True, right=True)
    ),
    "cut_off_bloodshot": Verb(
        "skin", _skinning, lambda s, a, r, by: cut_off_bloodshot(r, by=by, region="shoulder", weight=lb("1"))
    ),
    "open_animal": Verb("block", _hung_with_sheet, lambda s, a, _, by: open_animal(a, by=by)),
    "weigh_at_block": Verb(
        "block",
        lambda s, a: s.opened(a),
        lambda s, a, r, by: weigh_at_block(_at_block(a), by=by, weight=lb("95")),
    ),
    "fill_lug": Verb(
        "block",
        lambda s, a: s.opened(a),
        lambda s, a, r, by: fill_lug(r, by=by, contents="whole_cuts", weight=lb("20")),
    ),
    "record_waste": Verb(
        "block", lambda s, a: s.opened(a), lambda s, a, r, by: record_waste(r, by=by, what="waste")
    ),
    "finish_breakdown": Verb("block", _broken_down, lambda s, a, r, by: finish_breakdown(r, by=by)),
    "start_grind": Verb(
        "grind", lambda s, a: s.cut(a)["grind_trim"], lambda s, a, lug, by: start_grind(lug, by=by)
    ),
    "add_fat": Verb(
        "grind", _grinding, lambda s, a, r, by: add_fat(r, by=by, kind="pork", weight=lb("2"), lot="lot 1")
    ),
    "take_from_grinder": Verb(
        "grind", _grinding, lambda s, a, r, by: take_from_grinder(r, by=by, weight=lb("20"))
    ),
    "finish_grind": Verb("grind", _ground, lambda s, a, r, by: finish_grind(r, by=by)),
    "bring_to_wrap": Verb(
        "wrap", lambda s, a: s.cut(a)["whole_cuts"], lambda s, a, lug, by: bring_to_wrap(lug, by=by)
    ),
    "pack": Verb("wrap", _wrapping, lambda s, a, r, by: _one_pack(r, by)),
    "finish_wrap": Verb("wrap", _packing, lambda s, a, r, by: finish_wrap(r, by=by, reason="rest tomorrow")),
    "record_wrap_waste": Verb(
        "wrap", _wrapping, lambda s, a, r, by: record_wrap_waste(r, by=by, weight=lb("1"))
    ),
    "send_to_grind": Verb(
        "wrap",
        lambda s, a: bring_to_wrap(s.cut(a)["whole_cuts"], by=s.by("wrap")).fetch(Run),
        lambda s, a, r, by: send_to_grind(r, by=by, weight=lb("1")),
    ),
    "reopen_wrap": Verb("wrap", _wrapped, lambda s, a, r, by: reopen_job(r, by=by, reason="too early")),
    "reopen_breakdown": Verb(
        "block",
        lambda s, a: s.cut(a)["whole_cuts"].lines.get(direction="out").run,
        lambda s, a, r, by: reopen_job(r, by=by, reason="too early"),
    ),
    "put_in_box": Verb(
        "wrap", _boxed, lambda s, a, made, by: put_in_box(made[0], by=by, packages=tuple(made[1]))
    ),
    "release": Verb("counter", lambda s, a: s.stored(a), lambda s, a, box, by: _hand_over(a, box, by)),
}


@pytest.mark.parametrize("verb", VERBS)
def test_a_hold_stops_it_for_every_role_until_it_is_released(
    scenario: Scenario, people: Any, by: Callable[[str], By], verb: str
) -> None:
    animal, step = scenario.deer(), VERBS[verb]
    subject = step.until(scenario, animal)
    hold = open_hold(animal, by=by("counter"), kind="disease_test", note="sample 12").fetch(Hold)
    station = by(step.station).station
    for person in (people.owner, people.clerk, people.cutter):
        with pytest.raises(Refusal) as refused:
            step.do(scenario, animal, subject, By(person, None, station))
        assert refused.value.code == "on_hold"
        assert "disease test pending (sample 12)" in refused.value.sentence
        event = Event.objects.latest("id")
        assert (event.outcome, event.refusal, event.person) == ("refused", "on_hold", person)
    release_hold(hold, by=by("counter"), note="not detected")
    answer = step.do(scenario, animal, subject, By(people.cutter, None, station))
    assert Event.objects.get(uid=answer.uid).outcome == "ok"


def test_the_cold_is_never_refused(scenario: Scenario, by: Callable[[str], By]) -> None:
    """A held animal is hung, finished hanging and moved to other cold places: warm meat spoils."""
    animal = scenario.deer()
    run = _skinning(scenario, animal)
    take_off(run, by=by("skin"), what="antlers", keep=True)
    open_hold(animal, by=by("counter"), kind="recall")
    finish_skinning(run, by=by("skin"), place=scenario.places.rail, weight=lb("98"), left_in="later")
    carcass = animal.pieces.get(kind="carcass")
    move_cold(carcass, by=by("cooler"), place=scenario.places.rack)
    hang_up(carcass, by=by("cooler"), place=scenario.places.rail)
    store(animal.pieces.get(kind="kept"), by=by("skin"), place=scenario.places.hook)
    carcass.refresh_from_db()
    assert (carcass.state, carcass.place) == ("hanging", scenario.places.rail)


def test_two_holds_each_stop_it(scenario: Scenario, by: Callable[[str], By]) -> None:
    animal = scenario.deer()
    first = open_hold(animal, by=by("counter"), kind="deposit").fetch(Hold)
    open_hold(animal, by=by("counter"), kind="instructions")
    release_hold(first, by=by("counter"), note="paid")
    with pytest.raises(Refusal) as refused:
        _skinning(scenario, animal)
    assert refused.value.code == "on_hold"


def test_the_same_hold_twice_is_refused(scenario: Scenario, by: Callable[[str], By]) -> None:
    animal = scenario.deer()
    open_hold(animal, by=by("counter"), kind="deposit")
    with pytest.raises(Refusal) as refused:
        open_hold(animal, by=by("counter"), kind="deposit")
    assert refused.value.code == "held_already"


@pytest.mark.parametrize(
    ("note", "again", "code"),
    [(" ", False, "reason_missing"), ("paid", True, "released_already")],
)
def test_a_release_needs_a_reason_and_happens_once(
    scenario: Scenario, by: Callable[[str], By], note: str, again: bool, code: str
) -> None:
    hold = open_hold(scenario.deer(), by=by("counter"), kind="deposit").fetch(Hold)
    if again:
        release_hold(hold, by=by("counter"), note="paid")
    with pytest.raises(Refusal) as refused:
        release_hold(hold, by=by("counter"), note=note)
    assert refused.value.code == code


def test_an_unknown_hold_is_refused(scenario: Scenario, by: Callable[[str], By]) -> None:
    with pytest.raises(Refusal) as refused:
        open_hold(scenario.deer(), by=by("counter"), kind="because")
    assert refused.value.code == "hold_unknown"
