"""Stations, places and the sinks where pieces end."""

from __future__ import annotations

from django.db import transaction

from shop.codes import Kind
from shop.counters import new_codes
from shop.models import Place, PlaceKind, ShopSettings, Station, Step

SINKS = {"collected": "Collected", "used": "Used up", "hauled": "Hauled away", "void": "Void"}


def sink(name: str) -> Place:
    """The place where pieces of this ending go; made on first use."""
    found = Place.objects.filter(sink=name).first()
    if found is None:
        with transaction.atomic():
            code = new_codes(Kind.PLACE)[0]
            found, _ = Place.objects.get_or_create(
                sink=name, defaults={"code": code, "name": SINKS[name], "kind": PlaceKind.SINK, "sort": 900}
            )
    return found


def add_station(name: str, step: Step) -> Station:
    """A station with its code, and the place that its table is. The same name again returns what is there."""
    with transaction.atomic():
        found = Station.objects.filter(name=name).first()
        if found is None:
            found = Station.objects.create(code=new_codes(Kind.STATION)[0], name=name, step=step)
            kind = PlaceKind.COUNTER if step == Step.COUNTER else PlaceKind.STATION
            Place.objects.create(code=new_codes(Kind.PLACE)[0], name=name, kind=kind, station=found)
    return found


def add_place(name: str, kind: PlaceKind, sort: int = 100) -> Place:
    """A rail, rack, shelf or hook with its code. The same name again returns what is there."""
    with transaction.atomic():
        found = Place.objects.filter(name=name).first()
        if found is None:
            found = Place.objects.create(code=new_codes(Kind.PLACE)[0], name=name, kind=kind, sort=sort)
    return found


def table_of(station: Station) -> Place:
    """The place that a station's table is."""
    return min(station.places.all(), key=lambda place: place.pk)


def shop_settings() -> ShopSettings:
    """The shop's one row of settings, made with defaults on first use."""
    return ShopSettings.objects.get_or_create(id=1)[0]
