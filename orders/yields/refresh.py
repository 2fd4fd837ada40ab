"""Keeps the yield records true: reckons again what the ledger has moved on from, and sums what the shop has learned."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import fmean
from typing import Any

from django.db import transaction
from django.db.models import F, Max, Min, Q

from orders.intake.models import Animal, Order
from orders.ledger.models import Event, Outcome, Run, RunKind
from orders.packing.models import Package
from orders.yields.account import IS_PACKED
from orders.yields.causes import causes_of
from orders.yields.constants import Basis, Constants
from orders.yields.estimate import NOT_SAID
from orders.yields.figures import Figures, load_figures
from orders.yields.kept import Besides, facts_of, read_besides, whole_cuts
from orders.yields.learned import BONELESS, DRYING, PART, class_of
from orders.yields.models import ShopFigure, YieldRecord
from orders.yields.queries import Yield, yields_of
from shop.models import ShopSettings

# Few enough that a floor action waits for no more than a moment.
ORDERS_AT_ONCE = 50
NOT_PACKED = "not packed yet"


def refresh() -> int:
    """Reckon again every order that has finished animals and has changed since; how many orders that were."""
    stale = sorted(_stale_orders())
    for chunk in _chunks(stale):
        with transaction.atomic():
            _one_at_a_time()
            sum_up(_reckon(chunk))
    return len(stale)


def _one_at_a_time() -> None:
    """Locks the shop's one row: records and the sums of what they teach change together, by one hand at a time."""
    ShopSettings.objects.select_for_update().first()


@transaction.atomic
def forget(species_id: int | None = None) -> None:
    """Throw records away, because what they were reckoned with has changed; of one species, or all."""
    _one_at_a_time()
    found = YieldRecord.objects.all()
    if species_id is not None:
        found = found.filter(order__animals__species=species_id)
    YieldRecord.objects.filter(pk__in=list(found.values_list("pk", flat=True))).delete()
    figures = ShopFigure.objects.all()
    (figures if species_id is None else figures.filter(species=species_id)).delete()


def _chunks(ids: Sequence[int]) -> Iterable[Sequence[int]]:
    return (ids[start : start + ORDERS_AT_ONCE] for start in range(0, len(ids), ORDERS_AT_ONCE))


def _stale_orders() -> set[int]:
    moved_on = YieldRecord.objects.exclude(order_version=F("order__version"))
    new = Animal.objects.filter(IS_PACKED, ended="", order__yield_records=None)
    return {
        *moved_on.order_by().values_list("order_id", flat=True),
        *new.order_by().values_list("order_id", flat=True),
    }


def _reckon(order_ids: Sequence[int]) -> set[int]:
    """Write the records of some orders anew. Their rows are locked, so that nothing moves while they are read."""
    orders = {
        order.pk: order for order in Order.objects.select_for_update().filter(pk__in=order_ids).order_by("pk")
    }
    animals = list(
        Animal.objects.filter(order__in=orders)
        .exclude(ended__in=("void", "refused"))
        .select_related("species")
        .order_by("order_id", "n")
    )
    for animal in animals:
        animal.order = orders[animal.order_id]
    read = _Read(_crews(animals), causes_of(animals), load_figures(), read_besides(animals))
    old = YieldRecord.objects.filter(order__in=orders)
    species = set(old.order_by().values_list("species_id", flat=True))
    old.delete()
    records = [_record(found, read) for found in yields_of(animals)]
    YieldRecord.objects.bulk_create(records)
    return species | {record.species_id for record in records}


@dataclass(slots=True)
class _Crew:
    """Who worked on an animal, and when its last pack was made."""

    cutters: set[int]
    blocks: set[int]
    people: set[int]
    packed_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class _Read:
    """What is read for the records of some orders besides their yields."""

    crews: dict[int, _Crew]
    causes: dict[int, str]
    figures: Figures
    besides: Besides


def _crews(animals: Sequence[Animal]) -> dict[int, _Crew]:
    """The crew of each animal; work on an order's pooled meat counts for each of its animals."""
    crews = {animal.pk: _Crew(set(), set(), set()) for animal in animals}
    of_order: dict[int, list[int]] = defaultdict(list)
    for animal in animals:
        of_order[animal.order_id].append(animal.pk)
    whose = Q(animal__in=crews) | Q(order__in=of_order)
    cuts = Run.objects.filter(animal__in=crews, kind=RunKind.CUT, put_back=False)
    for animal_id, cutter, block in cuts.values_list("animal_id", "opened_by_id", "station_id"):
        crews[animal_id].cutters.add(cutter)
        crews[animal_id].blocks.add(block)
    work = Event.objects.filter(outcome=Outcome.OK, run__isnull=False, order__in=of_order).order_by()
    people = work.values_list("order_id", "animal_id").annotate(first=Min("person"), last=Max("person"))
    for order_id, animal_id, first, last in people:
        for pk in [animal_id] if animal_id in crews else of_order[order_id]:
            crews[pk].people |= {first, last}
    packs = Package.objects.filter(whose).order_by().values_list("animal_id", "order_id")
    for animal_id, order_id, packed_at in packs.annotate(at=Max("packed_at")):
        for pk in [animal_id] if animal_id else of_order[order_id]:
            crews[pk].packed_at = max(filter(None, (crews[pk].packed_at, packed_at)))
    return crews


