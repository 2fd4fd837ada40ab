"""The rows of one order in every table, and copies of them under new keys, codes, numbers, times and weights."""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from decimal import ROUND_HALF_EVEN, Decimal
from functools import cache
from typing import Any

from django.db import connection, models

from orders.cutsheets.models import CutLine, CutSheet
from orders.intake.models import Animal, Contact, Order, Season
from orders.ledger.models import Event, Movement, Piece, Point, Run, RunLine, Weighing
from orders.packing.models import Package
from orders.pickup.models import Release
from shop.codes import Kind, make_code
from shop.models import Counter, Person
from shop.weights import MG_PER_UNIT

Table = type[models.Model]
Row = list[Any]

# In this order a row's parents are there before it.
TABLES: tuple[Table, ...] = (
    Contact,
    Order,
    Animal,
    CutSheet,
    CutLine,
    Run,
    Event,
    Piece,
    Weighing,
    Movement,
    RunLine,
    Package,
    Release,
)
AFTER_THE_BLOCK = {Point.LUG, Point.FAT, Point.GRIND_OUT, Point.PACK}
FIRST_UID = 1 << 96


def columns_of(table: Table) -> list[models.Field[Any, Any]]:
    return list(table._meta.concrete_fields)


def read(order: Order) -> dict[Table, list[Row]]:
    """Everything that belongs to an order, as the driver takes it where it stays as it is."""
    mine = models.Q(order=order) | models.Q(animal__order=order)
    of_event = models.Q(event__order=order)
    wanted: dict[Table, models.Q] = {
        Contact: models.Q(pk=order.hunter_id),
        Order: models.Q(pk=order.pk),
        Animal: models.Q(order=order),
        CutSheet: models.Q(animal__order=order),
        CutLine: models.Q(sheet__animal__order=order),
        Run: mine,
        Event: models.Q(order=order),
        Piece: mine,
        Weighing: of_event,
        Movement: of_event,
        RunLine: of_event,
        Package: mine,
        Release: models.Q(order=order),
    }
    found = {}
    for table in TABLES:
        rows = table._base_manager.filter(wanted[table]).order_by("pk")
        names = [column.attname for column in columns_of(table)]
        found[table] = [_prepared(table, row) for row in rows.values_list(*names)]
    return found


def _prepared(table: Table, row: tuple[Any, ...]) -> Row:
    """JSON as its text; what a copy changes is left as Django reads it."""
    return [
        json.dumps(value) if isinstance(column, models.JSONField) else value
        for column, value in zip(columns_of(table), row, strict=True)
    ]


@dataclass
class Numbers:
    """The next key of each table, serial of each code and sender's id."""

    keys: dict[Table, int] = field(default_factory=dict)
    serials: dict[Kind, int] = field(default_factory=dict)
    uid: int = FIRST_UID

    @classmethod
    def after_what_is_there(cls) -> Numbers:
        counters = dict(Counter.objects.values_list("name", "next"))
        last = {table: table._base_manager.aggregate(pk=models.Max("pk"))["pk"] or 0 for table in TABLES}
        return cls(
            {table: pk + 1 for table, pk in last.items()},
            {kind: counters.get(f"code-{kind.value}", 1) for kind in Kind},
            # One to an event, so none is used twice.
            FIRST_UID + last[Event],
        )

    def take(self, table: Table, count: int) -> int:
        first = self.keys[table]
        self.keys[table] = first + count
        return first

    def code(self, like: str) -> str:
        """The next code of the same kind as another."""
        kind = Kind(like[0])
        serial = self.serials[kind]
        self.serials[kind] = serial + 1
        return make_code(kind, serial)

    def next_uid(self) -> str:
        self.uid += 1
        return f"{self.uid:032x}"


