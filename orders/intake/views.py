"""The counter: today's board, orders, whose they are, holds."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from orders.http import attempt, carry_out, counter_form
from orders.intake import queries
from orders.intake.actions import name_hunter, new_order, record_order
from orders.intake.forms import FindHunterForm, HunterForm, OrderForm, PickForm, SearchForm, SeasonForm
from orders.intake.models import Animal, Order
from orders.intake.owed import Owed, animal_owes, order_owes
from orders.intake.seasons import open_season
from orders.intake.tables import HoldTable, OrderTable
from orders.ledger.entry import Answer
from orders.ledger.refusal import Refusal
from shop.access import ShopRequest, roles
from shop.tables import csv_file, shown, wants_csv

HISTORY_SHOWN = 30


@roles("owner", "counter", "floor")
@require_safe
def home(request: ShopRequest) -> HttpResponseBase:
    """Today's board for the counter; the floor has a page of its own."""
    if request.role == "floor":
        return redirect("floor")
    now = timezone.now()
    season = queries.current_season(timezone.localdate(now))
    return render(request, "intake/home.html", {"board": queries.board(now), "season": season, "today": now})


@roles("owner", "counter")
@require_POST
def order_new(request: ShopRequest) -> HttpResponseBase:
    """The next number of the current season, before any question."""
    season = queries.current_season(timezone.localdate())
    if season is None:
        if request.role == "owner":
            return redirect("season-new")
        return render(request, "intake/no_season.html", status=409)
    answer = attempt(request, new_order, season, at_counter=True)
    if answer is None:
        return redirect("home")
    return redirect("order", number=answer.fetch(Order).number)


@roles("owner")
@require_http_methods(["GET", "HEAD", "POST"])
def season_new(request: ShopRequest) -> HttpResponseBase:
    """Open a season: its name, what leads its order numbers, its dates."""
    form = SeasonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            open_season(**form.cleaned_data)
            return redirect("home")
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
    return render(request, "intake/season.html", {"form": form}, status=422 if form.errors else 200)


@roles("owner", "counter")
@require_safe
def orders(request: ShopRequest) -> HttpResponseBase:
    """Every order, newest first; by state, by what it needs, by number, name, phone or tag."""
    form = SearchForm(request.GET)
    found = Order.objects.none()
    if form.is_valid():
        found = _found_orders(form.cleaned_data)
    table = OrderTable(found)
    if wants_csv(request):
        return csv_file(request, table, "orders")
    context = {"form": form, "table": shown(request, table)}
    return render(request, "intake/orders.html", context, status=422 if form.errors else 200)


def _found_orders(asked: dict[str, str]) -> Any:
    animals = Prefetch("animals", Animal.objects.select_related("species").order_by("n"))
    found = Order.objects.select_related("hunter").prefetch_related(animals)
    if asked["state"]:
        found = found.filter(state=asked["state"])
    if asked["needs"]:
        found = found.filter(queries.needing(asked["needs"], timezone.now()))
    if asked["q"].strip():
        found = found.filter(queries.search_orders(asked["q"]))
    return found.order_by("-id")


@roles("owner", "counter")
@require_safe
def order(request: ShopRequest, number: str) -> HttpResponseBase:
    """Everything about one order on one page."""
    if request.htmx and "hunter" in request.GET:  # type: ignore[attr-defined]
        found = get_object_or_404(Order, number=number)
        return render(request, "intake/_matches.html", {"order": found, **_matches(request)})
    return order_page(request, number)


