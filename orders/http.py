"""Between a request and an action: who acts and where, the sender's id, and a refusal beside its field."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from orders.ledger.entry import Answer, By
from orders.ledger.refusal import Refusal
from shop.access import View, roles
from shop.models import Station, Step

STATION_KEY = "station_id"


def station_of(request: HttpRequest) -> Station | None:
    """The station of this request: the device's own, else the one chosen in this session, else the counter's.

    Floor people without an enrolled device choose; the office and the counter stand at the counter by default.
    """
    station: Station | None = getattr(request, "station", None)
    if station is not None:
        return station
    chosen = request.session.get(STATION_KEY)
    if chosen is not None:
        return Station.objects.filter(pk=chosen).first()
    if getattr(request, "role", "") == "floor":
        return None
    return Station.objects.filter(step=Step.COUNTER).first()


def by_of(request: HttpRequest, *, at_counter: bool = False) -> By:
    """Who acts from where. `at_counter`: a counter page, whatever floor station the session has chosen."""
    station = station_of(request)
    device = getattr(request, "device", None)
    if at_counter and device is None:
        station = Station.objects.filter(step=Step.COUNTER).first()
    return By(request.user, device, station)  # type: ignore[arg-type]


def sender_id_of(request: HttpRequest) -> UUID | None:
    """The id that the form carries; None when it carries none or nonsense, and the form then counts as new."""
    try:
        return UUID(request.POST.get("sender_id", ""))
    except ValueError:
        return None


def attempt(
    request: HttpRequest,
    act: Callable[..., Answer],
    subject: Any,
    *,
    form: forms.BaseForm | None = None,
    at_counter: bool = False,
    raw_code: str = "",
    **facts: Any,
) -> Answer | None:
    """Do an action for a request. A refusal goes beside its field, or into the messages, and None comes back."""
    try:
        answer = act(
            subject,
            by=by_of(request, at_counter=at_counter),
            sender_id=sender_id_of(request),
            raw_code=raw_code,
            **facts,
        )
    except Refusal as refusal:
        request.refusal = refusal  # type: ignore[attr-defined]
        if form is not None:
            field = refusal.field if refusal.field in form.fields else NON_FIELD_ERRORS
            form.add_error(field, forms.ValidationError(refusal.sentence, code=refusal.code))
        else:
            messages.error(request, refusal.sentence)
        return None
    if answer.repeated:
        messages.info(request, f"Already done: {answer.shown}")
    else:
        messages.success(request, answer.shown)
    return answer


def counter_form(view: View) -> View:
    """Declare an address that a form of the counter is sent to: the owner's and the counter's, POST only."""
    return roles("owner", "counter")(require_POST(view))


def carry_out(
    request: HttpRequest,
    form: forms.BaseForm,
    act: Callable[..., Answer],
    subject: Any,
    *,
    done: str | Callable[[Answer], str],
    again: Callable[[], HttpResponseBase],
    facts: Callable[[], dict[str, Any]] | None = None,
) -> HttpResponseBase:
    """What every form of the counter does: done, go on to `done`; else its page `again`, with the sentences on it.

    `facts()` are the action's facts once the form is valid, by default what was typed.
    """
    if form.is_valid():
        # Bound beforehand: a fact may have the name of one of `attempt`'s own arguments.
        ready = partial(act, **(facts() if facts else form.cleaned_data))
        answer = attempt(request, ready, subject, form=form, at_counter=True)
        if answer is not None:
            return redirect(done if isinstance(done, str) else done(answer))
    focus_on_refused(form)
    return again()


def focus_on_refused(form: forms.BaseForm) -> None:
    """Let the page open at the first field of a form that was refused."""
    for name, field in form.fields.items():
        if name in form.errors and not field.widget.is_hidden:
            field.widget.attrs["autofocus"] = True
            return
