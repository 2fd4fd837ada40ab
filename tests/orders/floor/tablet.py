"""A tablet on the floor, for tests: a logged-in client that stands at a station and answers in plain words."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from orders.ledger.models import Event
from orders.ledger.refusal import Refusal


@contextmanager
def refused(code: str) -> Iterator[None]:
    """What is inside must be refused with this very code, and the refusal must be on record."""
    before = Event.objects.filter(outcome="refused").count()
    with pytest.raises(Refusal) as caught:
        yield
    assert caught.value.code == code
    rows = Event.objects.filter(outcome="refused").order_by("id")
    assert rows.count() == before + 1
    last = rows.last()
    assert last is not None
    assert (last.refusal, last.shown) == (code, caught.value.sentence)


def words(response: Any) -> str:
    """The words of a page, without tags and with single spaces."""
    text = re.sub(r"<(script|style).*?</\1>", " ", response.content.decode(), flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def banner(response: Any) -> tuple[str, str]:
    """The kind and the words of the one banner on a page."""
    found = re.findall(r'<div class="notice (\w+)">(.*?)</div>', response.content.decode(), flags=re.DOTALL)
    assert len(found) == 1, found
    kind, inner = found[0]
    return kind, " ".join(html.unescape(re.sub(r"<[^>]+>", " ", inner)).split())


@dataclass
class Tablet:
    """Posts and gets by address name; `at` is where it stands."""

    client: Client
    stations: Any

    def at(self, step: str) -> Tablet:
        answer = self.client.post(reverse("floor-station"), {"station": getattr(self.stations, step).pk})
        assert answer.status_code == 302
        self.client.get(reverse("floor"))
        return self

    def get(self, name: str, *args: Any) -> Any:
        return self.client.get(reverse(name, args=args))

    def post(self, name: str, *args: Any, **data: Any) -> Any:
        """Post and follow on to the page it leads to."""
        return self.client.post(reverse(name, args=args), data, follow=True)

    def scan(self, code: str, **data: Any) -> Any:
        return self.post("floor-scan", q=code, **data)

    @staticmethod
    def landed(response: Any) -> str:
        """The address that a followed post ended at."""
        return str(response.redirect_chain[-1][0]) if response.redirect_chain else ""


def last_event() -> Event:
    """The newest event."""
    found = Event.objects.order_by("id").last()
    assert found is not None
    return found
