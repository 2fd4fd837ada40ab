"""The amount of an order, and that it is paid; both from the pickup page."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from orders.billing.actions import mark_paid, set_amount, unmark_paid
from orders.billing.forms import AmountForm, PaidForm, UnpaidForm
from orders.http import attempt
from orders.intake.models import Order
from orders.pickup.page import pickup_page
from shop.access import roles


@roles("owner", "counter")
@require_POST
def order_amount(request: HttpRequest, number: str) -> HttpResponse:
    """Type what the order costs."""
    order = get_object_or_404(Order, number=number)
    form = AmountForm(request.POST)
    if form.is_valid():
        cents = form.cleaned_data["amount"]
        if attempt(request, set_amount, order, form=form, at_counter=True, cents=cents):
            return redirect("order-pickup", number)
    return pickup_page(request, order, status=422, amount_form=form)


@roles("owner", "counter")
@require_POST
def order_paid(request: HttpRequest, number: str) -> HttpResponse:
    """The amount was paid."""
    order = get_object_or_404(Order, number=number)
    form = PaidForm(request.POST)
    if form.is_valid() and attempt(
        request, mark_paid, order, form=form, at_counter=True, how=form.cleaned_data["how"]
    ):
        return redirect("order-pickup", number)
    return pickup_page(request, order, status=422, paid_form=form)


@roles("owner", "counter")
@require_POST
def order_unpaid(request: HttpRequest, number: str) -> HttpResponse:
    """The amount was not paid after all."""
    order = get_object_or_404(Order, number=number)
    form = UnpaidForm(request.POST, auto_id="unpaid_%s")
    if form.is_valid() and attempt(
        request, unmark_paid, order, form=form, at_counter=True, **form.cleaned_data
    ):
        return redirect("order-pickup", number)
    return pickup_page(request, order, status=422, unpaid_form=form)
