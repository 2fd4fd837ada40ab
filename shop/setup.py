"""What a shop needs before its first animal: stations, cold places, the places where pieces end, its own row."""

from __future__ import annotations

from django.db import transaction

from shop.models import Person, Place, PlaceKind, Role, Station, Step
from shop.places import SINKS, add_place, add_station, shop_settings, sink

# One of each step, for a shop of any size; an owner adds and renames.
STATIONS: tuple[tuple[str, Step], ...] = (
    ("Counter", Step.COUNTER),
    ("Skinning", Step.SKIN),
    ("Cooler door", Step.COOLER),
    ("Block 1", Step.BLOCK),
    ("Grinder", Step.GRIND),
    ("Wrap 1", Step.WRAP),
    ("Freezer door", Step.FREEZER),
)
PLACES: tuple[tuple[str, PlaceKind], ...] = (
    ("Rail A", PlaceKind.RAIL),
    ("Rail B", PlaceKind.RAIL),
    ("Rack 1", PlaceKind.RACK),
    ("Shelf 1", PlaceKind.FREEZER),
    ("Shelf 2", PlaceKind.FREEZER),
    ("Hook 1", PlaceKind.HOOK),
)


def set_up(
    stations: tuple[tuple[str, Step], ...] = STATIONS, places: tuple[tuple[str, PlaceKind], ...] = PLACES
) -> list[str]:
    """Make what is missing and return the names of what was made; a shop that has its own stations keeps them."""
    with transaction.atomic():
        shop_settings()
        for name in SINKS:
            sink(name)
        made = []
        if not Station.objects.exists():
            made += [add_station(name, step).name for name, step in stations]
        if not Place.objects.filter(kind__in=(PlaceKind.RAIL, PlaceKind.RACK, PlaceKind.FREEZER)).exists():
            made += [add_place(name, kind, sort).name for sort, (name, kind) in enumerate(places, start=10)]
    return made


def has_owner() -> bool:
    """Whether anybody can come in as the owner."""
    return Person.objects.filter(role=Role.OWNER, is_active=True).exists()
