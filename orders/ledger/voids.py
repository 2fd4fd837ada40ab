"""Taking back what was wrong: never edited, but voided with who, when and why."""

from __future__ import annotations

from orders.intake.models import Animal
from orders.ledger.action import action
from orders.ledger.entry import Answer, Entry
from orders.ledger.hands import last_hand
from orders.ledger.models import (
    Direction,
    Event,
    Movement,
    Outcome,
    Piece,
    PieceKind,
    PieceState,
    Run,
    RunKind,
    RunLine,
    Weighing,
)
from orders.ledger.refusal import Refusal
from orders.ledger.runs import close_run, need_open, refuse_if_open, refuse_if_table_taken, reopen_run
from orders.ledger.weights import refuse_less_than_packed, standing_lines
from shop.places import sink

# What an event of these verbs recorded can be taken back by voiding the whole event.
VOIDABLE = {
    "weigh_received",
    "weigh_at_block",
    "record_waste",
    "record_wrap_waste",
    "cut_off_bloodshot",
    "add_fat",
}
WEIGHED_AT_THE_DOOR = {"weigh_received", "add_animal", "bring_piece"}
AT_THE_DOOR = (PieceState.RECEIVED, PieceState.HANGING)


@action("void_event")
def void_event(entry: Entry, event: Event, *, reason: str) -> Answer:
    """Void a weighing, or a line of waste or fat. The event stays; what it recorded no longer counts."""
    need_reason(reason)
    if event.order is not None:
        entry.about(event.run or event.animal or event.order)
    weighed = event.verb in WEIGHED_AT_THE_DOOR and event.weighings.exists()
    # What came off and was kept is a piece: that is taken back with `void_piece`.
    to_waste = event.verb == "take_off" and event.lines.filter(direction="waste").exists()
    if event.outcome != Outcome.OK or not (event.verb in VOIDABLE or weighed or to_waste):
        raise Refusal("not_voidable", "This cannot be taken back that way.")
    if Event.objects.filter(voids__uid=event.uid).exists():
        raise Refusal("voided_already", "This is taken back already.")
    if event.run is not None and event.run.closed_at is not None:
        raise Refusal("run_closed", "That job is finished: its figures stay as they are.")
    if weighed and event.weighings.exclude(piece__state__in=AT_THE_DOOR).filter(point="received").exists():
        raise Refusal("cut_already", "It is past the cooler: its received weight stays as it is.")
    if event.verb == "weigh_at_block" and event.weighings.exclude(piece__state=PieceState.TABLE).exists():
        raise Refusal("cut_already", "It is off the block: its weight there stays as it is.")
    if event.verb == "add_fat" and _is_out(event.run):
        raise Refusal("out_already", "Ground meat is out already: take that back first.")
    entry.voids = event
    return Answer(f"Taken back: {event.shown}")


@action("void_lug")
def void_lug(entry: Entry, lug: Piece, *, reason: str) -> Answer:
    """A lug that was recorded by mistake: only while nothing was done with it."""
    need_reason(reason)
    entry.about(lug)
    if lug.kind not in (PieceKind.LUG, PieceKind.TENDERLOIN) or lug.state != PieceState.WAITING:
        raise Refusal(
            "not_voidable", f"{lug.name} is {lug.get_state_display().lower()}: it cannot be taken back."
        )
    made_in = RunLine.objects.filter(piece=lug, direction="out").select_related("run").first()
    if made_in is not None and made_in.run.closed_at is not None:
        raise Refusal("run_closed", "That job is finished: its lugs stay as they are.")
    entry.move(lug, state=PieceState.VOID, place=sink("void"), cold=True)
    return Answer(f"{lug.name} is taken back.")


def _is_out(run: Run | None) -> bool:
    return (
        run is not None and run.lines.filter(direction="out").exclude(piece__state=PieceState.VOID).exists()
    )


@action("void_piece")
def void_piece(entry: Entry, piece: Piece, *, reason: str) -> Answer:
    """A quarter, a bag or a kept part that was written down by mistake: only while nothing was done with it."""
    need_reason(reason)
    entry.about(piece)
    animal = piece.animal
    if animal is None or not may_void_piece(piece):
        raise Refusal(
            "not_voidable", f"{piece.name} is {piece.get_state_display().lower()}: it cannot be taken back."
        )
    entry.move(piece, state=PieceState.VOID, place=sink("void"), cold=True)
    refuse_less_than_packed(animal)
    return Answer(f"{animal.label}: {piece.name} is taken back.")


