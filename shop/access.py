"""Who may do what from where: the enrolled device, the role, and the roles each view declares."""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any, TypeVar, cast
from urllib.parse import urlencode

from django.contrib.auth import logout
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from shop.context import shop_settings_kept
from shop.models import Device, LoginTry, Person, Role, Station

log = logging.getLogger("gambrel.access")

DEVICE_COOKIE = "gambrel_device"
# Browsers keep no cookie longer than 400 days; each sign-in at the device renews it.
DEVICE_COOKIE_AGE = timedelta(days=400)
# Session keys: came in by badge or PIN, and at which device.
FLOOR_ONLY = "floor_only"
FLOOR_DEVICE = "floor_device"
PUBLIC = "public"

TRY_WINDOW = timedelta(minutes=10)
MAX_TRIES = 8

View = TypeVar("View", bound=Callable[..., HttpResponseBase])
GetResponse = Callable[[HttpRequest], HttpResponseBase]


class ShopRequest(HttpRequest):
    """A request as views get it: `role` is "owner", "counter", "floor", or "" before login."""

    user: Person
    role: str
    device: Device | None
    station: Station | None


def roles(*allowed: str) -> Callable[[View], View]:
    """Declare which roles a view serves. Put it outermost; a view without is refused to everybody."""
    unknown = set(allowed) - set(Role.values)
    if unknown or not allowed:
        raise ValueError(f"roles are {', '.join(Role.values)}; not {', '.join(sorted(unknown)) or 'none'}")

    def declare(view: View) -> View:
        view.roles = frozenset(allowed)  # type: ignore[attr-defined]
        return view

    return declare


def public(view: View) -> View:
    """Declare that a view serves people who are not logged in too."""
    view.roles = PUBLIC  # type: ignore[attr-defined]
    return login_not_required(view)


def may(role: str, view: Callable[..., Any]) -> bool:
    """Whether `role` is served by a view, by what the view declares."""
    allowed: frozenset[str] | str = getattr(view, "roles", frozenset())
    return allowed == PUBLIC or role in allowed


def token_hash(token: str) -> str:
    """SHA-256 of a device's token, as it is stored: the token itself is only in the device's cookie."""
    return hashlib.sha256(token.encode()).hexdigest()


def too_many_tries(key: str, at: datetime, limit: int = MAX_TRIES) -> bool:
    """Whether `key` has used up its tries of the last ten minutes."""
    return LoginTry.objects.filter(key=key, at__gt=at - TRY_WINDOW).count() >= limit


class DeviceMiddleware:
    """Sets `request.device` and `request.station` from the device's cookie; sends strangers to a door."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, plain: HttpRequest) -> HttpResponseBase:
        request = cast(ShopRequest, plain)
        with shop_settings_kept():
            request.device = find_device(request.COOKIES.get(DEVICE_COOKIE, ""))
            request.station = request.device.station if request.device else None
            _end_session_of_another_device(request)
            return self.get_response(request)

    def process_view(
        self, request: ShopRequest, view: Callable[..., Any], args: Any, kwargs: Any
    ) -> HttpResponseBase | None:
        if request.user.is_authenticated or not getattr(view, "login_required", True):
            return None
        return _ask_to_log_in(request)


class RoleMiddleware:
    """Sets `request.role` and refuses views that do not declare it."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, plain: HttpRequest) -> HttpResponseBase:
        request = cast(ShopRequest, plain)
        request.role = role_of(request)
        return self.get_response(request)

    def process_view(
        self, request: ShopRequest, view: Callable[..., Any], args: Any, kwargs: Any
    ) -> HttpResponseBase | None:
        if may(request.role, view):
            return None
        if not hasattr(view, "roles"):
            log.error("the view at %s declares no roles and is refused", request.path)
        return refuse(request)


def role_of(request: ShopRequest) -> str:
    """The role of this request: the floor's for whoever came in by badge or PIN, else the person's own."""
    if not request.user.is_authenticated:
        return ""
    return Role.FLOOR.value if request.session.get(FLOOR_ONLY) else request.user.role


def find_device(token: str) -> Device | None:
    """The enrolled device that holds `token`; None when unknown or revoked."""
    if not token:
        return None
    return (
        Device.objects.select_related("station")
        .filter(token_hash=token_hash(token), revoked_at__isnull=True)
        .first()
    )


def refuse(request: HttpRequest, sentence: str = "") -> HttpResponse:
    """The friendly 403 page; `sentence` says why, by default that the page is for another role."""
    return render(request, "403.html", {"sentence": sentence}, status=403)


def _end_session_of_another_device(request: ShopRequest) -> None:
    """A badge or PIN counts at its device only, and no longer than the device is enrolled."""
    came_in_at = request.session.get(FLOOR_DEVICE)
    if came_in_at is not None and (request.device is None or request.device.pk != came_in_at):
        logout(request)


def _ask_to_log_in(request: ShopRequest) -> HttpResponseBase:
    """To the name tiles on an enrolled device, else to the password page; scripts are told so."""
    door = reverse("who" if request.device else "login")
    if request.headers.get("HX-Request") == "true":
        return HttpResponse(status=204, headers={"HX-Redirect": door})
    if request.headers.get("Accept", "").startswith("application/json"):
        return JsonResponse({"login": door}, status=401)
    if request.method != "GET" or request.path == "/":
        return redirect(door)
    return redirect(f"{door}?{urlencode({'next': request.get_full_path()}, safe='/')}")
