"""Jobs that several tests start from: two deer ground together, and frozen trim through the grinder."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from orders.cutsheets.actions import save_cut_sheet
from orders.floor.block import fill_lug, finish_breakdown, open_animal, record_waste
from orders.floor.grind import add_fat, finish_grind, start_grind, take_from_grinder
from orders.intake.actions import add_animal, file_tag, record_order
from orders.intake.facts import AnimalFacts
from orders.intake.models import Animal, Order
from orders.ledger.models import Piece, Run
from orders.packing.actions import bring_to_wrap, finish_wrap, new_box, put_in_box, store
from orders.packing.models import Package
from shop.models import Species
from tests.scenario import DEER, Scenario, lb

# Nothing to keep and nothing to pull: for what comes as pieces or trim.
PLAIN: AnimalFacts = replace(DEER, keep_head="discard", tenderloin_left="", tenderloin_right="")


def two_deer(scenario: Scenario, *, species: str = "white-tailed-deer") -> tuple[Order, Animal, Animal]:
    """Two animals of one order whose trim is to be ground together."""
    order = scenario.order()
    first = scenario.deer(order, tag="WT-1")
    second = scenario.deer(order, tag="WT-2", species=species)
    record_order(order, by=scenario.by("counter"), grind_together=True)
    order.refresh_from_db()
    return order, first, second


def grind_together(scenario: Scenario, *animals: Animal, out: str = "50") -> Run:
    """The trim of these animals through the grinder as one; the grind's run, finished."""
    by = scenario.by("grind")
    lugs = [scenario.cut(animal)["grind_trim"] for animal in animals]
    for lug in lugs:
        run = start_grind(lug, by=by).fetch(Run)
    take_from_grinder(run, by=by, weight=lb(out))
    finish_grind(run, by=by)
    return run


def pool_on_table(scenario: Scenario, order: Order) -> Run:
    """The pooled lug of an order on the wrap table."""
    lug = Piece.objects.get(order=order, contents="ground")
    return bring_to_wrap(lug, by=scenario.by("wrap")).fetch(Run)


def pool_in_box(scenario: Scenario, order: Order, *weights: str) -> Piece:
    """The pooled meat of an order packed, in a box, on its shelf."""
    by = scenario.by("wrap")
    run = pool_on_table(scenario, order)
    ids = scenario.pack(run, "grind-trim", "ground", *(weights or ("24.5", "24.5")))
    finish_wrap(run, by=by)
    box = new_box(order, by=by).fetch(Piece)
    put_in_box(box, by=by, packages=tuple(Package.objects.filter(pk__in=ids)))
    store(box, by=scenario.by("freezer"), place=scenario.places.shelf)
    box.refresh_from_db()
    return box


def pieces_of_elk(
    scenario: Scenario, tag: str, *forms: tuple[str, str], order: Order | None = None
) -> Animal:
    """An elk that comes as pieces, with those that are named so far."""
    animal = taken_in(scenario, "elk", "pieces", tag, order)
    for form, weight in forms:
        scenario.bring(animal, form, weight)
    return animal


def taken_in(
    scenario: Scenario, species: str, arrived_as: str, tag: str, order: Order | None = None, **more: Any
) -> Animal:
    """Any animal, taken in at the door."""
    facts = {"facts": PLAIN, **more}
    return add_animal(
        order or scenario.order(),
        by=scenario.by("counter"),
        species=Species.objects.get(code=species),
        arrived_as=arrived_as,
        place=scenario.places.door,
        tag_no=tag,
        **facts,
    ).fetch(Animal)


def frozen_trim(scenario: Scenario, tag: str = "FT-1", weight: str = "20.0") -> Piece:
    """Frozen trim that went over the block whole: its lug, which loses nothing to bone."""
    animal = taken_in(scenario, "white-tailed-deer", "trim", tag)
    scenario.bring(animal, "bag-trim", weight)
    save_cut_sheet(animal, by=scenario.by("counter"))
    by = scenario.by("block")
    run = open_animal(animal, by=by).fetch(Run)
    lug = fill_lug(run, by=by, contents="grind_trim", weight=lb(weight)).fetch(Piece)
    for what in ("bone_fat", "waste"):
        record_waste(run, by=by, what=what)
    file_tag(animal, by=by, where="tag box, row 3")
    finish_breakdown(run, by=by)
    return lug


def ground_trim(
    scenario: Scenario, out: str, *, fat: str | None = None, tag: str = "FT-1"
) -> tuple[Run, Piece]:
    """Frozen trim, 20 lb of it, in the open grinder; `fat` is its weight, empty for not weighed. Run and lug out."""
    by = scenario.by("grind")
    run = start_grind(frozen_trim(scenario, tag), by=by).fetch(Run)
    if fat is not None:
        add_fat(run, by=by, kind="pork", weight=lb(fat) if fat else None)
    return run, take_from_grinder(run, by=by, weight=lb(out)).fetch(Piece)
