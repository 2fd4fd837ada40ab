"""Lugs that were left behind: the rest of the animal is packed, no job is open, and nobody has brought them on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Exists, Max, OuterRef, Q, QuerySet, Subquery
from django.utils import timezone

from orders.intake.models import Season
from orders.ledger.models import Piece, PieceKind, PieceState, Run
from orders.ledger.weights import standing
from orders.packing.models import Package
from orders.yields import audit_math
from orders.yields.flags import AnimalFacts, Flag, LugFacts
from orders.yields.phrases import days
from shop.context import shop_settings
from shop.models import Species

# So long a lug may wait for the grinder or the wrap table. Common practice, no source.
MAY_WAIT = timedelta(days=3)


@dataclass(frozen=True, slots=True)
class LeftBehind:
    """One lug, and the animal it is of (the first of its order, where they were put together)."""

    pk: int
    label: str
    hunter: str
    sentence: str
    flag: Flag


def left_behind(season: Season, species: Species | None = None) -> Iterator[LeftBehind]:
    """Lugs of a season's open orders that have waited too long. As many queries whatever the number of lugs."""
    unit, now = shop_settings().unit, timezone.now()
    for lug in _waiting(season, now - MAY_WAIT):
        animal = lug.animal or lug.order.animals.all()[0]
        if species is not None and animal.species_id != species.pk:
            continue
        order = lug.order or animal.order
        name, place = lug.name[:1].upper() + lug.name[1:], lug.place.name if lug.place else ""
        yield LeftBehind(
            pk=animal.pk,
            label=animal.label if lug.animal else order.number,
            hunter=str(order.hunter or ""),
            sentence=f"All else is packed; this lug has waited {days((now - lug.since).days)}.",
            flag=_flag(LugFacts(name, lug.mg, place), unit),
        )


def _waiting(season: Season, before: datetime) -> QuerySet[Any]:
    mine: dict[str, Any] = {"animal": OuterRef("animal")}
    pooled: dict[str, Any] = {"order": OuterRef("order")}
    packed = Exists(Package.objects.filter(**mine)) | Exists(Package.objects.filter(**pooled))
    at_work = Exists(Run.objects.filter(closed_at=None, **mine)) | Exists(
        Run.objects.filter(closed_at=None, **pooled)
    )
    of_one = Q(animal__order__season=season, animal__order__closed_at=None, animal__ended="")
    of_all = Q(order__season=season, order__closed_at=None)
    lugs = Piece.objects.filter(of_one | of_all, kind=PieceKind.LUG, state=PieceState.WAITING)
    weighed = standing().filter(piece=OuterRef("pk")).order_by("-id").values("mg")[:1]
    found = lugs.annotate(since=Max("movements__event__at"), mg=Subquery(weighed))
    related = ("animal__order__hunter", "order__hunter", "place")
    found = found.filter(packed, ~at_work, since__lt=before).select_related(*related)
    return found.prefetch_related("order__animals").order_by("id")


def _flag(lug: LugFacts, unit: str) -> Flag:
    return audit_math.audit(AnimalFacts(own_mg=None, expected=None, lugs=(lug,), unit=unit)).flags[0]
