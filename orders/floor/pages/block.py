"""The block: what is next to cut, and one animal open with its cut sheet, lugs and waste."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from orders.cutsheets.actions import answer_change
from orders.cutsheets.models import CutRequest
from orders.cutsheets.queries import current_sheet
from orders.cutsheets.words import details
from orders.floor import block
from orders.floor.answers import Screen, posted, tap, task
from orders.floor.cautions import block_cautions
from orders.floor.forms import (
    FinishForm,
    LugForm,
    MustWeighForm,
    ReasonForm,
    RequestForm,
    TagFiledForm,
    WeightForm,
)
from orders.floor.jobs import PAGE_OF, find_run, finished, page_of
from orders.floor.queries import (
    block_queue,
    can_take_back,
    lines_of,
    open_elsewhere,
    open_here,
    region_words,
)
from orders.floor.skin import tenderloins_to_pull
from orders.floor.tags import usual_tag_places
from orders.intake.actions import file_tag
from orders.intake.models import Animal
from orders.ledger.models import BODY_KINDS, Event, Piece, PieceKind, PieceState, Point, Run, RunKind, RunLine
from orders.ledger.voids import may_put_back, void_event, void_lug
from orders.ledger.weights import last_weighing
from shop.access import roles
from shop.models import Station

RULE = "Least time left against its hanging limit first; then rush, promised and warm ones."


def queue_page(request: HttpRequest, station: Station) -> HttpResponse:
    """What can be cut now, and what cannot, with the reason."""
    return render(
        request,
        "floor/block_queue.html",
        {
            "here": station,
            "rule": RULE,
            "queue": block_queue(),
            "open_runs": open_here(station, RunKind.CUT),
            "elsewhere": open_elsewhere(station, RunKind.CUT),
        },
    )


@roles("owner", "counter", "floor")
@require_POST
def start(request: HttpRequest, pk: int) -> HttpResponse:
    """Open an animal at the block."""
    animal = get_object_or_404(Animal.objects.select_related("order"), pk=pk)
    answer = tap(request, block.open_animal, animal)
    return redirect(page_of(answer.fetch(Run, "run")) if answer else "floor")


@roles("owner", "counter", "floor")
@never_cache
def run_page(request: HttpRequest, pk: int) -> HttpResponse:
    """The open animal: number, cut sheet, where it was hit, lugs, waste, tag."""
    run = find_run(pk, RunKind.CUT)
    closed = finished(request, run)
    if closed:
        return closed
    return render(request, "floor/block_run.html", run_context(run))


def run_context(run: Run) -> dict[str, Any]:
    """What the block's page shows of a job."""
    animal = run.animal
    if animal is None:
        raise Http404
    sheet = current_sheet(animal)
    lines = lines_of(run)
    on_table = list(animal.pieces.filter(kind__in=BODY_KINDS, state=PieceState.TABLE))
    return {
        "run": run,
        "animal": animal,
        "hit": region_words(animal),
        "sheet": sheet,
        "sheet_lines": [(line, details(line)) for line in sheet.lines.all()] if sheet else [],
        "cautions": block_cautions(animal.species),
        "requests": list(CutRequest.objects.filter(animal=animal).select_related("asked_by", "answered_by")),
        "lugs": [line for line in lines if _is_lug(line)],
        "waste": [
            (what, words, [line for line in lines if line.what == what])
            for what, words in block.WASTE_KINDS.items()
        ],
        "bloodshot": [line for line in lines if line.what == "bloodshot"],
        "on_table": [(piece, last_weighing(piece, Point.AT_BLOCK)) for piece in on_table],
        "to_pull": tenderloins_to_pull(animal),
        "undo": can_take_back(run),
        "may_put_back": may_put_back(run),
    }


def _is_lug(line: RunLine) -> bool:
    return line.direction == "out" and line.piece is not None and line.piece.kind == PieceKind.LUG


@roles("owner", "counter", "floor")
@never_cache
def lug(request: HttpRequest, pk: int) -> HttpResponse:
    """A lug filled, weighed or not."""
    run = find_run(pk, RunKind.CUT)
    animal = _animal_of(run)
    form = LugForm(posted(request), animal=animal)
    return task(
        request,
        Screen(animal, "Fill a lug", page_of(run), save="Save the lug"),
        form,
        block.fill_lug,
        run,
        lambda: {
            "contents": form.cleaned_data["contents"],
            "parts": tuple(form.cleaned_data.get("parts", ())),
            "weight": form.on_scale,
        },
        page_of(run),
    )


@roles("owner", "counter", "floor")
@never_cache
def waste(request: HttpRequest, pk: int, what: str) -> HttpResponse:
    """Bone and fat, or waste: weighed, or not weighed."""
    if what not in block.WASTE_KINDS:
        raise Http404
    run = find_run(pk, RunKind.CUT)
    form = WeightForm(posted(request))
    screen = Screen(_animal_of(run), block.WASTE_KINDS[what].capitalize(), page_of(run))
    return task(
        request,
        screen,
        form,
        block.record_waste,
        run,
        lambda: {"what": what, "weight": form.on_scale},
        page_of(run),
    )


