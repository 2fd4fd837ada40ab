"""Coming in and going, devices, people, and whether all is well."""

from __future__ import annotations

from typing import cast
from urllib.parse import urlsplit

from django.contrib import auth, messages
from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponseBase, JsonResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import NoReverseMatch, Resolver404, resolve, reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shop import devices as device_actions
from shop import people as people_actions
from shop import signin
from shop.access import DEVICE_COOKIE, ShopRequest, may, public, refuse, roles
from shop.forms import EnrollForm, LoginForm, PersonForm
from shop.models import Device, Person, Role


@public
@never_cache
@sensitive_post_parameters("password")
@require_http_methods(["GET", "POST"])
def login(request: HttpRequest) -> HttpResponseBase:
    """Username and password, for one's own role."""
    form = LoginForm(_sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            person = signin.by_password(
                cast(ShopRequest, request), form.cleaned_data["username"], form.cleaned_data["password"]
            )
            return redirect(_landing(request, person.role))
        except signin.SignInError as error:
            form.add_error("password", str(error))
    return render(request, "shop/login.html", {"form": form, "next": _typed_next(request)})


@public
@require_POST
def logout(request: HttpRequest) -> HttpResponseBase:
    """Leave; an enrolled device then asks who is next."""
    auth.logout(request)
    return redirect("who" if cast(ShopRequest, request).device else "login")


@public
@never_cache
@sensitive_post_parameters("pin", "badge")
@require_http_methods(["GET", "POST"])
def who(plain: HttpRequest) -> HttpResponseBase:
    """Name tiles and PIN, or a badge: one step, on enrolled devices only, always into the floor role."""
    request = cast(ShopRequest, plain)
    if request.device is None:
        if request.method == "POST":
            return refuse(request, signin.NOT_ENROLLED)
        return redirect("login")
    error = ""
    if request.method == "POST":
        try:
            _come_in(request)
            response = redirect(_landing(request, Role.FLOOR))
            signin.keep_device(response, request.COOKIES[DEVICE_COOKIE])
            return response
        except signin.SignInError as refused:
            error = str(refused)
    context = {
        "people": signin.floor_people(),
        "chosen": request.POST.get("person", ""),
        "error": error,
        "next": _typed_next(request),
    }
    return render(request, "shop/who.html", context)


@roles("owner")
@require_http_methods(["GET", "POST"])
def devices(plain: HttpRequest) -> HttpResponseBase:
    """The enrolled devices; enroll the one this page is open on."""
    request = cast(ShopRequest, plain)
    form = EnrollForm(_sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            device, token = device_actions.enroll(
                form.cleaned_data["name"],
                form.cleaned_data["station"],
                sender_id=form.sender_id,
                replaces=request.device,
            )
        except device_actions.DeviceRefused as refused:
            form.add_error("name", str(refused))
        else:
            messages.success(request, f"{device} is enrolled at {device.station}.")
            response = redirect("devices")
            signin.keep_device(response, token)
            return response
    rows = Device.objects.select_related("station").order_by("revoked_at", "name", "id")
    active = [row for row in rows if row.revoked_at is None]
    return render(
        request,
        "shop/devices.html",
        {"form": form, "active": active, "revoked": [r for r in rows if r.revoked_at]},
    )


@roles("owner")
@require_POST
def revoke_device(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Shut a device out."""
    device = get_object_or_404(Device, pk=pk)
    if device_actions.revoke(device):
        messages.success(request, f"{device} is shut out. It can be enrolled again on the device itself.")
    else:
        messages.info(request, f"{device} was shut out before.")
    return redirect("devices")


@roles("owner")
@never_cache
@sensitive_post_parameters("password", "pin")
@require_http_methods(["GET", "POST"])
def people(request: HttpRequest) -> HttpResponseBase:
    """Who works here; add somebody."""
    form = PersonForm(_sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            added, new = people_actions.add(form.facts(), sender_id=form.sender_id)
        except people_actions.PersonRefused as refused:
            form.add_error(refused.field or None, str(refused))
        else:
            if new:
                messages.success(request, f"{added} is added.")
            else:
                messages.info(request, f"{added} was added before.")
            return redirect("person", pk=added.pk)
    rows = Person.objects.order_by("-is_active", "first_name", "last_name", "username")
    return render(request, "shop/people.html", {"form": form, "people": rows})


@roles("owner")
@never_cache
@sensitive_post_parameters("password", "pin")
@require_http_methods(["GET", "POST"])
def person(request: HttpRequest, pk: int) -> HttpResponseBase:
    """One person: change what is known, give a new PIN, password or badge, let in or no longer."""
    row = get_object_or_404(Person, pk=pk)
    initial = {
        name: getattr(row, name) for name in ("first_name", "last_name", "username", "role", "language")
    }
    form = PersonForm(_sent(request), initial=initial, person=row)
    if request.method == "POST" and form.is_valid():
        try:
            people_actions.change(row, form.facts())
        except people_actions.PersonRefused as refused:
            form.add_error(refused.field or None, str(refused))
        else:
            row.refresh_from_db()
            if row.pk == request.user.pk:
                auth.update_session_auth_hash(request, row)
            messages.success(request, f"{row} is changed.")
            return redirect("person", pk=row.pk)
    return render(request, "shop/person.html", {"form": form, "row": row})


@roles("owner")
@require_POST
def person_active(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Let a person in, or no longer."""
    row = get_object_or_404(Person, pk=pk)
    active = request.POST.get("active") == "yes"
    words = "may come in" if active else "cannot come in any more"
    try:
        changed = people_actions.set_active(row, active, by=cast(Person, request.user))
    except people_actions.PersonRefused as refused:
        messages.error(request, str(refused))
    else:
        level = messages.SUCCESS if changed else messages.INFO
        messages.add_message(request, level, f"{row} {words}.")
    return redirect("person", pk=row.pk)


@roles("owner")
@require_POST
def person_badge(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Give a person a new badge."""
    row = get_object_or_404(Person, pk=pk)
    people_actions.new_badge(row)
    messages.success(request, f"{row} has a new badge. The old one opens nothing any more.")
    return redirect("person", pk=row.pk)


@public
@never_cache
@require_safe
def health(request: HttpRequest) -> JsonResponse:
    """Whether pages can be served: 200, or 503 when the database does not answer."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1 FROM shop_counter UNION SELECT 1")
            cursor.fetchone()
    except DatabaseError:
        return JsonResponse({"status": "failing", "database": "does not answer"}, status=503)
    return JsonResponse({"status": "ok", "database": "ok"})


def _sent(request: HttpRequest) -> QueryDict | None:
    """What a form was sent with, even when that is nothing."""
    return request.POST if request.method == "POST" else None


def _come_in(request: ShopRequest) -> Person:
    pin = request.POST.get("pin", "").strip()
    # A scanner types wherever the cursor stands: a badge in the PIN field is a badge.
    badge = request.POST.get("badge", "").strip() or (pin if signin.is_badge(pin) else "")
    if badge:
        return signin.by_badge(request, badge)
    chosen = request.POST.get("person", "")
    person = signin.floor_people().filter(pk=chosen).first() if chosen.isdecimal() else None
    return signin.by_pin(request, person, pin)


def _typed_next(request: HttpRequest) -> str:
    """The page to return to, when it is one of ours."""
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    safe = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
    return wanted if safe else ""


def _landing(request: HttpRequest, role: str) -> str:
    """Where somebody who has come in lands: the page they asked for if it serves their role, else a first one."""
    wanted = _typed_next(request)
    if wanted:
        try:
            if may(role, resolve(urlsplit(wanted).path).func):
                return wanted
        except Resolver404:
            pass
    try:
        return reverse("floor" if role == Role.FLOOR else "home")
    except NoReverseMatch:
        return "/"
