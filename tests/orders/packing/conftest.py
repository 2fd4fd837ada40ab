"""A tablet for the wrap table and the freezer."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from tests.orders.floor.tablet import Tablet


@pytest.fixture
def tablet(people: Any, stations: Any) -> Tablet:
    """The cutter's tablet, at no station yet."""
    client = Client()
    client.force_login(people.cutter)
    return Tablet(client, stations)
