"""Skinning and the cooler: received weight to hanging weight, what is kept comes off and is tagged."""

from __future__ import annotations

from django.utils import timezone

from orders.floor.left_in import LEFT_IN, left_in_words, pull_by, sides_words
from orders.floor.words import are, them
from orders.intake.models import Animal, ArrivedAs, Keep, Tenderloin
from orders.ledger.action import action
from orders.ledger.entry import Answer, Entry
from orders.ledger.hands import last_hand, said
from orders.ledger.models import (
    BODY_KINDS,
    Contents,
    Direction,
    Outcome,
    Piece,
    PieceKind,
    PieceState,
    Point,
    Run,
    RunKind,
)
from orders.ledger.refusal import Refusal
from orders.ledger.runs import close_run, is_skinned, need_open, open_run
from orders.ledger.scale import OnScale, one_division_mg
from orders.ledger.weights import last_weighing, refuse_less_than_packed
from shop.models import PieceForm, Place, PlaceKind, Step
from shop.places import table_of
from shop.weights import format_mg

COLD = (PlaceKind.RAIL, PlaceKind.RACK, PlaceKind.FREEZER, PlaceKind.HOOK)
# Frozen trim and birds come in bags and may wait in the freezer; a carcass or a quarter would never thaw in time.
COLD_FOR: dict[str, tuple[PlaceKind, ...]] = {
    PieceKind.CARCASS: (PlaceKind.RAIL, PlaceKind.RACK),
    PieceKind.QUARTER: (PlaceKind.RAIL, PlaceKind.RACK),
    PieceKind.BAG: (PlaceKind.RAIL, PlaceKind.RACK, PlaceKind.FREEZER),
    PieceKind.TENDERLOIN: (PlaceKind.RACK, PlaceKind.RAIL),
    PieceKind.LUG: (PlaceKind.RACK, PlaceKind.RAIL),
    PieceKind.KEPT: (PlaceKind.HOOK, PlaceKind.RACK, PlaceKind.FREEZER),
    PieceKind.BOX: (PlaceKind.FREEZER,),
    PieceKind.PACKAGE: (PlaceKind.FREEZER,),
}
KEPT_ASKED = {"head": "keep_head", "antlers": "keep_head", "cape": "keep_cape", "hide": "keep_hide"}
TAKEN_OFF = (*KEPT_ASKED, "organs", "feet")
SIDES = ("left", "right")
GONE = (Tenderloin.FIELD, Tenderloin.DAMAGED)
WITH_TENDERLOINS = (ArrivedAs.WHOLE, ArrivedAs.SKINNED)
ONE_HEAD = ("head", "antlers")
STILL_WHOLE = (PieceState.RECEIVED, PieceState.HANGING, PieceState.TABLE)


@action("start_skinning")
def start_skinning(entry: Entry, carcass: Piece) -> Answer:
    """Open the skinning of a hide-on carcass, at the door or after it hung with the hide on."""
    entry.about(carcass)
    station = entry.need_station(Step.SKIN)
    animal = _animal(carcass)
    if carcass.kind != PieceKind.CARCASS or animal.arrived_as != ArrivedAs.WHOLE:
        raise Refusal("nothing_to_skin", f"{animal.label}: {carcass.name} has no hide on it.")
    if is_skinned(animal):
        raise Refusal("skinned_already", f"{animal.label} is skinned already, {_skinned(animal)}.")
    entry.guard(animal)
    if carcass.state not in STILL_WHOLE:
        raise Refusal("piece_ended", f"{carcass.name} is {carcass.get_state_display().lower()}.")
    run = open_run(entry, RunKind.SKIN, animal, station)
    weighing = last_weighing(carcass, Point.RECEIVED)
    entry.line(run, Direction.IN, "carcass", piece=carcass, weighing=weighing)
    entry.move(carcass, state=PieceState.TABLE, place=table_of(station))
    return Answer(f"{animal.label} is yours to skin.", {"run": run.pk})


def _skinned(animal: Animal) -> str:
    """Who finished the skinning, and when."""
    done = animal.events.filter(verb="finish_skinning", outcome=Outcome.OK).select_related("person").last()
    return said(done) if done else "before"


