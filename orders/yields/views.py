"""Where the pounds went: the owner's table, and one animal."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from orders.intake.models import Animal
from orders.intake.queries import current_season
from orders.yields.audit import Audited, audit_of, percentile_words
from orders.yields.expected import ExpectedPart
from orders.yields.forms import YieldFilter
from orders.yields.queries import Yield, animals_for_table, yield_of, yields_of
from orders.yields.refresh import refresh
from orders.yields.spans import round_parts, where_it_went
from orders.yields.tables import YieldTable, row_of
from shop.access import roles
from shop.context import shop_settings
from shop.models import Part
from shop.tables import csv_file, shown, wants_csv

SHOWN: dict[str, Callable[[Yield], bool]] = {
    "": lambda found: True,
    "finished": lambda found: found.finished,
    "flagged": lambda found: bool(found.flags),
    "below": lambda found: "below the range" in found.flags,
    "above": lambda found: "above the range" in found.flags,
}


@roles("owner")
def yields(request: HttpRequest) -> HttpResponse:
    """Expected and packed of a season, to sort, filter and save."""
    refresh()
    season = current_season(timezone.localdate())
    data = request.GET.copy()
    data.setdefault("season", str(season.pk) if season else "")
    form = YieldFilter(data)
    found = _found(form)
    table = YieldTable([row_of(each) for each in found], unit=shop_settings().unit)
    if wants_csv(request) and form.is_valid():
        return csv_file(request, table, "yields")
    context = {"form": form, "table": shown(request, table), "count": len(found), "totals": _totals(found)}
    return render(request, "yields/yields.html", context, status=200 if form.is_valid() else 422)


def _found(form: YieldFilter) -> list[Yield]:
    if not form.is_valid():
        return []
    season, species = form.cleaned_data["season"], form.cleaned_data["species"]
    animals = animals_for_table(season and season.pk, species and species.pk)
    return [each for each in yields_of(animals, learned=True) if SHOWN[form.cleaned_data["show"]](each)]


def _totals(found: list[Yield]) -> dict[str, int]:
    """Over the animals where both are known, so that the two sums speak of the same ones."""
    both = [each for each in found if each.own_mg is not None and each.estimate is not None]
    return {
        "count": len(both),
        "likely": sum(each.estimate.likely_mg for each in both if each.estimate),
        "own": sum(each.own_mg for each in both if each.own_mg is not None),
        "flagged": sum(bool(each.flags) for each in found),
    }


@roles("owner")
def yield_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """One animal, or those put together: how the range was reached, what was packed, and every span between."""
    animal = get_object_or_404(Animal.objects.select_related("species", "order__hunter"), pk=pk)
    judged = audit_of(animal)
    found = yield_of(animal)
    gaps = {gap.span: gap for gap in found.gaps}
    context = {
        "animal": animal,
        "found": found,
        "spans": [(span, gaps.get(span)) for span in found.spans],
        "rows": where_it_went(found.spans),
        "parts": _by_part(found),
        "judged": judged,
        "of_100": _of_100(judged),
    }
    return render(request, "yields/yield_detail.html", context)


def _of_100(judged: Audited | None) -> str:
    """Where the animal stands among 100 like it, where that tells something."""
    if judged is None or not judged.compared or judged.percentile is None:
        return ""
    return percentile_words(judged.percentile, many=len(judged.record.members) > 1)


def _by_part(found: Yield) -> list[tuple[str, ExpectedPart, str]]:
    """Each part's name, range and likely weight as printed, in the order of the cut sheet.

    The likely weights as printed add up to the animal's as printed.
    """
    if found.estimate is None or not found.estimate.parts:
        return []
    names = Part.objects.filter(code__in=found.estimate.parts).values_list("code", "name")
    parts = [(name, found.estimate.parts[code]) for code, name in names]
    unit = shop_settings().unit
    printed = round_parts([part.likely_mg for _, part in parts], unit)
    return [(name, part, f"{likely} {unit}") for (name, part), likely in zip(parts, printed, strict=True)]
