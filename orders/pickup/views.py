"""The pickup counter: what is ready, and handing it over."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from orders.http import carry_out, counter_form, sender_id_of
from orders.intake.models import Order
from orders.ledger.models import Event, Outcome
from orders.pickup.actions import close_order, notify, release, reopen_order
from orders.pickup.forms import CloseForm, NotifyForm, PickupFilter, ReleaseForm, ReopenForm
from orders.pickup.page import answer_form, pickup_page, release_form
from orders.pickup.queries import pickup_rows, scanned
from orders.pickup.tables import PickupTable
from shop.access import roles
from shop.tables import csv_file, shown, wants_csv

MOST_SCANS = 100
LONGEST_SCAN = 2_000


@roles("owner", "counter")
def pickup(request: HttpRequest) -> HttpResponse:
    """Orders that are ready, those waiting longest first."""
    form = PickupFilter({"show": request.GET.get("show", "waiting")})
    rows = pickup_rows(form.cleaned_data["show"], timezone.now()) if form.is_valid() else []
    table = PickupTable(rows)
    if wants_csv(request) and form.is_valid():
        return csv_file(request, table, "pickup")
    context = {"form": form, "table": shown(request, table), "rows": rows}
    return render(request, "pickup/pickup.html", context, status=200 if form.is_valid() else 422)


@roles("owner", "counter")
def order_pickup(request: HttpRequest, number: str) -> HttpResponseBase:
    """One order: what can leave now and with whom; a POST hands it over, or ticks what was scanned."""
    order = get_object_or_404(Order, number=number)
    if request.method != "POST":
        return pickup_page(request, order)
    if request.POST.get("do") == "tick":
        return _tick(request, order)
    here = reverse("order-pickup", args=[number])
    if (done := _done_before(request, order)) is not None:
        messages.info(request, f"Already done: {done.shown}")
        return redirect(here)
    form = release_form(order, request.POST)

    def again() -> HttpResponse:
        return pickup_page(request, order, status=422, release_form=form)

    return carry_out(request, form, release, order, done=here, again=again)


def _done_before(request: HttpRequest, order: Order) -> Event | None:
    """The handing over that this very form did before: what it ticked is not here any more to be ticked again."""
    sender_id = sender_id_of(request)
    if sender_id is None:
        return None
    return Event.objects.filter(uid=sender_id, order=order, verb="release", outcome=Outcome.OK).first()


def _tick(request: HttpRequest, order: Order) -> HttpResponse:
    """Tick what was scanned and show the form again, ready for the next scan; everything else that was typed stays."""
    data = request.POST.copy()
    typed = data.get("scan", "")[:LONGEST_SCAN].replace(",", " ").replace(";", " ").split()
    wrong = []
    for code in typed[:MOST_SCANS] or [""]:
        piece, sentence = scanned(order, code[:40])
        if piece is None:
            wrong.append(sentence)
        else:
            data.appendlist("pieces", str(piece.pk))
            messages.success(request, f"{piece.name} is ticked.")
    data["scan"] = ""
    form = _unjudged(data, order)
    form.fields["scan"].widget.attrs["autofocus"] = True
    for sentence in wrong:
        messages.error(request, sentence)
    return pickup_page(request, order, status=422 if wrong else 200, release_form=form)


def _unjudged(data: QueryDict, order: Order) -> ReleaseForm:
    """The form as it was typed, without saying yet what is missing in it."""
    form = release_form(order, data)
    form.full_clean()
    form.errors.clear()
    return form


@counter_form
def order_notify(request: HttpRequest, number: str) -> HttpResponseBase:
    """The hunter was told."""
    return answer_form(request, number, NotifyForm, notify)


@counter_form
def order_close(request: HttpRequest, number: str) -> HttpResponseBase:
    """Close the order; with anything left only with a reason."""
    return answer_form(request, number, CloseForm, close_order)


@counter_form
def order_reopen(request: HttpRequest, number: str) -> HttpResponseBase:
    """Open a closed order again, with the reason."""
    return answer_form(request, number, ReopenForm, reopen_order)
