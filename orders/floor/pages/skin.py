"""The skinning station: what is next, what comes off and is kept, and where the carcass hangs."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from orders.floor import skin
from orders.floor.answers import Screen, posted, tap, task
from orders.floor.jobs import find_run, finished, page_of
from orders.floor.left_in import DRYING, left_in_words, sides_words
from orders.floor.queries import (
    can_take_back,
    cold_places,
    lines_of,
    open_elsewhere,
    open_here,
    region_words,
    skin_queue,
)
from orders.floor.skin_forms import (
    BloodshotForm,
    FoundForm,
    HangForm,
    TakeOffForm,
    TenderloinForm,
    left_in_choices,
    sides_of,
)
from orders.floor.tenderloins import find_tenderloins
from orders.floor.words import are, them
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

    @property
    def are(self) -> str:
        return are(self.what)


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
            "all_bagged": skin.pulled_sides(animal) >= set(skin.SIDES),
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
        found.append(Thing(what, keep, _said(what, asked[what], keep), off.get(what)))
    if animal.keep_organs != Keep.ABSENT:
        keep = animal.keep_organs in (Keep.KEEP, Keep.UNANSWERED)
        found.append(Thing("organs", keep, _said("organs", animal.keep_organs, keep), off.get("organs")))
    found.append(Thing("feet", False, "to waste", off.get("feet")))
    return found


def _said(what: str, answer: str, keep: bool) -> str:
    if answer == Keep.UNANSWERED:
        return "nobody was asked: keep and tag" if keep else "nobody was asked: to waste"
    return f"the hunter keeps {them(what)}: tag {them(what)}" if keep else "to waste"


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
    animal = _animal_with_species(pk)
    back, done = _around_tenderloins(request, animal)
    sides = skin.tenderloins_to_pull(animal) or list(skin.SIDES)
    form = TenderloinForm(
        posted(request), sides=sides, initial={"side": "both" if len(sides) == 2 else sides[0]}
    )
    screen = Screen(
        animal, "Tenderloins: pull and bag", back, say=f"Inside, small, along the spine. {DRYING}"
    )

    def facts() -> dict[str, object]:
        pulled = sides_of(form.cleaned_data["side"])
        return {"left": "left" in pulled, "right": "right" in pulled, "weight": form.on_scale}

    not_there = reverse("floor-tenderloins-found", args=[animal.pk]) + _query(request)
    return task(
        request,
        screen,
        form,
        skin.pull_tenderloins,
        animal,
        facts,
        done,
        also=(not_there, "Not there"),
    )


@roles("owner", "counter", "floor")
@never_cache
def found(request: HttpRequest, pk: int) -> HttpResponse:
    """A tenderloin is not where it should be, or is there after all."""
    animal = _animal_with_species(pk)
    back, done = _around_tenderloins(request, animal)
    bagged = skin.pulled_sides(animal)
    sides = [side for side in skin.SIDES if side not in bagged] or list(skin.SIDES)
    form = FoundForm(posted(request), sides=sides)
    screen = Screen(
        animal,
        "Tenderloins: what is found",
        back,
        save="Save",
        say="What was said at the counter stays on record.",
    )
    return task(
        request,
        screen,
        form,
        find_tenderloins,
        animal,
        lambda: {"sides": sides_of(form.cleaned_data["side"]), "found": form.cleaned_data["found"]},
        done,
    )


def _animal_with_species(pk: int) -> Animal:
    return get_object_or_404(Animal.objects.select_related("order", "species"), pk=pk)


def _around_tenderloins(request: HttpRequest, animal: Animal) -> tuple[str, str]:
    """Where back leads, and where a saved answer leads: on to hanging, where the question came up on the way there."""
    run = animal.runs.filter(closed_at=None, kind__in=[RunKind.SKIN, RunKind.CUT]).first()
    station = station_of(request)
    if run is None or station is None or run.station_id != station.pk:
        return reverse("floor"), reverse("floor")
    hangs = run.kind == RunKind.SKIN and request.GET.get("then") == "hang"
    return page_of(run), reverse("floor-hang", args=[run.pk]) if hangs else page_of(run)


def _query(request: HttpRequest) -> str:
    return "?then=hang" if request.GET.get("then") == "hang" else ""


@roles("owner", "counter", "floor")
@never_cache
def hang(request: HttpRequest, pk: int) -> HttpResponse:
    """The skinned carcass to its rail, weighed or not: the skinning is done. Tenderloins still in are asked about."""
    run = find_run(pk, RunKind.SKIN)
    closed = finished(request, run)
    if closed:
        return closed
    animal, today = _animal_of(run), timezone.localdate()
    form = HangForm(
        posted(request),
        places=cold_places(PlaceKind.RAIL, PlaceKind.RACK),
        today=today,
        initial={"left_in": request.GET.get("left_in", "")},
    )
    sides = skin.tenderloins_to_pull(animal)
    if request.method == "GET" and sides and not form.left_in:
        return _ask_for_tenderloins(request, run, animal, sides)
    stays = left_in_words(sides, form.left_in, today) if sides and form.left_in else ""
    screen = Screen(animal, "Hang the carcass", page_of(run), save="Hang it with this weight", say=stays)

    def facts() -> dict[str, object]:
        reason = form.why if "reason" in form.fields else ""
        place, weight = form.cleaned_data["place"], form.on_scale
        return {"place": place, "weight": weight, "reason": reason, "left_in": form.left_in}

    return task(request, screen, form, skin.finish_skinning, run, facts, reverse("floor"))


def _ask_for_tenderloins(request: HttpRequest, run: Run, animal: Animal, sides: list[str]) -> HttpResponse:
    """The one question before hanging: pulled, left in on purpose, or not there."""
    context = {
        "screen": Screen(animal, f"{sides_words(sides).capitalize()} still in?", page_of(run), say=DRYING),
        "run": run,
        "animal": animal,
        "leave": left_in_choices(timezone.localdate()),
    }
    return render(request, "floor/tenderloins_ask.html", context)


def _animal_of(run: Run) -> Animal:
    if run.animal is None:
        raise Http404
    return run.animal