def _only(ids: set[int]) -> int | None:
    return next(iter(ids)) if len(ids) == 1 else None


def _record(found: Yield, read: _Read) -> YieldRecord:
    first = found.animals[0]
    crew = [read.crews[animal.pk] for animal in found.animals]
    people = _only(set().union(*(each.people for each in crew)))
    packed_at = max((each.packed_at for each in crew if each.packed_at), default=None)
    cause = next((read.causes[animal.pk] for animal in found.animals if animal.pk in read.causes), "")
    facts = facts_of(found, cause, read.figures, read.besides)
    why_not = cause or _why_not(found, facts)
    told = observed(found, read.figures.of_animal(first))
    if why_not:
        # Drying is told apart from what became of the meat, where both ends of it were weighed.
        told = {} if cause else {quantity: told[quantity] for quantity in (DRYING,) if quantity in told}
    weighed, of = found.points_counted
    estimate = found.estimate
    return YieldRecord(
        animal=first,
        members=[animal.pk for animal in found.animals],
        order=found.order,
        season_id=found.order.season_id,
        order_version=found.order.version,
        species=first.species,
        animal_class=class_of(first),
        finished_at=packed_at if found.finished else None,
        cutter_id=_only(set().union(*(each.cutters for each in crew))),
        block_id=_only(set().union(*(each.blocks for each in crew))),
        alone_id=people,
        basis=estimate.basis if estimate else "",
        weighed_mg=estimate.weighed_mg if estimate else None,
        received_mg=_point(found, "received"),
        hung_mg=_point(found, "hanging"),
        block_mg=_point(found, "at_block"),
        hung_days=found.hung_days,
        low_mg=estimate.low_mg if estimate else None,
        likely_mg=estimate.likely_mg if estimate else None,
        high_mg=estimate.high_mg if estimate else None,
        packed_mg=found.account.packed_mg if found.finished else None,
        own_mg=found.own_mg,
        added_mg=found.account.added_mg if found.account.added else 0,
        packs=found.account.pack_count,
        observed=told,
        teaches=not why_not,
        why_not=why_not,
        points_weighed=weighed,
        points=of,
        facts=facts,
    )


def _point(found: Yield, key: str) -> int | None:
    return next((point.mg for point in found.account.points if point.key == key), None)


def _why_not(found: Yield, facts: dict[str, Any]) -> str:
    """Why nothing is learned from this animal. To lie outside the range is no reason, or the range would shrink."""
    basis = found.estimate.basis if found.estimate else ""
    reasons = (
        (not found.finished, NOT_PACKED),
        (found.together, "ground together with another animal"),
        (bool(facts["lugs"]), "a lug of it is missing"),
        (found.own_mg is None, "packs or fat not weighed"),
        (found.account.bone_in, "has bone-in cuts"),
        (not found.estimate or not found.estimate.likely_mg, "nothing to compare with"),
        (basis == Basis.BONELESS, "came boneless"),
        (basis == NOT_SAID, "nobody said how it was dressed when it was weighed"),
        (not found.own_mg, "nothing was packed"),
    )
    return next((reason for holds, reason in reasons if holds), "")


def observed(found: Yield, constants: Constants | None) -> dict[str, float]:
    """What an animal tells the shop, as logarithms.

    `boneless`: ln(own / likely by the published figures). `drying`: on each day, where both ends were weighed and a day
    lay between, what is left of ln(hung / at the block) after the published first chill. `part:` and a code: ln(the
    part's packs / all own packs), of whole cuts.
    """
    told: dict[str, float] = {}
    if found.own_mg and found.estimate and found.estimate.likely_mg:
        told[BONELESS] = math.log(found.own_mg / found.estimate.likely_mg)
    hung, block = _point(found, "hanging"), _point(found, "at_block")
    if hung and block and found.hung_days and constants and not found.together:
        chilled = hung * (1 - float(constants.first_chill.bounds[1]))
        told[DRYING] = math.log(chilled / block) / found.hung_days
    parts = whole_cuts(found)
    if found.own_mg and not found.account.bone_in:
        told |= {PART + code: math.log(mg / found.own_mg) for code, mg in parts.items() if mg}
    return told


def sum_up(species: set[int]) -> None:
    """Sum what these species' own animals have told, over all and by class."""
    told: dict[tuple[int, str, str], list[float]] = defaultdict(list)
    rows = YieldRecord.objects.filter(species__in=species).order_by("id")
    for species_id, animal_class, values in rows.values_list("species_id", "animal_class", "observed"):
        for quantity, value in values.items():
            told[species_id, "", quantity].append(value)
            told[species_id, animal_class, quantity].append(value)
    figures = []
    for (species_id, animal_class, quantity), values in told.items():
        mean = fmean(values)
        squares = math.fsum((value - mean) ** 2 for value in values)
        figures.append(
            ShopFigure(
                species_id=species_id,
                animal_class=animal_class,
                quantity=quantity,
                n=len(values),
                mean=mean,
                squares=squares,
            )
        )
    ShopFigure.objects.filter(species__in=species).delete()
    ShopFigure.objects.bulk_create(figures)
