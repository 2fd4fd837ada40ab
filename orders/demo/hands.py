"""Hands that do one action at its time, and stop where the demo's time stops."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta, tzinfo
from random import Random
from typing import Any

from orders.demo.bench import Bench, first_free
from orders.demo.setup import Shop
from orders.ledger.entry import Answer
from orders.ledger.refusal import Refusal
from orders.ledger.scale import OnScale
from shop.models import Place, PlaceKind, Step
from shop.weights import Reading

# What is open right now was begun in the last half hour: see orders.demo.live.
LIVE = timedelta(minutes=30)
# Not every scale of a shop is of one kind: an old one with kilograms, a bench scale with ounces.
SCALES = {"Block 2": "kg", "Wrap 2": "oz"}


class LaterError(Exception):
    """What comes next comes after now, or is not to come at all: the order stays as it is."""


def minutes(count: int) -> timedelta:
    return timedelta(minutes=count)


def scale(hundredths: int, unit: str = "lb", *, confirmed: bool = False) -> OnScale:
    """A scale with hundredths of a pound on it; whole tenths are shown as tenths, as the hanging scale does.

    Kilograms in hundredths and ounces in tenths, rounded down. A pound is 0.453 592 37 kg and 16 oz: NIST Handbook 44,
    appendix C (from memory).
    """
    if unit == "kg":
        return OnScale(Reading(hundredths * 45_359_237 // 10**8, "kg", 2), confirmed=confirmed)
    if unit == "oz":
        return OnScale(Reading(hundredths * 8 // 5, "oz", 1), confirmed=confirmed)
    if hundredths % 10 == 0:
        return OnScale(Reading(hundredths // 10, "lb", 1), confirmed=confirmed)
    return OnScale(Reading(hundredths, "lb", 2), confirmed=confirmed)


def scale_at(station: str, hundredths: int) -> OnScale:
    """What the scale of a station shows for hundredths of a pound."""
    return scale(hundredths, SCALES.get(station, "lb"))


class Hands:
    """The people at their stations: each station does one job after another, in working hours."""

    def __init__(self, shop: Shop, now: datetime, zone: tzinfo) -> None:
        self.shop = shop
        self.now = now
        self.zone = zone
        self.benches: dict[Step, dict[str, Bench]] = {}
        for name, station in shop.stations.items():
            self.benches.setdefault(Step(station.step), {})[name] = Bench(zone)

    def book(self, step: Step, earliest: datetime, length: timedelta) -> tuple[str, datetime]:
        """The station of a step that is free first, and when. Raises LaterError when it would not be done in time."""
        if earliest > self.now:
            raise LaterError
        station, start = first_free(self.benches[step], earliest, length)
        if start + length > self.now - LIVE:
            raise LaterError
        return station, start

    def do(
        self,
        act: Callable[..., Answer],
        subject: Any,
        station: str,
        at: datetime,
        rng: Random,
        **facts: Any,
    ) -> Answer:
        """Do an action at a station, unless its time is yet to come (LaterError)."""
        if at > self.now:
            raise LaterError
        return act(subject, by=self.shop.by(station, rng), at=at, **facts)

    def try_in_vain(
        self, act: Callable[..., Answer], subject: Any, station: str, at: datetime, rng: Random, **facts: Any
    ) -> None:
        """Do what is refused: a mistake of the kind people make, and that the shop's book shows."""
        try:
            self.do(act, subject, station, at, rng, **facts)
        except Refusal:
            return
        raise RuntimeError(f"{act.__name__} should have been refused")

    def place(self, kind: PlaceKind, rng: Random) -> Place:
        return self.shop.place(kind, rng)
