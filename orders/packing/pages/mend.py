"""What went wrong after the wrapping: a label is destroyed, a finished job is opened again."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.cache import never_cache

from orders.floor.answers import Screen, posted, task
from orders.floor.forms import ReasonForm
from orders.floor.jobs import owner_of, page_of
from orders.ledger import voids
from orders.ledger.models import Run, RunKind
from orders.packing import actions
from orders.packing.forms import DestroyForm
from orders.packing.models import Package
from shop.access import roles

AT_THE_TABLE = ("Wrong weight", "Wrong cut", "Torn or leaking", "Tapped by mistake")
AFTERWARDS = ("Torn or leaking", "Lost, nowhere to be found", "Wrong weight", "Wrong cut")
TO_REOPEN = {
    RunKind.CUT: ("Finished too early", "A wrong weight", "A wrong lug"),
    RunKind.WRAP: ("A pack is packed again", "Finished too early", "A wrong weight"),
}


@roles("owner", "counter", "floor")
@never_cache
def void_pack(request: HttpRequest, pk: int) -> HttpResponse:
    """Destroy a label, with the reason; of a finished wrap with the word that it is destroyed."""
    package = get_object_or_404(
        Package.objects.select_related(
            "piece__animal__order", "piece__order", "piece__container", "part", "choice", "run", "weighing"
        ),
        pk=pk,
    )
    owner = package.piece.animal or package.piece.order
    if owner is None:
        raise Http404
    finished = package.run.closed_at is not None
    form = DestroyForm(
        posted(request), reasons=AFTERWARDS if finished else AT_THE_TABLE, ask_confirm=finished
    )
    screen = Screen(
        owner,
        f"Destroy label {package.n}",
        reverse("trail", args=[package.piece.code])
        if finished
        else reverse("floor-packs", args=[package.run_id]),
        save="Destroy it",
        say=_what_becomes_of(package, finished),
    )
    return task(
        request,
        screen,
        form,
        actions.void_package,
        package,
        lambda: {"reason": form.why, "destroyed": form.cleaned_data["confirmed"]},
        reverse("trail", args=[package.run.code]) if finished else screen.back,
    )


def _what_becomes_of(package: Package, finished: bool) -> str:
    cut = f"{package.part.name}, {package.choice.name.lower()}"
    if not finished:
        return f"{cut}: its meat goes back to the table."
    box = package.piece.container
    out_of = f" It comes out of {box.name}." if box else ""
    return f"{cut}.{out_of} To pack its meat again, open its wrap again afterwards."


@roles("owner", "counter", "floor")
@never_cache
def reopen(request: HttpRequest, pk: int) -> HttpResponse:
    """Open a finished breakdown or wrap again, with the reason."""
    runs = Run.objects.select_related("animal__order", "animal__species", "order", "station")
    run = get_object_or_404(runs, pk=pk, kind__in=TO_REOPEN)
    form = ReasonForm(posted(request), reasons=TO_REOPEN[RunKind(run.kind)])
    screen = Screen(
        owner_of(run),
        f"{run.get_kind_display()}: open it again",
        reverse("trail", args=[run.code]),
        save="Open it again",
        say=f"What went in lies at {run.station} once more. It is finished there anew.",
    )
    return task(request, screen, form, voids.reopen_job, run, lambda: {"reason": form.why}, page_of(run))
