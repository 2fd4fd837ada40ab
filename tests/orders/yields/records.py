"""Yield records as `refresh` writes them, in bulk: closed animals of which only what the audit reads is there."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from orders.intake.models import Animal, Contact, Order, Season
from orders.models import YieldRecord
from orders.yields.flags import Range
from orders.yields.learned import BONELESS
from orders.yields.ranges import Chain, State
from orders.yields.refresh import sum_up
from shop.codes import Kind
from shop.counters import new_codes, take
from shop.models import Person, Species
from shop.weights import pounds

LIKELY = pounds(48)
LOW, HIGH = pounds(41), pounds(55)
START = datetime(2026, 11, 1, 15, tzinfo=timezone.get_default_timezone())


def facts_of(species: Species, animal_class: str, **more: Any) -> dict[str, Any]:
    """What a record keeps of an animal that hung 100 lb and with which nothing is out of the ordinary."""
    chain = Chain(species.pk, animal_class, Range(LOW, LIKELY, HIGH), (State(LIKELY),))
    return {
        "parts": {},
        "ground_mg": 0,
        "waste": [],
        "waste_mg": pounds(39),
        "usual_waste_mg": pounds(39),
        "regions": [],
        "bloodshot_known": True,
        "gaps": [],
        "lugs": [],
        "to_trim_mg": 0,
        "to_trim_asked": True,
        "ranges": [chain.plain()],
        "ordinary": [],
        "as_hung": [],
        "worst_shot_mg": 0,
        "readings": [],
        "cause": "",
        "bone_in": False,
        "unweighed_packs": 0,
        "notes": [],
        **more,
    }


def make_records(
    season: Season,
    by: Person,
    shares: Sequence[float | None],
    *,
    species: str = "white-tailed-deer",
    animal_class: str = "male-adult",
    teach: bool = True,
    facts: dict[str, Any] | None = None,
    **more: Any,
) -> list[YieldRecord]:
    """One closed animal for each share of what was likely by the published figures (None: not weighed).

    They are finished an hour apart, in the order given. `facts` and `more` are of every record.
    """
    of = Species.objects.get(code=species)
    first = take(f"season-{season.pk}", len(shares)) if shares else 0
    codes = new_codes(Kind.ORDER, len(shares)) if shares else []
    hunter, _ = Contact.objects.get_or_create(name="Rowan Sedgewick", search="rowan sedgewick")
    sex, age = animal_class.split("-")
    found = []
    for offset, share in enumerate(shares):
        seq = first + offset
        at = START + timedelta(hours=seq)
        order = Order.objects.create(
            code=codes[offset],
            season=season,
            seq=seq,
            number=f"{season.short}-{seq:04}",
            created_at=at,
            created_by=by,
            hunter=hunter,
        )
        animal = Animal.objects.create(
            order=order,
            n=1,
            species=of,
            sex=sex,
            age_class=age,
            arrived_as="whole",
            arrived_at=at,
            arrived_on=timezone.localdate(at),
        )
        own = None if share is None else round(LIKELY * share)
        found.append(
            YieldRecord(
                **{
                    "animal": animal,
                    "members": [animal.pk],
                    "order": order,
                    "season": season,
                    "order_version": 0,
                    "species": of,
                    "animal_class": animal_class,
                    "finished_at": at,
                    "basis": "hanging",
                    "weighed_mg": pounds(100),
                    "hung_mg": pounds(100),
                    "hung_days": of.hang_days,
                    "low_mg": LOW,
                    "likely_mg": LIKELY,
                    "high_mg": HIGH,
                    "packed_mg": own,
                    "own_mg": own,
                    "added_mg": 0,
                    "observed": {BONELESS: math.log(own / LIKELY)} if own and teach else {},
                    "teaches": bool(own and teach),
                    "facts": facts_of(of, animal_class, **(facts or {})),
                    **more,
                }
            )
        )
    made = YieldRecord.objects.bulk_create(found)
    sum_up({of.pk})
    return made
