"""Numbers that never clash: code serials and order numbers."""

from django.db import connection

from shop.codes import Kind, make_code
from shop.models import Counter


def take(name: str, count: int = 1) -> int:
    """Reserve `count` numbers of a counter and return the first. Must run inside a write transaction.

    The UPDATE itself brings the number back, so two clerks never share one.
    """
    if not connection.in_atomic_block:
        raise RuntimeError("counters are taken inside a transaction")
    if (following := _advance(name, count)) is None:
        Counter.objects.bulk_create([Counter(name=name)], ignore_conflicts=True)
        following = _advance(name, count)
    assert following is not None
    return following - count


def _advance(name: str, count: int) -> int | None:
    """Advance a counter in one statement, which locks its row; None where there is no such counter yet."""
    table = connection.ops.quote_name(Counter._meta.db_table)
    advance = f"UPDATE {table} SET next = next + %s WHERE name = %s RETURNING next"  # noqa: S608
    with connection.cursor() as cursor:
        cursor.execute(advance, [count, name])
        row = cursor.fetchone()
    return row[0] if row else None


def new_codes(kind: Kind, count: int = 1) -> list[str]:
    """The next `count` codes of a kind, in order."""
    first = take(f"code-{kind.value}", count)
    return [make_code(kind, first + offset) for offset in range(count)]
