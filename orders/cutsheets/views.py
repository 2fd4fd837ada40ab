"""The cut sheet at the counter."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from orders.cutsheets.actions import WRAPS, ask_change, save_cut_sheet
from orders.cutsheets.forms import WRAP_WORDS, ChangeForm, CutSheetForm
from orders.cutsheets.models import CutSheet
from orders.cutsheets.queries import current_sheet, last_time, lines_to_start_from
from orders.cutsheets.rules import LineFacts, offers
from orders.http import attempt
from orders.intake.models import Animal
from orders.ledger.entry import Answer
from orders.ledger.models import RunKind
from orders.ledger.runs import runs_of
from shop.access import ShopRequest, roles


def _animal(pk: int) -> Animal:
    return get_object_or_404(Animal.objects.select_related("order__hunter", "species", "taker"), pk=pk)


@roles("owner", "counter")
@require_http_methods(["GET", "HEAD", "POST"])
def cut_sheet(request: ShopRequest, pk: int) -> HttpResponseBase:
    """Write the cut sheet down, until cutting begins; from then on show it and take requests."""
    animal = _animal(pk)
    if animal.ended or _cutting_began(animal):
        if request.method == "POST":
            attempt(request, save_cut_sheet, animal, at_counter=True)
        return _as_it_is(request, animal, status=422 if request.method == "POST" else 200)
    sheet = current_sheet(animal)
    form = _form(request, animal, sheet)
    if request.method == "POST" and _save(request, animal, form):
        return redirect("cut-sheet", pk=pk)
    last = last_time(animal)
    context = {"animal": animal, "order": animal.order, "form": form, "sheet": sheet, "last": last}
    context["start"] = request.GET.get("start", "")
    return render(request, "cutsheets/cut_sheet.html", context, status=422 if form.errors else 200)


def _save(request: ShopRequest, animal: Animal, form: CutSheetForm) -> Answer | None:
    """Save what was answered, or the house cut where that button was pressed."""
    facts: dict[str, Any] = _apart(request)
    if "house" not in request.POST:
        if not form.is_valid():
            return None
        facts = {name: form.cleaned_data[name] for name in ("wrap", "note", "based_on")} | {
            "lines": form.lines
        }
    return attempt(request, save_cut_sheet, animal, form=form, at_counter=True, **facts)


def _cutting_began(animal: Animal) -> bool:
    return runs_of(animal, RunKind.CUT).exists()


def _apart(request: ShopRequest) -> dict[str, str]:
    """Wrap and note beside the house cut; they are taken as far as they are readable."""
    wrap = request.POST.get("wrap", "")
    note = request.POST.get("note", "").replace("\0", "")
    return {"wrap": wrap if wrap in WRAPS else "vacuum", "note": note}


def _form(request: ShopRequest, animal: Animal, sheet: CutSheet | None) -> CutSheetForm:
    started = request.GET.get("start", "")
    source = sheet
    if started == "last":
        source = last_time(animal) or sheet
    elif started in ("house", "grind"):
        source = None
    offered = offers(animal)
    start = lines_to_start_from(animal, source, offered)
    if started == "grind":
        start = [_ground(line, {offer.part.pk: offer.choices for offer in offered}) for line in start]
    return CutSheetForm(
        request.POST if request.method == "POST" else None,
        offers=offered,
        start=start,
        wrap=source.wrap if source else "vacuum",
        note=source.note if source and source is sheet else "",
        based_on=sheet.version if sheet else 0,
    )


def _ground(line: LineFacts, choices: dict[int, tuple[Any, ...]]) -> LineFacts:
    """The line of a part that goes to the grinder, where it can; bones and organs stay as they are."""
    grind = next((choice for choice in choices[line.part.pk] if choice.is_grind), None)
    if grind is None or line.choice.is_grind:
        return line
    return LineFacts(part=line.part, choice=grind, pack_oz=16)


def _as_it_is(
    request: HttpRequest, animal: Animal, *, status: int = 200, form: ChangeForm | None = None
) -> HttpResponseBase:
    cutting = runs_of(animal, RunKind.CUT).select_related("opened_by", "station").last()
    context = {
        "animal": animal,
        "order": animal.order,
        "sheet": current_sheet(animal),
        "wrap_words": WRAP_WORDS,
        "cutting": cutting,
        "requests": animal.cut_requests.select_related("asked_by", "answered_by"),
        "form": form or ChangeForm(),
    }
    return render(request, "cutsheets/as_it_is.html", context, status=status)


@roles("owner", "counter")
@require_POST
def cut_change(request: ShopRequest, pk: int) -> HttpResponseBase:
    """Ask the cutter for a change."""
    animal = _animal(pk)
    form = ChangeForm(request.POST)
    if form.is_valid() and attempt(
        request, ask_change, animal, form=form, at_counter=True, **form.cleaned_data
    ):
        return redirect("cut-sheet", pk=pk)
    return _as_it_is(request, _animal(pk), status=422, form=form)
