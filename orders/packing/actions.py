"""Wrap, box and freezer: every pack numbered, weighed or counted, labeled, boxed and put in a known place."""

from __future__ import annotations

from dataclasses import dataclass

from orders.floor.plan import is_ground
from orders.floor.words import are
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
    RunLine,
    Weighing,
)
from orders.ledger.refusal import Refusal
from orders.ledger.runs import close_run, need_open, open_run
from orders.ledger.scale import OnScale
from orders.ledger.voids import need_reason
from orders.ledger.weights import last_weighing, packed_beyond
from orders.packing.models import Package
from orders.packing.table import TableSum, label_of, on_table, refuse_what_is_not_here, table_sum
from orders.packing.unfinished import refuse_unfinished
from shop.models import Choice, Part, Place, PlaceKind, Station, Step
from shop.places import shop_settings, sink, table_of
from shop.weights import format_mg, pounds

# A retail pack above this is asked about once: common practice, no source.
DOUBT_PACK_MG = pounds(25)
MAX_PACKS_AT_ONCE = 200


@action("bring_to_wrap")
def bring_to_wrap(entry: Entry, lug: Piece) -> Answer:
    """A lug or a tenderloin bag onto the wrap table. One hunter's meat is on a table at a time."""
    entry.about(lug)
    station = entry.need_station(Step.WRAP)
    owner = lug.animal or lug.order
    assert owner is not None
    if lug.kind not in (PieceKind.LUG, PieceKind.TENDERLOIN):
        raise Refusal("not_for_wrap", f"{lug.name} is not for the wrap table.")
    if lug.contents == Contents.GRIND_TRIM and is_ground(lug.animal):
        raise Refusal("wrong_station", f"{lug.name} goes to the grinder first.")
    entry.guard_owner(owner)
    if lug.state != PieceState.WAITING:
        state = lug.get_state_display().lower()
        raise Refusal("lug_not_waiting", f"{lug.name} is {state} already, {last_hand(lug)}.")
    run = _run_at(station, owner) or open_run(entry, RunKind.WRAP, owner, station)
    entry.line(run, Direction.IN, lug.contents, piece=lug, weighing=last_weighing(lug))
    entry.move(lug, state=PieceState.TABLE, place=table_of(station))
    entry.run = run
    return Answer(f"{label_of(owner)}: {lug.name} {are(lug.name)} on the table.", {"run": run.pk})


def _run_at(station: Station, owner: Animal | Order) -> Run | None:
    # Orders are locked one by one; the table is what two hunters' meat would share.
    Station.objects.select_for_update().get(pk=station.pk)
    run = Run.objects.filter(station=station, kind=RunKind.WRAP, closed_at=None).first()
    if run is None:
        return None
    if (run.order_id if isinstance(owner, Order) else run.animal_id) != owner.pk:
        other = run.animal or run.order
        assert other is not None
        raise Refusal("table_busy", f"{label_of(other)} is still on this table. Finish it first.")
    return run


@action("pack")
def pack(
    entry: Entry,
    run: Run,
    *,
    part: Part,
    choice: Choice,
    weights: tuple[OnScale, ...] = (),
    unweighed: int = 0,
    count: int | None = None,
) -> Answer:
    """Packs of one cut: one for each weight, and `unweighed` more that are counted only; `count` pieces in each.

    Refuses a pack of what no lug on the table holds (`not_on_this_table`), and own meat packed beyond what hung, with
    the fat that was added (`packed_beyond_hung`).
    """
    entry.about(run)
    need_open(run, RunKind.WRAP)
    station = entry.need_station(Step.WRAP)
    owner = run.animal or run.order
    assert owner is not None
    entry.guard_owner(owner)
    many = len(weights) + unweighed
    if not 1 <= many <= MAX_PACKS_AT_ONCE or unweighed < 0:
        raise Refusal("how_many", f"Between 1 and {MAX_PACKS_AT_ONCE} packs at a time.", "unweighed")
    if count is not None and not 1 <= count <= 500:
        raise Refusal("count_wrong", "Between 1 and 500 pieces in a pack.", "count")
    if not part.choices.filter(pk=choice.pk).exists() or choice.is_discard:
        raise Refusal("cut_unknown", f"{part.name} is not packed as {choice.name.lower()}.", "choice")
    here = on_table(run)
    refuse_what_is_not_here(part, choice, here)
    # The lugs know their table; another wrap station's packs lie on its own.
    table = here[0].place if here and run.station_id == station.pk else None
    made = _Packs(run, owner, table or table_of(station), part, choice, count)
    packages = _make_packages(entry, made, weights, unweighed, _fat_in(here) if choice.is_grind else "")
    if weights:
        _refuse_more_than_hung(owner)
    numbers = f"{packages[0].n}" if many == 1 else f"{packages[0].n} to {packages[-1].n}"
    shown = f"{label_of(owner)}: {part.name.lower()}, {choice.name.lower()}, pack {numbers}."
    return Answer(shown, {"packages": [package.pk for package in packages]})


