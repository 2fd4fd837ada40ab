"""The cooler: what hangs where and since when, what has to be hung, and which tenderloins are still in."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.cache import never_cache

from orders.floor import skin
from orders.floor.answers import Screen, posted, task
from orders.floor.cooler import cooler
from orders.floor.forms import HangUpForm, MustWeighForm, PlaceForm
from orders.floor.queries import cold_places
from orders.intake.models import Animal, ArrivedAs
from orders.ledger.models import BODY_KINDS, Piece, PieceKind, PieceState, Point
from orders.ledger.runs import is_skinned
from orders.ledger.weights import last_weighing
from shop.access import roles
from shop.models import Station


def queue_page(request: HttpRequest, station: Station) -> HttpResponse:
    """What hangs where."""
    return render(request, "floor/cooler.html", {"here": station, "cooler": cooler()})


@roles("owner", "counter", "floor")
@never_cache
def piece(request: HttpRequest, pk: int) -> HttpResponse:
    """Hang a piece that came in, or move one from a cold place to another; by tile, or by scanning the place."""
    found = get_object_or_404(
        Piece.objects.select_related("animal__order", "animal__species", "place"), pk=pk, kind__in=BODY_KINDS
    )
    animal = found.animal
    assert animal is not None
    hanging = found.state != PieceState.RECEIVED
    # With the hide on there is no hanging weight yet.
    weighs = not hanging and animal.arrived_as != ArrivedAs.WHOLE
    places = cold_places(*skin.COLD_FOR[found.kind]).exclude(pk=found.place_id or 0)
    form = HangUpForm(posted(request), places=places, weighs=weighs)

    def facts() -> dict[str, object]:
        weight = {} if hanging else {"weight": form.on_scale}
        return {"place": form.cleaned_data["place"], **weight}

    return task(
        request,
        _to_place_screen(animal, found, hanging=hanging, weighs=weighs),
        form,
        skin.move_cold if hanging else skin.hang_up,
        found,
        facts,
        reverse("floor"),
        scan_piece=found,
        also=_also(found),
    )


def _to_place_screen(animal: Animal, piece: Piece, *, hanging: bool, weighs: bool) -> Screen:
    where = f" It is at {piece.place.name}." if piece.place else ""
    return Screen(
        animal,
        f"Move {piece.name}" if hanging else f"Hang {piece.name}",
        reverse("floor"),
        save="Hang it with this weight" if weighs else ("Move it" if hanging else "Hang it"),
        say=f"Tap the place, or scan its card.{where}",
    )


def _also(piece: Piece) -> tuple[str, str] | None:
    """The way to a hanging weight for what hangs without its hide, as an address and its words."""
    animal = piece.animal
    if piece.state != PieceState.HANGING or animal is None:
        return None
    if animal.arrived_as == ArrivedAs.WHOLE and not is_skinned(animal):
        return None
    hung = last_weighing(piece, Point.HANGING)
    words = f"Weigh again: {hung.reading} is wrong" if hung else "Weigh it"
    return reverse("floor-weigh-again", args=[piece.pk]), words


@roles("owner", "counter", "floor")
@never_cache
def weigh_again(request: HttpRequest, pk: int) -> HttpResponse:
    """The hanging weight of what hangs, taken late or once more: the newest one counts, the others stay on record."""
    found = get_object_or_404(
        Piece.objects.select_related("animal__order", "animal__species", "place"), pk=pk, kind__in=BODY_KINDS
    )
    animal, place = found.animal, found.place
    if animal is None or place is None or place.sink:
        raise Http404
    hung = last_weighing(found, Point.HANGING)
    said = f"On record is {hung.reading}." if hung else "It was not weighed yet."
    screen = Screen(
        animal, f"Hanging weight of {found.name}", reverse("floor-cooler-piece", args=[found.pk]), say=said
    )
    form = MustWeighForm(posted(request))
    return task(
        request,
        screen,
        form,
        skin.hang_up,
        found,
        lambda: {"place": place, "weight": form.on_scale},
        reverse("floor"),
    )


@roles("owner", "counter", "floor")
@never_cache
def bag(request: HttpRequest, pk: int) -> HttpResponse:
    """A tenderloin bag to its place in the cold."""
    found = get_object_or_404(
        Piece.objects.select_related("animal__order", "place"), pk=pk, kind=PieceKind.TENDERLOIN
    )
    animal = found.animal
    assert animal is not None
    form = PlaceForm(posted(request), places=cold_places(*skin.COLD_FOR[PieceKind.TENDERLOIN]))
    where = f" It is at {found.place.name}." if found.place else ""
    screen = Screen(
        animal,
        f"Move {found.name}",
        reverse("floor"),
        save="Move it",
        say=f"Tap the place, or scan its card.{where}",
    )
    return task(
        request,
        screen,
        form,
        skin.move_cold,
        found,
        lambda: {"place": form.cleaned_data["place"]},
        reverse("floor"),
        scan_piece=found,
    )
