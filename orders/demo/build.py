"""Builds the demo: the shop, its season, and what is open right now, in one transaction."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from random import Random

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from orders.demo.hands import Hands
from orders.demo.hours import AT_WORK
from orders.demo.live import open_everywhere
from orders.demo.plan import OrderPlan, plan_season
from orders.demo.setup import NAME, Shop, open_shop
from orders.demo.story import Story
from orders.intake.models import Contact, Order
from shop import catalog
from shop.context import shop_settings_kept
from shop.models import ShopSettings, Species

SEED = 26
LOOPBACK = {"localhost", "127.0.0.1", "[::1]", "::1"}
Progress = Callable[[int, int], None]
Pick = Callable[[list[OrderPlan]], list[OrderPlan]]


class DemoRefusedError(Exception):
    """Why no demo is built here; the text is a sentence for the person."""


def refuse_strangers() -> None:
    """Refuse where others reach the shop: the demo's passwords are known to everybody."""
    if not set(settings.ALLOWED_HOSTS) <= LOOPBACK:
        raise DemoRefusedError(
            "The demo has passwords that everybody knows, so it is built only where ALLOWED_HOSTS "
            "names nothing but this computer: localhost,127.0.0.1,[::1]."
        )


def is_demo() -> bool:
    """Whether this database is the demo's already."""
    return ShopSettings.objects.filter(name=NAME).exists()


def refuse_other_shop() -> None:
    """Refuse a database that has a shop's orders or another shop's name."""
    if Order.objects.exists() and not is_demo():
        raise DemoRefusedError(
            "This database has the orders of a shop. The demo needs a database of its own."
        )


@contextmanager
def rings_kept() -> Iterator[None]:
    """Within this block objects that point at each other are looked for seldom.

    Nearly all that a build makes goes when its last name does; looking for the rest after every few hundred objects
    takes a twelfth of the time.
    """
    before = gc.get_threshold()
    gc.freeze()
    gc.set_threshold(100_000, 50, 100)
    try:
        yield
    finally:
        gc.set_threshold(*before)
        gc.unfreeze()


def build(
    progress: Progress, *, now: datetime | None = None, seed: int = SEED, pick: Pick | None = None
) -> Shop:
    """The whole season, or the orders that `pick` takes of it; all or nothing. Raises DemoRefusedError.

    `progress` is told how many orders of how many are done. The same seed and moment give the same season. Outside
    working hours the shop stands as it did when it last was at work.
    """
    zone = timezone.get_current_timezone()
    now = AT_WORK.last(now or timezone.now(), zone)
    rng = Random(seed)  # noqa: S311 - an invented season, no secret
    with transaction.atomic(), shop_settings_kept(), rings_kept():
        if not Species.objects.exists():
            catalog.load()
        shop = open_shop(timezone.localdate(now))
        hands, known = Hands(shop, now, zone), dict[int, Contact]()
        plans = plan_season(rng, now, zone)
        plans = pick(plans) if pick else plans
        for done, plan in enumerate(plans, start=1):
            Story(hands, plan, seed, known).play()
            progress(done, len(plans))
        open_everywhere(hands, rng)
    return shop
