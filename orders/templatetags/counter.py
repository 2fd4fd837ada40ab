"""Filters of the counter's pages."""

from __future__ import annotations

from django import forms, template
from django.forms import BoundField

from orders.cutsheets.models import CutLine
from orders.cutsheets.words import details
from orders.intake.facts import phone_shown
from orders.intake.models import State
from orders.ledger.models import Weighing
from shop.weights import Reading

register = template.Library()

LOOK_OF_STATE = {
    State.NOT_RECEIVED: "hold",
    State.SKINNING: "working",
    State.CUTTING: "working",
    State.READY: "ready",
    State.NOTIFIED: "ready",
    State.PARTLY_COLLECTED: "ready",
    State.COLLECTED: "done",
    State.REFUSED: "ended",
    State.SPOILED: "ended",
    State.VOID: "ended",
}


@register.filter
def phone(e164: str | None) -> str:
    """A stored phone number as it is read back: `(406) 555-0142`."""
    return phone_shown(e164 or "")


@register.filter
def look(state: str) -> str:
    """The class of a state's chip; its words say the same thing."""
    return LOOK_OF_STATE.get(State(state), "")


@register.filter
def reading(weighing: Weighing) -> str:
    """A weighing as the scale showed it: `131.5 lb`, or `134.0 lb, tare 2.5 lb`."""
    gross, tare = (
        Reading(value, weighing.unit, weighing.decimals) for value in (weighing.gross, weighing.tare)
    )
    return f"{gross}, tare {tare}" if weighing.tare else str(gross)


@register.filter
def line_details(line: CutLine) -> str:
    """What is said about a cut sheet's line beside its choice."""
    return details(line)


@register.filter
def first_wrong(form: forms.Form) -> BoundField | None:
    """The first field of a form that was refused, from the top; None where what is wrong is of the whole form."""
    return next((field for field in form if field.errors), None)
