"""Seasons of finished animals in bulk, for the bench alone: the rows of played orders, repeated with new numbers.

Every table that the ledger writes is filled as its actions fill it, since the rows are theirs. No action, lock or
state is worked out again, so a season takes seconds.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.core.management.color import no_style
from django.db import connection, models, transaction
from django.utils import timezone

from orders.intake.models import Order, Season
from orders.packing.models import Package
from shop import catalog
from shop.models import Counter, Person, Role, Species
from tests.bench.patterns import CYCLE, SHARES, Player, open_bench_shop
from tests.bench.rows import TABLES, Copy, Numbers, Row, Table, insert, read

SEASON_DAYS = 100
# The patterns are played this long before now, so that the last of them is collected by now.
PLAYED_DAYS_AGO = 12
ORDERS_AT_ONCE = 100
TRIAL = "00"
CREW = ("kit", "ida", "lou", "sol")
OWNER = "olive"
SEED = 26


def start() -> Filler:
    """Open an empty database's shop and play each pattern once, in a season of their own."""
    if not Species.objects.exists():
        catalog.load()
    noon = timezone.localtime().replace(hour=12, minute=0, second=0, microsecond=0)
    played = noon - timedelta(days=PLAYED_DAYS_AGO)
    scenario = open_bench_shop(_season("Trial", TRIAL, noon - timedelta(days=20_000)))
    for name, role in [*((name, Role.FLOOR) for name in CREW[1:]), (OWNER, Role.OWNER)]:
        Person.objects.create(username=name, first_name=name.title(), last_name="Barlow", role=role)
    player = Player(scenario, played)
    for name in SHARES:
        player.play(name)
    return Filler.of_played()


def _season(name: str, short: str, ends: datetime) -> Season:
    starts_on = (ends - timedelta(days=SEASON_DAYS + 2 * PLAYED_DAYS_AGO)).date()
    ends_on = (ends + timedelta(days=1)).date()
    return Season.objects.create(name=name, short=short, starts_on=starts_on, ends_on=ends_on)


@dataclass
class Filler:
    """Writes seasons of copies of the patterns, by name."""

    patterns: dict[str, dict[Table, list[Row]]]
    rng: random.Random = field(default_factory=lambda: random.Random(SEED))
    numbers: Numbers = field(default_factory=Numbers.after_what_is_there)
    crew: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.crew = list(Person.objects.filter(username__in=CREW).order_by("pk").values_list("pk", flat=True))

    @classmethod
    def of_played(cls) -> Filler:
        """A filler for a database in which the patterns have been played (see `start`)."""
        played = Order.objects.filter(season__short=TRIAL).order_by("seq")
        return cls({name: read(order) for name, order in zip(SHARES, played, strict=True)})

    def season(self, years_ago: int, animals: int) -> Season:
        """A season with that many finished animals; a second call adds to the same season.

        Raises ValueError where they are no whole number of cycles (see `patterns.SHARES`).
        """
        if animals % CYCLE:
            raise ValueError(f"Animals come in cycles of {CYCLE}.")
        ends = timezone.now() - timedelta(days=365 * years_ago)
        season = Season.objects.filter(short=f"{ends:%y}").first()
        season = season or _season(f"Season {ends:%Y}", f"{ends:%y}", ends)
        names = [name for name, count in SHARES.items() for _ in range(count)] * (animals // CYCLE)
        self.rng.shuffle(names)
        first = Order.objects.filter(season=season).count() + 1
        with connection.constraint_checks_disabled(), transaction.atomic():
            for begin in range(0, len(names), ORDERS_AT_ONCE):
                self._write(names[begin : begin + ORDERS_AT_ONCE], season, first + begin, years_ago)
            self._keep_numbers(season, first + len(names))
        return season

    def _write(self, names: list[str], season: Season, first: int, years_ago: int) -> None:
        rows: dict[Table, list[Row]] = {table: [] for table in TABLES}
        for seq, name in enumerate(names, start=first):
            back = timedelta(days=365 * years_ago + self.rng.randrange(SEASON_DAYS))
            copy = Copy(self.numbers, season, seq, back, self.rng, self.crew)
            for table in TABLES:
                rows[table] += copy.rows(table, self.patterns[name][table])
        for table in TABLES:
            insert(table, rows[table])

    def _keep_numbers(self, season: Season, next_order: int) -> None:
        """Leave the counters beyond what was written, as the actions would."""
        for kind, serial in self.numbers.serials.items():
            Counter.objects.update_or_create(name=f"code-{kind.value}", defaults={"next": serial})
        Counter.objects.update_or_create(name=f"season-{season.pk}", defaults={"next": next_order})
        with connection.cursor() as cursor:
            for statement in connection.ops.sequence_reset_sql(no_style(), list(TABLES)):
                cursor.execute(statement)


def packs_in(season: Season) -> int:
    """Standing packs of a season."""
    mine = models.Q(animal__order__season=season) | models.Q(order__season=season)
    return Package.objects.filter(mine).exclude(piece__state="void").count()
