"""The audit's pages, for the owner alone: what to look at, charts, the crew, and what the shop has learned."""

from __future__ import annotations

from base64 import b64encode
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from reportlab.graphics.shapes import Drawing

from orders.http import carry_out
from orders.intake.models import Animal
from orders.intake.queries import current_season
from orders.yields.audit import SeasonAudit, audit_season
from orders.yields.audit_charts import LIMIT_COLUMNS, ControlChart, charts_by_block, charts_by_species
from orders.yields.audit_crew import CANNOT, DRAWN, crew_of
from orders.yields.audit_forms import AuditFilter, BackForm, CauseForm, ScaleForm, SeasonFilter
from orders.yields.audit_tables import AuditTable, audit_row
from orders.yields.causes import cause_now, record_cause, said_of
from orders.yields.charts import svg
from orders.yields.constants import COVERAGE
from orders.yields.learned_page import learned_page
from orders.yields.refresh import refresh
from orders.yields.scales import all_checks, check_scale, words
from shop.access import roles
from shop.context import shop_settings
from shop.tables import csv_file, shown, wants_csv

# So many flags stand on the page; the rest are in the table.
SHORT_LIST = 12
OF_100 = round(100 * COVERAGE)


def _asked(request: HttpRequest) -> Any:
    """What the address asks for; this season where it names none."""
    season = current_season(timezone.localdate())
    data = request.GET.copy()
    data.setdefault("season", str(season.pk) if season else "")
    return data


@roles("owner")
@require_safe
def audit(request: HttpRequest) -> HttpResponse:
    """What to look at, most pounds first, and every closed animal of a season."""
    asked = _asked(request)
    season = SeasonFilter(asked)
    found = audit_season(season.cleaned_data["season"] if season.is_valid() else None)
    form = AuditFilter(asked)
    form.narrow_by(found.animals)
    rows = [each for each in found.animals if form.lets_through(each)] if form.is_valid() else []
    table = AuditTable([audit_row(each) for each in rows], unit=shop_settings().unit)
    if wants_csv(request) and form.is_valid():
        return csv_file(request, table, "audit")
    context = {
        "form": form,
        "table": shown(request, table),
        "found": found,
        "first": found.to_look_at[: _many(request, len(found.to_look_at))],
        "figures": _figures(found),
        "of_100": OF_100,
    }
    return render(request, "yields/audit.html", context, status=200 if form.is_valid() else 422)


def _many(request: HttpRequest, all_of_them: int) -> int:
    return all_of_them if request.GET.get("all") == "1" else SHORT_LIST


def _figures(found: SeasonAudit) -> dict[str, int]:
    """Over the animals whose yield tells something, so that both sums speak of the same ones."""
    compared = found.compared
    return {
        "closed": sum(len(each.record.members) for each in found.animals),
        "compared": len(compared),
        "within": found.within,
        "expected": sum(each.expected.likely_mg for each in compared if each.expected),
        "packed": sum(each.own_mg for each in compared if each.own_mg is not None),
    }


@roles("owner")
@require_safe
def charts(request: HttpRequest) -> HttpResponse:
    """Control charts of a season, by species and by table; each picture with its numbers."""
    form = SeasonFilter(_asked(request))
    found = audit_season(form.cleaned_data["season"] if form.is_valid() else None)
    groups = [
        ("By species", [_shown_chart(each) for each in charts_by_species(found)]),
        ("By table at the block", [_shown_chart(each) for each in charts_by_block(found)]),
    ]
    context = {"form": form, "groups": groups, "columns": LIMIT_COLUMNS, "any": bool(found.compared)}
    return render(request, "yields/audit_charts.html", context, status=200 if form.is_valid() else 422)


def _shown_chart(each: ControlChart) -> dict[str, Any]:
    return {
        "title": each.title,
        "words": each.words,
        "picture": picture(each.drawing),
        "limits": list(zip(LIMIT_COLUMNS[1:], each.limits[1:], strict=True)),
        "signaling": each.signaling,
        "rows": each.rows,
    }


def picture(drawing: Drawing) -> str:
    """A drawing as the address of a picture. As a picture of its own it keeps its looks, whatever the page's policy."""
    return f"data:image/svg+xml;base64,{b64encode(svg(drawing).encode()).decode()}"


@roles("owner")
@require_safe
def crew(request: HttpRequest) -> HttpResponse:
    """People compared, only where one did the whole animal."""
    form = SeasonFilter(_asked(request))
    found = audit_season(form.cleaned_data["season"] if form.is_valid() else None)
    compared = crew_of(found)
    drawing = compared.drawing
    context = {
        "form": form,
        "crew": compared,
        "picture": picture(drawing),
        "height": round(drawing.height),
        "drawn": DRAWN,
        "cannot": CANNOT,
    }
    return render(request, "yields/audit_crew.html", context, status=200 if form.is_valid() else 422)


@roles("owner")
@require_safe
def learned(request: HttpRequest) -> HttpResponse:
    """What is published, what the shop's own animals say, and what is used now."""
    refresh()
    return render(request, "yields/learned.html", {"species": learned_page(), "of_100": OF_100})


@roles("owner")
@require_http_methods(["GET", "HEAD", "POST"])
def cause(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Why an animal's yield counts for nothing: said, and kept."""
    animal = _animal(pk)
    if request.method != "POST":
        return _cause_page(request, animal, CauseForm(), BackForm())
    form = CauseForm(request.POST)
    return carry_out(
        request,
        form,
        record_cause,
        animal,
        done=reverse("yield-detail", args=[pk]),
        again=lambda: _cause_page(request, animal, form, BackForm()),
    )


@roles("owner")
@require_POST
def cause_back(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Take back what was said: the animal's yield counts again."""
    animal = _animal(pk)
    form = BackForm(request.POST)
    return carry_out(
        request,
        form,
        record_cause,
        animal,
        done=reverse("yield-detail", args=[pk]),
        again=lambda: _cause_page(request, animal, CauseForm(), form),
        facts=lambda: {"cause": "", "note": form.cleaned_data["note"]},
    )


def _animal(pk: int) -> Animal:
    return get_object_or_404(Animal.objects.select_related("species", "order__hunter"), pk=pk)


def _cause_page(request: HttpRequest, animal: Animal, form: CauseForm, back: BackForm) -> HttpResponse:
    context = {
        "animal": animal,
        "form": form,
        "back": back,
        "now": cause_now(animal),
        "said": said_of(animal),
    }
    refused = bool(form.errors or back.errors)
    return render(request, "yields/audit_cause.html", context, status=422 if refused else 200)


@roles("owner")
@require_http_methods(["GET", "HEAD", "POST"])
def scales(request: HttpRequest) -> HttpResponseBase:
    """Every check of a scale, and a new one."""
    if request.method != "POST":
        return _scales_page(request, ScaleForm())
    form = ScaleForm(request.POST)
    station = form.cleaned_data["station"] if form.is_valid() else None
    return carry_out(
        request,
        form,
        check_scale,
        station,
        done=reverse("scale-checks"),
        again=lambda: _scales_page(request, form),
        facts=lambda: {name: form.cleaned_data[name] for name in ("test", "shown")},
    )


def _scales_page(request: HttpRequest, form: ScaleForm) -> HttpResponse:
    checks = [(check, words(check)) for check in reversed(all_checks())]
    context = {"form": form, "checks": checks}
    return render(request, "yields/audit_scales.html", context, status=422 if form.errors else 200)
