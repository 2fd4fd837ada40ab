"""The ledger's tables are only added to, on the database at hand and after every migration."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.checks import Tags, run_checks
from django.db import DatabaseError, connection, transaction

from orders.ledger import triggers
from orders.ledger.models import Event, Movement, RunLine, Weighing

ROWS = {
    "orders_event": (Event, "verb = 'nothing'"),
    "orders_movement": (Movement, "state_to = 'void'"),
    "orders_weighing": (Weighing, "gross = gross + 1"),
    "orders_runline": (RunLine, "what = 'nothing'"),
}


def test_the_four_tables_are_the_ledger_s() -> None:
    assert set(triggers.TABLES) == set(ROWS)


@pytest.mark.parametrize("table", sorted(ROWS))
@pytest.mark.parametrize("operation", ["UPDATE", "DELETE"])
def test_raw_sql_is_refused(scenario: Any, table: str, operation: str) -> None:
    scenario.hung(scenario.deer())
    model, change = ROWS[table]
    before: Any = list(model.objects.order_by("pk").values())  # type: ignore[attr-defined]
    assert before
    sql = f"UPDATE {table} SET {change}" if operation == "UPDATE" else f"DELETE FROM {table}"
    with (
        pytest.raises(DatabaseError, match="the ledger is only added to"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(sql)
    assert list(model.objects.order_by("pk").values()) == before  # type: ignore[attr-defined]


@pytest.mark.parametrize("table", sorted(ROWS))
def test_the_orm_is_refused(scenario: Any, table: str) -> None:
    scenario.hung(scenario.deer())
    model: Any = ROWS[table][0]
    first = model.objects.order_by("pk").first()
    with pytest.raises(DatabaseError), transaction.atomic():
        first.save()
    with pytest.raises(DatabaseError), transaction.atomic():
        model.objects.filter(pk=first.pk)._raw_delete(using="default")


@pytest.mark.django_db
def test_every_trigger_is_there_after_the_migrations() -> None:
    assert triggers.missing(connection) == []


@pytest.mark.django_db
@pytest.mark.parametrize("table", sorted(ROWS))
@pytest.mark.parametrize("operation", ["UPDATE", "DELETE"])
def test_the_system_check_notices_a_trigger_that_is_gone(table: str, operation: str) -> None:
    name = triggers.trigger_name(table, operation)
    on_table = f" ON {table}" if connection.vendor == "postgresql" else ""
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TRIGGER {name}{on_table}")
    found = [
        error
        for error in run_checks(tags=[Tags.database], databases=["default"])
        if error.id == "orders.E001"
    ]
    assert [error.msg for error in found] == [f"The trigger {name} is not in the database."]
    triggers.install(connection)
    assert not [
        error
        for error in run_checks(tags=[Tags.database], databases=["default"])
        if error.id == "orders.E001"
    ]


@pytest.mark.django_db(transaction=True)
def test_a_rebuilt_table_gets_its_triggers_back() -> None:
    """A later migration that rebuilds a table drops its triggers on SQLite; the signal after migrate puts them back."""
    from django.apps import apps
    from django.db import models
    from django.db.models.signals import post_migrate

    field = models.CharField(max_length=41, default="")
    field.set_attributes_from_name("spare")
    field.model = Weighing
    with connection.schema_editor() as editor:
        editor.add_field(Weighing, field)
        editor.remove_field(Weighing, field)
    if connection.vendor == "sqlite":
        assert "orders_weighing_no_update" in triggers.missing(connection)
    post_migrate.send(
        sender=apps.get_app_config("orders"),
        app_config=apps.get_app_config("orders"),
        verbosity=0,
        interactive=False,
        using="default",
        plan=[],
        apps=apps,
    )
    assert triggers.missing(connection) == []


@pytest.mark.django_db
def test_lifted_triggers_come_back_after_a_fault() -> None:
    def fail() -> None:
        with triggers.lifted(connection):
            assert len(triggers.missing(connection)) == 8
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    assert triggers.missing(connection) == []
