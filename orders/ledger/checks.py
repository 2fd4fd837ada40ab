"""A system check that proves the ledger's triggers are in the database."""

from collections.abc import Sequence
from typing import Any

from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connections

from orders.ledger.triggers import TABLES, missing


@register(Tags.database)
def ledger_triggers(
    app_configs: Any, databases: Sequence[str] | None = None, **kwargs: Any
) -> list[CheckMessage]:
    """E001 when an existing ledger table can be updated or deleted from."""
    errors: list[CheckMessage] = []
    for alias in databases or []:
        connection = connections[alias]
        if not set(TABLES).issubset(connection.introspection.table_names()):
            continue
        errors += [
            Error(
                f"The trigger {name} is not in the database.", hint="Run: manage.py migrate", id="orders.E001"
            )
            for name in missing(connection)
        ]
    return errors
