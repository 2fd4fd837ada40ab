"""Two people at one animal: what one has written meanwhile is not overwritten by what the other still sees."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from html import unescape
from typing import Any

import pytest
from django.test import Client

from orders.floor.tenderloins import find_tenderloins
from orders.intake.actions import correct_animal, facts_of
from orders.intake.facts import AnimalFacts
from orders.intake.models import Animal, Sex, Tenderloin
from orders.ledger.entry import By
from orders.ledger.refusal import Refusal
from orders.pickup.who import spoken
from tests.scenario import DEER, Scenario

Stations = Callable[[str], By]


def opened(client: Client, animal: Animal) -> dict[str, Any]:
    """What the page of facts would send back as it is."""
    page = client.get(f"/animals/{animal.pk}/edit/")
    form = page.context["form"]
    sent = {name: form[name].value() for name in form.fields}
    sent = {name: value for name, value in sent.items() if value not in (None, False, "")}
    shown = re.search(r'name="shown" value="([^"]*)"', page.content.decode())
    assert shown is not None
    assert unescape(shown[1]) == sent["shown"]
    return sent


def test_what_the_floor_found_meanwhile_stays(clerk_client: Client, scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer(facts=replace(DEER, tenderloin_left="present"))
    sent = opened(clerk_client, deer)
    find_tenderloins(deer, by=by("skin"), sides=("left",), found=Tenderloin.DAMAGED)
    answer = clerk_client.post(f"/animals/{deer.pk}/edit/", {**sent, "kill_place": "unit 2"})
    assert answer.status_code == 302
    deer.refresh_from_db()
    assert (deer.kill_place, deer.tenderloin_left) == ("unit 2", Tenderloin.DAMAGED)


def test_who_changes_what_was_changed_is_asked_once(
    clerk_client: Client, scenario: Scenario, by: Stations
) -> None:
    deer = scenario.deer(facts=replace(DEER, sex=Sex.UNKNOWN))
    sent = opened(clerk_client, deer)
    correct_animal(deer, by=by("counter"), facts=replace(facts_of(deer), sex=Sex.FEMALE))
    mine = {**sent, "sex": "male", "kill_place": "unit 2"}
    page = clerk_client.post(f"/animals/{deer.pk}/edit/", mine)
    assert page.status_code == 422
    form = page.context["form"]
    assert "changed the sex meanwhile" in str(form.errors["sex"])
    assert (form["sex"].value(), form["kill_place"].value()) == ("male", "unit 2")
    deer.refresh_from_db()
    assert (deer.sex, deer.kill_place) == (Sex.FEMALE, DEER.kill_place)
    again = clerk_client.post(f"/animals/{deer.pk}/edit/", {**mine, "shown": form["shown"].value()})
    assert again.status_code == 302
    deer.refresh_from_db()
    assert (deer.sex, deer.kill_place) == (Sex.MALE, "unit 2")


@pytest.mark.parametrize("carried", ["", "nonsense", "[]", "{}", '{"killed_on": "yesterday"}', "null"])
def test_a_page_that_does_not_say_what_it_showed_is_taken_as_typed(
    clerk_client: Client, scenario: Scenario, carried: str
) -> None:
    deer = scenario.deer()
    sent = {**opened(clerk_client, deer), "kill_place": "unit 2", "shown": carried}
    assert clerk_client.post(f"/animals/{deer.pk}/edit/", sent).status_code == 302
    deer.refresh_from_db()
    assert deer.kill_place == "unit 2"


def test_both_may_write_the_same() -> None:
    shown, same = AnimalFacts(), AnimalFacts(sex=Sex.MALE)
    assert same.over(shown, same) == same
    with pytest.raises(Refusal) as refused:
        same.over(shown, AnimalFacts(sex=Sex.FEMALE))
    assert (refused.value.code, refused.value.field) == ("changed_meanwhile", "sex")


def test_names_of_any_script_are_told_apart() -> None:
    assert spoken(" José  PÉREZ ") == spoken("jose perez")
    assert spoken("Ж Smith") != spoken("Ω Smith") != spoken("Smith")