def may_put_back(run: Run) -> bool:
    """Whether a job is open and nothing came of it: then it can be taken back whole."""
    return run.closed_at is None and not standing_lines().filter(run=run).exclude(direction="in").exists()


def may_void_piece(piece: Piece) -> bool:
    """Whether a piece can be taken back as written down by mistake: nothing was done with it yet."""
    if piece.kind in (PieceKind.QUARTER, PieceKind.BAG):
        return piece.state in AT_THE_DOOR
    return piece.kind == PieceKind.KEPT and piece.state in (PieceState.WAITING, PieceState.STORED)


@action("put_back")
def put_back(entry: Entry, run: Run, *, reason: str) -> Answer:
    """Opened by mistake: what went in goes back to where it was. Only while nothing came of it."""
    need_reason(reason)
    entry.about(run)
    need_open(run)
    if not may_put_back(run):
        raise Refusal("work_began", "Something came of it already: take that back first.")
    for line in standing_lines().filter(run=run).select_related("piece__animal", "piece__order"):
        assert line.piece is not None
        came = Movement.objects.filter(piece=line.piece, event__uid=line.event_id).order_by("-id").first()
        if came is None or line.piece.state != PieceState.TABLE:
            continue
        entry.move(line.piece, state=PieceState(came.state_from), place=came.place_from, cold=True)
    close_run(entry, run, reason.strip())
    Run.objects.filter(pk=run.pk).update(put_back=True)
    return Answer(f"{run.get_kind_display()}: everything is back where it was.")


def may_reopen(run: Run) -> bool:
    """Whether a job is one that can be opened again: a finished breakdown or wrap."""
    return run.closed_at is not None and not run.put_back and run.kind in (RunKind.CUT, RunKind.WRAP)


@action("reopen_job")
def reopen_job(entry: Entry, run: Run, *, reason: str) -> Answer:
    """Open a finished breakdown or wrap again: what went in lies on its table once more, and it is finished anew.

    A breakdown only while all its lugs wait (`lug_went_on`); a wrap only while its table is free (`table_busy`). Its
    packs stay as they are. A hold stops it.
    """
    need_reason(reason)
    entry.about(run)
    words = run.get_kind_display().lower()
    if run.closed_at is None:
        raise Refusal("open_already", f"This {words} is open.")
    if not may_reopen(run):
        how = "was put back: open it anew" if run.put_back else "is not opened again once it is finished"
        raise Refusal("not_reopened", f"This {words} {how}.")
    owner = run.animal or run.order
    assert owner is not None
    entry.guard_owner(owner)
    if run.kind == RunKind.CUT:
        _refuse_gone_on(run)
    else:
        refuse_if_table_taken(run)
    refuse_if_open(RunKind(run.kind), owner)
    reopen_run(entry, run)
    name = owner.label if isinstance(owner, Animal) else owner.number
    return Answer(f"{name}: {words} is open again: {reason.strip()}", {"run": run.pk})


def _refuse_gone_on(run: Run) -> None:
    """Refuse when a lug or a bag of this breakdown is at work or used up already, saying which (`lug_went_on`)."""
    out = Piece.objects.filter(lines__run=run, lines__direction=Direction.OUT)
    gone = out.filter(kind__in=[PieceKind.LUG, PieceKind.TENDERLOIN]).exclude(
        state__in=[PieceState.WAITING, PieceState.VOID]
    )
    lug = gone.order_by("n").first()
    if lug is not None:
        state = lug.get_state_display().lower()
        said = f"{lug.name.capitalize()} went on already: it is {state}, {last_hand(lug)}."
        raise Refusal("lug_went_on", said)


def need_reason(reason: str) -> None:
    """Refuse a void without a reason (`reason_missing`)."""
    if not reason.strip():
        raise Refusal("reason_missing", "Say why; the reason is kept.", "reason")


def voided(weighing: Weighing) -> bool:
    """Whether a weighing was voided with its event."""
    return Event.objects.filter(voids__uid=weighing.event_id).exists()
