"""Whenever the demo is built, its people are awake: built at night, on a Sunday, just after opening, at midnight."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.db.models import Max
from django.utils import timezone

from orders.demo import build
from orders.demo.plan import OrderPlan
from orders.ledger.check import problems
from orders.ledger.models import Event, Run
from tests.orders.demo.hours import outside_hours

pytestmark = pytest.mark.django_db


def a_few(plans: list[OrderPlan]) -> list[OrderPlan]:
    """Deer that went home, and the newest of all."""
    old = [plan for plan in plans if not plan.case and len(plan.species) == 1 and not plan.rush]
    return [*old[:6], *plans[-5:]]


def last(weekday: int, hour: int, minute: int) -> datetime:
    """The last such moment in the shop's zone that has passed."""
    now = timezone.localtime()
    day = now - timedelta(days=(now.weekday() - weekday) % 7)
    at = day.replace(hour=hour, minute=minute, second=0, microsecond=0)
    return at if at <= now else at - timedelta(days=7)


@pytest.mark.parametrize(
    ("weekday", "hour", "minute"), [(2, 3, 10), (6, 14, 0), (0, 7, 40), (5, 8, 5), (4, 20, 30), (1, 23, 59)]
)
def test_nothing_happens_at_night(weekday: int, hour: int, minute: int) -> None:
    now = last(weekday, hour, minute)
    build.build(lambda done, of: None, now=now, pick=a_few)
    assert outside_hours() == []
    assert Event.objects.filter(verb="release").exists()
    newest = Event.objects.aggregate(at=Max("at"))["at"]
    assert now - timedelta(hours=13) < newest <= now
    assert Run.objects.filter(closed_at=None).exists()
    assert problems() == []
