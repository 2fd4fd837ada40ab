"""What in the demo's ledger happened at an hour at which nobody would be there."""

from __future__ import annotations

from datetime import time

from django.utils import timezone

from orders.ledger.models import Event
from shop.models import Step

# The counter takes animals until late, the floor begins early, Sundays nothing goes home. Common practice, no source.
DROP_OFF = (time(7), time(21))
FLOOR = (time(6), time(20))
PICKUP = (time(8), time(18, 30))
OF_PICKUP = ("notify", "set_amount", "mark_paid", "release", "close_order", "release_hold")


def outside_hours() -> list[str]:
    """One sentence for each event outside the hours of its place."""
    found = []
    for event in Event.objects.select_related("station"):
        at = timezone.localtime(event.at)
        step = event.station.step if event.station else ""
        opens, closes = DROP_OFF if step == Step.COUNTER else FLOOR
        closed = False
        if event.verb in OF_PICKUP:
            (opens, closes), closed = PICKUP, at.weekday() == 6
        if closed or not opens <= at.time() <= closes:
            found.append(f"{event.verb} at {event.station}, {at:%A %H:%M}")
    return found
