"""Who looks at the counter's pages, and how their forms are sent."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from orders.ledger.models import Event
from orders.ledger.refusal import Refusal
from tests.conftest import People


def logged_in(person: Any) -> Client:
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def counter(people: People) -> Client:
    """The clerk at the counter."""
    return logged_in(people.clerk)


@pytest.fixture
def office(people: People) -> Client:
    """The owner."""
    return logged_in(people.owner)


@pytest.fixture
def floor(people: People) -> Client:
    """The cutter, whose role is the floor."""
    return logged_in(people.cutter)


@pytest.fixture
def refused() -> Callable[..., Refusal]:
    """Do something that must be refused with this very code, and be on record as refused."""

    def attempt(code: str, act: Callable[..., Any], *args: Any, **facts: Any) -> Refusal:
        before = Event.objects.filter(refusal=code).count()
        with pytest.raises(Refusal) as caught:
            act(*args, **facts)
        assert caught.value.code == code
        assert Event.objects.filter(refusal=code).count() == before + 1
        assert Event.objects.filter(refusal=code).latest("id").shown == caught.value.sentence
        return caught.value

    return attempt


@pytest.fixture
def queries_of() -> Callable[[Client, str], int]:
    """How many queries a page takes, once its session is warm."""

    def count(client: Client, address: str) -> int:
        assert client.get(address).status_code == 200
        with CaptureQueriesContext(connection) as seen:
            client.get(address)
        return len(seen)

    return count


@pytest.fixture
def send() -> Callable[..., Any]:
    """Post a form with an id of its own, as the pages do."""

    def post(client: Client, address: str, **typed: Any) -> Any:
        return client.post(address, {"sender_id": str(uuid4()), **typed})

    return post


def codes(form: Any) -> dict[str, list[str]]:
    """The stable codes of a form's errors by field."""
    return {field: [error.code for error in errors] for field, errors in form.errors.as_data().items()}
