"""The grinder: whose trim waits, how it is to be made, what went in, was added and came out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from orders.cutsheets.words import percent
from orders.floor import grind, plan
from orders.floor.answers import Screen, posted, tap, task
from orders.floor.fat import fat_to_add
from orders.floor.forms import FatForm, FinishForm, WeightForm
from orders.floor.jobs import find_run, finished, owner_of, page_of
from orders.floor.queries import (
    Group,
    can_take_back,
    lines_of,
    lines_of_sheet,
    marks_of,
    open_elsewhere,
    open_here,
    waiting_lugs,
    why_stopped,
)
from orders.intake.models import Animal, Order
from orders.ledger.models import Contents, Direction, Piece, PieceState, Run, RunKind, RunLine
from orders.ledger.voids import may_put_back
from orders.ledger.weights import run_mg
from shop.access import roles
from shop.models import Station

RULE = "Rush orders first, then the lugs that wait longest. One hunter's meat is in the grinder at a time."


@dataclass(frozen=True, slots=True)
class Fat:
    """Fat that the cut sheet asks for: how much by weight, where all that went in was weighed."""

    kind: str
    share: str
    mg: int | None


def queue_page(request: HttpRequest, station: Station) -> HttpResponse:
    """Whose trim waits for the grinder."""
    groups = grind_groups()
    return render(
        request,
        "floor/grind_queue.html",
        {
            "here": station,
            "rule": RULE,
            "ready": [group for group in groups if not group.why_not],
            "not_ready": [group for group in groups if group.why_not],
            "open_runs": open_here(station, RunKind.GRIND),
            "elsewhere": open_elsewhere(station, RunKind.GRIND),
        },
    )


def grind_groups() -> list[Group]:
    """Waiting grind trim by hunter's animal, or by order where it is ground together. Trim left whole is not here."""
    day = timezone.localdate()
    groups: dict[tuple[str, int], Group] = {}
    for lug in waiting_lugs([Contents.GRIND_TRIM]):
        animal = lug.animal
        if animal is None:
            continue
        lines = lines_of_sheet(animal)
        if not plan.trim_is_ground(lines):
            continue
        together = animal.order.grind_together and lug.animals_in_order > 1  # type: ignore[attr-defined]
        owner: Animal | Order = animal.order if together else animal
        group = groups.setdefault((owner._meta.label_lower, owner.pk), Group(owner, []))
        group.pieces.append(lug)
        words = plan.plan_words(lines)
        group.plan = words if group.plan in ("", words) else f"{group.plan}; or {words}"
        group.why_not = group.why_not or why_stopped(animal)
        group.marks = marks_of(animal, day)
        group.note = animal.order.note
    return sorted(
        groups.values(), key=lambda group: (not group.order.rush, group.pieces[0].made_at, group.label)
    )


@roles("owner", "counter", "floor")
@require_POST
def start(request: HttpRequest, pk: int) -> HttpResponse:
    """A lug into the grinder."""
    lug = get_object_or_404(Piece.objects.select_related("animal__order", "order"), pk=pk)
    answer = tap(request, grind.start_grind, lug)
    return redirect(page_of(answer.fetch(Run, "run")) if answer else "floor")


@roles("owner", "counter", "floor")
@never_cache
def run_page(request: HttpRequest, pk: int) -> HttpResponse:
    """What is in the grinder."""
    run = find_run(pk, RunKind.GRIND)
    return finished(request, run) or render(request, "floor/grind_run.html", run_context(run))


def run_context(run: Run) -> dict[str, Any]:
    """What the grinder's page shows of a job."""
    owner = owner_of(run)
    lines = lines_of(run)
    inside, all_weighed = run_mg(run, Direction.IN)
    added, added_weighed = run_mg(run, Direction.ADDED)
    out, out_weighed = run_mg(run, Direction.OUT)
    whose = {"animal": owner} if isinstance(owner, Animal) else {"animal__order": owner}
    waiting = Piece.objects.filter(
        contents=Contents.GRIND_TRIM, state=PieceState.WAITING, kind="lug", **whose
    )
    sheet_lines = plan.lines_of(owner)
    return {
        "run": run,
        "owner": owner,
        "plan": plan.plan_words(sheet_lines),
        "fats": planned_fats(run),
        "went_in": [line for line in lines if line.direction == Direction.IN],
        "added": [(line, _fat_words(line)) for line in lines if line.direction == Direction.ADDED],
        "came_out": [line for line in lines if line.direction == Direction.OUT],
        "inside_mg": inside if all_weighed else None,
        "added_mg": added if added_weighed else None,
        "out_mg": out if out_weighed else None,
        "more": waiting.select_related("animal__order"),
        "undo": can_take_back(run),
        "may_put_back": may_put_back(run),
    }


def _fat_words(line: RunLine) -> str:
    return grind.FAT_KINDS.get(line.what.removesuffix("_fat"), line.what)


def planned_fats(run: Run) -> list[Fat]:
    """The fat that is asked for, by weight; no weight while a lug in the grinder was not weighed."""
    inside, all_weighed = run_mg(run, Direction.IN)
    return [
        Fat(grind.FAT_KINDS.get(kind, kind), percent(bp), fat_to_add(inside, bp) if all_weighed else None)
        for bp, kind in plan.planned_fat(run)
    ]


@roles("owner", "counter", "floor")
@never_cache
def fat(request: HttpRequest, pk: int) -> HttpResponse:
    """Fat into the grinder, apart from the hunter's own meat."""
    run = find_run(pk, RunKind.GRIND)
    asked = plan.planned_fat(run)
    form = FatForm(posted(request), initial={"kind": asked[0][1] if asked else None})
    return task(
        request,
        Screen(owner_of(run), "Add fat", page_of(run), save="Save the fat"),
        form,
        grind.add_fat,
        run,
        lambda: {
            "kind": form.cleaned_data["kind"],
            "lot": form.cleaned_data["lot"],
            "weight": form.on_scale,
        },
        page_of(run),
        fats=planned_fats(run),
    )


@roles("owner", "counter", "floor")
@never_cache
def take_out(request: HttpRequest, pk: int) -> HttpResponse:
    """A lug of ground meat out of the grinder."""
    run = find_run(pk, RunKind.GRIND)
    form = WeightForm(posted(request))
    return task(
        request,
        Screen(owner_of(run), "Ground meat out", page_of(run), save="Save the lug"),
        form,
        grind.take_from_grinder,
        run,
        lambda: {"weight": form.on_scale},
        page_of(run),
    )


@roles("owner", "counter", "floor")
@never_cache
def finish(request: HttpRequest, pk: int) -> HttpResponse:
    """The grinder is empty and cleaned down."""
    run = find_run(pk, RunKind.GRIND)
    closed = finished(request, run)
    if closed:
        return closed
    form = FinishForm(posted(request))
    return task(
        request,
        Screen(owner_of(run), "The grinder is empty", page_of(run), save="Empty and cleaned"),
        form,
        grind.finish_grind,
        run,
        lambda: {"reason": form.why if "reason" in form.fields else ""},
        reverse("floor"),
        instead=lambda: render(request, "floor/grind_run.html", run_context(run), status=422),
    )
