"""Putting on record what happened to an animal, and taking it back."""

from __future__ import annotations

from html import unescape
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from orders.intake.models import Animal
from orders.ledger.models import Event
from orders.ledger.refusal import Refusal
from orders.models import YieldRecord
from orders.yields.causes import CAUSES, cause_now, record_cause, said_of
from orders.yields.refresh import refresh
from tests.scenario import Scenario


@pytest.fixture
def deer(scenario: Scenario) -> Animal:
    animal = scenario.deer()
    scenario.stored(animal)
    return animal


def page_of(client: Client, animal: Animal) -> str:
    return unescape(client.get(reverse("yield-cause", args=[animal.pk])).content.decode())


def test_a_cause_is_kept_with_its_note_and_taken_back(owner_client: Client, deer: Animal) -> None:
    address = reverse("yield-cause", args=[deer.pk])
    sent = {"cause": "spoiled", "note": "The left shoulder smelled.", "sender_id": str(uuid4())}
    answer = owner_client.post(address, sent)
    assert (answer.status_code, answer["Location"]) == (302, reverse("yield-detail", args=[deer.pk]))
    now = cause_now(deer)
    assert now is not None
    assert (now.cause, now.note, now.person) == ("spoiled", "The left shoulder smelled.", "Olive Marrow")
    refresh()
    assert not YieldRecord.objects.get().teaches
    text = page_of(owner_client, deer)
    assert "The left shoulder smelled." in text
    assert "What is on record" in owner_client.get(reverse("yield-detail", args=[deer.pk])).content.decode()
    back = reverse("yield-cause-back", args=[deer.pk])
    answer = owner_client.post(back, {"note": "It was another animal.", "sender_id": str(uuid4())})
    assert answer.status_code == 302
    assert cause_now(deer) is None
    refresh()
    assert YieldRecord.objects.get().teaches
    text = page_of(owner_client, deer)
    assert "It was another animal." in text
    assert "Counts again" in text
    assert [said.cause for said in said_of(deer)] == ["", "spoiled"]


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"cause": "", "note": "Something."}, "Choose what happened."),
        ({"cause": "luck", "note": "Something."}, "Choose one of the list."),
        ({"cause": "mixed", "note": "  "}, "Say in a few words what happened."),
        ({}, "Choose what happened."),
    ],
)
def test_what_is_refused_keeps_what_was_typed(
    owner_client: Client, deer: Animal, sent: dict[str, str], said: str
) -> None:
    answer = owner_client.post(reverse("yield-cause", args=[deer.pk]), sent)
    text = unescape(answer.content.decode())
    assert answer.status_code == 422
    assert said in text
    if sent.get("note", "").strip():
        assert f'value="{sent["note"]}"' in text
    if sent.get("cause") in CAUSES:
        assert f'value="{sent["cause"]}"' in text
        assert "checked" in text
    assert cause_now(deer) is None


def test_taking_back_needs_a_reason_and_something_to_take_back(owner_client: Client, deer: Animal) -> None:
    back = reverse("yield-cause-back", args=[deer.pk])
    assert owner_client.post(back, {"note": ""}).status_code == 422
    answer = owner_client.post(back, {"note": "Wrong animal."})
    assert answer.status_code == 422
    assert "Nothing is on record for 26-0001" in answer.content.decode()
    assert owner_client.get(back).status_code == 405


def test_nothing_is_taken_back_that_was_not_said(scenario: Scenario, deer: Animal) -> None:
    with pytest.raises(Refusal) as refused:
        record_cause(deer, cause="", by=scenario.by("counter"))
    assert refused.value.code == "no_cause"


def test_the_same_form_sent_twice_is_one_record(owner_client: Client, deer: Animal) -> None:
    sent = {"cause": "mixed", "note": "A neighbor's trim.", "sender_id": str(uuid4())}
    for _ in range(2):
        owner_client.post(reverse("yield-cause", args=[deer.pk]), sent)
    assert Event.objects.filter(verb="record_cause").count() == 1


def test_an_unknown_animal_is_not_found(owner_client: Client, catalog: None) -> None:
    for pk in (0, 99_999):
        assert owner_client.get(reverse("yield-cause", args=[pk])).status_code == 404
        assert owner_client.post(reverse("yield-cause-back", args=[pk])).status_code == 404
