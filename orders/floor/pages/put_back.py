"""A job that was opened by mistake: everything back to where it was, while nothing came of it."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.cache import never_cache

from orders.floor.answers import Screen, posted, task
from orders.floor.forms import ReasonForm
from orders.floor.jobs import finished, owner_of, page_of
from orders.floor.queries import lines_of
from orders.ledger import voids
from orders.ledger.models import Direction, Run
from shop.access import roles

REASONS = ("Wrong animal", "Tapped by mistake", "Not today after all")


@roles("owner", "counter", "floor")
@never_cache
def put_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Take an open job back whole, with the reason."""
    runs = Run.objects.select_related("animal__order", "animal__species", "order", "station")
    run = get_object_or_404(runs, pk=pk)
    closed = finished(request, run)
    if closed:
        return closed
    form = ReasonForm(posted(request), reasons=REASONS)
    pieces = ", ".join(line.piece.name for line in lines_of(run, Direction.IN) if line.piece)
    screen = Screen(
        owner_of(run),
        f"{run.get_kind_display()}: put back",
        page_of(run),
        save="Put it back",
        say=f"Opened by mistake: {pieces} back to where it was. What was done so far stays on record.",
    )
    return task(request, screen, form, voids.put_back, run, lambda: {"reason": form.why}, reverse("floor"))
