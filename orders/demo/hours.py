"""When the shop is open, in its own zone: nothing in the demo happens while its people sleep."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta, tzinfo

SUNDAY = 6
NOTHING = timedelta(0)


@dataclass(frozen=True, slots=True)
class Hours:
    """Opening hours of one part of the shop, the same on every day but those of `closed_on` (Monday is 0)."""

    opens: time
    closes: time
    closed_on: tuple[int, ...] = ()

    def hold(self, at: datetime, zone: tzinfo) -> bool:
        """Whether a moment lies in them."""
        local = at.astimezone(zone)
        return local.weekday() not in self.closed_on and self.opens <= local.time() <= self.closes

    def first(self, at: datetime, zone: tzinfo, length: timedelta = NOTHING) -> datetime:
        """The first moment from `at` on from which something of this length lies in them."""
        local = at.astimezone(zone)
        opens = datetime.combine(local.date(), self.opens, zone)
        closes = datetime.combine(local.date(), self.closes, zone)
        if local < opens:
            local = opens
        while local.weekday() in self.closed_on or local + length > closes:
            opens, closes = opens + timedelta(days=1), closes + timedelta(days=1)
            local = opens
        return local

    def last(self, at: datetime, zone: tzinfo) -> datetime:
        """The last moment up to `at` that lies in them."""
        local = at.astimezone(zone)
        day = local.date() if local.time() >= self.opens else local.date() - timedelta(days=1)
        while day.weekday() in self.closed_on:
            day -= timedelta(days=1)
        return min(local, datetime.combine(day, self.closes, zone))


# Animals come and are worked on all days of the season; on Sundays nothing is handed out and nobody is called.
DROP_OFF = Hours(time(7), time(21))
FLOOR = Hours(time(6), time(20))
HAND_OVER = Hours(time(8), time(18, 30), closed_on=(SUNDAY,))
# Jobs at a station begin and end in these: there is cleaning before and after.
JOBS = Hours(time(7, 30), time(19))
# The demo stands as the shop does now, or as it did when it last was at work.
AT_WORK = Hours(time(8), time(19, 45))
