"""A small stocked shop: at least one animal at every stage of the job, made by the actions."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from orders.billing.actions import set_amount
from orders.cutsheets.actions import ask_change
from orders.floor.block import fill_lug
from orders.floor.grind import start_grind, take_from_grinder
from orders.floor.skin import start_skinning
from orders.intake.actions import record_order
from orders.intake.models import Animal, Order
from orders.ledger.entry import By
from orders.ledger.holds import open_hold
from orders.ledger.models import Piece, Run
from orders.packing.actions import bring_to_wrap
from orders.packing.models import Package
from orders.pickup.actions import release
from shop.models import Part
from tests.scenario import Scenario, lb


@dataclass(frozen=True)
class Stock:
    """What stands in the shop; the names say how far each is."""

    ready: Animal
    received: Animal
    untagged: Animal
    held: Animal
    skinning: Run
    cutting: Run
    grinding: Run
    wrapping: Run
    packed: Animal
    package: Package
    box: Piece
    trim: Part


def fill(scenario: Scenario, by: Callable[[str], By]) -> Stock:
    """Thirteen orders, hunters and prices included."""
    ready = scenario.deer(scenario.order(), tag="WT-1")
    record_order(ready.order, by=by("counter"), note="Call before 8 am", may_collect="Wren Ashgrove")
    box = scenario.stored(ready)
    set_amount(ready.order, by=by("counter"), cents=14_850)
    kept = tuple(ready.pieces.filter(kind="kept"))
    release(
        ready.order,
        by=by("counter"),
        pieces=kept,
        collector="Wren Ashgrove",
        initials="WA",
        owed_confirmed=True,
    )
    received = scenario.deer(named(scenario, "Ida Fenwick", rush=True), tag="WT-2")
    untagged = scenario.deer(named(scenario, "Osk Brambleworth-Quillfeather of Upper Tamarack"), tag="")
    held = scenario.hung(scenario.deer(named(scenario, "Tobin Ashgrove"), tag="WT-4"))
    open_hold(held, by=by("counter"), kind="disease_test", note="sample 88-14")
    scenario.hung(scenario.elk())
    packed = scenario.deer(named(scenario, "Ewan Rushlight"), tag="WT-7")
    scenario.packed(packed)
    scenario.ground(scenario.deer(named(scenario, "Nell Corbie"), tag="WT-8"))
    scenario.cut(scenario.deer(named(scenario, "Sunniva Lark"), tag="WT-9"))
    return Stock(
        ready=ready,
        received=received,
        untagged=untagged,
        held=held,
        packed=packed,
        box=box,
        package=Package.objects.filter(animal=ready).order_by("n")[0],
        trim=Part.objects.get(code="grind-trim"),
        **open_jobs(scenario, by),
    )


def open_jobs(scenario: Scenario, by: Callable[[str], By]) -> dict[str, Run]:
    """One job open at each station, with something in it."""
    wrapped = scenario.deer(named(scenario, "Huck Varley"), tag="WT-10")
    wrapping = bring_to_wrap(scenario.ground(wrapped)["ground"], by=by("wrap")).fetch(Run)
    scenario.pack(wrapping, "grind-trim", "ground", *["1.0"] * 9)
    ground = scenario.deer(named(scenario, "Abel Thistle"), tag="WT-11")
    grinding = start_grind(scenario.cut(ground)["grind_trim"], by=by("grind")).fetch(Run)
    take_from_grinder(grinding, by=by("grind"), weight=lb("12.5"))
    cut = scenario.deer(named(scenario, "Perrin Wold"), tag="WT-12")
    cutting = scenario.opened(cut)
    fill_lug(cutting, by=by("block"), contents="whole_cuts", weight=lb("22.4"))
    ask_change(cut, by=by("counter"), text="Both backstraps whole, please")
    skinned = scenario.deer(named(scenario, "Lorna Peck"), tag="WT-13")
    skinning = start_skinning(skinned.pieces.get(kind="carcass"), by=by("skin")).fetch(Run)
    return {"skinning": skinning, "cutting": cutting, "grinding": grinding, "wrapping": wrapping}


def named(scenario: Scenario, hunter: str, **facts: object) -> Order:
    phone = f"406-555-01{30 + Order.objects.count()}"
    return scenario.order(hunter, phone, **facts)