@roles("owner", "counter", "floor")
@never_cache
def weigh(request: HttpRequest, pk: int, piece_pk: int) -> HttpResponse:
    """The cold weight of a piece as it came to the block."""
    run = find_run(pk, RunKind.CUT)
    piece = get_object_or_404(Piece.objects.select_related("animal__order"), pk=piece_pk, animal=run.animal)
    form = MustWeighForm(posted(request))
    screen = Screen(_animal_of(run), f"Cold weight of {piece.name}", page_of(run))
    return task(
        request, screen, form, block.weigh_at_block, piece, lambda: {"weight": form.on_scale}, page_of(run)
    )


@roles("owner", "counter", "floor")
@never_cache
def tag_filed(request: HttpRequest, pk: int) -> HttpResponse:
    """Where the state tag is kept when it comes off with the hock."""
    run = find_run(pk, RunKind.CUT)
    animal = _animal_of(run)
    form = TagFiledForm(posted(request))
    screen = Screen(animal, f"Tag {animal.tag_no}: where is it kept?", page_of(run), save="Save elsewhere")
    return task(
        request,
        screen,
        form,
        file_tag,
        animal,
        lambda: {"where": form.cleaned_data["where"]},
        page_of(run),
        template="floor/tag_filed.html",
        usual=usual_tag_places(),
        kept=animal.tag_filed_at,
    )


@roles("owner", "counter", "floor")
@require_POST
def answer_request(request: HttpRequest, pk: int, request_pk: int) -> HttpResponse:
    """Yes or no to a change that the hunter asked for."""
    run = find_run(pk, RunKind.CUT)
    asked = get_object_or_404(
        CutRequest.objects.select_related("animal__order"), pk=request_pk, animal=run.animal
    )
    form = RequestForm(request.POST)
    accepted = request.POST.get("accepted")
    if form.is_valid() and accepted in ("yes", "no"):
        word = form.cleaned_data["answer"]
        answer = tap(request, answer_change, asked, accepted=accepted == "yes", answer=word)
        if answer is not None:
            return redirect(page_of(run))
    context = run_context(run)
    for each in context["requests"]:
        if each.pk == asked.pk:
            each.typed = form.data.get("answer", "")
            each.error = " ".join(map(str, form.errors.get("answer", []))) or (
                "" if accepted else "Tap yes or no."
            )
    return render(request, "floor/block_run.html", context, status=422)


@roles("owner", "counter", "floor")
@never_cache
def finish(request: HttpRequest, pk: int) -> HttpResponse:
    """Done at the block."""
    run = find_run(pk, RunKind.CUT)
    closed = finished(request, run)
    if closed:
        return closed
    form = FinishForm(posted(request))
    screen = Screen(_animal_of(run), "Done at the block", page_of(run), save="Done")
    return task(
        request,
        screen,
        form,
        block.finish_breakdown,
        run,
        lambda: {"reason": form.why if "reason" in form.fields else ""},
        reverse("floor"),
        instead=lambda: render(request, "floor/block_run.html", run_context(run), status=422),
    )


@roles("owner", "counter", "floor")
@never_cache
def take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Void something that was recorded in an open job, with the reason."""
    event = get_object_or_404(
        Event.objects.select_related("run__animal__order", "run__order", "order", "animal__order"),
        pk=pk,
        run__isnull=False,
        outcome="ok",
    )
    run = event.run
    assert run is not None
    owner = run.animal or run.order
    assert owner is not None
    form = ReasonForm(posted(request))
    back = reverse(PAGE_OF[RunKind(run.kind)], args=[run.pk])
    screen = Screen(owner, "Take it back", back, save="Take it back", say=event.shown)
    return task(request, screen, form, void_event, event, lambda: {"reason": form.why}, back)


@roles("owner", "counter", "floor")
@never_cache
def lug_void(request: HttpRequest, pk: int) -> HttpResponse:
    """Void a lug or a tenderloin bag that was recorded by mistake."""
    found = get_object_or_404(
        Piece.objects.select_related("animal__order", "order"),
        pk=pk,
        kind__in=[PieceKind.LUG, PieceKind.TENDERLOIN],
    )
    made_in = found.lines.filter(direction="out").select_related("run").first()
    back = page_of(made_in.run) if made_in and made_in.run.closed_at is None else reverse("floor")
    owner = found.animal or found.order
    assert owner is not None
    form = ReasonForm(posted(request), reasons=("Wrong weight", "Wrong contents", "Tapped by mistake"))
    screen = Screen(owner, f"Take back {found.name}", back, save="Take it back")
    return task(request, screen, form, void_lug, found, lambda: {"reason": form.why}, back)


def _animal_of(run: Run) -> Animal:
    if run.animal is None:
        raise Http404
    return run.animal
