"""The wrap table: what waits, and one hunter's meat being packed, weighed or counted, and labeled."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from orders.floor.answers import Screen, posted, tap, task
from orders.floor.forms import ReasonForm
from orders.floor.jobs import find_run, finished, order_of, owner_of, page_of
from orders.floor.queries import lines_of, open_elsewhere, open_here
from orders.ledger.models import Direction, Event, Piece, PieceState, Run, RunKind
from orders.ledger.voids import may_put_back
from orders.packing import actions
from orders.packing.forms import FinishWrapForm, PackForm
from orders.packing.models import Package
from orders.packing.queries import Cut, balance, cuts_to_pack, standing_packs, tally, unboxed, wrap_groups
from shop.access import roles
from shop.context import shop_settings
from shop.models import Part, Station
from shop.weights import Reading

RULE = "Rush orders first, then what waits longest. One hunter's meat is on the table at a time."


def queue_page(request: HttpRequest, station: Station) -> HttpResponse:
    """What waits for the wrap table."""
    groups = wrap_groups()
    return render(
        request,
        "packing/wrap_queue.html",
        {
            "here": station,
            "rule": RULE,
            "ready": [group for group in groups if not group.why_not],
            "not_ready": [group for group in groups if group.why_not],
            "open_runs": open_here(station, RunKind.WRAP),
            "elsewhere": open_elsewhere(station, RunKind.WRAP),
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
    rows = tally(run)
    waiting = owner.pieces.filter(kind__in=["lug", "tenderloin"], state=PieceState.WAITING)
    sheet = run.animal.cut_sheets.filter(current=True).first() if run.animal else None
    return {
        "run": run,
        "owner": owner,
        "order": order_of(run),
        "sheet": sheet,
        "went_in": [line for line in lines_of(run, Direction.IN)],
        "more": waiting.exclude(contents="grind_trim"),
        "cuts": cuts_to_pack(run),
        "tally": rows,
        "balance": balance(run, rows),
        "last": last_packs(run),
        "unboxed": len(unboxed(order_of(run))),
        "may_put_back": may_put_back(run),
    }


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
    """Every part of the species and what can be made of it, for what the sheet does not say."""
    run = find_run(pk, RunKind.WRAP)
    closed = finished(request, run)
    if closed:
        return closed
    animals = [run.animal] if run.animal else list(order_of(run).animals.all())
    species = [animal.species_id for animal in animals if animal]
    parts = Part.objects.filter(species__species__in=species).distinct().prefetch_related("choices")
    cuts = [(part, [choice for choice in part.choices.all() if not choice.is_discard]) for part in parts]
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
def void_pack(request: HttpRequest, pk: int) -> HttpResponse:
    """Destroy a label, with the reason."""
    package = get_object_or_404(
        Package.objects.select_related(
            "piece__animal__order", "piece__order", "part", "choice", "run", "weighing"
        ),
        pk=pk,
    )
    owner = package.piece.animal or package.piece.order
    if owner is None:
        raise Http404
    form = ReasonForm(
        posted(request), reasons=("Wrong weight", "Wrong cut", "Torn or leaking", "Tapped by mistake")
    )
    screen = Screen(
        owner,
        f"Destroy label {package.n}",
        reverse("floor-packs", args=[package.run_id]) if package.run.closed_at is None else reverse("floor"),
        save="Destroy it",
        say=f"{package.part.name}, {package.choice.name.lower()}: its meat goes back to the table.",
    )
    return task(
        request, screen, form, actions.void_package, package, lambda: {"reason": form.why}, screen.back
    )


@roles("owner", "counter", "floor")
@never_cache
def finish(request: HttpRequest, pk: int) -> HttpResponse:
    """Everything on the table is packed; the boxes are next."""
    run = find_run(pk, RunKind.WRAP)
    closed = finished(request, run)
    if closed:
        return closed
    form = FinishWrapForm(posted(request))
    screen = Screen(owner_of(run), "All packed", page_of(run), save="All packed")
    return task(
        request,
        screen,
        form,
        actions.finish_wrap,
        run,
        lambda: {"reason": form.why if "reason" in form.fields else ""},
        reverse("floor-boxes", args=[order_of(run).pk]),
        instead=lambda: render(request, "packing/wrap_run.html", run_context(run), status=422),
    )
