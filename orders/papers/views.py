"""Printing: each paper as a PDF in the browser; nothing is changed by it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from django.db.models import QuerySet
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from labels.registry import print_all
from labels.values import LabelError
from orders import printing
from orders.custody.views import range_form, rows_of
from orders.http import sender_id_of
from orders.intake.models import Animal, Order, Season
from orders.intake.queries import current_season
from orders.ledger.models import Piece, PieceKind
from orders.packing.models import Package
from orders.papers import intake, meat, office, season, statement
from orders.pickup.models import Release
from orders.yields import audit_charts
from orders.yields.audit import audit_season, flag_counts
from orders.yields.queries import yield_of
from orders.yields.report import season_figures
from shop.access import roles
from shop.models import Person
from shop.tables import csv_file

MOST_LABELS = 300
MOST_REGISTER_ROWS = 5_000
BIGGEST_ID = 2**63 - 1

Values = Sequence[Mapping[str, Any]]


def pdf(request: HttpRequest, design: str, name: str, values: Callable[[], Values]) -> HttpResponse:
    """A design's PDF, shown in the browser; what cannot be printed gets a page with a sentence (422)."""
    try:
        printed = print_all(design, values())
    except LabelError as error:
        return not_printed(request, str(error))
    response = HttpResponse(printed.pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    response["Cache-Control"] = "no-store"
    return response


def not_printed(request: HttpRequest, sentence: str) -> HttpResponse:
    """The page that says why nothing is printed."""
    return render(request, "papers/not_printed.html", {"sentence": sentence}, status=422)


def animal_or_404(pk: int) -> Animal:
    related = ("order__hunter", "order__season", "species", "taker", "no_tag_reason")
    return get_object_or_404(Animal.objects.select_related(*related), pk=pk)


@roles("owner", "counter")
@require_safe
def claim_slip(request: HttpRequest, number: str) -> HttpResponse:
    order = get_object_or_404(Order.objects.select_related("hunter"), number=number)
    return pdf(request, "claim_slip", f"claim-{order.number}", lambda: [intake.claim_slip(order)])


@roles("owner", "counter", "floor")
@require_safe
def tags(request: HttpRequest, pk: int) -> HttpResponse:
    """All tags of an animal: the carcass's twice, one for each other piece and kept part."""
    animal = animal_or_404(pk)
    return pdf(
        request, "piece_tag", f"tags-{animal.order.number}-{animal.n}", lambda: intake.animal_tags(animal)
    )


@roles("owner", "counter", "floor")
@require_safe
def piece(request: HttpRequest, pk: int) -> HttpResponse:
    """The tag of one piece of an animal, a lug's card, a pack's or a box's label, by what it is."""
    found = get_object_or_404(intake.with_animal(Piece.objects.select_related("order__hunter")), pk=pk)
    if found.kind == PieceKind.LUG:
        return pdf(request, "lug_card", f"lug-{found.code}", lambda: [meat.lug_card(found)])
    if found.kind == PieceKind.BOX:
        return pdf(request, "box_label", f"box-{found.code}", lambda: [meat.box_label(found)])
    if found.kind == PieceKind.PACKAGE:
        return _packages(request, Package.objects.filter(piece=found))
    return pdf(request, "piece_tag", f"tag-{found.code}", lambda: intake.piece_tags([found]))


@roles("owner", "counter", "floor")
@require_safe
def lug(request: HttpRequest, pk: int) -> HttpResponse:
    pieces = intake.with_animal(Piece.objects.select_related("order__hunter"))
    found = get_object_or_404(pieces, pk=pk, kind__in=[PieceKind.LUG, PieceKind.TENDERLOIN])
    return pdf(request, "lug_card", f"lug-{found.code}", lambda: [meat.lug_card(found)])


@roles("owner", "counter", "floor")
@require_safe
def packages(request: HttpRequest) -> HttpResponse:
    """Labels of the packs named in `ids`, in the order they were packed."""
    ids = [text for text in request.GET.get("ids", "").split(",") if text.strip()]
    if not ids or len(ids) > MOST_LABELS:
        return not_printed(request, f"Name between 1 and {MOST_LABELS} packs.")
    if any(not (text.isascii() and text.isdigit() and len(text) < 20) for text in ids):
        return not_printed(request, "One of these is not the number of a pack.")
    keys = {int(text) for text in ids if int(text) <= BIGGEST_ID}
    found = Package.objects.filter(pk__in=keys)
    if not keys or found.count() != len(keys):
        raise Http404("There is no such pack.")
    return _packages(request, found)


def _packages(request: HttpRequest, found: QuerySet[Package]) -> HttpResponse:
    return pdf(
        request, "package_label", "packages", lambda: meat.package_labels(list(meat.with_label_values(found)))
    )


@roles("owner", "counter", "floor")
@require_safe
def box(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Piece.objects.select_related("order__hunter"), pk=pk, kind=PieceKind.BOX)
    return pdf(request, "box_label", f"box-{found.code}", lambda: [meat.box_label(found)])


@roles("owner", "counter")
@require_safe
def receipt(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Release.objects.select_related("order__hunter", "person", "event"), pk=pk)
    name = f"receipt-{found.order.number}-{found.n}"
    return pdf(request, "outgoing_receipt", name, lambda: [office.receipt(found)])


@roles("owner", "counter", "floor")
@require_safe
def read_back(request: HttpRequest, pk: int) -> HttpResponse:
    """The cut sheet on paper. The expected range is on it, but no money and no phone number."""
    animal = animal_or_404(pk)
    values = intake.read_back(animal, office.expected_words(yield_of(animal)))
    if values is None:
        return not_printed(request, f"{animal.label} has no cut sheet yet.")
    return pdf(request, "read_back", f"cut-sheet-{animal.order.number}-{animal.n}", lambda: [values])


@roles("owner", "counter")
@require_safe
def yield_statement(request: HttpRequest, pk: int) -> HttpResponse:
    animal = animal_or_404(pk)
    found = yield_of(animal)
    name = f"yield-{animal.order.number}-{animal.n}"
    return pdf(request, "yield_statement", name, lambda: [statement.yield_statement(found)])


@roles("owner")
@require_safe
def season_report(request: HttpRequest) -> HttpResponse:
    """A season's sums, the present one's unless `season` names another; `format=csv` for a spreadsheet."""
    form = request.GET.get("format", "pdf")
    if form not in ("pdf", "csv"):
        return not_printed(request, "The season report is there as pdf and as csv.")
    found = _season_asked(request.GET.get("season", ""))
    if found is None:
        return not_printed(request, "There is no such season.")
    figures = season_figures(found, flags=flag_counts)
    name = f"season-{found.short}"
    if form == "csv":
        response = csv_file(request, season.season_table(figures), name)
        response["Cache-Control"] = "no-store"
        return response
    audited = audit_season(found)
    values = season.season_report(
        figures,
        timezone.now(),
        charts=audit_charts.drawings(audited),
        more=audit_charts.tables(audited),
    )
    return pdf(request, "season_report", name, lambda: [values])


def _season_asked(asked: str) -> Season | None:
    if not asked:
        return current_season(timezone.localdate())
    if not (asked.isascii() and asked.isdigit() and len(asked) < 20 and int(asked) <= BIGGEST_ID):
        return None
    return Season.objects.filter(pk=int(asked)).first()


@roles("owner", "counter")
@require_safe
def register(request: HttpRequest) -> HttpResponse:
    """The custody register of a range of days."""
    form = range_form(request)
    if not form.is_valid():
        return not_printed(
            request, " ".join(str(error) for errors in form.errors.values() for error in errors)
        )
    rows = rows_of(form)
    if len(rows) > MOST_REGISTER_ROWS:
        return not_printed(
            request, f"These are {len(rows)} animals. Print {MOST_REGISTER_ROWS} at most at a time."
        )
    first, last = form.cleaned_data["from"], form.cleaned_data["to"]
    values = office.custody_register(rows, first, last, timezone.now())
    return pdf(request, "custody_register", f"register-{first}-to-{last}", lambda: [values])


@roles("owner", "counter")
@require_safe
def places(request: HttpRequest) -> HttpResponse:
    return pdf(request, "place_code", "places", office.place_cards)


@roles("owner", "counter")
@require_safe
def stations(request: HttpRequest) -> HttpResponse:
    return pdf(request, "station_code", "stations", office.station_cards)


@roles("owner")
@require_safe
def badge(request: HttpRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(Person, pk=pk)
    if not person.badge or not person.is_active:
        return not_printed(request, f"{person} has no badge. Make one on the page of people.")
    return pdf(request, "staff_badge", f"badge-{person.pk}", lambda: [office.badge(person)])


@roles("owner", "counter")
def print_order(request: HttpRequest, number: str) -> HttpResponse:
    """Ask for everything of an order in one file (POST), and see how far it is."""
    order = get_object_or_404(Order.objects.select_related("hunter"), number=number)
    if request.method == "POST":
        try:
            printing.start(order, sender_id_of(request))
        except ValueError:
            return not_printed(request, "This page was sent for other work before. Load it again.")
        return redirect("print-order", number)
    job = printing.last_job(order)
    context = {"order": order, "job": job, "words": printing.state_words(job), "again": _is_open(job)}
    template = "papers/print_state.html" if request.headers.get("HX-Request") else "papers/print_order.html"
    return render(request, template, context)


def _is_open(job: Any) -> bool:
    return job is not None and job.state in ("waiting", "running")


@roles("owner", "counter")
@require_safe
def print_order_file(request: HttpRequest, number: str) -> HttpResponseBase:
    """The file that the last job made."""
    order = get_object_or_404(Order, number=number)
    path = printing.file_of(order)
    if not path.is_file():
        raise Http404("The file is not made yet.")
    response = FileResponse(path.open("rb"), content_type="application/pdf", filename=path.name)
    response["Cache-Control"] = "no-store"
    return response
