"""Checks of the scales with a test weight: what a scale showed, kept, so that a wrong one explains what it weighed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from fractions import Fraction

from django.utils import timezone

from orders.ledger.action import action
from orders.ledger.entry import Answer, Entry
from orders.ledger.models import Event, Outcome
from orders.ledger.refusal import Refusal
from orders.yields.flags import ScaleFacts
from shop.context import shop_settings
from shop.models import Station
from shop.weights import Reading, format_mg

VERB = "check_scale"
# Maintenance tolerance of class III scales, in divisions: NIST Handbook 44, 2.20, table 6, from memory.
TOLERANCES = ((500, 1), (2000, 2), (4000, 3))
MOST_DIVISIONS = 5
# A check tells nothing of readings further away than this. Common practice, no source.
TELLS_FOR = timedelta(days=7)


def tolerance_mg(test: Reading, division: Reading) -> int:
    """How far a scale of class III may be off at this test weight, by the division it shows."""
    divisions = Fraction(test.mg, division.mg)
    times = next((times for most, times in TOLERANCES if divisions <= most), MOST_DIVISIONS)
    return times * division.mg


@dataclass(frozen=True, slots=True)
class Check:
    """One check: `error_mg` > 0 shows too much. The division is that of the last digit shown."""

    station: int
    name: str
    at: datetime
    test: Reading
    shown: Reading
    person: str = ""

    @property
    def error_mg(self) -> int:
        return self.shown.mg - self.test.mg

    @property
    def tolerance_mg(self) -> int:
        return tolerance_mg(self.test, Reading(1, self.shown.unit, self.shown.decimals))

    @property
    def is_off(self) -> bool:
        """Whether it is beyond its tolerance."""
        return abs(self.error_mg) > self.tolerance_mg


@action(VERB)
def check_scale(entry: Entry, station: Station, *, test: Reading, shown: Reading) -> Answer:
    """Put on record what the scale of a station showed under a test weight. Raises Refusal for either being zero."""
    if test.mg <= 0:
        raise Refusal("test_weight_zero", "Say what the test weight weighs.", "test")
    if shown.mg <= 0:
        raise Refusal(
            "shown_zero", "A scale that shows nothing weighs nothing. Type what it showed.", "shown"
        )
    check = Check(station.pk, station.name, entry.at, test, shown)
    return Answer(f"{station.name}: {words(check)}.")


def words(check: Check) -> str:
    """What a check says: `the scale shows 0.10 lb too little, more than the 0.02 lb it may be off`."""
    unit = shop_settings().unit
    off, may = (format_mg(abs(mg), unit, 2) for mg in (check.error_mg, check.tolerance_mg))
    if not check.error_mg:
        return "the scale shows the test weight exactly"
    much = "much" if check.error_mg > 0 else "little"
    judged = "more than the {} it may be off" if check.is_off else "within the {} it may be off"
    return f"the scale shows {off} too {much}, {judged.format(may)}"


@dataclass(frozen=True, slots=True)
class Checks:
    """All checks by station, in the order they were made; of those of one day the last."""

    by_station: dict[int, list[Check]] = field(default_factory=dict)

    def of(self, station: int, first: datetime, last: datetime) -> Check | None:
        """The check that tells of readings from `first` to `last`: the next one, else the last before."""
        found = self.by_station.get(station, [])
        near = [each for each in found if first - TELLS_FOR <= each.at <= last + TELLS_FOR]
        after = [each for each in near if each.at >= last]
        return after[0] if after else near[-1] if near else None

    def scales(self, readings: Iterable[Sequence]) -> Iterator[ScaleFacts]:
        """What is known of the scales that took these readings: point, station, how many, from when to when."""
        for point, station, count, first, last in readings:
            check = self.of(station, datetime.fromisoformat(first), datetime.fromisoformat(last))
            if check is not None and check.is_off:
                name = f"{check.name}’s scale"
                yield ScaleFacts(name, point, check.error_mg, check.tolerance_mg, count)


def load_checks() -> Checks:
    """Every check, in two queries."""
    by_station: dict[int, list[Check]] = {}
    for check in all_checks():
        same = by_station.setdefault(check.station, [])
        if same and timezone.localdate(same[-1].at) == timezone.localdate(check.at):
            same.pop()
        same.append(check)
    return Checks(by_station)


def all_checks() -> list[Check]:
    """Every check in the order they were made, with who made it."""
    # Without an order: that is what finds them by an index among all events of all seasons.
    done = Event.objects.filter(order=None, verb=VERB, outcome=Outcome.OK)
    done = done.select_related("person").order_by("at", "id")
    names = dict(Station.objects.values_list("pk", "name"))
    found = []
    for event in done:
        said = event.data["payload"]
        station = int(said["subject"].removeprefix("station:"))
        test, shown = Reading(**said["test"]), Reading(**said["shown"])
        found.append(Check(station, names.get(station, ""), event.at, test, shown, str(event.person)))
    return found
