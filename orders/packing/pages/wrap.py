"""The wrap table: what waits, and one hunter's meat being packed, weighed or counted, and labeled."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from orders.floor.answers import Screen, posted, tap, task
from orders.floor.jobs import find_run, finished, order_of, owner_of, page_of
from orders.floor.queries import can_take_back, lines_of, open_elsewhere, open_here
from orders.ledger.models import Direction, Event, Piece, PieceKind, PieceState, Run, RunKind
from orders.ledger.voids import may_put_back
from orders.packing import actions, leftover
from orders.packing.forms import FinishWrapForm, OffTableForm, PackForm
from orders.packing.models import Package
from orders.packing.queries import (
    Cut,
    cuts_to_pack,
    in_no_box,
    just_finished,
    standing_packs,
    tally,
    wrap_queue,
)
from orders.packing.table import can_be_packed, on_table, table_sum
from shop.access import roles
from shop.context import shop_settings
from shop.models import Part, Station
from shop.weights import Reading

RULE = "Rush orders first, then what waits longest. One hunter's meat is on the table at a time."
OFF_TABLE = {
    "waste": (leftover.record_wrap_waste, "Waste at the wrap table", "Sinew, silverskin, bloodshot."),
    "grind-trim": (leftover.send_to_grind, "Back to the grinder", "Good meat: a lug of grind trim is made."),
}


def queue_page(request: HttpRequest, station: Station) -> HttpResponse:
    """What waits for the wrap table: one line for each animal, or order whose meat is together."""
    return render(
        request,
        "packing/wrap_queue.html",
        {
            "here": station,
            "rule": RULE,
            "queue": wrap_queue(whole="all" in request.GET),
            "open_runs": open_here(station, RunKind.WRAP),
            "elsewhere": open_elsewhere(station, RunKind.WRAP),
            "just_finished": just_finished(station),
        },
    )


@roles("owner", "counter", "floor")
@require_POST
def bring(request: HttpRequest, pk: int) -> HttpResponse:
    """A lug or a bag onto the table."""
    lug = get_object_or_404(Piece.objects.select_related("animal__order", "order"), pk=pk)
    answer = tap(request, actions.bring_to_wrap, lug)
    return redirect(page_of(answer.fetch(Run, "run")) if answer else "floor")


@roles("owner", "counter", "floor")
@never_cache
def run_page(request: HttpRequest, pk: int) -> HttpResponse:
    """The open table: one tile for each cut, and the running tally."""
    run = find_run(pk, RunKind.WRAP)
    return finished(request, run) or render(request, "packing/wrap_run.html", run_context(run))


def run_context(run: Run) -> dict[str, Any]:
    """What the table's page shows of a job."""
    owner = owner_of(run)
    waiting = owner.pieces.filter(kind__in=["lug", "tenderloin"], state=PieceState.WAITING)
    sheet = run.animal.cut_sheets.filter(current=True).first() if run.animal else None
    rows, here, cuts = tally(run), on_table(run), cuts_to_pack(run)
    to_grind = run.lines.filter(direction=Direction.OUT, piece__kind=PieceKind.LUG)
    return {
        "run": run,
        "owner": owner,
        "order": order_of(run),
        "sheet": sheet,
        "went_in": lines_of(run, Direction.IN),
        "more": waiting.exclude(contents="grind_trim").select_related("place"),
        "cuts": [cut for cut in cuts if can_be_packed(cut.part, cut.choice, here)],
        "not_here": [cut for cut in cuts if not can_be_packed(cut.part, cut.choice, here)],
        "tally": rows,
        "table": table_sum(run),
        "may_grind": may_grind(run, here),
        "to_grind": to_grind.exclude(piece__state=PieceState.VOID).select_related("piece", "weighing"),
        "last": last_packs(run),
        "unboxed": in_no_box(order_of(run)).count(),
        "undo": can_take_back(run),
        "may_put_back": may_put_back(run),
    }


def may_grind(run: Run, here: list[Piece]) -> bool:
    """Whether meat that is not ground yet lies on the table."""
    return run.animal is not None and any(piece.contents in leftover.TO_GRIND for piece in here)


def last_packs(run: Run) -> list[Package]:
    """The standing packs of the last packing in this job, for their labels."""
    event = Event.objects.filter(run=run, verb="pack", outcome="ok").order_by("-id").first()
    made = event.data["refs"]["packages"] if event else []
    return list(standing_packs(run).filter(pk__in=made).order_by("n"))


