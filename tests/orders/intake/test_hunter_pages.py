"""Whose order it is: found, picked, written down, corrected."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from orders.intake.actions import new_order
from orders.intake.models import Contact, Order
from orders.intake.queries import find_contacts
from tests.orders.intake.conftest import codes
from tests.scenario import Scenario

pytestmark = pytest.mark.django_db
Send = Callable[..., Any]


def test_a_returning_hunter_is_found_by_phone_or_name_and_picked(
    scenario: Scenario, counter: Client, send: Send, by: Any
) -> None:
    scenario.order("Thaddeus Plume", "406-555-0131")
    scenario.order("Thea Plumley", "406-555-0132")
    order = new_order(scenario.season, by=by("counter")).fetch(Order)
    assert [each.name for each in find_contacts("0131")] == ["Thaddeus Plume"]
    assert [each.name for each in find_contacts("plum th")] == ["Thea Plumley", "Thaddeus Plume"]
    assert find_contacts("31") == find_contacts("  ") == []
    page = counter.get(f"/orders/{order.number}/", {"hunter": "555-0131"})
    assert [each.name for each in page.context["matches"]] == ["Thaddeus Plume"]
    assert b"(406) 555-0131" in page.content
    picked = page.context["matches"][0]
    answer = send(counter, f"/orders/{order.number}/hunter/", what="pick", contact=picked.pk)
    assert (answer.status_code, answer.url) == (302, f"/orders/{order.number}/")
    order.refresh_from_db()
    assert order.hunter == picked
    assert Contact.objects.count() == 2


def test_the_search_as_typed_answers_with_the_matches_only(scenario: Scenario, counter: Client) -> None:
    order = scenario.order("Thaddeus Plume", "406-555-0131")
    page = counter.get(f"/orders/{order.number}/", {"hunter": "plume"}, headers={"HX-Request": "true"})
    assert page.templates[0].name == "intake/_matches.html"
    assert b"<html" not in page.content
    assert b"Thaddeus Plume" in page.content


def focused(page: Any) -> list[str]:
    """What a page opens with its focus on."""
    inputs = re.findall(r"<input[^>]* autofocus[^>]*>", page.content.decode())
    return [found[1] for each in inputs if (found := re.search(r' id="([^"]+)"', each))]


def test_a_new_order_opens_at_the_search_for_its_hunter(
    scenario: Scenario, counter: Client, send: Send, by: Any
) -> None:
    order = new_order(scenario.season, by=by("counter")).fetch(Order)
    page = f"/orders/{order.number}/"
    assert focused(counter.get(page)) == ["find_hunter"]
    assert focused(counter.get(page, {"hunter": "plume"})) == ["find_hunter"]
    wrong = send(counter, f"{page}hunter/", what="new", name="Odell Finch", phone="55")
    assert focused(wrong) == ["hunter_phone"]
    send(counter, f"{page}hunter/", what="new", name="Odell Finch")
    assert focused(counter.get(page)) == []
    assert focused(counter.get(page, {"change": "1"})) == ["find_hunter"]
    assert focused(counter.get(page, {"correct": "1"})) == []


def test_somebody_else_begins_with_nothing_of_the_one_before(scenario: Scenario, counter: Client) -> None:
    order = scenario.order("Thaddeus Plume", "406-555-0131")
    form = counter.get(f"/orders/{order.number}/", {"change": "1"}).context["hunter_form"]
    assert [form[name].value() for name in ("name", "phone", "address")] == [None, None, None]


def test_a_new_hunter_is_written_down(scenario: Scenario, counter: Client, send: Send, by: Any) -> None:
    order = new_order(scenario.season, by=by("counter")).fetch(Order)
    address = f"/orders/{order.number}/hunter/"
    send(counter, address, what="new", name="Odell Finch", phone="(406) 555-0177", license_no="L-7")
    order.refresh_from_db()
    assert (order.hunter.name, order.hunter.phone, order.hunter.license_no) == (
        "Odell Finch",
        "+14065550177",
        "L-7",
    )


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ({"name": "", "phone": "406-555-0177"}, {"name": ["required"]}),
        ({"name": "Odell Finch", "phone": "55"}, {"phone": ["phone_wrong"]}),
        ({"name": "Odell Finch", "email": "odell at home"}, {"email": ["invalid"]}),
        ({"name": "O" * 81}, {"name": ["max_length"]}),
        ({"name": "Odell\0Finch"}, {"name": ["null_characters_not_allowed"]}),
        ({"name": "Odell Finch", "phone": "406-555-0117"}, {"phone": ["phone_known"]}),
    ],
)
def test_a_hunter_typed_wrong_is_refused_beside_the_field_and_kept(
    scenario: Scenario, counter: Client, by: Any, typed: dict[str, str], expected: dict[str, list[str]]
) -> None:
    scenario.order("Rowan Sedgewick", "406-555-0117")
    order = new_order(scenario.season, by=by("counter")).fetch(Order)
    answer = counter.post(f"/orders/{order.number}/hunter/", {"what": "new", **typed})
    form = answer.context["hunter_form"]
    assert (answer.status_code, codes(form)) == (422, expected)
    assert form["name"].value() == typed["name"]
    assert Contact.objects.count() == 1


def test_two_people_may_share_a_phone_number_when_the_clerk_says_so(
    scenario: Scenario, counter: Client, send: Send
) -> None:
    first = scenario.order("Rowan Sedgewick", "406-555-0117")
    address = f"/orders/{first.number}/hunter/"
    send(counter, address, what="new", name="Linnet Sedgewick", phone="406-555-0117", another="on")
    assert sorted(Contact.objects.values_list("name", flat=True)) == ["Linnet Sedgewick", "Rowan Sedgewick"]


def test_a_hunter_is_corrected_in_place(scenario: Scenario, counter: Client, send: Send) -> None:
    order = scenario.order("Odel Finch", "406-555-0177")
    page = counter.get(f"/orders/{order.number}/", {"correct": "1"})
    assert page.context["hunter_form"]["phone"].value() == "(406) 555-0177"
    send(counter, f"/orders/{order.number}/hunter/", what="correct", name="Odell Finch", phone="406-555-0178")
    assert list(Contact.objects.values_list("name", "phone")) == [("Odell Finch", "+14065550178")]


@pytest.mark.parametrize("contact", ["", "0", "9" * 30, "x", "\0"])
def test_an_unknown_hunter_cannot_be_picked(scenario: Scenario, counter: Client, contact: str) -> None:
    order = scenario.order()
    before = order.hunter_id
    answer = counter.post(f"/orders/{order.number}/hunter/", {"what": "pick", "contact": contact})
    assert (answer.status_code, list(answer.context["pick_form"].errors)) == (422, ["contact"])
    order.refresh_from_db()
    assert order.hunter_id == before