@action("take_off")
def take_off(
    entry: Entry,
    run: Run,
    *,
    what: str,
    keep: bool,
    weight: OnScale | None = None,
    place: Place | None = None,
) -> Answer:
    """Head, antlers, cape, hide, organs or feet come off: kept (a tagged piece of its own) or to waste.

    Refuses (`kept_part`) to throw away what the hunter keeps; an unanswered question counts as keep.
    """
    entry.about(run)
    need_open(run, RunKind.SKIN)
    station = entry.need_station(Step.SKIN)
    animal = _run_animal(run)
    _refuse_off_already(run, animal, what)
    entry.guard(animal)
    piece = _kept_piece(entry, animal, what, place or table_of(station)) if keep else None
    if not keep and what in not_to_waste(animal):
        raise Refusal(
            "kept_part", f"The {what} of {animal.label} {are(what)} kept: tag {them(what)}.", "keep"
        )
    weighing = entry.weigh(Point.PART_OFF, weight, animal=animal, run=run, piece=piece) if weight else None
    entry.line(run, Direction.OUT if keep else Direction.WASTE, what, piece=piece, weighing=weighing)
    if piece is None:
        return Answer(f"{animal.label}: {what} off.")
    return Answer(f"{animal.label}: {what} off and tagged.", {"piece": piece.pk})


def _refuse_off_already(run: Run, animal: Animal, what: str) -> None:
    """What never comes off, what is off in this job, and what has a piece of its own already."""
    if what not in TAKEN_OFF:
        raise Refusal("part_unknown", "This is not something that comes off at skinning.", "what")
    if run.lines.filter(what=what, event__voided_by=None).exclude(piece__state=PieceState.VOID).exists():
        raise Refusal("off_already", f"The {what} of {animal.label} {are(what)} off already.", "what")
    if set(ONE_HEAD if what in ONE_HEAD else (what,)) & kept_off(animal):
        raise Refusal("off_already", f"The {what} of {animal.label} {are(what)} here already.", "what")


def _kept_piece(entry: Entry, animal: Animal, what: str, place: Place) -> Piece:
    """The part that is kept, as a tagged piece of its own."""
    form = PieceForm.objects.filter(code=what, is_kept_part=True).first()
    if form is None:
        raise Refusal("part_unknown", f"The {what} {are(what)} not something to keep.", "what")
    return entry.new_piece(PieceKind.KEPT, animal, what, form=form, state=PieceState.WAITING, place=place)


def wanted(animal: Animal) -> list[str]:
    """What has to be kept of a hide-on animal: what was asked for, and whole what was not answered."""
    if animal.arrived_as != ArrivedAs.WHOLE:
        return []
    found = []
    if animal.keep_head in (Keep.KEEP, Keep.UNANSWERED):
        found.append("head")
    if animal.keep_head == Keep.ANTLERS:
        found.append("antlers")
    hide = animal.keep_hide in (Keep.KEEP, Keep.UNANSWERED)
    # A cape is the front of the hide: one that nobody asked about stays on a hide that is kept.
    if animal.keep_cape == Keep.KEEP or (animal.keep_cape == Keep.UNANSWERED and not hide):
        found.append("cape")
    if hide:
        found.append("hide")
    if animal.keep_organs == Keep.KEEP:
        found.append("organs")
    return found


def not_to_waste(animal: Animal) -> set[str]:
    """What is never thrown away: what is kept, the antlers of a head that is, and what nobody answered."""
    found = set(wanted(animal))
    if "head" in found:
        found.add("antlers")
    unanswered = {"cape": animal.keep_cape, "organs": animal.keep_organs}
    return found | {what for what, answer in unanswered.items() if answer == Keep.UNANSWERED}


def kept_off(animal: Animal) -> set[str]:
    """The kept parts that have a piece of their own."""
    off = animal.pieces.filter(kind=PieceKind.KEPT).exclude(state=PieceState.VOID)
    return set(off.values_list("form__code", flat=True))


def still_to_take_off(animal: Animal) -> list[str]:
    """What is kept and has no piece of its own yet."""
    have = kept_off(animal)
    return [what for what in wanted(animal) if what not in have]


