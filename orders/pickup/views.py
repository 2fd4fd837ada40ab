"""The pickup counter: what is ready, and handing it over."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from orders.http import attempt, sender_id_of
from orders.intake.models import Order
from orders.ledger.models import Event, Outcome
from orders.pickup.actions import close_order, notify, release, reopen_order
from orders.pickup.forms import CloseForm, NotifyForm, PickupFilter, ReleaseForm, ReopenForm
from orders.pickup.page import pickup_page
from orders.pickup.queries import leaving, pickup_rows, scanned
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
def order_pickup(request: HttpRequest, number: str) -> HttpResponse:
    """One order: what can leave now and with whom; a POST hands it over, or ticks what was scanned."""
    order = get_object_or_404(Order, number=number)
    if request.method != "POST":
        return pickup_page(request, order)
    if request.POST.get("do") == "tick":
        return _tick(request, order)
    if (done := _done_before(request, order)) is not None:
        messages.info(request, f"Already done: {done.shown}")
        return redirect("order-pickup", number)
    form = ReleaseForm(request.POST, offered=leaving(order))
    if form.is_valid():
        facts = {
            name: form.cleaned_data[name] for name in ("collector", "mark", "initials", "owed_confirmed")
        }
        answer = attempt(request, release, order, form=form, at_counter=True, pieces=form.chosen(), **facts)
        if answer is not None:
            return redirect("order-pickup", number)
    return pickup_page(request, order, status=422, release_form=form)


def _done_before(request: HttpRequest, order: Order) -> Event | None:
    """The handing over that this very form did before: what it ticked is not here any more to be ticked again."""
    sender_id = sender_id_of(request)
    if sender_id is None:
        return None
    return Event.objects.filter(uid=sender_id, order=order, verb="release", outcome=Outcome.OK).first()


def _tick(request: HttpRequest, order: Order) -> HttpResponse:
    """Tick what was scanned and show the form again; everything else that was typed stays."""
    data = request.POST.copy()
    wrong = []
    for typed in data.get("scan", "")[:LONGEST_SCAN].replace(",", " ").replace(";", " ").split()[
        :MOST_SCANS
    ] or [""]:
        piece, sentence = scanned(order, typed[:40])
        if piece is None:
            wrong.append(sentence)
        else:
            data.appendlist("pieces", str(piece.pk))
            messages.success(request, f"{piece.name} is ticked.")
    data["scan"] = ""
    form = _unjudged(data, order)
    for sentence in wrong:
        messages.error(request, sentence)
    return pickup_page(request, order, status=422 if wrong else 200, release_form=form)


def _unjudged(data: QueryDict, order: Order) -> ReleaseForm:
    """The form as it was typed, without saying yet what is missing in it."""
    form = ReleaseForm(data, offered=leaving(order))
    form.full_clean()
    form.errors.clear()
    return form


@roles("owner", "counter")
@require_POST
def order_notify(request: HttpRequest, number: str) -> HttpResponse:
    """The hunter was told."""
    order = get_object_or_404(Order, number=number)
    form = NotifyForm(request.POST)
    if form.is_valid() and attempt(
        request, notify, order, form=form, at_counter=True, how=form.cleaned_data["how"]
    ):
        return redirect("order-pickup", number)
    return pickup_page(request, order, status=422, notify_form=form)


@roles("owner", "counter")
@require_POST
def order_close(request: HttpRequest, number: str) -> HttpResponse:
    """Close the order; with anything left only with a reason."""
    order = get_object_or_404(Order, number=number)
    form = CloseForm(request.POST)
    if form.is_valid() and attempt(
        request, close_order, order, form=form, at_counter=True, reason=form.cleaned_data["reason"]
    ):
        return redirect("order-pickup", number)
    return pickup_page(request, order, status=422, close_form=form)


@roles("owner", "counter")
@require_POST
def order_reopen(request: HttpRequest, number: str) -> HttpResponse:
    """Open a closed order again, with the reason."""
    order = get_object_or_404(Order, number=number)
    form = ReopenForm(request.POST, auto_id="reopen_%s")
    if form.is_valid() and attempt(
        request, reopen_order, order, form=form, at_counter=True, **form.cleaned_data
    ):
        return redirect("order-pickup", number)
    return pickup_page(request, order, status=422, reopen_form=form)
