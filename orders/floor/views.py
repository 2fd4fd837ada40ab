"""The floor: this station's page, choosing a station, and what a scan does."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from orders.floor import scan
from orders.floor.answers import tap
from orders.floor.forms import FLOOR_STEPS, StationForm
from orders.floor.jobs import page_of
from orders.floor.pages import block, cooler, grind, skin
from orders.floor.stations import floor_station
from orders.http import STATION_KEY
from orders.intake.models import Order
from orders.ledger.models import BODY_KINDS, STEP_OF_RUN, Piece, PieceKind, Run, RunKind
from orders.ledger.refusal import Refusal
from orders.packing.actions import put_in_box
from orders.packing.pages import freezer, wrap
from shop.access import roles
from shop.models import Place, Station, Step

PAGES: dict[str, Callable[[HttpRequest, Station], HttpResponse]] = {
    Step.SKIN: skin.queue_page,
    Step.COOLER: cooler.queue_page,
    Step.BLOCK: block.queue_page,
    Step.GRIND: grind.queue_page,
    Step.WRAP: wrap.queue_page,
    Step.FREEZER: freezer.queue_page,
}
# A badge scanned into a page whose script did not take it: never recorded, it opens the floor.
BADGE_LENGTH = 12


@roles("owner", "counter", "floor")
@never_cache
def floor(request: HttpRequest) -> HttpResponse:
    """The page of this station; without one, the stations as tiles."""
    station = floor_station(request)
    if station is None or "choose" in request.GET:
        return choose(request)
    return PAGES[station.step](request, station)


def choose(request: HttpRequest, status: int = 200) -> HttpResponse:
    """The stations as tiles. A device that is enrolled elsewhere keeps its own station."""
    stations = Station.objects.filter(step__in=FLOOR_STEPS)
    return render(request, "floor/choose.html", {"stations": stations}, status=status)


@roles("owner", "counter", "floor")
@require_POST
def choose_station(request: HttpRequest) -> HttpResponse:
    """Remember in this session at which station this is."""
    form = StationForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Tap one of the stations.")
        return choose(request, status=422)
    take_station(request, form.cleaned_data["station"])
    return redirect("floor")


def take_station(request: HttpRequest, station: Station) -> None:
    """The session's station, unless the device has one of its own."""
    if getattr(request, "station", None) is not None:
        messages.error(request, f"This device stands at {request.station}. Another station has its own.")  # type: ignore[attr-defined]
        return
    request.session[STATION_KEY] = station.pk
    messages.success(request, f"You are at {station.name}.")


@roles("owner", "counter", "floor")
@require_POST
def scan_code(request: HttpRequest) -> HttpResponse:
    """A scan at a station does the obvious next thing; the answer is a banner."""
    raw = request.POST.get("q", "").replace("\x00", "")[:60]
    station = floor_station(request)
    if len(raw.strip()) == BADGE_LENGTH and raw.strip().isdigit():
        messages.error(request, "That is a badge, not a tag. Switch people first.")
        return redirect("floor")
    try:
        found = scan.whose(raw)
    except Refusal as refusal:
        return _no_code(request, station, raw, refusal)
    if isinstance(found, Station):
        return _station_scanned(request, found)
    if isinstance(found, Order) or station is None:
        return _look_up(raw)
    if isinstance(found, Place):
        return _place_scanned(request, station, found, raw)
    return _piece_scanned(request, station, found, raw)


def _station_scanned(request: HttpRequest, found: Station) -> HttpResponse:
    if found.step in FLOOR_STEPS:
        take_station(request, found)
    else:
        messages.error(request, f"{found.name} is not on the floor.")
    return redirect("floor")


def _no_code(request: HttpRequest, station: Station | None, raw: str, refusal: Refusal) -> HttpResponse:
    """An order number is looked up; a code that is none of ours is refused on record."""
    typed = raw.strip()
    if refusal.code == "not_a_code" and typed and (not typed.isdigit() or len(typed) < 6):
        return _look_up(typed)
    if station is None:
        messages.error(request, refusal.sentence)
    else:
        tap(request, scan.refuse_code, station, code=raw, raw_code=raw)
    return redirect("floor")


def _look_up(typed: str) -> HttpResponse:
    try:
        found = reverse("find", query={"q": typed})
    except NoReverseMatch:
        found = reverse("floor")
    return redirect(found)


def _piece_in_hand(request: HttpRequest) -> Piece | None:
    """The piece whose page the scan came from."""
    pk = request.POST.get("piece", "")
    if not pk.isdecimal() or len(pk) > 15:
        return None
    return Piece.objects.select_related("animal__order", "order", "place").filter(pk=pk).first()


def _place_scanned(request: HttpRequest, station: Station, place: Place, raw: str) -> HttpResponse:
    piece = _piece_in_hand(request)
    if piece is None:
        tap(request, scan.refuse_place, station, place=place, raw_code=raw)
        return redirect("floor")
    answer = tap(request, scan.to_place(piece), piece, place=place, raw_code=raw)
    return redirect("floor" if answer else look_at(piece, station))


def _piece_scanned(request: HttpRequest, station: Station, piece: Piece, raw: str) -> HttpResponse:
    box = _piece_in_hand(request)
    if box is not None and box.kind == PieceKind.BOX and piece.kind == PieceKind.PACKAGE:
        tap(request, put_in_box, box, packages=(piece.package,), raw_code=raw)
        return redirect("floor-box", box.pk)
    step = scan.next_step(piece, station)
    if step.act is None:
        return redirect(look_at(piece, station))
    answer = tap(request, step.act, step.subject, raw_code=raw)
    if answer is not None and "run" in answer.refs:
        return redirect(page_of(answer.fetch(Run, "run")))
    run = _open_here(piece, station)
    return redirect(page_of(run) if run else "floor")


def _open_here(piece: Piece, station: Station) -> Run | None:
    """The open job of a piece's owner at this station, so that a second scan shows what the first one opened."""
    kinds = [kind for kind, step in STEP_OF_RUN.items() if step == station.step]
    runs = Run.objects.filter(station=station, closed_at=None, kind__in=kinds)
    if piece.animal_id is not None:
        together = runs.filter(order=piece.order_id_of, kind__in=[RunKind.GRIND, RunKind.WRAP])
        return runs.filter(animal=piece.animal_id).first() or together.first()
    return runs.filter(order=piece.order_id).first()


def look_at(piece: Piece, station: Station) -> str:
    """The floor page where a piece is given its place; a box at the wrap table is filled first."""
    if piece.kind in BODY_KINDS:
        return reverse("floor-cooler-piece", args=[piece.pk])
    if piece.kind == PieceKind.TENDERLOIN:
        return reverse("floor-bag", args=[piece.pk])
    if piece.kind == PieceKind.BOX and station.step == Step.WRAP:
        return reverse("floor-box", args=[piece.pk])
    return reverse("floor-store", args=[piece.pk])
