"""At which floor station a request is, and the frame of pages that are opened from there."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from orders.floor.forms import FLOOR_STEPS
from orders.http import station_of
from shop.models import Role, Station


def floor_station(request: HttpRequest) -> Station | None:
    """The floor station of this request; the counter and the office are none."""
    station = station_of(request)
    return station if station is not None and station.step in FLOOR_STEPS else None


def frame_of(request: HttpRequest) -> dict[str, Any]:
    """The frame of a page that the office and the floor share, as `frame`; on the floor also `floor_at`, its station.

    Somebody of the floor at a station, and whoever stands at a tablet of the floor, keeps the scan box that acts there.
    """
    station = floor_station(request)
    on_the_floor = getattr(request, "role", "") == Role.FLOOR or getattr(request, "station", None) is not None
    if station is None or not on_the_floor:
        return {"frame": "base.html"}
    return {"frame": "floor/base.html", "floor_at": station}
