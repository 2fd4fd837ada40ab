"""The skinning station: what is next, what comes off and is kept, and where the carcass hangs."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from orders.floor import skin
from orders.floor.answers import Screen, posted, tap, task
from orders.floor.forms import BloodshotForm, HangForm, TakeOffForm, TenderloinForm
from orders.floor.jobs import find_run, finished, page_of
from orders.floor.queries import (
    can_take_back,
    cold_places,
    lines_of,
    open_elsewhere,
    open_here,
    region_words,
    skin_queue,
)
from orders.http import station_of
from orders.intake.models import Animal, Keep
from orders.ledger.models import Piece, Run, RunKind, RunLine
from orders.ledger.voids import may_put_back
from shop.access import roles
from shop.models import PlaceKind, Station

RULE = "Warm first, then gut-shot, then rush orders, then the longest here."
CAN_KEEP = ("head", "antlers", "cape", "hide", "organs")


@dataclass(frozen=True, slots=True)
class Thing:
    """Something that comes off: what the hunter said of it, and its line once it is off."""

    what: str
    keep: bool
    said: str
    line: RunLine | None


def queue_page(request: HttpRequest, station: Station) -> HttpResponse:
    """What waits with the hide on."""
    return render(
        request,
        "floor/skin_queue.html",
        {
            "here": station,
            "rule": RULE,
            "queue": skin_queue(),
            "open_runs": open_here(station, RunKind.SKIN),
            "elsewhere": open_elsewhere(station, RunKind.SKIN),
        },
    )


@roles("owner", "counter", "floor")
@require_POST
def start(request: HttpRequest, pk: int) -> HttpResponse:
    """Open the skinning of a carcass."""
    carcass = get_object_or_404(Piece.objects.select_related("animal__order"), pk=pk, animal__isnull=False)
    answer = tap(request, skin.start_skinning, carcass)
    return redirect(page_of(answer.fetch(Run, "run")) if answer else "floor")


@roles("owner", "counter", "floor")
@never_cache
def run_page(request: HttpRequest, pk: int) -> HttpResponse:
    """One carcass on the hook: everything that comes off, one big button each."""
    run = find_run(pk, RunKind.SKIN)
    closed = finished(request, run)
    if closed:
        return closed
    animal = _animal_of(run)
    lines = lines_of(run)
    return render(
        request,
        "floor/skin_run.html",
        {
            "run": run,
            "animal": animal,
            "hit": region_words(animal),
            "things": things(animal, lines),
            "bloodshot": [line for line in lines if line.what == "bloodshot"],
            "to_pull": skin.tenderloins_to_pull(animal),
            "bags": [line for line in lines if line.what == "tenderloins"],
            "missing": skin.still_to_take_off(animal),
            "undo": can_take_back(run),
            "may_put_back": may_put_back(run),
        },
    )


def things(animal: Animal, lines: list[RunLine]) -> list[Thing]:
    """What comes off this animal, in the order of the work."""
    kept = skin.wanted(animal)
    off = {line.what: line for line in lines if line.direction in ("out", "waste")}
    asked = {
        "head": animal.keep_head,
        "antlers": animal.keep_head,
        "cape": animal.keep_cape,
        "hide": animal.keep_hide,
    }
    found = []
    for what in ("head", "antlers", "cape", "hide"):
        keep = what in kept
        # Antlers and a cape are things of their own only where somebody keeps them.
        if what in ("antlers", "cape") and not keep and what not in off:
            continue
        found.append(Thing(what, keep, _said(asked[what], keep), off.get(what)))
    if animal.keep_organs != Keep.ABSENT:
        keep = animal.keep_organs in (Keep.KEEP, Keep.UNANSWERED)
        found.append(Thing("organs", keep, _said(animal.keep_organs, keep), off.get("organs")))
    found.append(Thing("feet", False, "to waste", off.get("feet")))
    return found


def _said(answer: str, keep: bool) -> str:
    if answer == Keep.UNANSWERED:
        return "nobody was asked: keep and tag" if keep else "nobody was asked: to waste"
    return "the hunter keeps it: tag it" if keep else "to waste"


@roles("owner", "counter", "floor")
@never_cache
def take_off(request: HttpRequest, pk: int, what: str) -> HttpResponse:
    """One thing comes off: kept or waste, weighed or not."""
    if what not in skin.TAKEN_OFF:
        raise Http404
    run = find_run(pk, RunKind.SKIN)
    animal = _animal_of(run)
    keep = what in skin.wanted(animal) or (
        what == "organs" and animal.keep_organs in (Keep.KEEP, Keep.UNANSWERED)
    )
    form = TakeOffForm(
        posted(request), can_keep=what in CAN_KEEP, initial={"keep": "keep" if keep else "waste"}
    )
    screen = Screen(animal, f"{what.capitalize()} off", page_of(run))
    return task(
        request,
        screen,
        form,
        skin.take_off,
        run,
        lambda: {"what": what, "keep": form.cleaned_data["keep"] == "keep", "weight": form.on_scale},
        page_of(run),
    )


@roles("owner", "counter", "floor")
@never_cache
def bloodshot(request: HttpRequest, pk: int) -> HttpResponse:
    """Bloodshot meat cut off, at the skinning or at the block."""
    run = get_object_or_404(
        Run.objects.select_related("animal__order", "station"), pk=pk, kind__in=[RunKind.SKIN, RunKind.CUT]
    )
    animal = _animal_of(run)
    first = animal.regions_hit[0] if animal.regions_hit else None
    form = BloodshotForm(posted(request), initial={"region": first})
    screen = Screen(
        animal,
        "Bloodshot cut off",
        page_of(run),
        say="Bloodshot meat is waste. It never goes to grind trim.",
    )
    return task(
        request,
        screen,
        form,
        skin.cut_off_bloodshot,
        run,
        lambda: {"region": form.cleaned_data["region"], "weight": form.on_scale},
        page_of(run),
    )


@roles("owner", "counter", "floor")
@never_cache
def tenderloins(request: HttpRequest, pk: int) -> HttpResponse:
    """Pull and bag tenderloins, at the skinning, in the cooler or at the block."""
    animal = get_object_or_404(Animal.objects.select_related("order", "species"), pk=pk)
    run = animal.runs.filter(closed_at=None, kind__in=[RunKind.SKIN, RunKind.CUT]).first()
    station = station_of(request)
    at_the_run = run is not None and station is not None and run.station_id == station.pk
    back = page_of(run) if run is not None and at_the_run else reverse("floor")
    sides = skin.tenderloins_to_pull(animal) or list(skin.SIDES)
    form = TenderloinForm(
        posted(request), sides=sides, initial={"side": "both" if len(sides) == 2 else sides[0]}
    )
    screen = Screen(
        animal,
        "Tenderloins: pull and bag",
        back,
        say="Inside, small, one on each side of the spine. Left hanging they dry and are lost.",
    )

    def facts() -> dict[str, object]:
        side = form.cleaned_data["side"]
        return {"left": side in ("both", "left"), "right": side in ("both", "right"), "weight": form.on_scale}

    return task(request, screen, form, skin.pull_tenderloins, animal, facts, back)


@roles("owner", "counter", "floor")
@never_cache
def hang(request: HttpRequest, pk: int) -> HttpResponse:
    """The skinned carcass to its rail, weighed or not: the skinning is done."""
    run = find_run(pk, RunKind.SKIN)
    closed = finished(request, run)
    if closed:
        return closed
    places = cold_places(PlaceKind.RAIL, PlaceKind.RACK)
    form = HangForm(posted(request), places=places)
    screen = Screen(_animal_of(run), "Hang the carcass", page_of(run), save="Hang it with this weight")
    return task(
        request,
        screen,
        form,
        skin.finish_skinning,
        run,
        lambda: {
            "place": form.cleaned_data["place"],
            "weight": form.on_scale,
            "reason": form.why if "reason" in form.fields else "",
        },
        reverse("floor"),
    )


def _animal_of(run: Run) -> Animal:
    if run.animal is None:
        raise Http404
    return run.animal
