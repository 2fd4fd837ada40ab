"""What leaves the wrap table without being packed: waste that is trimmed off, and good meat back to the grinder."""

from __future__ import annotations

from orders.floor.plan import is_ground
from orders.intake.models import Animal, Order
from orders.ledger.action import action
from orders.ledger.entry import Answer, Entry
from orders.ledger.models import Contents, Direction, PieceKind, PieceState, Point, Run, RunKind, Weighing
from orders.ledger.refusal import Refusal
from orders.ledger.runs import need_open
from orders.ledger.scale import OnScale
from orders.packing.table import label_of, on_table, table_sum
from shop.models import Station, Step
from shop.places import table_of
from shop.weights import format_mg

# What is still uncut, and so can go back to the grinder.
TO_GRIND = (Contents.WHOLE_CUTS, Contents.TENDERLOINS)


@action("record_wrap_waste")
def record_wrap_waste(entry: Entry, run: Run, *, weight: OnScale | None = None) -> Answer:
    """Waste trimmed off at the wrap table: sinew, silverskin, bloodshot.

    It is weighed where all that came to the table was weighed (`weigh_it_too`), so that nothing is lost in it.
    """
    _open_table(entry, run)
    _need_weight(run, weight)
    weighing = entry.weigh(Point.WASTE, weight, animal=run.animal, run=run) if weight else None
    entry.line(run, Direction.WASTE, "waste", weighing=weighing)
    _refuse_beyond_table(run, weight)
    return Answer(f"{label_of(_owner(run))}: waste at wrap, {_how(weighing)}.")


@action("send_to_grind")
def send_to_grind(entry: Entry, run: Run, *, weight: OnScale | None = None) -> Answer:
    """Good meat from the wrap table for the grinder: a lug of grind trim, weighed as waste is."""
    station = _open_table(entry, run)
    animal = run.animal
    if animal is None or not any(piece.contents in TO_GRIND for piece in on_table(run)):
        raise Refusal("ground_already", "Only ground meat lies on this table: it is packed.")
    if not is_ground(animal):
        raise Refusal("not_ground", f"The trim of {animal.label} is not ground: pack it.")
    _need_weight(run, weight)
    n = animal.pieces.filter(kind=PieceKind.LUG).count() + 1
    lug = entry.new_piece(
        PieceKind.LUG,
        animal,
        f"lug {n}, grind trim",
        contents=Contents.GRIND_TRIM,
        state=PieceState.WAITING,
        place=table_of(station),
    )
    # Not as a lug of the block: what it holds was weighed there already.
    weighing = entry.weigh(Point.PART_OFF, weight, animal=animal, run=run, piece=lug) if weight else None
    entry.line(run, Direction.OUT, Contents.GRIND_TRIM, piece=lug, weighing=weighing)
    _refuse_beyond_table(run, weight)
    return Answer(f"{animal.label}: {lug.name} for the grinder, {_how(weighing)}.", {"piece": lug.pk})


def _open_table(entry: Entry, run: Run) -> Station:
    entry.about(run)
    need_open(run, RunKind.WRAP)
    station = entry.need_station(Step.WRAP)
    entry.guard_owner(_owner(run))
    return station


def _owner(run: Run) -> Animal | Order:
    owner = run.animal or run.order
    assert owner is not None
    return owner


def _need_weight(run: Run, weight: OnScale | None) -> None:
    if weight is None and table_sum(run).came_weighed:
        raise Refusal("weigh_it_too", "All that came to this table was weighed: weigh this too.", "weight")


def _refuse_beyond_table(run: Run, weight: OnScale | None) -> None:
    """More than came to the table does not leave it (`off_beyond_table`)."""
    table = table_sum(run)
    if weight is not None and table.is_beyond:
        raise Refusal("off_beyond_table", f"{table.words}. Weigh again, with the tare.", "weight")


def _how(weighing: Weighing | None) -> str:
    return format_mg(weighing.mg) if weighing else "not weighed"
