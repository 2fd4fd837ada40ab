"""What happens in the demo's season: who comes when with what, and which orders stop at which stage."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta, tzinfo
from random import Random

from orders.demo.hours import DROP_OFF

STAGES = ("booked", "received", "skinned", "cut", "ground", "packed", "stored", "told", "collected")
DAYS = 42
# The days, counted back from today, on which a hunting season opened: everybody comes at once.
OPENERS = {37: 12, 36: 9, 23: 11, 22: 8, 9: 9, 4: 92, 3: 82, 2: 64}
SPECIES = (
    ("white-tailed-deer", 52),
    ("mule-deer", 21),
    ("elk", 6),
    ("pronghorn", 6),
    ("wild-boar", 4),
    ("black-bear", 3),
    ("mallard", 3),
    ("canada-goose", 2),
    ("wild-turkey", 1),
    ("ring-necked-pheasant", 1),
    ("moose", 1),
)
BIRDS = ("mallard", "canada-goose", "wild-turkey", "ring-necked-pheasant")
LARGE = ("elk", "moose")
# Cases that have to be there, whatever chance brings: how many of each, from how many days ago.
CASES: tuple[tuple[str, int, int, int], ...] = (
    ("just_in", 3, 0, 0),
    ("booked", 4, 0, 6),
    ("no_tag", 3, 0, 4),
    ("no_tag_reason", 2, 6, 30),
    ("refused", 2, 5, 35),
    ("spoiled", 2, 8, 30),
    ("void", 1, 10, 30),
    ("held_test", 6, 3, 12),
    ("held_instructions", 3, 3, 9),
    ("held_deposit", 1, 4, 9),
    ("released_hold", 8, 12, 40),
    ("unanswered", 3, 1, 3),
    ("to_grind", 4, 6, 14),
    ("to_wrap", 4, 6, 14),
    ("to_box", 4, 6, 14),
    ("to_tell", 6, 8, 16),
    ("partly", 5, 14, 30),
    ("unclaimed", 6, 24, 41),
    ("given_up", 1, 40, 42),
    ("weighed_twice", 6, 5, 40),
    ("lug_twice", 4, 10, 40),
    ("pack_twice", 6, 12, 40),
    ("asked_change", 3, 9, 25),
    ("wrong_station", 6, 6, 40),
    ("split", 4, 8, 25),
    ("count_only", 2, 12, 40),
    ("box_missing", 1, 14, 30),
    ("untagged_birds", 2, 2, 35),
)
LAST_STAGE = {
    "booked": "booked",
    "just_in": "received",
    "no_tag": "received",
    "held_test": "skinned",
    "held_instructions": "skinned",
    "held_deposit": "skinned",
    "unanswered": "skinned",
    "to_grind": "cut",
    "to_wrap": "ground",
    "to_box": "packed",
    "to_tell": "stored",
    "unclaimed": "told",
}
NEEDS_BIRDS = {"untagged_birds"}
NEEDS_ONE_DEER = {case for case, *_ in CASES} - {"booked", "unclaimed", "to_tell"} - NEEDS_BIRDS


@dataclass(frozen=True, slots=True)
class OrderPlan:
    """One drop-off to come. `hunter` is a hunter's number; `case` one of CASES or empty."""

    n: int
    arrives: datetime
    hunter: int
    species: tuple[str, ...]
    together: bool = False
    rush: bool = False
    case: str = ""

    @property
    def last_stage(self) -> str:
        return LAST_STAGE.get(self.case, "collected")


def plan_season(rng: Random, now: datetime, zone: tzinfo) -> list[OrderPlan]:
    """Every order of six weeks up to `now`, in the order of arrival; the same `rng` and day give the same.

    `now` is a moment at which the shop is at work (see orders.demo.hours).
    """
    moments: list[datetime] = []
    today = now.astimezone(zone).date()
    for ago in range(DAYS, 0, -1):
        day = today - timedelta(days=ago)
        usual = rng.randint(4, 5) if day.weekday() >= 5 else 3
        for _ in range(OPENERS.get(ago, usual)):
            minutes = rng.randint(0, 9 * 60 + 30)
            moments.append(datetime.combine(day, time(8), zone) + timedelta(minutes=minutes))
    # Today's, in the last hours before now, however early in the day that is.
    opened = datetime.combine(today, DROP_OFF.opens, zone)
    longest = min(200, int((now - opened).total_seconds()) // 60)
    moments += [now - timedelta(minutes=rng.randint(12, longest)) for _ in range(9)]
    plans = [_order(rng, n, at) for n, at in enumerate(sorted(moments), start=1)]
    return _with_cases(rng, plans, now)


def _order(rng: Random, n: int, arrives: datetime) -> OrderPlan:
    names, weights = zip(*SPECIES, strict=True)
    species = rng.choices(names, weights)[0]
    many = 2 if species.endswith("deer") and rng.random() < 0.09 else 1
    returning = n > 40 and rng.random() < 0.15
    return OrderPlan(
        n=n,
        arrives=arrives,
        hunter=rng.randint(1, n - 1) if returning else n,
        species=(species,) * many,
        together=many > 1 and rng.random() < 0.6,
        rush=rng.random() < 0.05,
    )


def _with_cases(rng: Random, plans: list[OrderPlan], now: datetime) -> list[OrderPlan]:
    """Give each case its orders: the first that fit, spread by chance."""
    found = {plan.n: plan for plan in plans}
    for case, many, newest, oldest in CASES:
        fitting = [
            plan.n
            for plan in found.values()
            if not plan.case and newest <= (now - plan.arrives).days <= oldest and _fits(case, plan.species)
        ]
        for n in rng.sample(fitting, min(many, len(fitting))):
            found[n] = replace(found[n], case=case)
    return list(found.values())


def _fits(case: str, species: tuple[str, ...]) -> bool:
    """Whether a case can happen to animals of these species."""
    if (species[0] in BIRDS) != (case in NEEDS_BIRDS):
        return False
    return case not in NEEDS_ONE_DEER or (len(species) == 1 and species[0].endswith("deer"))
