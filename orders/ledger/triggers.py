"""Triggers that refuse UPDATE and DELETE on the ledger's tables, on SQLite and on PostgreSQL.

SQLite drops a table's triggers when a later migration rebuilds it, so they are put back after each migrate.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models.signals import post_migrate
from django.dispatch import receiver

TABLES = ("orders_event", "orders_movement", "orders_weighing", "orders_runline")
OPERATIONS = ("UPDATE", "DELETE")
MESSAGE = "the ledger is only added to"


def trigger_name(table: str, operation: str) -> str:
    return f"{table}_no_{operation.lower()}"


def install(connection: BaseDatabaseWrapper) -> None:
    """Put every missing trigger in place; tables that do not exist yet are passed over."""
    present = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "CREATE OR REPLACE FUNCTION orders_ledger_refuse() RETURNS trigger LANGUAGE plpgsql AS "
                f"$$ BEGIN RAISE EXCEPTION '{MESSAGE}' USING ERRCODE = 'restrict_violation'; END $$"
            )
        for table in present.intersection(TABLES):
            for operation in OPERATIONS:
                cursor.execute(_create(connection.vendor, table, operation))


def _create(vendor: str, table: str, operation: str) -> str:
    name = trigger_name(table, operation)
    if vendor == "postgresql":
        return (
            f"CREATE OR REPLACE TRIGGER {name} BEFORE {operation} ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION orders_ledger_refuse()"
        )
    return (
        f"CREATE TRIGGER IF NOT EXISTS {name} BEFORE {operation} ON {table} "
        f"BEGIN SELECT RAISE(ABORT, '{MESSAGE}'); END"
    )


def missing(connection: BaseDatabaseWrapper) -> list[str]:
    """Names of the triggers that should be in the database and are not."""
    query = (
        "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'"
        if connection.vendor == "postgresql"
        else "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    )
    with connection.cursor() as cursor:
        cursor.execute(query)
        there = {row[0] for row in cursor.fetchall()}
    wanted = [trigger_name(table, operation) for table in TABLES for operation in OPERATIONS]
    return [name for name in wanted if name not in there]


@contextmanager
def lifted(connection: BaseDatabaseWrapper) -> Iterator[None]:
    """Without the triggers, for emptying a test database or rebuilding the demo; they are put back whatever happens."""
    with connection.cursor() as cursor:
        for table in TABLES:
            for operation in OPERATIONS:
                on_table = f" ON {table}" if connection.vendor == "postgresql" else ""
                cursor.execute(f"DROP TRIGGER IF EXISTS {trigger_name(table, operation)}{on_table}")
    try:
        yield
    finally:
        install(connection)


@receiver(post_migrate, dispatch_uid="orders.ledger.triggers")
def put_back(sender: Any, using: str, **kwargs: Any) -> None:
    if sender.name == "orders":
        install(connections[using])