class Copy:
    """One more order like a played one: `seq` of its season, moved `back` in time, of another weight."""

    def __init__(
        self, numbers: Numbers, season: Season, seq: int, back: timedelta, rng: random.Random, crew: list[int]
    ) -> None:
        self.numbers, self.season, self.seq, self.back = numbers, season, seq, back
        self.size = Decimal(rng.randrange(750, 1300)).scaleb(-3)
        self.lean = Decimal(rng.randrange(930, 1001)).scaleb(-3)
        self.person = dict.fromkeys(crew, rng.choice(crew))
        self.keys: dict[Table, dict[int, int]] = {}
        self.uids: dict[Any, str] = {}
        self.moments: dict[Any, Any] = {}

    def rows(self, table: Table, originals: list[Row]) -> Iterator[Row]:
        """The table's rows under new keys; its parents' rows must have been copied before."""
        first = self.numbers.take(table, len(originals))
        self.keys[table] = {row[0]: first + offset for offset, row in enumerate(originals)}
        changes = _changes(table)
        for original in originals:
            row = list(original)
            for index, change in changes:
                if row[index] is not None:
                    row[index] = change(self, row[index])
            if table is Weighing:
                self._weigh(row)
            yield row

    def uid(self, value: Any) -> str:
        if value not in self.uids:
            self.uids[value] = self.numbers.next_uid()
        return self.uids[value]

    def moved(self, column: models.Field[Any, Any], value: Any) -> Any:
        if value not in self.moments:
            self.moments[value] = column.get_db_prep_save(value - self.back, connection)
        return self.moments[value]

    def tag(self, like: str) -> str:
        return f"T{self.season.short}{self.seq:05d}{like[-1]}"

    def _weigh(self, row: Row) -> None:
        """The same reading on another animal: whole divisions, and milligrams from the net once."""
        at = _positions(Weighing)
        factor = self.size * self.lean if row[at["point"]] in AFTER_THE_BLOCK else self.size
        gross, tare = (round(row[at[name]] * factor) for name in ("gross", "tare"))
        exact = Decimal(gross - tare).scaleb(-row[at["decimals"]]) * MG_PER_UNIT[row[at["unit"]]]
        mg = int(exact.to_integral_value(ROUND_HALF_EVEN))
        row[at["gross"]], row[at["tare"]], row[at["net"]], row[at["mg"]] = gross, tare, gross - tare, mg


Change = Callable[[Copy, Any], Any]


@cache
def _positions(table: Table) -> dict[str, int]:
    return {column.name: index for index, column in enumerate(columns_of(table))}


@cache
def _changes(table: Table) -> list[tuple[int, Change]]:
    """The positions whose values a copy has of its own, and how it comes by them."""
    found = [(index, _change(table, column)) for index, column in enumerate(columns_of(table))]
    return [(index, change) for index, change in found if change is not None]


def _change(table: Table, column: models.Field[Any, Any]) -> Change | None:
    if column.primary_key:
        return lambda copy, value: copy.keys[table][value]
    if isinstance(column, models.ForeignKey):
        return _key_change(column.related_model)
    if isinstance(column, models.UUIDField):
        return Copy.uid
    if isinstance(column, models.DateField):
        return lambda copy, value: copy.moved(column, value)
    own: dict[str, Change] = {
        "code": lambda copy, value: copy.numbers.code(value),
        "seq": lambda copy, value: copy.seq,
        "number": lambda copy, value: f"{copy.season.short}-{copy.seq:04d}",
        "tag_no": Copy.tag,
        "tag_key": Copy.tag,
    }
    return own.get(column.name)


def _key_change(target: Table) -> Change | None:
    if target is Event:
        return Copy.uid
    if target is Person:
        return lambda copy, value: copy.person.get(value, value)
    if target is Season:
        return lambda copy, value: copy.season.pk
    return (lambda copy, value: copy.keys[target].get(value, value)) if target in TABLES else None


def insert(table: Table, rows: list[Row]) -> None:
    """Write rows in bulk: COPY on PostgreSQL, one prepared statement on SQLite."""
    columns = [connection.ops.quote_name(column.column) for column in columns_of(table)]
    into = f"{connection.ops.quote_name(table._meta.db_table)} ({', '.join(columns)})"
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            with cursor.copy(f"COPY {into} FROM STDIN") as copy:
                for row in rows:
                    copy.write_row(row)
        else:
            marks = ", ".join("%s" for _ in columns)
            cursor.executemany(f"INSERT INTO {into} VALUES ({marks})", rows)
