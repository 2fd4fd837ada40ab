"""The amount of an order, and that it is paid; both from the pickup page."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponseBase

from orders.billing.actions import mark_paid, set_amount, unmark_paid
from orders.billing.forms import AmountForm, PaidForm, UnpaidForm
from orders.http import counter_form
from orders.pickup.page import answer_form


@counter_form
def order_amount(request: HttpRequest, number: str) -> HttpResponseBase:
    """Type what the order costs."""
    return answer_form(request, number, AmountForm, set_amount)


@counter_form
def order_paid(request: HttpRequest, number: str) -> HttpResponseBase:
    """The amount was paid."""
    return answer_form(request, number, PaidForm, mark_paid)


@counter_form
def order_unpaid(request: HttpRequest, number: str) -> HttpResponseBase:
    """The amount was not paid after all."""
    return answer_form(request, number, UnpaidForm, unmark_paid)
