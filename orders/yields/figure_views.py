"""The yield figures, for the owner: which are published, which the shop has set itself, and why."""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

from django.contrib import messages
from django.db import transaction
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from orders.yields.constants import COVERAGE
from orders.yields.figure_forms import BackForm, FigureFilter, OwnForm
from orders.yields.figure_tables import FigureTable, range_words, row_of, used_words, words_of
from orders.yields.figures import share_of
from orders.yields.refresh import forget
from shop.access import ShopRequest, roles
from shop.catalog import QUANTITIES
from shop.figures import FigureRefused, last_change, put_back, set_own
from shop.models import FigureChange, YieldFigure
from shop.tables import MAX_PER_PAGE, csv_file, shown, wants_csv

COVERAGE_WORDS = f"{round(100 * COVERAGE)} %"


def _all() -> QuerySet[YieldFigure]:
    return YieldFigure.objects.select_related("species", "part")


def _place(figure: YieldFigure) -> tuple[bool, int, int, int, str]:
    """Species by species, those for every species last; of each in the order in which the figures are used."""
    species, part = figure.species, figure.part
    used = QUANTITIES.index(figure.quantity) if figure.quantity in QUANTITIES else len(QUANTITIES)
    return species is None, species.sort if species else 0, used, part.sort if part else 0, figure.code


@roles("owner")
@require_safe
def yield_figures(request: HttpRequest) -> HttpResponse:
    """Every figure with its source, and the shop's own beside it."""
    form = FigureFilter(request.GET)
    rows = sorted(_narrowed(form), key=_place) if form.is_valid() else []
    table = FigureTable([row_of(figure) for figure in rows])
    if wants_csv(request) and form.is_valid():
        return csv_file(request, table, "yield-figures")
    context = {
        "form": form,
        "table": shown(request, table, per_page=MAX_PER_PAGE),
        "own": sum(figure.override_bp is not None for figure in rows),
        "lent": sum(bool(figure.lent_by) and figure.override_bp is None for figure in rows),
        "coverage": COVERAGE_WORDS,
    }
    return render(request, "yields/figures.html", context, status=200 if form.is_valid() else 422)


def _narrowed(form: FigureFilter) -> QuerySet[YieldFigure]:
    """A species' own figures with those for every species, which it uses too."""
    found = _all()
    species, used = form.cleaned_data["species"], form.cleaned_data["used"]
    if species is not None:
        found = found.filter(Q(species=species) | Q(species=None))
    if used == "own":
        found = found.exclude(override_bp=None)
    if used == "lent":
        found = found.exclude(lent_by="").filter(override_bp=None)
    return found


@roles("owner")
@require_http_methods(["GET", "POST"])
def yield_figure(request: HttpRequest, pk: int) -> HttpResponseBase:
    """One figure: its source, the shop's own value to set, and every change there has been."""
    figure = get_object_or_404(_all(), pk=pk)
    last = last_change(figure)
    form = OwnForm(_sent(request), figure=figure, used=share_of(figure).bounds_bp, last=last)
    if request.method == "POST" and form.is_valid():
        by = cast(ShopRequest, request).user

        def change() -> tuple[FigureChange, bool]:
            data = form.cleaned_data
            return set_own(
                figure,
                form.own(),
                reason=data["reason"],
                by=by,
                seen=data["seen"],
                sender_id=form.sender_id,
            )

        if _done(request, form, figure, change, "is the shop’s own now"):
            return redirect("yield-figure", pk=pk)
    return _page(request, figure, form, BackForm(last=last_change(figure)))


@roles("owner")
@require_POST
def yield_figure_back(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Use the published value again."""
    figure = get_object_or_404(_all(), pk=pk)
    last = last_change(figure)
    form = BackForm(request.POST, last=last)
    if form.is_valid():
        by, data = cast(ShopRequest, request).user, form.cleaned_data

        def change() -> tuple[FigureChange, bool]:
            return put_back(figure, reason=data["reason"], by=by, seen=data["seen"], sender_id=form.sender_id)

        if _done(request, form, figure, change, "is as published again"):
            return redirect("yield-figure", pk=pk)
    own = OwnForm(figure=figure, used=share_of(figure).bounds_bp, last=last_change(figure))
    return _page(request, figure, own, form)


def _sent(request: HttpRequest) -> object:
    return request.POST if request.method == "POST" else None


def _done(
    request: HttpRequest,
    form: OwnForm | BackForm,
    figure: YieldFigure,
    change: Callable[[], tuple[FigureChange, bool]],
    said: str,
) -> bool:
    """Change a figure, and forget what was reckoned with it; a refusal goes beside its field."""
    try:
        with transaction.atomic():
            _, new = change()
            if new and figure.part is None:
                forget(figure.species_id)
    except FigureRefused as refused:
        form.add_error(refused.field if refused.field in form.fields else None, str(refused))
        _seen_now(form, figure)
        return False
    if new:
        messages.success(request, f"{words_of(figure)} {said}.")
    else:
        messages.info(request, f"{words_of(figure)}: this was done before.")
    return True


def _seen_now(form: OwnForm | BackForm, figure: YieldFigure) -> None:
    """The page that comes back shows every change: sent again from there, it counts as read."""
    last = last_change(figure)
    form.data = {**form.data.dict(), "seen": str(last.pk) if last else ""}  # type: ignore[attr-defined]


def _page(request: HttpRequest, figure: YieldFigure, form: OwnForm, back: BackForm) -> HttpResponse:
    figure.refresh_from_db()
    refused = bool(form.errors or back.errors)
    context = {
        "figure": figure,
        "what": words_of(figure),
        "published": range_words(figure.low_bp, figure.likely_bp, figure.high_bp),
        "used": range_words(*share_of(figure).bounds_bp),
        "used_words": used_words(figure),
        "form": form,
        "back": back,
        "changes": [(change, _words(change)) for change in figure.changes.select_related("person")],
        "coverage": COVERAGE_WORDS,
    }
    return render(request, "yields/figure.html", context, status=422 if refused else 200)


def _words(change: FigureChange) -> tuple[str, str]:
    """From what to what, in words."""
    before = (change.was_low_bp, change.was_likely_bp, change.was_high_bp)
    after = (change.low_bp, change.likely_bp, change.high_bp)
    return _value(*before), _value(*after)


def _value(low_bp: int | None, likely_bp: int | None, high_bp: int | None) -> str:
    if likely_bp is None:
        return "as published"
    if low_bp is None or high_bp is None:
        return f"{likely_bp / 100:g} %, with the published spread"
    return range_words(low_bp, likely_bp, high_bp)
