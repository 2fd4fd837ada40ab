"""Shared fixtures: the catalog, fixed people, stations and places.

Every test that used the database ends with a check that replaying the ledger agrees with what is cached.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.utils import timezone

from orders.intake.models import Season
from orders.ledger import triggers
from orders.ledger.check import problems
from orders.ledger.entry import By
from shop import catalog as shop_catalog
from shop.models import Person, Place, PlaceKind, Role, ShopSettings, Species, Station, Step
from shop.places import add_place, add_station
from tests.scenario import Scenario


@pytest.fixture(scope="session", autouse=True)
def _flush_lifts_the_triggers() -> Iterator[None]:
    """Transactional tests empty the tables afterwards; the ledger's triggers are lifted just there."""
    from django.core.management.commands import flush

    refused = flush.Command.handle

    def handle(self: Any, **options: Any) -> Any:
        with triggers.lifted(connection):
            return refused(self, **options)

    flush.Command.handle = handle  # type: ignore[method-assign]
    yield
    flush.Command.handle = refused  # type: ignore[method-assign]


@pytest.fixture(autouse=True)
def _fast_hasher(settings: Any) -> None:
    """What is tested is who may do what, not how slow the real hasher is."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture(autouse=True)
def _ledger_agrees(request: pytest.FixtureRequest) -> Iterator[None]:
    """Replays the ledger after each database test, unless it spoils the ledger on purpose (`spoils_ledger`)."""
    uses_database = {"db", "transactional_db"} & set(request.fixturenames)
    if uses_database:
        request.getfixturevalue("transactional_db" if "transactional_db" in request.fixturenames else "db")
    yield
    if uses_database and request.node.get_closest_marker("spoils_ledger") is None:
        assert problems() == []


@dataclass(frozen=True)
class People:
    owner: Person
    clerk: Person
    cutter: Person


@dataclass(frozen=True)
class Stations:
    counter: Station
    skin: Station
    cooler: Station
    block: Station
    grind: Station
    wrap: Station
    freezer: Station


@dataclass(frozen=True)
class Places:
    door: Place
    rail: Place
    rack: Place
    shelf: Place
    hook: Place


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: Any) -> None:
    """The catalog is loaded once; each test's changes to it are rolled back."""
    with django_db_blocker.unblock():
        shop_catalog.load()


@pytest.fixture
def catalog(db: None) -> None:
    """The species, parts, choices and figures as shipped, and the shop's own row."""
    if not Species.objects.exists():
        # A transactional test has emptied the tables.
        shop_catalog.load()
    ShopSettings.objects.get_or_create(
        id=1,
        defaults={
            "name": "Crooked Lantern Game Processing",
            "address": "14 Sawmill Lane",
            "town": "Tamarack Fork",
            "phone": "555-0142",
        },
    )


@pytest.fixture
def people(db: None) -> People:
    """One person of each role, with the password `lantern-test`."""

    def make(username: str, first: str, last: str, role: Role) -> Person:
        return Person.objects.create_user(
            username, password="lantern-test", first_name=first, last_name=last, role=role
        )

    return People(
        owner=make("olive", "Olive", "Marrow", Role.OWNER),
        clerk=make("clem", "Clem", "Tansy", Role.COUNTER),
        cutter=make("kit", "Kit", "Barlow", Role.FLOOR),
    )


@pytest.fixture
def stations(db: None) -> Stations:
    return Stations(
        counter=add_station("Counter", Step.COUNTER),
        skin=add_station("Skinning", Step.SKIN),
        cooler=add_station("Cooler door", Step.COOLER),
        block=add_station("Block 1", Step.BLOCK),
        grind=add_station("Grinder", Step.GRIND),
        wrap=add_station("Wrap 1", Step.WRAP),
        freezer=add_station("Freezer door", Step.FREEZER),
    )


@pytest.fixture
def places(stations: Stations) -> Places:
    return Places(
        door=Place.objects.get(station=stations.counter),
        rail=add_place("Rail A", PlaceKind.RAIL),
        rack=add_place("Rack 1", PlaceKind.RACK),
        shelf=add_place("Shelf 1", PlaceKind.FREEZER),
        hook=add_place("Hook 1", PlaceKind.HOOK),
    )


@pytest.fixture
def season(db: None) -> Season:
    """A season that has today in it."""
    today = timezone.localdate()
    return Season.objects.create(
        name="Test season",
        short="26",
        starts_on=today - timedelta(days=60),
        ends_on=today + timedelta(days=60),
    )


@pytest.fixture
def by(people: People, stations: Stations) -> Callable[[str], By]:
    """`by("block")`: the right person at that station: the clerk at the counter, the cutter on the floor."""

    def who(step: str) -> By:
        person = people.clerk if step == "counter" else people.cutter
        return By(person, None, getattr(stations, step))

    return who


@pytest.fixture
def days_ago() -> Callable[[int], date]:
    """A day in the shop's zone, counted back from today."""
    return lambda days: timezone.localdate() - timedelta(days=days)


@pytest.fixture
def at() -> Callable[[float], datetime]:
    """A moment, so many hours ago."""
    return lambda hours: timezone.now() - timedelta(hours=hours)


@pytest.fixture
def scenario(catalog: None, by: Callable[[str], By], places: Places, season: Season) -> Scenario:
    """Drives animals through the job; see tests/scenario.py."""
    return Scenario(by, places, season)
