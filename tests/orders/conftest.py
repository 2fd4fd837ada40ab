"""Browsers of the three fixed people, and counting of queries, for every page of the work."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext


def _client(person: Any) -> Client:
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def owner_client(people: Any) -> Client:
    return _client(people.owner)


@pytest.fixture
def clerk_client(people: Any) -> Client:
    return _client(people.clerk)


@pytest.fixture
def cutter_client(people: Any) -> Client:
    return _client(people.cutter)


@pytest.fixture
def queries_of(db: None) -> Callable[[Callable[[], Any]], int]:
    """How many queries a call makes."""

    def count(call: Callable[[], Any]) -> int:
        with CaptureQueriesContext(connection) as seen:
            call()
        return len(seen)

    return count
