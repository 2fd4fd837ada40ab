"""How the floor answers: one banner in color, shape and words, and one way to show a screen with one task."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from orders.floor.forms import FloorForm
from orders.http import attempt
from orders.intake.models import Animal, Order
from orders.ledger.entry import Answer
from orders.ledger.refusal import Refusal

# A hold is a triangle, what is done already is a square; anything else that is refused is an octagon.
STOPPED = {"on_hold", "not_received", "animal_ended"}
ALREADY = {
    "already_open",
    "skinned_already",
    "off_already",
    "pulled_already",
    "lug_not_waiting",
    "in_the_box",
    "there_already",
    "run_closed",
    "answered_already",
}


def banner(request: HttpRequest, refusal: Refusal) -> None:
    """A refusal as a full-width banner of its kind."""
    level = messages.ERROR
    if refusal.code in STOPPED:
        level = messages.WARNING
    elif refusal.code in ALREADY:
        level = messages.INFO
    messages.add_message(request, level, refusal.sentence)


def tap(request: HttpRequest, act: Callable[..., Answer], subject: Any, **facts: Any) -> Answer | None:
    """One tap or scan: do it, and say so in a banner."""
    slip = forms.Form({})
    answer = attempt(request, act, subject, form=slip, **facts)
    if answer is None:
        banner(request, request.refusal)  # type: ignore[attr-defined]
    return answer


def posted(request: HttpRequest) -> Any:
    """What was posted, however little, for binding a form; None when the page is only looked at."""
    return request.POST if request.method == "POST" else None


@dataclass(frozen=True, slots=True)
class Screen:
    """What stands around one task: whose meat, what to do, where back leads, and the words of its buttons."""

    owner: Animal | Order
    title: str
    back: str
    save: str = "Save the weight"
    skip: str = "Not weighed"
    say: str = ""
    caution: str = ""

    @property
    def number(self) -> str:
        return self.owner.label if isinstance(self.owner, Animal) else self.owner.number


def task(
    request: HttpRequest,
    screen: Screen,
    form: FloorForm,
    act: Callable[..., Answer],
    subject: Any,
    facts: Callable[[], dict[str, Any]],
    done: str,
    template: str = "floor/task.html",
    instead: Callable[[], HttpResponse] | None = None,
    **context: Any,
) -> HttpResponse:
    """A screen with one form and one action: done leads on, refused shows it again with what was typed (422).

    `instead` makes the page for a refusal that is about nothing on this screen.
    """
    status = 200
    if request.method == "POST":
        if form.is_valid():
            answer = attempt(request, act, subject, form=form, **facts())
            if answer is not None:
                return redirect(done)
            if not _place_refusal(request, form) and instead is not None:
                return instead()
        status = 422
    return render(request, template, {"screen": screen, "form": form, **context}, status=status)


def _place_refusal(request: HttpRequest, form: FloorForm) -> bool:
    """Beside its field, which may have appeared because of it; what belongs to no field is a banner of its kind.

    Returns whether it found its field.
    """
    refusal: Refusal = request.refusal  # type: ignore[attr-defined]
    form.hear(refusal)
    general = form.errors.pop(NON_FIELD_ERRORS, None)
    if general and refusal.field in form.fields:
        form.add_error(refusal.field, forms.ValidationError(refusal.sentence, code=refusal.code))
    elif general:
        banner(request, refusal)
        return False
    return True
