"""The amount of an order, and whether it is paid."""

from __future__ import annotations

from orders.intake.models import Order
from orders.ledger.action import action
from orders.ledger.entry import Answer, Entry
from orders.ledger.refusal import Refusal
from orders.ledger.voids import need_reason

MAX_CENTS = 10_000_00


@action("set_amount")
def set_amount(entry: Entry, order: Order, *, cents: int) -> Answer:
    """Type what the order costs, in cents; what it was before stays in the event."""
    order = entry.about(order)
    if not 0 <= cents <= MAX_CENTS:
        raise Refusal("amount_wrong", f"An amount is between $0 and ${MAX_CENTS // 100}.", "amount")
    if order.paid_at:
        raise Refusal("paid_already", f"{order.number} is paid: the amount stays.", "amount")
    entry.data["before"] = order.amount_cents
    Order.objects.filter(pk=order.pk).update(amount_cents=cents)
    return Answer(f"{order.number}: ${cents // 100}.{cents % 100:02d}.")


@action("mark_paid")
def mark_paid(entry: Entry, order: Order, *, how: str = "") -> Answer:
    """The amount was paid."""
    order = entry.about(order)
    if order.amount_cents is None:
        raise Refusal("amount_missing", "Type the amount first.", "amount")
    if order.paid_at:
        raise Refusal("paid_already", f"{order.number} is paid already.", "amount")
    Order.objects.filter(pk=order.pk).update(paid_at=entry.at)
    return Answer(f"{order.number} is paid{f' ({how.strip()})' if how.strip() else ''}.")


@action("unmark_paid")
def unmark_paid(entry: Entry, order: Order, *, reason: str) -> Answer:
    """The amount was not paid after all; when it was said to be stays in the event."""
    order = entry.about(order)
    need_reason(reason)
    if order.paid_at is None:
        raise Refusal("not_paid", f"{order.number} is not paid.", "reason")
    entry.data["before"] = order.paid_at.isoformat()
    Order.objects.filter(pk=order.pk).update(paid_at=None)
    return Answer(f"{order.number} is not paid: {reason.strip()}")