@dataclass(frozen=True, slots=True)
class _Packs:
    """What the packs of one packing have in common."""

    run: Run
    owner: Animal | Order
    table: Place
    part: Part
    choice: Choice
    count: int | None


def _make_packages(
    entry: Entry, made: _Packs, weights: tuple[OnScale, ...], unweighed: int, fat: str
) -> list[Package]:
    run, part = made.run, made.part
    first = (made.owner.packages.order_by("-n").values_list("n", flat=True).first() or 0) + 1
    scales: list[OnScale | None] = [*weights, *[None] * unweighed]
    names = [f"pack {first + offset}, {part.name.lower()}"[:60] for offset in range(len(scales))]
    pieces = entry.new_pieces(
        PieceKind.PACKAGE,
        made.owner,
        names,
        state=PieceState.PACKED,
        place=made.table,
        first_n=first,
        guard=False,
    )
    readings = [
        _weigh_pack(entry, run, piece, scale) if scale else None
        for piece, scale in zip(pieces, scales, strict=True)
    ]
    Weighing.objects.bulk_create([reading for reading in readings if reading is not None])
    RunLine.objects.bulk_create(
        RunLine(
            event_id=entry.uid, run=run, direction=Direction.OUT, what="pack", piece=piece, weighing=reading
        )
        for piece, reading in zip(pieces, readings, strict=True)
    )
    return Package.objects.bulk_create(
        Package(
            piece=piece,
            run=run,
            animal=run.animal,
            order=run.order,
            n=piece.n,
            part=part,
            choice=made.choice,
            count=made.count,
            weighing=reading,
            packed_at=entry.at,
            has_added_fat=fat,
        )
        for piece, reading in zip(pieces, readings, strict=True)
    )


def _weigh_pack(entry: Entry, run: Run, piece: Piece, scale: OnScale) -> Weighing:
    reading = entry.reading(Point.PACK, scale, animal=run.animal, run=run, piece=piece)
    if reading.mg > DOUBT_PACK_MG and not scale.confirmed:
        said = f"{format_mg(reading.mg)} is a lot for one pack. Confirm it if it is right."
        raise Refusal("weight_doubtful", said, "weight")
    return reading


def _fat_in(here: list[Piece]) -> str:
    """The fat that was added to the ground meat on the table: pork, beef, or nothing."""
    ground = [piece.pk for piece in here if piece.contents == Contents.GROUND]
    grinds = Run.objects.filter(kind=RunKind.GRIND, lines__piece__in=ground, lines__direction=Direction.OUT)
    added = RunLine.objects.filter(run__in=grinds, direction=Direction.ADDED, event__voided_by=None)
    kinds = sorted({what.removesuffix("_fat") for what in added.values_list("what", flat=True)})
    return " ".join(kinds)[:10]


def _refuse_more_than_hung(owner: Animal | Order) -> None:
    """No pound from nowhere: packs and fat against what hung, for one animal or for all of an order together."""
    beyond = packed_beyond(owner)
    if beyond is not None:
        fat = f" and {format_mg(beyond.added)} fat was added" if beyond.added else ""
        said = f"That makes {format_mg(beyond.packed)} packed, but {format_mg(beyond.hung)} hung{fat}."
        raise Refusal("packed_beyond_hung", f"{said} Weigh again, with the tare.", "weight")


@action("void_package")
def void_package(entry: Entry, package: Package, *, reason: str, destroyed: bool = False) -> Answer:
    """Destroy a label: the pack is void, comes out of its box, and its number is not used again.

    Of an open wrap its meat goes back to the table. Of a finished one it must be said that the label is destroyed
    (`label_not_destroyed`), and its meat can be packed again once that wrap is reopened. A hold does not stop it.
    """
    need_reason(reason)
    entry.about(package.piece)
    piece, n = package.piece, package.n
    if piece.state not in (PieceState.PACKED, PieceState.STORED):
        raise Refusal("not_voidable", f"{piece.name} is {piece.get_state_display().lower()}.")
    package.run.refresh_from_db()
    finished = package.run.closed_at is not None
    if finished and not destroyed:
        raise Refusal(
            "label_not_destroyed", f"The wrap of pack {n} is finished. Destroy its label, then confirm it."
        )
    box = piece.container
    entry.run = package.run
    entry.move(piece, state=PieceState.VOID, place=sink("void"), cold=True)
    if not finished:
        return Answer(f"Destroy label {n}: it is void.")
    out_of = f" and out of {box.name}" if box else ""
    return Answer(f"Pack {n} is void{out_of}, its label destroyed: {reason.strip()}")


