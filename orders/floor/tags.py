"""Where state tags are usually kept in this shop, as buttons."""

from __future__ import annotations

import re
from datetime import timedelta

from django.db.models import Count
from django.utils import timezone

from orders.intake.models import Animal

# Before a shop has places of its own: common practice, no source.
AT_FIRST = ("tag box", "envelope with the order", "on the lug card")
SHOWN = 15
LOOKED_BACK = timedelta(days=400)


def usual_tag_places() -> list[str]:
    """The places used most in the last year, in an order that stays as it is: `row 2` stands before `row 10`."""
    since = timezone.localdate() - LOOKED_BACK
    filed = Animal.objects.filter(arrived_on__gte=since).exclude(tag_filed_at="")
    rows = filed.values("tag_filed_at").annotate(times=Count("id")).order_by("-times", "tag_filed_at")
    used = list(rows.values_list("tag_filed_at", flat=True)[:SHOWN])
    known = {place.casefold() for place in used}
    more = [place for place in AT_FIRST if place not in known] if len(used) < len(AT_FIRST) else []
    return sorted(used + more, key=_natural)


def _natural(place: str) -> list[tuple[int, int, str]]:
    return [
        (0, int(part), "") if part.isdecimal() else (1, 0, part.casefold())
        for part in re.split(r"(\d+)", place)
        if part
    ]
