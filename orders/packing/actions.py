"""Wrap, box and freezer: every pack numbered, weighed or counted, labeled, boxed and put in a known place."""

from __future__ import annotations

from orders.floor.plan import is_ground
from orders.floor.skin import pulled_sides, tenderloins_to_pull
from orders.intake.models import Animal, Order
from orders.ledger.entry import Answer, Entry, action
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
from shop.models import Choice, Part, Place, PlaceKind, Station, Step
from shop.places import shop_settings, sink, table_of
from shop.weights import format_mg, pounds

FOR_WRAP = (Contents.WHOLE_CUTS, Contents.GROUND, Contents.TENDERLOINS)
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
    return Answer(f"{_name(owner)}: {lug.name} is on the table.", {"run": run.pk})


def _run_at(station: Station, owner: Animal | Order) -> Run | None:
    # Orders are locked one by one; the table is what two hunters' meat would share.
    Station.objects.select_for_update().get(pk=station.pk)
    run = Run.objects.filter(station=station, kind=RunKind.WRAP, closed_at=None).first()
    if run is None:
        return None
    if (run.order_id if isinstance(owner, Order) else run.animal_id) != owner.pk:
        other = run.animal or run.order
        assert other is not None
        raise Refusal("table_busy", f"{_name(other)} is still on this table. Finish it first.")
    return run


def _name(owner: Animal | Order) -> str:
    return owner.label if isinstance(owner, Animal) else owner.number


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

    Own meat packed beyond what hung (with the fat that was added) is refused (`packed_beyond_hung`).
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
    packages = _make_packages(entry, run, owner, station, part, choice, weights, unweighed, count)
    _refuse_more_than_hung(owner)
    numbers = f"{packages[0].n}" if many == 1 else f"{packages[0].n} to {packages[-1].n}"
    shown = f"{_name(owner)}: {part.name.lower()}, {choice.name.lower()}, pack {numbers}."
    return Answer(shown, {"packages": [package.pk for package in packages]})


def _make_packages(
    entry: Entry,
    run: Run,
    owner: Animal | Order,
    station: Station,
    part: Part,
    choice: Choice,
    weights: tuple[OnScale, ...],
    unweighed: int,
    count: int | None,
) -> list[Package]:
    whose = {"animal": run.animal, "order": run.order}
    first = (owner.packages.order_by("-n").values_list("n", flat=True).first() or 0) + 1
    scales: list[OnScale | None] = [*weights, *[None] * unweighed]
    names = [f"pack {first + offset}, {part.name.lower()}"[:60] for offset in range(len(scales))]
    pieces = entry.new_pieces(
        PieceKind.PACKAGE,
        owner,
        names,
        state=PieceState.PACKED,
        place=table_of(station),
        first_n=first,
        guard=False,
    )
    readings = []
    for piece, scale in zip(pieces, scales, strict=True):
        reading = entry.reading(Point.PACK, scale, animal=run.animal, run=run, piece=piece) if scale else None
        if reading and scale and reading.mg > DOUBT_PACK_MG and not scale.confirmed:
            said = f"{format_mg(reading.mg)} is a lot for one pack. Confirm it if it is right."
            raise Refusal("weight_doubtful", said, "weight")
        readings.append(reading)
    Weighing.objects.bulk_create([reading for reading in readings if reading is not None])
    RunLine.objects.bulk_create(
        RunLine(
            event_id=entry.uid, run=run, direction=Direction.OUT, what="pack", piece=piece, weighing=reading
        )
        for piece, reading in zip(pieces, readings, strict=True)
    )
    fat = _fat_in(run) if choice.is_grind else ""
    return Package.objects.bulk_create(
        Package(
            piece=piece,
            run=run,
            n=piece.n,
            part=part,
            choice=choice,
            count=count,
            weighing=reading,
            packed_at=entry.at,
            has_added_fat=fat,
            **whose,
        )
        for piece, reading in zip(pieces, readings, strict=True)
    )


def _fat_in(run: Run) -> str:
    """The fat that was added to the ground meat on this table: pork, beef, or nothing."""
    grinds = Run.objects.filter(
        kind=RunKind.GRIND, lines__piece__lines__run=run, lines__direction=Direction.OUT
    )
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
def void_package(entry: Entry, package: Package, *, reason: str) -> Answer:
    """Destroy a label: the pack is void, its number is not used again, and its meat goes back to the table."""
    need_reason(reason)
    entry.about(package.piece)
    if package.piece.state not in (PieceState.PACKED, PieceState.STORED):
        raise Refusal("not_voidable", f"{package.piece.name} is {package.piece.get_state_display().lower()}.")
    package.run.refresh_from_db()
    if package.run.closed_at is not None:
        raise Refusal("run_closed", "This wrap is finished: its packs stay as they are.")
    entry.run = package.run
    entry.move(package.piece, state=PieceState.VOID, place=sink("void"), cold=True)
    return Answer(f"Destroy label {package.n}: it is void.")


@action("finish_wrap")
def finish_wrap(entry: Entry, run: Run, *, reason: str = "") -> Answer:
    """Everything on the table is packed. Tenderloins that came in must be packed too, or the reason is kept."""
    entry.about(run)
    need_open(run, RunKind.WRAP)
    entry.need_station(Step.WRAP)
    owner = run.animal or run.order
    assert owner is not None
    entry.guard_owner(owner)
    why = reason.strip()
    if not run.packages.exclude(piece__state=PieceState.VOID).exists() and not why:
        raise Refusal("nothing_packed", "Nothing was packed. Say why, or pack it.", "reason")
    on_table = list(
        Piece.objects.filter(lines__run=run, lines__direction=Direction.IN, state=PieceState.TABLE).distinct()
    )
    if not why:
        _refuse_lost_tenderloins(owner, on_table)
    entry.move(on_table, state=PieceState.USED, place=sink("used"))
    close_run(entry, run, why)
    return Answer(f"{_name(owner)}: everything on the table is packed.")


def _refuse_lost_tenderloins(owner: Animal | Order, on_table: list[Piece]) -> None:
    """Refuse to close the last wrap of an animal while a tenderloin that it brought is in no pack."""
    if not isinstance(owner, Animal):
        return
    packed = owner.packages.filter(part__code="tenderloin").exclude(piece__state=PieceState.VOID).exists()
    if packed:
        return
    at_work = owner.pieces.filter(
        kind__in=[PieceKind.LUG, PieceKind.TENDERLOIN], state__in=[PieceState.WAITING, PieceState.TABLE]
    )
    if at_work.exclude(pk__in=[piece.pk for piece in on_table]).exists():
        return
    to_pull = tenderloins_to_pull(owner)
    if to_pull:
        sides = " and ".join(to_pull)
        raise Refusal(
            "tenderloin_missing", f"The {sides} tenderloin of {owner.label} was never bagged.", "reason"
        )
    if pulled_sides(owner):
        raise Refusal("tenderloin_missing", f"The tenderloins of {owner.label} are in no pack.", "reason")


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
    return Answer(f"{order.number}: {len(pieces)} in {box.name}.", {"piece": box.pk})


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
