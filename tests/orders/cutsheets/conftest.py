"""The same people and the same way of sending forms as at intake."""

from tests.orders.intake.conftest import counter, floor, office, queries_of, refused, send

__all__ = ["counter", "floor", "office", "queries_of", "refused", "send"]
