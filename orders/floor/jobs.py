"""Finding an open job for a page, and where its page is."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import Q
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from orders.floor.queries import run_with_owner
from orders.intake.models import Animal, Order
from orders.ledger.hands import said
from orders.ledger.models import Event, Run, RunKind

PAGE_OF = {
    RunKind.SKIN: "floor-skin",
    RunKind.CUT: "floor-block",
    RunKind.GRIND: "floor-grind",
    RunKind.WRAP: "floor-wrap",
}


def find_run(pk: int, kind: RunKind) -> Run:
    """The job of this kind, or a 404 page."""
    run = run_with_owner(pk, kind)
    if run is None:
        raise Http404
    return run


def owner_of(run: Run) -> Animal | Order:
    """Whose job it is: one animal's, or a whole order's."""
    owner = run.animal or run.order
    assert owner is not None
    return owner


def order_of(run: Run) -> Order:
    """The order a job belongs to."""
    owner = owner_of(run)
    return owner.order if isinstance(owner, Animal) else owner


def page_of(run: Run) -> str:
    """The address of a job's page."""
    return reverse(PAGE_OF[RunKind(run.kind)], args=[run.pk])


def finished(request: HttpRequest, run: Run) -> HttpResponse | None:
    """For looking at a job that is closed: back to the station, saying who finished it."""
    if run.closed_at is None or request.method == "POST":
        return None
    ended = Q(verb="put_back") | Q(verb__startswith="finish")
    last = Event.objects.filter(ended, run=run, outcome="ok").select_related("person").last()
    who = f" {said(last)}" if last else ""
    how = "put back" if run.put_back else "finished"
    messages.info(request, f"This {run.get_kind_display().lower()} was {how}{who}.")
    return redirect("floor")
