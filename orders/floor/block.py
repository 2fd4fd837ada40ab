"""Breakdown, at the block: the animal is opened, its meat goes into lugs, its bone and waste are answered for."""

from __future__ import annotations

from django.db.models import Q

from orders.cutsheets.models import CutRequest
from orders.cutsheets.rules import offers
from orders.intake.models import Animal, ArrivedAs
from orders.ledger.action import action
from orders.ledger.entry import Answer, Entry
from orders.ledger.models import (
    BODY_KINDS,
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
from orders.ledger.runs import close_run, is_skinned, need_open, open_run, runs_of
from orders.ledger.scale import OnScale, one_division_mg
from orders.ledger.weights import OUT_TOLERANCE_MG, last_weighing, most_that_can_be_packed, standing
from shop.models import Part, Step
from shop.places import sink, table_of
from shop.weights import format_mg

TENDERLOIN = "tenderloin"
WASTE_KINDS = {"bone_fat": "bone and fat", "waste": "waste"}
LUG_CONTENTS = (Contents.WHOLE_CUTS, Contents.GRIND_TRIM, Contents.TENDERLOINS)


@action("open_animal")
def open_animal(entry: Entry, animal: Animal) -> Answer:
    """Open an animal at the block: every body piece of it goes on the table. One cutter has it at a time."""
    entry.about(animal)
    station = entry.need_station(Step.BLOCK)
    entry.guard(animal)
    if not animal.cut_sheets.filter(current=True).exists():
        raise Refusal(
            "no_cut_sheet", f"{animal.label} has no cut sheet yet. The counter can press “house cut”."
        )
    if animal.arrived_as == ArrivedAs.WHOLE and not is_skinned(animal):
        raise Refusal("not_skinned", f"{animal.label} still has its hide on.")
    _refuse_stale_sheet(animal)
    body = list(
        animal.pieces.filter(kind__in=BODY_KINDS).exclude(state=PieceState.VOID).select_related("place")
    )
    ready = [piece for piece in body if piece.state in (PieceState.RECEIVED, PieceState.HANGING)]
    run = open_run(entry, RunKind.CUT, animal, station)
    if not ready:
        raise Refusal("nothing_to_cut", f"{animal.label} has nothing left to cut.")
    for piece in ready:
        weighing = last_weighing(piece, Point.HANGING, Point.RECEIVED)
        entry.line(run, Direction.IN, piece.kind, piece=piece, weighing=weighing)
        piece.animal = animal
    entry.move(ready, state=PieceState.TABLE, place=table_of(station))
    return Answer(f"{animal.label} is open at {station.name}.", {"run": run.pk})


def _refuse_stale_sheet(animal: Animal) -> None:
    """Refuse when pieces or answers came after the cut sheet was written and it does not fit any more.

    Tenderloins that the floor has found missing take nothing else from the sheet.
    """
    if runs_of(animal, RunKind.CUT).exists():
        return
    lines = animal.cut_sheets.filter(current=True, lines__isnull=False)
    written = dict(lines.values_list("lines__part", "lines__part__code"))
    offered = {offer.part.pk for offer in offers(animal)}
    gone = {code for part, code in written.items() if part not in offered}
    if offered - written.keys() or gone - {TENDERLOIN}:
        raise Refusal(
            "sheet_stale",
            f"The cut sheet of {animal.label} is older than what came: the counter looks at it.",
        )


@action("weigh_at_block")
def weigh_at_block(entry: Entry, piece: Piece, *, weight: OnScale) -> Answer:
    """The cold weight of a piece as it comes to the block, after hanging."""
    entry.about(piece)
    entry.need_station(Step.BLOCK)
    entry.guard(piece.animal)
    animal = piece.animal
    open_here = animal is not None and runs_of(animal, RunKind.CUT).filter(closed_at=None).exists()
    if piece.kind not in BODY_KINDS or piece.state != PieceState.TABLE or not open_here:
        raise Refusal("not_on_table", f"{piece.name} is not on the block.", "weight")
    weighing = entry.weigh(Point.AT_BLOCK, weight, animal=piece.animal, piece=piece)
    before = last_weighing(piece, Point.HANGING, Point.RECEIVED)
    if before is not None and weighing.mg > before.mg + one_division_mg(before.reading, weighing.reading):
        said = f"{format_mg(weighing.mg)} cannot be: {format_mg(before.mg)} was hung."
        raise Refusal("weighs_more_than_hung", said, "weight")
    return Answer(f"{piece.name} weighed at the block.")


@action("fill_lug")
def fill_lug(
    entry: Entry,
    run: Run,
    *,
    contents: str,
    parts: tuple[Part, ...] = (),
    weight: OnScale | None = None,
) -> Answer:
    """A lug of whole cuts, grind trim or tenderloins, numbered and carded; all lugs cannot outweigh what hung."""
    entry.about(run)
    need_open(run, RunKind.CUT)
    station = entry.need_station(Step.BLOCK)
    animal = run.animal
    assert animal is not None
    lug = entry.new_piece(
        PieceKind.LUG,
        animal,
        _lug_name(animal, contents, parts),
        contents=contents,
        state=PieceState.WAITING,
        place=table_of(station),
    )
    weighing = None
    if weight is not None:
        weighing = entry.weigh(Point.LUG, weight, animal=animal, run=run, piece=lug)
        _refuse_more_than_hung(animal)
    entry.line(run, Direction.OUT, contents, piece=lug, weighing=weighing)
    return Answer(f"{animal.label}: {lug.name}.", {"piece": lug.pk})


def _lug_name(animal: Animal, contents: str, parts: tuple[Part, ...]) -> str:
    """`lug 2, whole cuts: backstrap`; refuses what no lug of the block holds (`contents_unknown`)."""
    if contents not in LUG_CONTENTS:
        raise Refusal(
            "contents_unknown", "Say what is in the lug: whole cuts, grind trim or tenderloins.", "contents"
        )
    n = animal.pieces.filter(kind=PieceKind.LUG).count() + 1
    what = Contents(contents).label.lower()
    if parts:
        what += f": {', '.join(part.name.lower() for part in parts)}"
    return f"lug {n}, {what}"[:60]


def _refuse_more_than_hung(animal: Animal) -> None:
    """Lugs, bone and waste of the block weigh no more than what hung."""
    limit = most_that_can_be_packed(animal)
    off = Q(point=Point.LUG) | Q(point=Point.WASTE, run__kind=RunKind.CUT)
    total = sum(standing().filter(off, animal=animal).values_list("mg", flat=True))
    if limit is not None and total > limit + OUT_TOLERANCE_MG:
        said = f"That makes {format_mg(total)} off the block, of {format_mg(limit)} that hung."
        raise Refusal("lugs_beyond_hung", f"{said} Weigh again, with the tare.", "weight")


@action("record_waste")
def record_waste(entry: Entry, run: Run, *, what: str, weight: OnScale | None = None) -> Answer:
    """Bone and fat, or waste: weighed, or said to be not weighed."""
    entry.about(run)
    need_open(run, RunKind.CUT)
    entry.need_station(Step.BLOCK)
    entry.guard(run.animal)
    if what not in WASTE_KINDS:
        raise Refusal("waste_unknown", "Say what it is: bone and fat, or waste.", "what")
    weighing = entry.weigh(Point.WASTE, weight, animal=run.animal, run=run) if weight else None
    entry.line(run, Direction.WASTE, what, weighing=weighing)
    if run.animal is not None:
        _refuse_more_than_hung(run.animal)
    how = format_mg(weighing.mg) if weighing else "not weighed"
    return Answer(f"{run.animal.label if run.animal else ''}: {WASTE_KINDS[what]}, {how}.")


@action("finish_breakdown")
def finish_breakdown(entry: Entry, run: Run, *, reason: str = "") -> Answer:
    """Done at the block. Bone, fat and waste are answered, the state tag is filed, requests are answered."""
    entry.about(run)
    need_open(run, RunKind.CUT)
    entry.need_station(Step.BLOCK)
    animal = run.animal
    assert animal is not None
    entry.guard(animal)
    for what, words in WASTE_KINDS.items():
        if not run.lines.filter(what=what, event__voided_by=None).exists():
            raise Refusal("waste_unanswered", f"{words.capitalize()}: weigh it, or tap “not weighed”.", what)
    if animal.tag_no and not animal.tag_filed_at:
        raise Refusal(
            "tag_not_filed", f"Where is tag {animal.tag_no} kept now that the hock is off?", "where"
        )
    if CutRequest.objects.filter(animal=animal, answered_at=None).exists():
        raise Refusal("request_open", "The hunter has asked for a change: answer it first.", "request")
    lugs = run.lines.filter(direction=Direction.OUT).exclude(piece__state=PieceState.VOID)
    if not lugs.exists() and not reason.strip():
        raise Refusal("no_lugs", "Nothing was put in a lug. Say why, or fill one.", "reason")
    on_table = animal.pieces.filter(kind__in=BODY_KINDS, state=PieceState.TABLE).select_related("animal")
    entry.move(list(on_table), state=PieceState.USED, place=sink("used"))
    close_run(entry, run, reason.strip())
    return Answer(f"{animal.label} is broken down.")