@action("pull_tenderloins")
def pull_tenderloins(
    entry: Entry,
    animal: Animal,
    *,
    left: bool,
    right: bool,
    weight: OnScale | None = None,
    place: Place | None = None,
) -> Answer:
    """Pull one or both tenderloins early and bag them with a tag of their own (left hanging they dry and are lost)."""
    entry.about(animal)
    station = entry.need_station(Step.SKIN, Step.COOLER, Step.BLOCK)
    entry.guard(animal)
    sides = [side for side, pulled in zip(SIDES, (left, right), strict=True) if pulled]
    _refuse_not_to_pull(animal, sides)
    name = "tenderloins, left and right" if len(sides) == 2 else f"tenderloin, {sides[0]}"
    piece = entry.new_piece(
        PieceKind.TENDERLOIN,
        animal,
        name,
        contents=Contents.TENDERLOINS,
        state=PieceState.WAITING,
        place=place or table_of(station),
    )
    run = animal.runs.filter(closed_at=None, kind__in=[RunKind.SKIN, RunKind.CUT]).first()
    weighing = entry.weigh(Point.PART_OFF, weight, animal=animal, run=run, piece=piece) if weight else None
    if run is not None:
        entry.run = run
        entry.line(run, Direction.OUT, "tenderloins", piece=piece, weighing=weighing)
    return Answer(f"{animal.label}: {name} bagged.", {"piece": piece.pk})


def _refuse_not_to_pull(animal: Animal, sides: list[str]) -> None:
    """No carcass, no side said, and what is not there or bagged already."""
    body = animal.pieces.filter(kind=PieceKind.CARCASS, state__in=STILL_WHOLE)
    if animal.arrived_as not in WITH_TENDERLOINS or not body.exists():
        raise Refusal("tenderloin_absent", f"{animal.label} has no carcass to pull tenderloins from.", "side")
    if not sides:
        raise Refusal("side_missing", "Say which tenderloin: left, right or both.", "side")
    done = pulled_sides(animal)
    for side in sides:
        answer = getattr(animal, f"tenderloin_{side}")
        if answer in GONE:
            words = Tenderloin(answer).label.lower()
            raise Refusal("tenderloin_absent", f"The {side} tenderloin of {animal.label}: {words}.", "side")
        if side in done:
            raise Refusal(
                "pulled_already", f"The {side} tenderloin of {animal.label} is pulled already.", "side"
            )


def pulled_sides(animal: Animal) -> set[str]:
    """Which tenderloins are bagged."""
    names = animal.pieces.filter(kind=PieceKind.TENDERLOIN).exclude(state=PieceState.VOID)
    return {side for name in names.values_list("name", flat=True) for side in SIDES if side in name}


def tenderloins_to_pull(animal: Animal) -> list[str]:
    """The sides said to be present, or never asked about, that are not bagged yet; only of a whole animal."""
    if animal.arrived_as not in WITH_TENDERLOINS:
        return []
    done = pulled_sides(animal)
    return [side for side in SIDES if side not in done and getattr(animal, f"tenderloin_{side}") not in GONE]


@action("cut_off_bloodshot")
def cut_off_bloodshot(entry: Entry, run: Run, *, region: str, weight: OnScale | None = None) -> Answer:
    """Bloodshot meat cut off, weighed or not: it is waste and never goes to grind trim."""
    entry.about(run)
    need_open(run, RunKind.SKIN, RunKind.CUT)
    entry.need_station(Step.SKIN, Step.BLOCK)
    animal = _run_animal(run)
    entry.guard(animal)
    weighing = entry.weigh(Point.WASTE, weight, animal=animal, run=run) if weight else None
    entry.line(run, Direction.WASTE, "bloodshot", weighing=weighing, note=region[:80])
    return Answer(f"{animal.label}: bloodshot cut off at the {region or 'wound'}.")


@action("finish_skinning")
def finish_skinning(
    entry: Entry,
    run: Run,
    *,
    place: Place,
    weight: OnScale | None = None,
    reason: str = "",
    left_in: str = "",
) -> Answer:
    """Hang the skinned carcass, weighed or not. Kept parts must be off and tagged, or the reason is kept.

    Tenderloins that are there must be bagged, or `left_in` says why they stay (of LEFT_IN): the event keeps it.
    """
    entry.about(run)
    need_open(run, RunKind.SKIN)
    entry.need_station(Step.SKIN)
    animal = _run_animal(run)
    _need_kept_parts_off(animal, reason)
    stays = _tenderloins_left(entry, animal, left_in)
    carcass = animal.pieces.get(kind=PieceKind.CARCASS, state=PieceState.TABLE)
    weighing = _weigh_hanging(entry, carcass, weight, run)
    entry.line(run, Direction.OUT, "carcass", piece=carcass, weighing=weighing)
    _hang(entry, carcass, place)
    close_run(entry, run, reason.strip())
    return Answer(f"{animal.label} hangs at {place.name}.{stays}")


def _need_kept_parts_off(animal: Animal, reason: str) -> None:
    missing = still_to_take_off(animal)
    if missing and not reason.strip():
        parts = " and ".join(missing)
        it = "them" if len(missing) > 1 else them(parts)
        raise Refusal(
            "kept_part_missing", f"{animal.label} keeps its {parts}: take {it} off and tag {it}.", "reason"
        )


