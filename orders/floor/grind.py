"""Grind: lugs in, fat added, ground meat out. A hunter's meat is alone in the grinder, by rule."""

from __future__ import annotations

from orders.floor.plan import is_ground
from orders.intake.models import Animal, Order
from orders.ledger.action import action
from orders.ledger.entry import Answer, Entry
from orders.ledger.hands import last_hand
from orders.ledger.models import (
    Contents,
    Direction,
    Piece,
    PieceKind,
    PieceState,
    Point,
    Run,
    RunKind,
)
from orders.ledger.refusal import Refusal
from orders.ledger.runs import close_run, need_open, open_run
from orders.ledger.scale import OnScale
from orders.ledger.weights import last_weighing, run_mg, with_tolerance
from shop.models import Station, Step
from shop.places import sink, table_of
from shop.weights import format_mg

FAT_KINDS = {"pork": "pork fat", "beef": "beef fat"}


@action("start_grind")
def start_grind(entry: Entry, lug: Piece) -> Answer:
    """A lug of grind trim into the grinder. The next hunter's waits until the last is out.

    Animals of one order are ground together only where that was agreed.
    """
    order = entry.about(lug)
    station = entry.need_station(Step.GRIND)
    if lug.contents in (Contents.WHOLE_CUTS, Contents.TENDERLOINS, Contents.GROUND):
        raise Refusal("wrong_station", f"{lug.name} is not for the grinder: it belongs to wrap.")
    if lug.kind != PieceKind.LUG or lug.animal is None:
        raise Refusal("not_grind_trim", f"{lug.name} is not a lug of grind trim.")
    entry.guard(lug.animal)
    if lug.state != PieceState.WAITING:
        state = lug.get_state_display().lower()
        raise Refusal("lug_not_waiting", f"{lug.name} is {state} already, {last_hand(lug)}.")
    if not is_ground(lug.animal):
        raise Refusal("wrong_station", f"The trim of {lug.animal.label} is not ground: it belongs to wrap.")
    owner: Animal | Order = order if order.grind_together and order.animals.count() > 1 else lug.animal
    run = _run_at(station, owner) or open_run(entry, RunKind.GRIND, owner, station)
    entry.line(run, Direction.IN, Contents.GRIND_TRIM, piece=lug, weighing=last_weighing(lug))
    entry.move(lug, state=PieceState.TABLE, place=table_of(station))
    entry.run = run
    return Answer(f"{lug.animal.label}: {lug.name} is in the grinder.", {"run": run.pk})


def _run_at(station: Station, owner: Animal | Order) -> Run | None:
    """The open grind here if it is the same hunter's; refuse when it is another's (`grinder_busy`)."""
    run = Run.objects.filter(station=station, kind=RunKind.GRIND, closed_at=None).first()
    if run is None:
        return None
    same = run.order_id == owner.pk if isinstance(owner, Order) else run.animal_id == owner.pk
    if not same:
        other = run.animal.label if run.animal else run.order.number if run.order else ""
        raise Refusal("grinder_busy", f"The grinder still has {other}. Finish and clean down first.")
    return run


@action("add_fat")
def add_fat(entry: Entry, run: Run, *, kind: str, weight: OnScale | None = None, lot: str = "") -> Answer:
    """Fat added to the grind, always apart from the hunter's own meat; `lot` is the supplier's."""
    entry.about(run)
    need_open(run, RunKind.GRIND)
    entry.need_station(Step.GRIND)
    _guard(entry, run)
    if run.lines.filter(direction=Direction.OUT).exclude(piece__state=PieceState.VOID).exists():
        raise Refusal("out_already", "Ground meat is out already: fat goes in before.", "weight")
    if kind not in FAT_KINDS:
        raise Refusal("fat_unknown", "Say which fat: pork or beef.", "kind")
    weighing = entry.weigh(Point.FAT, weight, animal=run.animal, run=run) if weight else None
    inside, all_weighed = run_mg(run, Direction.IN)
    if weighing and weight and all_weighed and weighing.mg > inside and not weight.confirmed:
        said = f"{format_mg(weighing.mg)} of fat on {format_mg(inside)} of meat is a lot. Confirm it if it is right."
        raise Refusal("weight_doubtful", said, "weight")
    entry.line(run, Direction.ADDED, f"{kind}_fat", weighing=weighing, note=lot.strip()[:80])
    how = format_mg(weighing.mg) if weighing else "not weighed"
    return Answer(f"{FAT_KINDS[kind].capitalize()} added: {how}.")


@action("take_from_grinder")
def take_from_grinder(entry: Entry, run: Run, *, weight: OnScale | None = None) -> Answer:
    """A lug of ground meat. More than went in and was added cannot come out (`out_beyond_in`)."""
    entry.about(run)
    need_open(run, RunKind.GRIND)
    station = entry.need_station(Step.GRIND)
    _guard(entry, run)
    owner = run.animal or run.order
    assert owner is not None
    n = owner.pieces.filter(kind=PieceKind.LUG).count() + 1
    lug = entry.new_piece(
        PieceKind.LUG,
        owner,
        f"lug {n}, ground meat",
        contents=Contents.GROUND,
        state=PieceState.WAITING,
        place=table_of(station),
    )
    weighing = None
    if weight is not None:
        weighing = entry.weigh(Point.GRIND_OUT, weight, animal=run.animal, run=run, piece=lug)
    entry.line(run, Direction.OUT, Contents.GROUND, piece=lug, weighing=weighing)
    _refuse_more_than_went_in(run)
    return Answer(f"{lug.name} is out of the grinder.", {"piece": lug.pk})


def _refuse_more_than_went_in(run: Run) -> None:
    inside, in_weighed = run_mg(run, Direction.IN)
    added, added_weighed = run_mg(run, Direction.ADDED)
    out, _ = run_mg(run, Direction.OUT)
    limit = with_tolerance(inside + added)
    if in_weighed and added_weighed and out > limit:
        said = f"{format_mg(out)} came out, but {format_mg(inside)} went in and {format_mg(added)} fat was added."
        raise Refusal("out_beyond_in", f"{said} Weigh again, with the tare.", "weight")


@action("finish_grind")
def finish_grind(entry: Entry, run: Run, *, reason: str = "") -> Answer:
    """The grinder is empty: its lugs are used up and the next hunter's may go in."""
    entry.about(run)
    need_open(run, RunKind.GRIND)
    entry.need_station(Step.GRIND)
    _guard(entry, run)
    lines = run.lines.exclude(piece__state=PieceState.VOID)
    if not lines.filter(direction=Direction.OUT).exists() and not reason.strip():
        raise Refusal("nothing_out", "Nothing came out of the grinder. Say why, or weigh it out.", "reason")
    went_in = Piece.objects.filter(lines__run=run, lines__direction=Direction.IN, state=PieceState.TABLE)
    entry.move(list(went_in.distinct()), state=PieceState.USED, place=sink("used"))
    close_run(entry, run, reason.strip())
    return Answer("The grinder is empty.")


def _guard(entry: Entry, run: Run) -> None:
    """Refuse when any animal whose meat is in this run is held."""
    for piece in Piece.objects.filter(lines__run=run, lines__direction=Direction.IN).select_related("animal"):
        entry.guard(piece.animal)
