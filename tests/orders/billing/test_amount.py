"""The amount of an order as it is typed, and that it is paid."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.test import Client

from orders.billing.forms import cents
from orders.ledger.models import Event
from tests.scenario import Scenario


@pytest.mark.parametrize(
    ("typed", "amount"),
    [
        ("85", 8_500),
        ("85.5", 8_550),
        ("$85.05", 8_505),
        ("1,012.50", 101_250),
        (" 0 ", 0),
        ("$ 3", 300),
        ("١٢", 1_200),
    ],
)
def test_amounts_as_people_type_them(typed: str, amount: int) -> None:
    assert cents(typed) == amount


@pytest.mark.parametrize("typed", ["", "abc", "-5", "1.234", "1,01", "1e3", "85,50", "12 50", "9" * 20])
def test_what_is_no_amount(typed: str) -> None:
    with pytest.raises(ValidationError):
        cents(typed)


def post(client: Client, order: Any, path: str, **data: str) -> Any:
    return client.post(f"/orders/{order.number}/{path}/", {"sender_id": str(uuid4()), **data})


def test_an_amount_is_set_changed_and_paid(clerk_client: Client, scenario: Scenario) -> None:
    order = scenario.order()
    assert post(clerk_client, order, "amount", amount="$112.50").status_code == 302
    order.refresh_from_db()
    assert order.owed_cents == 11_250
    assert post(clerk_client, order, "amount", amount="100").status_code == 302
    assert Event.objects.filter(verb="set_amount").last().data["before"] == 11_250
    assert post(clerk_client, order, "paid", how="card").status_code == 302
    order.refresh_from_db()
    assert (order.amount_cents, order.owed_cents) == (10_000, 0)
    text = clerk_client.get(f"/orders/{order.number}/pickup/").content.decode()
    assert "Paid $100.00" in text


@pytest.mark.parametrize("typed", ["eighty", "", "10.999"])
def test_a_wrong_amount_stays_typed_with_a_sentence(
    clerk_client: Client, scenario: Scenario, typed: str
) -> None:
    order = scenario.order()
    response = post(clerk_client, order, "amount", amount=typed)
    assert response.status_code == 422
    text = response.content.decode()
    assert "Type dollars and cents, like 85 or 112.50." in text
    assert not typed or f'value="{typed}"' in text
    assert not Event.objects.filter(verb="set_amount").exists()


def test_the_refusals_of_money(clerk_client: Client, scenario: Scenario) -> None:
    order = scenario.order()
    assert post(clerk_client, order, "paid", how="cash").status_code == 422
    assert post(clerk_client, order, "amount", amount="10000.01").status_code == 422
    assert post(clerk_client, order, "amount", amount="20").status_code == 302
    assert post(clerk_client, order, "paid", how="cash").status_code == 302
    assert post(clerk_client, order, "paid", how="cash").status_code == 422
    assert post(clerk_client, order, "amount", amount="30").status_code == 422
    refused = Event.objects.filter(outcome="refused").order_by("id").values_list("verb", "refusal")
    assert list(refused) == [
        ("mark_paid", "amount_missing"),
        ("set_amount", "amount_wrong"),
        ("mark_paid", "paid_already"),
        ("set_amount", "paid_already"),
    ]


def test_the_same_form_twice_is_one_event(clerk_client: Client, scenario: Scenario) -> None:
    order = scenario.order()
    sender = str(uuid4())
    for _ in range(2):
        assert post(clerk_client, order, "amount", amount="20", sender_id=sender).status_code == 302
    assert Event.objects.filter(verb="set_amount").count() == 1
