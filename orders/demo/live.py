"""The last half hour: something is open at every station right now."""

from __future__ import annotations

from random import Random
from typing import Any

from django.db.models import QuerySet

from orders.cutsheets.actions import ask_change
from orders.demo.hands import Hands, minutes, scale, scale_at
from orders.floor.block import fill_lug, open_animal
from orders.floor.grind import add_fat, start_grind
from orders.floor.skin import start_skinning, take_off, wanted
from orders.intake.models import Animal, State
from orders.ledger.models import Contents, Hold, Piece, PieceState, Run, RunKind
from orders.packing.actions import bring_to_wrap, pack
from shop.models import Choice, Part


def open_everywhere(hands: Hands, rng: Random) -> None:
    """A carcass being skinned, three blocks and the grinder at work, two wrap tables."""
    _skinning(hands, rng)
    for station, ago in (("Block 1", 28), ("Block 2", 17), ("Block 3", 6)):
        _cutting(hands, rng, station, ago)
    _grinding(hands, rng)
    for station, ago in (("Wrap 1", 19), ("Wrap 2", 8)):
        _wrapping(hands, rng, station, ago)


def _skinning(hands: Hands, rng: Random) -> None:
    animal = _free(State.RECEIVED, arrived_as="whole").first()
    if animal is None:
        return
    at = hands.now - minutes(9)
    run = hands.do(start_skinning, animal.pieces.get(kind="carcass"), "Skinning", at, rng).fetch(Run)
    for what in wanted(animal)[:1]:
        hands.do(take_off, run, "Skinning", at + minutes(4), rng, what=what, keep=True)


def _cutting(hands: Hands, rng: Random, station: str, ago: int) -> None:
    ready = _free(State.HANGING, cut_sheets__current=True, species__is_bird=False)
    skinned = ready.filter(runs__kind=RunKind.SKIN, runs__closed_at__isnull=False)
    animal = skinned.order_by("hung_at", "id").first()
    if animal is None:
        return
    at = hands.now - minutes(ago)
    run = hands.do(open_animal, animal, station, at, rng).fetch(Run)
    if ago > 15:
        weight = scale_at(station, rng.randint(900, 1500))
        hands.do(
            fill_lug, run, station, at + minutes(12), rng, contents=Contents.WHOLE_CUTS.value, weight=weight
        )
    if ago > 25:
        hands.do(
            ask_change, animal, "Counter", at + minutes(20), rng, text="Neck for stew, if it is not too late"
        )


def _grinding(hands: Hands, rng: Random) -> None:
    lug = _waiting(Contents.GRIND_TRIM).first()
    if lug is None:
        return
    at = hands.now - minutes(7)
    run = hands.do(start_grind, lug, "Grinder", at, rng).fetch(Run)
    weight = scale(rng.randint(12, 26) * 10)
    hands.do(add_fat, run, "Grinder", at + minutes(2), rng, kind="beef", weight=weight, lot="lot 1107-B")


def _wrapping(hands: Hands, rng: Random, station: str, ago: int) -> None:
    lug = _waiting(Contents.WHOLE_CUTS).exclude(animal__runs__kind=RunKind.WRAP).first()
    if lug is None:
        return
    at = hands.now - minutes(ago)
    run = hands.do(bring_to_wrap, lug, station, at, rng).fetch(Run)
    part, choice = Part.objects.get(code="backstrap"), Choice.objects.get(code="steaks")
    weights = tuple(scale_at(station, rng.randint(90, 140)) for _ in range(3))
    hands.do(pack, run, station, at + minutes(5), rng, part=part, choice=choice, weights=weights, count=4)


def _free(state: State, **wanted: Any) -> QuerySet[Animal]:
    """Animals in a state that nothing holds and nobody has open."""
    found = Animal.objects.filter(state=state, order__closed_at=None, **wanted)
    found = found.exclude(holds__in=_open_holds()).exclude(runs__in=Run.objects.filter(closed_at=None))
    return found.select_related("order", "species").order_by("arrived_at", "id")


def _open_holds() -> QuerySet[Hold]:
    return Hold.objects.filter(released_at=None)


def _waiting(contents: Contents) -> QuerySet[Piece]:
    """Lugs that wait, of animals that nothing holds."""
    found = Piece.objects.filter(kind="lug", contents=contents, state=PieceState.WAITING, animal__ended="")
    found = found.filter(animal__order__grind_together=False).exclude(animal__holds__in=_open_holds())
    return found.select_related("animal").order_by("id")
