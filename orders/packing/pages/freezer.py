"""Boxes and the freezer: packs into boxes, boxes and kept parts to their places."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from orders.floor.answers import Screen, posted, tap, task
from orders.floor.forms import PlaceForm
from orders.floor.queries import cold_places
from orders.intake.models import Animal, Order
from orders.ledger.models import Piece, PieceKind, PieceState
from orders.packing import actions
from orders.packing.forms import FillForm
from orders.packing.models import Package
from orders.packing.queries import boxes_of, freezer, unboxed
from shop.access import roles
from shop.models import PlaceKind, Station

STORED_IN = {
    PieceKind.BOX: (PlaceKind.FREEZER,),
    PieceKind.PACKAGE: (PlaceKind.FREEZER,),
    PieceKind.KEPT: (PlaceKind.HOOK, PlaceKind.RACK, PlaceKind.FREEZER),
}


def queue_page(request: HttpRequest, station: Station) -> HttpResponse:
    """What waits for a place, and what is where."""
    return render(request, "packing/freezer.html", {"here": station, "freezer": freezer()})


@roles("owner", "counter", "floor")
@never_cache
def boxes(request: HttpRequest, pk: int) -> HttpResponse:
    """The boxes of an order, and its packs that are in none."""
    order = get_object_or_404(Order, pk=pk)
    return render(
        request, "packing/boxes.html", {"order": order, "boxes": boxes_of(order), "packs": unboxed(order)}
    )


@roles("owner", "counter", "floor")
@require_POST
def new_box(request: HttpRequest, pk: int) -> HttpResponse:
    """The next box of an order."""
    order = get_object_or_404(Order, pk=pk)
    answer = tap(request, actions.new_box, order)
    if answer is None:
        return redirect("floor-boxes", order.pk)
    return redirect("floor-box", answer.refs["piece"])


@roles("owner", "counter", "floor")
@never_cache
def box(request: HttpRequest, pk: int) -> HttpResponse:
    """One box: what is in it, and packs into it, all at once, ticked, or scanned one by one."""
    found = get_object_or_404(Piece.objects.select_related("order", "place"), pk=pk, kind=PieceKind.BOX)
    order = found.order
    if order is None:
        raise Http404
    loose = unboxed(order)
    form = FillForm(posted(request), packs=loose)
    screen = Screen(order, found.name.capitalize(), reverse("floor-boxes", args=[order.pk]))
    inside = Package.objects.filter(piece__container=found).select_related(
        "part", "choice", "weighing", "animal"
    )
    return task(
        request,
        screen,
        form,
        actions.put_in_box,
        found,
        lambda: {"packages": form.chosen},
        reverse("floor-box", args=[found.pk]),
        template="packing/box.html",
        box=found,
        inside=list(inside.order_by("animal__n", "n")),
        loose=loose,
        scan_piece=found,
    )


@roles("owner", "counter", "floor")
@never_cache
def store(request: HttpRequest, pk: int) -> HttpResponse:
    """A box, a single pack or a kept part to its place, by tile or by scanning the place's card."""
    found = get_object_or_404(
        Piece.objects.select_related("animal__order", "order", "place", "container"),
        pk=pk,
        kind__in=STORED_IN,
    )
    owner: Animal | Order | None = found.animal or found.order
    if owner is None:
        raise Http404
    places = cold_places(*STORED_IN[PieceKind(found.kind)])
    form = PlaceForm(posted(request), places=places)
    where = f" It is at {found.place.name}." if found.state == PieceState.STORED and found.place else ""
    screen = Screen(
        owner,
        f"Store {found.name}",
        reverse("floor"),
        save="It is there",
        say=f"Tap the place, or scan its card.{where}",
    )
    return task(
        request,
        screen,
        form,
        actions.store,
        found,
        lambda: {"place": form.cleaned_data["place"]},
        reverse("floor"),
        scan_piece=found,
    )
