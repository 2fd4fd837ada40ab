"""Numbers that never clash: code serials and order numbers."""

from django.db import connection
from django.db.models import F

from shop.codes import Kind, make_code
from shop.models import Counter


def take(name: str, count: int = 1) -> int:
    """Reserve `count` numbers of a counter and return the first. Must run inside a write transaction.

    The UPDATE comes first, so the row is locked on PostgreSQL before it is read, and two clerks never share one.
    """
    if not connection.in_atomic_block:
        raise RuntimeError("counters are taken inside a transaction")
    if not Counter.objects.filter(name=name).update(next=F("next") + count):
        Counter.objects.bulk_create([Counter(name=name)], ignore_conflicts=True)
        Counter.objects.filter(name=name).update(next=F("next") + count)
    return Counter.objects.values_list("next", flat=True).get(name=name) - count


def new_codes(kind: Kind, count: int = 1) -> list[str]:
    """The next `count` codes of a kind, in order."""
    first = take(f"code-{kind.value}", count)
    return [make_code(kind, first + offset) for offset in range(count)]
