"""The scan box, the trail of a code, and the custody register."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from orders.custody import trail as trails
from orders.custody.find import Found
from orders.custody.find import find as look_up
from orders.custody.forms import RangeForm
from orders.custody.queries import RegisterRow, register_rows, usual_range
from orders.custody.tables import RegisterTable
from orders.floor.stations import frame_of
from orders.intake.models import Order
from orders.ledger.models import Piece, Run
from shop.access import ShopRequest, roles
from shop.codes import CodeError, Kind, read_code
from shop.models import Place, Role, Station
from shop.tables import csv_file, shown, wants_csv


@roles("owner", "counter", "floor")
def find(request: ShopRequest) -> HttpResponse:
    """Go to what was scanned or typed, or show what matches, or say why nothing does."""
    typed = request.GET.get("q", "")
    found = look_up(typed, request.role)
    if found.url and not found.orders:
        return redirect(found.url)
    return _page(request, "find", {"found": found, "q": typed[:80]}, _status(found))


def _page(request: ShopRequest, name: str, context: dict[str, Any], status: int = 200) -> HttpResponse:
    """A page that counter and floor share, in the frame of whoever looks."""
    return render(request, f"custody/{name}.html", {**context, **frame_of(request)}, status=status)


def _status(found: Found) -> int:
    return 200 if found.orders else 404


@roles("owner", "counter", "floor")
def trail(request: ShopRequest, code: str) -> HttpResponse:
    """Follow a code up and down. A wrong check digit and an unknown code say so."""
    floor = request.role == Role.FLOOR
    try:
        kind, digits = read_code(code)
    except CodeError as error:
        return _page(request, "find", {"found": Found(sentence=str(error)), "q": code}, 404)
    if kind == Kind.ORDER:
        order = get_object_or_404(Order.objects.select_related("hunter", "season"), code=digits)
        return _page(request, "trail_order", trails.order_page(order, floor=floor))
    if kind == Kind.RUN:
        run = get_object_or_404(Run.objects.select_related("animal__order", "order"), code=digits)
        return _page(request, "trail_run", trails.run_page(run))
    if kind == Kind.PLACE:
        page = trails.place_page(get_object_or_404(Place, code=digits))
        return _page(request, "trail_place", page)
    if kind == Kind.STATION:
        page = trails.station_page(get_object_or_404(Station, code=digits))
        return _page(request, "trail_place", page)
    piece = get_object_or_404(Piece.objects.select_related("animal"), code=digits)
    return _page(request, "trail_piece", trails.piece_page(piece, floor=floor))


@roles("owner", "counter")
def register(request: HttpRequest) -> HttpResponse:
    """Everything received from one day to another, as an officer asks for it."""
    form = range_form(request)
    rows = rows_of(form)
    table = RegisterTable(rows)
    if wants_csv(request) and form.is_valid():
        return csv_file(request, table, "custody-register")
    context = {
        "form": form,
        "table": shown(request, table),
        "rows": rows,
        "incomplete": sum(bool(row.missing) for row in rows),
        "query": request.GET.urlencode() if form.is_valid() else "",
        "today": timezone.localdate(),
    }
    return render(request, "custody/register.html", context, status=200 if form.is_valid() else 422)


def range_form(request: HttpRequest) -> RangeForm:
    """The days asked for in the address; the present season where none are."""
    first, last = usual_range()
    data = {"from": request.GET.get("from", first.isoformat()), "to": request.GET.get("to", last.isoformat())}
    return RangeForm(data)


def rows_of(form: RangeForm) -> list[RegisterRow]:
    """The register's rows for a valid range, else none."""
    if not form.is_valid():
        return []
    return register_rows(form.cleaned_data["from"], form.cleaned_data["to"])
