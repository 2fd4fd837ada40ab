"""Coming in: by password with one's own role, by PIN or badge at an enrolled device with the floor's."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from datetime import datetime, timedelta

from django.conf import settings
from django.contrib import auth
from django.contrib.auth.hashers import check_password, make_password
from django.db.models import QuerySet
from django.http import HttpResponseBase
from django.utils import timezone

from shop.access import (
    DEVICE_COOKIE,
    DEVICE_COOKIE_AGE,
    FLOOR_DEVICE,
    FLOOR_ONLY,
    MAX_TRIES,
    ShopRequest,
    too_many_tries,
)
from shop.models import Device, LoginTry, Person

BACKEND = "django.contrib.auth.backends.ModelBackend"
BADGE_LENGTH = 12
# A package of the grocer's also has twelve digits: a few of them scanned by mistake shut nobody out.
MAX_BADGE_TRIES = 30
KEEP_TRIES = timedelta(days=1)

WAIT = "There were too many wrong tries. Wait ten minutes, or ask the owner for a new {what}."
WRONG_LOGIN = "This username and password do not go together."
WRONG_PIN = "This is not the PIN of the person you chose."
NOT_ENROLLED = "PIN and badge work only on the shop's enrolled devices. Log in with your password."
UNKNOWN_BADGE = "This badge is not known here. Choose your name and type your PIN."


class SignInError(Exception):
    """Why somebody does not come in; the text is a sentence for the person."""


def floor_people() -> QuerySet[Person]:
    """Who may come in by PIN: everybody active who has one, by name."""
    return (
        Person.objects.filter(is_active=True).exclude(pin="").order_by("first_name", "last_name", "username")
    )


def by_password(request: ShopRequest, username: str, password: str, *, at: datetime | None = None) -> Person:
    """Log in with the person's own role. Raises SignInError."""
    device = request.device.pk if request.device else "none"
    key = f"password:{username.strip().lower()[:80]}:{device}"
    found: list[Person] = []

    def check() -> bool:
        person = auth.authenticate(request, username=username.strip(), password=password)
        if isinstance(person, Person):
            found.append(person)
        return bool(found)

    _attempt(key, check, wrong=WRONG_LOGIN, wait=WAIT.format(what="password"), at=at)
    auth.login(request, found[0])
    request.session.pop(FLOOR_ONLY, None)
    request.session.pop(FLOOR_DEVICE, None)
    return found[0]


def by_pin(request: ShopRequest, person: Person | None, pin: str, *, at: datetime | None = None) -> Person:
    """Take over the device with a PIN, in the floor role. Raises SignInError."""
    device = _need_device(request)
    if person is None or not person.is_active or not person.pin:
        raise SignInError("Choose your name first.")
    key = f"pin:{person.pk}:{device.pk}"
    _attempt(
        key, lambda: check_password(pin, person.pin), wrong=WRONG_PIN, wait=WAIT.format(what="PIN"), at=at
    )
    return _take_over(request, person, device)


def by_badge(request: ShopRequest, digits: str, *, at: datetime | None = None) -> Person:
    """Take over the device with a badge's twelve digits, in the floor role. Raises SignInError."""
    device = _need_device(request)
    person = Person.objects.filter(badge=digits, is_active=True).first() if is_badge(digits) else None
    _attempt(
        f"badge:{device.pk}",
        lambda: person is not None,
        wrong=UNKNOWN_BADGE,
        wait="Too many unknown badges were scanned here. Choose your name and type your PIN.",
        limit=MAX_BADGE_TRIES,
        at=at,
    )
    assert person is not None
    return _take_over(request, person, device)


def is_badge(text: str) -> bool:
    """Whether `text` has the shape of a badge: twelve digits."""
    return len(text) == BADGE_LENGTH and text.isascii() and text.isdigit()


def hashed_pin(pin: str) -> str:
    """A PIN as it is stored."""
    return make_password(pin)


def new_badge_digits() -> str:
    """Twelve random digits."""
    return f"{secrets.randbelow(10**BADGE_LENGTH):0{BADGE_LENGTH}d}"


def keep_device(response: HttpResponseBase, token: str) -> None:
    """Leave the device's token in its browser, out of reach of scripts, for as long as browsers allow."""
    response.set_cookie(
        DEVICE_COOKIE,
        token,
        max_age=DEVICE_COOKIE_AGE,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )


def _need_device(request: ShopRequest) -> Device:
    if request.device is None:
        raise SignInError(
            "PIN and badge work only on the shop's enrolled devices. Log in with your password."
        )
    return request.device


def _take_over(request: ShopRequest, person: Person, device: Device) -> Person:
    auth.login(request, person, backend=BACKEND)
    request.session[FLOOR_ONLY] = True
    request.session[FLOOR_DEVICE] = device.pk
    return person


def _attempt(
    key: str, check: Callable[[], bool], *, wrong: str, wait: str, limit: int = MAX_TRIES, at: datetime | None
) -> None:
    """Run `check` unless `key` has failed too often.

    A try is on record, for everybody to see, before the tries are counted: of many at once none slips through.
    """
    now = at or timezone.now()
    this_try = LoginTry.objects.create(key=key, at=now)
    if too_many_tries(key, now, limit + 1):
        this_try.delete()
        raise SignInError(wait)
    if not check():
        LoginTry.objects.filter(at__lt=now - KEEP_TRIES).delete()
        raise SignInError(wrong)
    this_try.delete()
    if limit == MAX_TRIES:
        LoginTry.objects.filter(key=key).delete()
