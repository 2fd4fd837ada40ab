"""What every template knows: the shop, and who is looking at it from where."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from django.http import HttpRequest

from shop.models import ShopSettings

_kept: ContextVar[dict[str, ShopSettings] | None] = ContextVar("kept_shop_settings", default=None)


@contextmanager
def shop_settings_kept() -> Iterator[None]:
    """Within this block the shop's row is read once. The middleware opens it around each request."""
    token = _kept.set({})
    try:
        yield
    finally:
        _kept.reset(token)


def shop_settings() -> ShopSettings:
    """The shop's one row, or an unsaved row of defaults before the shop is set up."""
    kept = _kept.get()
    if kept is not None and "shop" in kept:
        return kept["shop"]
    row = ShopSettings.objects.filter(pk=1).first() or ShopSettings()
    if kept is not None:
        kept["shop"] = row
    return row


def shop(request: HttpRequest) -> dict[str, Any]:
    """Context processor: `shop`, `role` ("" before login), `device`, `station`, `person` (or None)."""
    user = getattr(request, "user", None)
    return {
        "shop": shop_settings(),
        "role": getattr(request, "role", ""),
        "device": getattr(request, "device", None),
        "station": getattr(request, "station", None),
        "person": user if user is not None and user.is_authenticated else None,
    }
