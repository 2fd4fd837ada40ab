"""A season of a few orders of each kind, built once for a file of tests."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.db import transaction
from django.test import override_settings

from orders.demo import build
from orders.demo.plan import OrderPlan


def of_every_kind(plans: list[OrderPlan]) -> list[OrderPlan]:
    """An order of each case, each species and each way, deer that still hang and the newest, not the whole season."""
    taken: dict[Any, OrderPlan] = {}
    for plan in plans:
        for key in (plan.case, plan.species, plan.together):
            taken.setdefault(key, plan)
    newest = plans[-1].arrives
    hanging = [
        plan
        for plan in plans
        if not plan.case and not plan.rush and plan.species == ("white-tailed-deer",)
        if timedelta(days=2) < newest - plan.arrives < timedelta(days=4)
    ]
    elk = [plan for plan in plans if plan.species == ("elk",) and newest - plan.arrives < timedelta(days=5)]
    just_in = [plan for plan in plans if plan.case == "just_in"]
    found = {plan.n: plan for plan in [*taken.values(), *just_in, *hanging[:9], *elk[:1], *plans[-4:]]}
    return [found[n] for n in sorted(found)]


@pytest.fixture(scope="module")
def built(django_db_setup: None, django_db_blocker: Any) -> Iterator[Any]:
    """The demo of these orders, built once for a file and undone after it."""
    # The hasher that the tests log in with.
    fast = override_settings(PASSWORD_HASHERS=["django.contrib.auth.hashers.MD5PasswordHasher"])
    with django_db_blocker.unblock(), transaction.atomic(), fast:
        yield build.build(lambda done, of: None, pick=of_every_kind)
        transaction.set_rollback(True)


@pytest.fixture
def demo(built: Any, db: None) -> Any:
    return built
