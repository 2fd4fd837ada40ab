"""Who had a piece last, for answering that something is done already."""

from __future__ import annotations

from django.utils import timezone

from orders.ledger.models import Event, Movement, Piece


def said(event: Event) -> str:
    """`by Kit Barlow at 14:05`, with the day where it was not today."""
    when = timezone.localtime(event.at)
    day = "" if when.date() == timezone.localdate() else f"on {when:%b} {when.day} "
    return f"by {event.person} {day}at {when:%H:%M}"


def last_hand(piece: Piece) -> str:
    """Who moved a piece last, and when; empty for a piece that was never moved."""
    moved = Movement.objects.filter(piece=piece).select_related("event__person").order_by("-id").first()
    return said(moved.event) if moved else ""