def _tenderloins_left(entry: Entry, animal: Animal, left_in: str) -> str:
    """What hanging says of tenderloins that stay in; refused (`tenderloins_unanswered`) while nobody has said so."""
    sides = tenderloins_to_pull(animal)
    if not sides:
        return ""
    if left_in not in LEFT_IN:
        said = f"{animal.label}: {sides_words(sides)} still in. Pull and bag, or say why not."
        raise Refusal("tenderloins_unanswered", said, "left_in")
    day = timezone.localdate(entry.at)
    entry.data["left_in"] = {"sides": sides, "why": left_in, "pull_by": pull_by(day).isoformat()}
    return f" {left_in_words(sides, left_in, day)}"


@action("hang_up")
def hang_up(entry: Entry, piece: Piece, *, place: Place, weight: OnScale | None = None) -> Answer:
    """Hang or rack a carcass, quarter or bag as it came; its weight without the hide may be taken here."""
    entry.about(piece)
    entry.need_station(Step.COOLER, Step.SKIN, Step.COUNTER)
    animal = _animal(piece)
    if piece.kind not in BODY_KINDS or piece.state not in (PieceState.RECEIVED, PieceState.HANGING):
        raise Refusal(
            "not_to_hang", f"{piece.name} is {piece.get_state_display().lower()}: it is not to be hung."
        )
    if weight is not None and animal.arrived_as == ArrivedAs.WHOLE and not is_skinned(animal):
        raise Refusal("hide_on", "With the hide on there is no hanging weight yet.", "weight")
    _weigh_hanging(entry, piece, weight, None)
    _hang(entry, piece, place)
    return Answer(f"{animal.label}: {piece.name} hangs at {place.name}.")


def _weigh_hanging(entry: Entry, piece: Piece, weight: OnScale | None, run: Run | None) -> object:
    if weight is None:
        return None
    weighing = entry.weigh(Point.HANGING, weight, animal=piece.animal, piece=piece, run=run)
    came = last_weighing(piece, Point.RECEIVED)
    if came is not None and weighing.mg > came.mg + one_division_mg(came.reading, weighing.reading):
        said = f"{format_mg(weighing.mg)} hanging cannot be: {format_mg(came.mg)} came in."
        raise Refusal("hangs_more_than_came", said, "weight")
    refuse_less_than_packed(_animal(piece))
    return weighing


def _hang(entry: Entry, piece: Piece, place: Place) -> None:
    if place.kind not in COLD:
        raise Refusal("not_cold", f"{place.name} is not a place to hang meat.", "place")
    _need_fitting(piece, place)
    entry.move(piece, state=PieceState.HANGING, place=place, cold=True)


def _need_fitting(piece: Piece, place: Place) -> None:
    """Refuse a cold place where such a piece does not belong (`wrong_place`)."""
    if place.kind not in COLD_FOR[piece.kind]:
        raise Refusal("wrong_place", f"{piece.name} does not belong at {place.name}.", "place")


@action("move_cold")
def move_cold(entry: Entry, piece: Piece, *, place: Place) -> Answer:
    """Move a piece from one cold place to another; what it is does not change, and a hold does not keep it warm."""
    entry.about(piece)
    if place.kind not in COLD:
        raise Refusal("not_cold", f"{place.name} is not a cold place.", "place")
    _need_fitting(piece, place)
    if piece.place_id == place.pk:
        raise Refusal(
            "there_already",
            f"{piece.name} {are(piece.name)} at {place.name} already, {last_hand(piece)}.",
            "place",
        )
    if piece.state in (PieceState.TABLE, PieceState.PACKED) or piece.container_id:
        raise Refusal(
            "not_to_move", f"{piece.name} is at work or in a box: it is not moved that way.", "place"
        )
    entry.move(piece, state=PieceState(piece.state), place=place, cold=True)
    whose = f"{piece.animal.label}: " if piece.animal else ""
    return Answer(f"{whose}{piece.name} {are(piece.name)} at {place.name}.")


def _animal(piece: Piece) -> Animal:
    if piece.animal is None:
        raise Refusal("not_an_animal", f"{piece.name} is not a piece of one animal.")
    return piece.animal


def _run_animal(run: Run) -> Animal:
    if run.animal is None:
        raise Refusal("not_an_animal", "This job is for a whole order.")
    return run.animal
