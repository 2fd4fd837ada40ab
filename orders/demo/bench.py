"""When a station has time: working hours, and one job after another."""

from __future__ import annotations

from bisect import bisect_left, insort
from dataclasses import dataclass, field
from datetime import datetime, timedelta, tzinfo

from orders.demo.hours import JOBS


@dataclass(slots=True)
class Bench:
    """One station's day book. Jobs never overlap and lie inside working hours, in the shop's zone."""

    zone: tzinfo
    booked: list[tuple[datetime, datetime]] = field(default_factory=list)

    def find(self, earliest: datetime, length: timedelta) -> datetime:
        """The first moment from `earliest` on at which a job of this length fits."""
        start = JOBS.first(earliest, self.zone, length)
        at = max(bisect_left(self.booked, (start, start)) - 1, 0)
        for begins, ends in self.booked[at:]:
            if ends <= start:
                continue
            if begins >= start + length:
                break
            start = JOBS.first(ends, self.zone, length)
        return start

    def take(self, earliest: datetime, length: timedelta) -> datetime:
        """Book the first moment at which a job of this length fits."""
        start = self.find(earliest, length)
        insort(self.booked, (start, start + length))
        return start


def first_free(benches: dict[str, Bench], earliest: datetime, length: timedelta) -> tuple[str, datetime]:
    """Book the bench of several that is free first, and say which and when."""
    name = min(benches, key=lambda each: (benches[each].find(earliest, length), each))
    return name, benches[name].take(earliest, length)
