"""The demo's shop: its stations, places, people and season."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from random import Random
from uuid import NAMESPACE_DNS, uuid5

from django.contrib.auth.hashers import make_password

from orders.demo.hunters import people
from orders.intake.models import Season
from orders.intake.seasons import open_season
from orders.ledger.entry import By
from shop import people as shop_people
from shop.models import (
    NoTagReason,
    Part,
    Person,
    PieceForm,
    Place,
    PlaceKind,
    ShopSettings,
    Species,
    Station,
    Step,
)
from shop.places import table_of
from shop.setup import set_up

NAME = "Crooked Lantern Game Processing"
PASSWORD = "lantern-demo"  # noqa: S105 - known on purpose, refused where others can reach the shop
STATIONS: tuple[tuple[str, Step], ...] = (
    ("Counter", Step.COUNTER),
    ("Skinning", Step.SKIN),
    ("Cooler door", Step.COOLER),
    ("Block 1", Step.BLOCK),
    ("Block 2", Step.BLOCK),
    ("Block 3", Step.BLOCK),
    ("Grinder", Step.GRIND),
    ("Wrap 1", Step.WRAP),
    ("Wrap 2", Step.WRAP),
    ("Freezer door", Step.FREEZER),
    ("Office", Step.OFFICE),
)
PLACES: tuple[tuple[str, PlaceKind], ...] = (
    *((f"Rail {letter}", PlaceKind.RAIL) for letter in "ABCDEF"),
    ("Hold rail", PlaceKind.RAIL),
    *((f"Rack {n}", PlaceKind.RACK) for n in (1, 2, 3)),
    *((f"Freezer {n}, shelf {shelf}", PlaceKind.FREEZER) for n in (1, 2) for shelf in "ABCDEF"),
    *((f"Hooks {n}", PlaceKind.HOOK) for n in (1, 2, 3)),
)


@dataclass
class Shop:
    """Everything the season is played with, read once."""

    season: Season
    stations: dict[str, Station]
    tables: dict[str, Place]
    places: dict[str, list[Place]]
    staff: dict[str, list[Person]]
    species: dict[str, Species]
    forms: dict[str, PieceForm]
    parts: dict[str, Part]
    reasons: dict[str, NoTagReason]

    def by(self, station: str, rng: Random) -> By:
        """Somebody whose place that station is; where a step has several stations, each has a person of its own."""
        found = self.stations[station]
        staff = self.staff[found.step]
        alike = [name for name, each in self.stations.items() if each.step == found.step]
        person = staff[alike.index(station) % len(staff)] if len(alike) > 1 else rng.choice(staff)
        return By(person, None, found)

    def place(self, kind: PlaceKind, rng: Random) -> Place:
        return rng.choice(self.places[kind])


def open_shop(today: date) -> Shop:
    """Make the demo's shop and read it back."""
    set_up(STATIONS, PLACES)
    ShopSettings.objects.filter(id=1).update(
        name=NAME, address="14 Sawmill Lane", town="Tamarack Fork", phone="406-555-0142"
    )
    staff = _hire()
    stations = {station.name: station for station in Station.objects.prefetch_related("places")}
    places: dict[str, list[Place]] = {}
    for place in Place.objects.exclude(kind__in=(PlaceKind.SINK, PlaceKind.STATION)).exclude(
        name="Hold rail"
    ):
        places.setdefault(place.kind, []).append(place)
    return Shop(
        season=_open_season(today),
        stations=stations,
        tables={name: table_of(station) for name, station in stations.items()},
        places=places,
        staff=staff,
        species={each.code: each for each in Species.objects.all()},
        forms={each.code: each for each in PieceForm.objects.all()},
        parts={each.code: each for each in Part.objects.prefetch_related("choices")},
        reasons={each.code: each for each in NoTagReason.objects.all()},
    )


def _hire() -> dict[str, list[Person]]:
    found: dict[str, list[Person]] = {}
    rows = people()["staff"]
    for row in rows:
        facts = shop_people.Facts(
            username=row["username"],
            first_name=row["first_name"],
            last_name=row["last_name"],
            role=row["role"],
            language=row.get("language", "en"),
            pin=row["pin"],
        )
        sender_id = uuid5(NAMESPACE_DNS, f"{row['username']}.crooked-lantern.example")
        person, _ = shop_people.add(facts, sender_id=sender_id)
        for step in row["steps"]:
            found.setdefault(step, []).append(person)
    # One password for all of them: it is hashed once, since a hash takes as long as forty scans.
    names = [row["username"] for row in rows]
    Person.objects.filter(username__in=names).update(password=make_password(PASSWORD))
    return found


def _open_season(today: date) -> Season:
    starts, ends = today - timedelta(days=60), today + timedelta(days=75)
    years = f"{starts.year}" if starts.year == ends.year else f"{starts.year} to {ends.year}"
    return open_season(name=f"Season {years}", short=f"{starts:%y}", starts_on=starts, ends_on=ends)
