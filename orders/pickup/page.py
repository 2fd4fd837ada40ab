"""The pickup page of one order: its forms, each as it was sent or fresh."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from orders.billing.forms import AmountForm, PaidForm, UnpaidForm
from orders.intake.models import Order, State
from orders.pickup.forms import CloseForm, NotifyForm, ReleaseForm, ReopenForm
from orders.pickup.queries import READY_STATES, leaving, pieces_left
from shop.models import Species


def pickup_page(request: HttpRequest, order: Order, *, status: int = 200, **sent: forms.Form) -> HttpResponse:
    """Render the page; a form that was refused is passed as it was sent, with its sentences beside its fields."""
    order = Order.objects.select_related("hunter", "season").get(pk=order.pk)
    release_form = sent.get("release_form") or ReleaseForm(offered=leaving(order))
    assert isinstance(release_form, ReleaseForm)
    handed_over = {each.piece.pk for each in release_form.offered}
    context: dict[str, Any] = {
        "order": order,
        "animals": list(order.animals.select_related("species", "taker").order_by("n")),
        "release_form": release_form,
        "unfinished": [
            piece for piece in pieces_left(order) if piece.pk not in handed_over and not piece.container_id
        ],
        "notify_form": NotifyForm(),
        "close_form": CloseForm(),
        "amount_form": AmountForm(),
        "paid_form": PaidForm(),
        "unpaid_form": UnpaidForm(auto_id="unpaid_%s"),
        "reopen_form": ReopenForm(auto_id="reopen_%s"),
        "releases": list(order.releases.select_related("person").order_by("-n")),
        "can_notify": order.state in READY_STATES,
        "collected": order.state == State.COLLECTED,
        "cautions": list(
            Species.objects.filter(pk__in=order.animals.values("species")).exclude(caution="").distinct()
        ),
        **sent,
    }
    return render(request, "pickup/order_pickup.html", context, status=status)
