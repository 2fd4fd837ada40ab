"""The pickup page of one order: its forms, each as it was sent or fresh."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from orders.billing.forms import AmountForm, PaidForm, UnpaidForm
from orders.http import carry_out
from orders.intake.arrival import standing
from orders.intake.models import Order, State
from orders.ledger.entry import Answer
from orders.pickup.forms import CloseForm, NotifyForm, ReleaseForm, ReopenForm
from orders.pickup.queries import READY_STATES, leaving, pieces_left
from orders.pickup.who import may_collect
from shop.models import Species

# The small forms of the page, by what the template calls them; `release_form` is the large one.
SMALL_FORMS: dict[str, type[forms.Form]] = {
    "amount": AmountForm,
    "paid": PaidForm,
    "unpaid": UnpaidForm,
    "notify": NotifyForm,
    "close": CloseForm,
    "reopen": ReopenForm,
}


def answer_form(
    request: HttpRequest, number: str, form_class: type[forms.Form], act: Callable[..., Answer]
) -> HttpResponseBase:
    """Do what one of the small forms asks for an order, and show its page again."""
    order = get_object_or_404(Order, number=number)
    name = next(name for name, known in SMALL_FORMS.items() if known is form_class)
    form = form_class(request.POST, auto_id=f"{name}_%s")

    def again() -> HttpResponse:
        return pickup_page(request, order, status=422, **{f"{name}_form": form})

    return carry_out(request, form, act, order, done=reverse("order-pickup", args=[number]), again=again)


def release_form(order: Order, data: Any = None) -> ReleaseForm:
    """The form that hands over what is here of an order, fresh or as it was sent."""
    return ReleaseForm(data, offered=leaving(order), may=may_collect(order))


def pickup_page(request: HttpRequest, order: Order, *, status: int = 200, **sent: Any) -> HttpResponse:
    """Render the page; a form that was refused is passed as it was sent, with its sentences beside its fields."""
    order = Order.objects.select_related("hunter", "season").get(pk=order.pk)
    large = sent.pop("release_form", None) or release_form(order)
    handed_over = {each.piece.pk for each in large.offered}
    context: dict[str, Any] = {
        "order": order,
        "animals": list(order.animals.select_related("species", "taker").order_by("n")),
        "release_form": large,
        "unfinished": [
            (piece, standing(piece, has_tag=piece.animal is None or piece.animal.has_tag))
            for piece in pieces_left(order)
            if piece.pk not in handed_over and not piece.container_id
        ],
        "releases": list(order.releases.select_related("person", "event").order_by("-n")),
        "can_notify": order.state in READY_STATES,
        "collected": order.state == State.COLLECTED,
        "cautions": list(
            Species.objects.filter(pk__in=order.animals.values("species")).exclude(caution="").distinct()
        ),
    }
    small = {f"{name}_form": form(auto_id=f"{name}_%s") for name, form in SMALL_FORMS.items()}
    return render(request, "pickup/order_pickup.html", {**context, **small, **sent}, status=status)