@roles("owner", "counter", "floor")
@never_cache
def pack(request: HttpRequest, pk: int, part_pk: int, choice_pk: int) -> HttpResponse:
    """Packs of one cut. Done, the same screen is there for the next one."""
    run = find_run(pk, RunKind.WRAP)
    closed = finished(request, run)
    if closed:
        return closed
    cut = _cut(run, part_pk, choice_pk)
    form = PackForm(posted(request), initial={"count": cut.pieces, "packs": 1})
    last = [each for each in last_packs(run) if (each.part_id, each.choice_id) == (part_pk, choice_pk)]
    return task(
        request,
        _pack_screen(run, cut),
        form,
        actions.pack,
        run,
        lambda: {
            "part": cut.part,
            "choice": cut.choice,
            "weights": form.scales,
            "unweighed": form.only_counted,
            "count": form.cleaned_data["count"],
        },
        reverse("floor-pack", args=[run.pk, part_pk, choice_pk]),
        template="packing/pack.html",
        last=last,
        again=_again(last),
        counts=not shop_settings().weigh_packs,
        many=True,
    )


def _cut(run: Run, part_pk: int, choice_pk: int) -> Cut:
    """The line of the sheet, or a cut that is not on it but can be made of this part; else a 404 page."""
    part = get_object_or_404(Part, pk=part_pk)
    choice = get_object_or_404(part.choices, pk=choice_pk, is_discard=False)
    on_sheet = (cut for cut in cuts_to_pack(run) if (cut.part.pk, cut.choice.pk) == (part_pk, choice_pk))
    return next(on_sheet, Cut(part, choice))


def _pack_screen(run: Run, cut: Cut) -> Screen:
    return Screen(
        owner_of(run),
        f"{cut.part.name}: {cut.choice.name.lower()}",
        page_of(run),
        save="Pack with this weight",
        skip="Count only, not weighed",
        say=cut.details,
        caution=cut.note,
    )


def _again(last: list[Package]) -> dict[str, str] | None:
    """The last single pack as it was typed, for packing the same once more."""
    if len(last) != 1 or last[0].weighing is None:
        return None
    weighing = last[0].weighing
    tare = Reading(weighing.tare, weighing.unit, weighing.decimals) if weighing.tare else None
    return {
        "weight": str(Reading(weighing.gross, weighing.unit, weighing.decimals)),
        "tare": str(tare or ""),
        "count": str(last[0].count or ""),
    }


@roles("owner", "counter", "floor")
@never_cache
def other(request: HttpRequest, pk: int) -> HttpResponse:
    """Every part of the species and what can be made of it here, for what the sheet does not say."""
    run = find_run(pk, RunKind.WRAP)
    closed = finished(request, run)
    if closed:
        return closed
    animals = [run.animal] if run.animal else list(order_of(run).animals.all())
    species = [animal.species_id for animal in animals if animal]
    parts = Part.objects.filter(species__species__in=species).distinct().prefetch_related("choices")
    here = on_table(run)
    packed_as = {
        part: [
            choice
            for choice in part.choices.all()
            if not choice.is_discard and can_be_packed(part, choice, here)
        ]
        for part in parts
    }
    cuts = [(part, choices) for part, choices in packed_as.items() if choices]
    return render(request, "packing/other_cut.html", {"run": run, "owner": owner_of(run), "cuts": cuts})


@roles("owner", "counter", "floor")
@never_cache
def packs(request: HttpRequest, pk: int) -> HttpResponse:
    """Every pack of the open job with its label, and the way to void it."""
    run = find_run(pk, RunKind.WRAP)
    return finished(request, run) or render(
        request,
        "packing/packs.html",
        {"run": run, "owner": owner_of(run), "packs": standing_packs(run)},
    )


@roles("owner", "counter", "floor")
@never_cache
def off_table(request: HttpRequest, pk: int, what: str) -> HttpResponse:
    """What goes off the table without being packed: waste, or good meat for the grinder."""
    if what not in OFF_TABLE:
        raise Http404
    run = find_run(pk, RunKind.WRAP)
    closed = finished(request, run)
    if closed:
        return closed
    act, title, say = OFF_TABLE[what]
    form = OffTableForm(posted(request), must_weigh=table_sum(run).came_weighed)
    screen = Screen(owner_of(run), title, page_of(run), say=say)
    return task(request, screen, form, act, run, lambda: {"weight": form.on_scale}, page_of(run))


@roles("owner", "counter", "floor")
@never_cache
def finish(request: HttpRequest, pk: int) -> HttpResponse:
    """Everything on the table is packed; the boxes are next."""
    run = find_run(pk, RunKind.WRAP)
    closed = finished(request, run)
    if closed:
        return closed
    form = FinishWrapForm(posted(request))
    screen = Screen(owner_of(run), "All packed", page_of(run), save="Finish, for this reason")
    return task(
        request,
        screen,
        form,
        actions.finish_wrap,
        run,
        lambda: {"reason": form.why if "reason" in form.fields else ""},
        reverse("floor-boxes", args=[order_of(run).pk]),
        template="packing/finish.html",
        instead=lambda: render(request, "packing/wrap_run.html", run_context(run), status=422),
        run=run,
        # Asked only when the page is shown again, and then of the table as it is.
        table=lambda: table_sum(run),
        may_grind=lambda: may_grind(run, on_table(run)),
    )