def order_page(request: HttpRequest, number: str, *, status: int = 200, **bound: Any) -> HttpResponseBase:
    """The order's page, with forms that were refused in `bound`."""
    found = get_object_or_404(queries.order_with_everything(number))
    animals = list(found.animals.all())
    pieces = queries.piece_rows(animals)
    limit = None if request.GET.get("history") == "all" else HISTORY_SHOWN
    events = queries.history(found, limit=limit and limit + 1)
    correcting = found.hunter is not None and ("correct" in request.GET or "hunter_form" in bound)
    changing = "change" in request.GET or "hunter" in request.GET
    ask = not bound and not correcting and (found.hunter is None or changing)
    context = {
        "order": found,
        "animals": [_animal_row(animal, pieces[animal.pk]) for animal in animals],
        "owed": order_owes(found),
        "correcting": correcting,
        "changing": changing,
        "hunter_form": HunterForm(known=found.hunter if correcting else None, auto_id="hunter_%s"),
        "facts_form": OrderForm(order=found, auto_id="order_%s"),
        "events": events[:limit],
        "more_events": limit is not None and len(events) > limit,
        **_matches(request, focus=ask),
        **bound,
    }
    return render(request, "intake/order.html", context, status=status)


def _animal_row(animal: Animal, rows: list[queries.PieceRow]) -> dict[str, Any]:
    owes: list[Owed] = animal_owes(animal, rows, has_sheet=bool(animal.current_sheets))  # type: ignore[attr-defined]
    return {"animal": animal, "pieces": rows, "owed": owes}


def _matches(request: HttpRequest, *, focus: bool = False) -> dict[str, Any]:
    """The hunters that match what was typed; `focus`: whose order it is comes next, so the page begins there."""
    form = FindHunterForm(request.GET if "hunter" in request.GET else None, auto_id="find_%s")
    if focus:
        form.fields["hunter"].widget.attrs["autofocus"] = True
    typed = form.cleaned_data["hunter"].strip() if form.is_bound and form.is_valid() else ""
    return {"find_form": form, "typed": typed, "matches": queries.find_contacts(typed) if typed else []}


@counter_form
def order_hunter(request: ShopRequest, number: str) -> HttpResponseBase:
    """Whose order it is: picked from the known, new, or the known one corrected."""
    found = get_object_or_404(Order.objects.select_related("hunter"), number=number)
    what = request.POST.get("what")
    if what == "pick":
        return _answer(request, found, "pick_form", PickForm(request.POST), name_hunter)
    known = found.hunter if what == "correct" else None
    form = HunterForm(request.POST, known=known, auto_id="hunter_%s")
    return _answer(
        request,
        found,
        "hunter_form",
        form,
        name_hunter,
        facts=lambda: {"contact": known, "facts": form.facts()},
        changing=known is None,
        correcting=known,
    )


@counter_form
def order_facts(request: ShopRequest, number: str) -> HttpResponseBase:
    """Who dropped it off, who may collect, the note, rush, promised date, ground together or not."""
    found = get_object_or_404(Order, number=number)
    return _answer(request, found, "facts_form", OrderForm(request.POST, auto_id="order_%s"), record_order)


def _answer(
    request: HttpRequest,
    found: Order,
    name: str,
    form: forms.Form,
    act: Callable[..., Answer],
    *,
    facts: Callable[[], dict[str, Any]] | None = None,
    **beside: Any,
) -> HttpResponseBase:
    """Do what a form of the order's page asks, and show the page again."""

    def again() -> HttpResponseBase:
        return order_page(request, found.number, status=422, **{name: form}, **beside)

    here = reverse("order", args=[found.number])
    return carry_out(request, form, act, found, done=here, again=again, facts=facts)


@roles("owner", "counter")
@require_safe
def holds(request: ShopRequest) -> HttpResponseBase:
    """What is on hold, the longest first; with `all`, what was released too."""
    everything = request.GET.get("all") == "1"
    table = HoldTable(queries.open_holds(released_too=everything))
    if not everything:
        table.exclude = ("released_at",)
    if wants_csv(request):
        return csv_file(request, table, "holds")
    context = {"table": shown(request, table), "everything": everything}
    return render(request, "intake/holds.html", context)


def animal_url(animal: Animal) -> str:
    """The address of an animal's page. Its top, where the notices are and what is owed next."""
    return reverse("animal", args=[animal.pk])
