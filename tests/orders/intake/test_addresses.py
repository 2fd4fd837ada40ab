"""Who sees the counter's pages, and what an address that means nothing answers."""

from __future__ import annotations

import pytest
from django.test import Client

from orders.intake.models import Order
from tests.conftest import People
from tests.orders.intake.conftest import logged_in
from tests.scenario import Scenario

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    "address",
    [
        "/",
        "/orders/",
        "/orders/26-0001/",
        "/orders/26-0001/animals/add/",
        "/animals/1/",
        "/animals/1/edit/",
        "/animals/1/cuts/",
        "/holds/",
    ],
)
def test_who_sees_what(scenario: Scenario, people: People, address: str) -> None:
    """Floor people see no phone numbers; a stranger is asked to log in."""
    animal = scenario.deer()
    address = address.replace("/animals/1/", f"/animals/{animal.pk}/")
    stranger = Client().get(address)
    assert (stranger.status_code, stranger.url.startswith("/login/")) == (302, True)
    assert logged_in(people.cutter).get(address).status_code == (302 if address == "/" else 403)
    for person in (people.owner, people.clerk):
        page = logged_in(person).get(address)
        assert page.status_code == 200
        assert page.context["role"] == person.role


@pytest.mark.parametrize(
    "address",
    [
        "/orders/26-9999/",
        "/orders/nothing/",
        "/orders/26-9999/animals/add/",
        "/animals/99999/",
        "/animals/0/edit/",
        f"/animals/{'9' * 30}/",
        f"/animals/{'9' * 5000}/cuts/",
        "/orders/a%00b/",
        "/orders/a%20b/",
    ],
)
def test_what_is_not_there_answers_404(scenario: Scenario, counter: Client, address: str) -> None:
    answer = counter.get(address)
    assert (answer.status_code, "There is nothing at this address" in answer.content.decode()) == (404, True)


@pytest.mark.parametrize(
    "address",
    [
        "/orders/26-9999/hunter/",
        "/orders/26-9999/facts/",
        "/animals/99999/tag/",
        "/animals/99999/end/",
        "/animals/99999/pieces/add/",
        "/pieces/99999/weigh/",
        "/events/99999/void/",
        "/holds/99999/release/",
        f"/pieces/{'9' * 30}/weigh/",
        f"/events/{'9' * 30}/void/",
        f"/holds/{'9' * 30}/release/",
        "/animals/99999/hold/",
        "/animals/99999/tag/filed/",
        "/animals/99999/cuts/",
        "/animals/99999/cuts/change/",
    ],
)
def test_what_is_not_there_cannot_be_posted_to(scenario: Scenario, counter: Client, address: str) -> None:
    assert counter.post(address, {"reason": "x"}).status_code == 404


@pytest.mark.parametrize("address", ["/orders/new/", "/orders/26-0001/hunter/", "/orders/26-0001/facts/"])
def test_what_changes_something_takes_no_get(scenario: Scenario, counter: Client, address: str) -> None:
    scenario.order()
    assert counter.get(address).status_code in (404, 405)
    assert Order.objects.count() == 1
