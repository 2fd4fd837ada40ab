"""Opening a season: set up once a year by the owner."""

from __future__ import annotations

import re
from datetime import date

from django.db import transaction

from orders.intake.models import Season
from orders.ledger.refusal import Refusal

SHORT = re.compile(r"^[A-Za-z0-9]{1,4}$")


def open_season(*, name: str, short: str, starts_on: date, ends_on: date) -> Season:
    """A season whose `short` leads its order numbers.

    Raises Refusal `season_name`, `season_short`, `season_dates` or `season_taken`.
    """
    name, short = " ".join(name.split())[:40], short.strip()
    if not name:
        raise Refusal("season_name", "Give the season a name.", "name")
    if not SHORT.match(short):
        raise Refusal("season_short", "Up to four letters or digits lead the order numbers.", "short")
    if ends_on <= starts_on:
        raise Refusal("season_dates", "The season ends after it starts.", "ends_on")
    with transaction.atomic():
        # Read before it is written, in one write transaction: two owners cannot both pass on SQLite, and on
        # PostgreSQL the unique columns stop the second.
        if Season.objects.filter(name=name).exists():
            raise Refusal("season_taken", "There is a season of this name already.", "name")
        if Season.objects.filter(short__iexact=short).exists():
            raise Refusal("season_taken", "Another season's numbers begin with this already.", "short")
        return Season.objects.create(name=name, short=short, starts_on=starts_on, ends_on=ends_on)