@action("finish_wrap")
def finish_wrap(entry: Entry, run: Run, *, reason: str = "") -> Answer:
    """Everything on the table is packed.

    Lugs that never came, pounds that are in no pack and tenderloins that were not packed are refused together
    (`nothing_packed`, `lug_waiting`, `left_on_table`, `beyond_table`, `tenderloin_missing`), unless a reason is
    given: it is kept, and with it what was left.
    """
    entry.about(run)
    need_open(run, RunKind.WRAP)
    entry.need_station(Step.WRAP)
    owner = run.animal or run.order
    assert owner is not None
    entry.guard_owner(owner)
    why = reason.strip()
    here, table = on_table(run), table_sum(run)
    if not why:
        refuse_unfinished(owner, here, table)
    entry.move(here, state=PieceState.USED, place=sink("used"))
    close_run(entry, run, why)
    if table.is_left:
        entry.data["left_mg"] = table.left_mg
    return Answer(f"{label_of(owner)}: {_said_of_the_end(table, why)}")


def _said_of_the_end(table: TableSum, why: str) -> str:
    if not why:
        return "everything on the table is packed."
    left = f", {table.left_words} of it in no pack" if table.is_left else ""
    return f"wrap is finished{left}: {why}"


@action("new_box")
def new_box(entry: Entry, order: Order) -> Answer:
    """The next box of an order."""
    order = entry.about(order)
    station = entry.need_station(Step.WRAP, Step.FREEZER)
    n = order.pieces.filter(kind=PieceKind.BOX).count() + 1
    box = entry.new_piece(PieceKind.BOX, order, f"box {n}", state=PieceState.PACKED, place=table_of(station))
    return Answer(f"{order.number}: box {n}.", {"piece": box.pk})


@action("put_in_box")
def put_in_box(entry: Entry, box: Piece, *, packages: tuple[Package, ...]) -> Answer:
    """Packs into a box of the same order, and of no other."""
    order = entry.about(box)
    entry.need_station(Step.WRAP, Step.FREEZER)
    if box.kind != PieceKind.BOX or box.state not in (PieceState.PACKED, PieceState.STORED):
        raise Refusal("not_a_box", f"{box.name} is not a box that can be filled.")
    if not packages:
        raise Refusal("no_packs", "There is nothing to put in the box.", "packages")
    pieces = list(
        Piece.objects.filter(package__in=packages).select_related(
            "animal__order", "order", "animal", "container"
        )
    )
    for piece in pieces:
        if piece.order_id_of != order.pk:
            other = piece.animal.order.number if piece.animal else piece.order.number if piece.order else ""
            raise Refusal("wrong_order", f"This pack is {other}'s; the box is {order.number}'s.", "packages")
        if piece.state not in (PieceState.PACKED, PieceState.STORED):
            raise Refusal("piece_ended", f"{piece.name} is {piece.get_state_display().lower()}.", "packages")
        if piece.container_id == box.pk:
            raise Refusal("in_the_box", f"{piece.name} is in {box.name} already.", "packages")
    entry.move(pieces, state=PieceState.PACKED, container=box)
    packs = "1 pack" if len(pieces) == 1 else f"{len(pieces)} packs"
    return Answer(f"{order.number}: {packs} in {box.name}.", {"piece": box.pk})


@action("store")
def store(entry: Entry, piece: Piece, *, place: Place) -> Answer:
    """A box, a single pack or a kept part to its place in the freezer, on a rack or on a hook."""
    order = entry.about(piece)
    entry.need_station(Step.FREEZER, Step.WRAP, Step.COOLER, Step.SKIN)
    allowed = {
        PieceKind.BOX: (PlaceKind.FREEZER,),
        PieceKind.PACKAGE: (PlaceKind.FREEZER,),
        PieceKind.KEPT: (PlaceKind.FREEZER, PlaceKind.HOOK, PlaceKind.RACK),
    }.get(PieceKind(piece.kind))
    if allowed is None:
        raise Refusal("not_to_store", f"{piece.name} is not to be stored.")
    if place.kind not in allowed:
        raise Refusal("wrong_place", f"{piece.name} does not belong at {place.name}.", "place")
    if piece.state == PieceState.STORED and piece.place_id == place.pk:
        raise Refusal(
            "there_already", f"{piece.name} is at {place.name} already, {last_hand(piece)}.", "place"
        )
    if piece.container_id is not None:
        raise Refusal("in_a_box", f"{piece.name} is in a box: store the box.", "place")
    if piece.kind == PieceKind.BOX and not piece.inside.exists():
        raise Refusal("box_empty", f"{piece.name} is empty.", "place")
    entry.move(piece, state=PieceState.STORED, place=place, cold=True)
    return Answer(f"{order.number}: {piece.name} is at {place.name}.")


def weigh_packs() -> bool:
    """Whether this shop weighs its packs."""
    return shop_settings().weigh_packs
