"""An event being written: everything an action changes goes through its `Entry`."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, TypeVar
from uuid import UUID

from django.db import models
from django.utils import timezone

from orders.intake.models import Animal, Order
from orders.ledger import states
from orders.ledger.models import (
    BODY_KINDS,
    ENDED,
    Event,
    Hold,
    Movement,
    Outcome,
    Piece,
    PieceKind,
    PieceState,
    Point,
    Run,
    RunLine,
    Weighing,
)
from orders.ledger.refusal import Refusal
from orders.ledger.scale import OnScale, check_pool_limit, check_species_limit
from orders.ledger.weights import pooled_animals, refuse_more_off_than_came
from shop.codes import Kind
from shop.counters import new_codes
from shop.models import Device, Person, Place, Station, Step
from shop.weights import Reading

M = TypeVar("M", bound=models.Model)

CODE_KIND = {PieceKind.LUG: Kind.LUG, PieceKind.PACKAGE: Kind.PACKAGE, PieceKind.BOX: Kind.BOX}
# What may still be done with a closed order.
AFTER_CLOSING = {
    "reopen_order",
    "close_order",
    "name_hunter",
    "mark_paid",
    "unmark_paid",
    "record_cause",
    "scan_refused",
}
# What leaves every state as it is when nothing moved: the busiest verbs of the floor and the counter.
CHANGES_NO_STATE = {
    "add_fat",
    "cut_off_bloodshot",
    "file_tag",
    "mark_paid",
    "name_hunter",
    "record_cause",
    "record_order",
    "record_waste",
    "save_cut_sheet",
    "set_amount",
    "take_off",
    "weigh_at_block",
}


@dataclass(frozen=True, slots=True)
class By:
    """Who acts, and where: the person, the enrolled device, the station."""

    person: Person
    device: Device | None = None
    station: Station | None = None


@dataclass(slots=True)
class Answer:
    """What the person is told, and the ids of what was made (`refs`). A repeat brings the first answer."""

    shown: str
    refs: dict[str, Any] = field(default_factory=dict)
    uid: UUID | None = None
    repeated: bool = False

    def fetch(self, model: type[M], ref: str = "") -> M:
        """The object whose id stands under `ref`, by default the model's name in lower case."""
        return model._default_manager.get(pk=self.refs[ref or model.__name__.lower()])


class Entry:
    """An event being written: everything an action changes goes through it."""

    def __init__(self, verb: str, uid: UUID, by: By, at: datetime, raw_code: str) -> None:
        self.verb = verb
        self.uid = uid
        self.by = by
        self.at = at
        self.raw_code = raw_code
        self.order: Order | None = None
        self.animal: Animal | None = None
        self.run: Run | None = None
        self.voids: Event | None = None
        self.movements: list[Movement] = []
        self.data: dict[str, Any] = {}
        self._guarded: set[int] = set()
        self._guarded_orders: set[int] = set()
        self._pool_limits: dict[int, int] = {}

    # --- what it is about -------------------------------------------------------------------------------------

    def about(self, subject: Order | Animal | Run | Piece) -> Order:
        """Say what the event is about and lock its order's row: actions on one order happen one after another."""
        animal_id = subject.pk if isinstance(subject, Animal) else getattr(subject, "animal_id", None)
        key = subject.pk if isinstance(subject, Order) else subject.order_id
        whose = {"pk": key} if isinstance(subject, Order) or animal_id is None else {"animals": animal_id}
        self.order = Order.objects.select_for_update(of=("self",)).get(**whose)
        if isinstance(subject, Animal):
            subject.refresh_from_db(from_queryset=Animal.objects.select_related("species"))
            self.animal = subject
        elif not isinstance(subject, Order):
            # Its animal comes with it: what was waited for may have changed either.
            again: Any = type(subject)._base_manager.select_related("animal__species")
            subject.refresh_from_db(from_queryset=again)
            self.animal = subject.animal
        if self.animal is not None:
            self.animal.order = self.order
        if isinstance(subject, Run):
            self.run = subject
        if self.order.closed_at is not None and self.verb not in AFTER_CLOSING:
            raise Refusal("order_closed", f"{self.order.number} is closed. Reopen it first.")
        return self.order

    def need_station(self, *steps: Step) -> Station:
        """The station this is done at. Raises Refusal `no_station` or `wrong_station`, naming where it belongs."""
        station = self.by.station
        if station is None:
            raise Refusal("no_station", "Say first at which station you are.")
        if station.step not in steps:
            places = " or ".join(Step(step).label.lower() for step in steps)
            raise Refusal("wrong_station", f"This belongs to {places}; you are at {station.name}.")
        return station

    def guard(self, animal: Animal | None) -> None:
        """Refuse every step for an animal that has ended, is not received, or is on hold, whoever tries."""
        if animal is None or animal.pk in self._guarded:
            return
        if animal.ended:
            raise Refusal("animal_ended", f"{animal.label} is {animal.get_state_display().lower()}.")
        if not animal.has_tag:
            raise Refusal("not_received", f"{animal.label} has no tag on record: it is not received yet.")
        hold = Hold.objects.filter(animal=animal, released_at=None).first()
        if hold is not None:
            why = f" ({hold.note})" if hold.note else ""
            raise Refusal("on_hold", f"{animal.label} is on hold: {hold.get_kind_display().lower()}{why}.")
        self._guarded.add(animal.pk)

    def guard_owner(self, owner: Animal | Order) -> None:
        """As `guard`; for meat of a whole order, every animal whose meat went into it is looked at."""
        if isinstance(owner, Animal):
            self.guard(owner)
        elif owner.pk not in self._guarded_orders:
            for animal in pooled_animals(owner):
                self.guard(animal)
            self._guarded_orders.add(owner.pk)

    def guard_pieces(self, pieces: Sequence[Piece]) -> None:
        """As `guard`, for whatever the pieces are made of; a box is held by what is in it."""
        boxes = [piece.pk for piece in pieces if piece.kind == PieceKind.BOX]
        owners = {(piece.animal_id, piece.order_id) for piece in pieces if piece.kind != PieceKind.BOX}
        if boxes:
            inside = Piece.objects.filter(container__in=boxes).order_by()
            owners |= set(inside.values_list("animal_id", "order_id").distinct())
        animals = {animal for animal, _ in owners if animal} - self._guarded
        orders = {order for animal, order in owners if not animal and order} - self._guarded_orders
        if animals:
            for animal in Animal.objects.filter(pk__in=animals).select_related("order").order_by("pk"):
                self.guard(animal)
        if orders:
            for order in Order.objects.filter(pk__in=orders).order_by("pk"):
                self.guard_owner(order)

    # --- pieces -----------------------------------------------------------------------------------------------

    def new_pieces(
        self,
        kind: PieceKind,
        owner: Animal | Order,
        names: Sequence[str],
        *,
        state: PieceState,
        place: Place,
        first_n: int,
        guard: bool = True,
        **values: Any,
    ) -> list[Piece]:
        """Make pieces with codes of their own, numbered from `first_n`, at a place."""
        animal = owner if isinstance(owner, Animal) else None
        if guard and kind != PieceKind.BOX:
            self.guard_owner(owner)
        _refuse_wrong_place(state, place)
        codes = new_codes(CODE_KIND.get(kind, Kind.PIECE), len(names))
        pieces = Piece.objects.bulk_create(
            Piece(
                code=code,
                kind=kind,
                name=name,
                animal=animal,
                order=owner if isinstance(owner, Order) else None,
                n=first_n + offset,
                state=state,
                place=place,
                made_at=self.at,
                **values,
            )
            for offset, (code, name) in enumerate(zip(codes, names, strict=True))
        )
        self.movements += [Movement(piece=piece, state_to=state, place_to=place) for piece in pieces]
        return pieces

    def new_piece(self, kind: PieceKind, owner: Animal | Order, name: str, **values: Any) -> Piece:
        """Make one piece, numbered next among its kind."""
        taken = Piece.objects.filter(kind=kind, **_owner_filter(owner)).count()
        return self.new_pieces(kind, owner, [name], first_n=taken + 1, **values)[0]

    def move(
        self,
        pieces: Piece | Iterable[Piece],
        *,
        state: PieceState,
        place: Place | None = None,
        container: Piece | None = None,
        cold: bool = False,
    ) -> None:
        """Change state and place by compare-and-set. `cold` moves (to a rail, rack or freezer) pass a hold.

        Raises Refusal `piece_ended`, `moved_meanwhile` or what `guard` raises.
        """
        together: dict[tuple[Any, ...], list[Piece]] = defaultdict(list)
        if place is not None:
            _refuse_wrong_place(state, place)
        moved = [pieces] if isinstance(pieces, Piece) else list(pieces)
        if not cold:
            self.guard_pieces(moved)
        for piece in moved:
            gone = piece if piece.state in ENDED else piece.container
            if gone is not None and gone.state in ENDED:
                raise Refusal("piece_ended", f"{piece.name} is already {gone.get_state_display().lower()}.")
            together[piece.state, piece.place_id, piece.container_id].append(piece)
        for before, group in together.items():
            self._move_together(group, before, (state, place, container))

    def _move_together(self, group: list[Piece], before: tuple[Any, ...], after: tuple[Any, ...]) -> None:
        """Pieces that are at one place in one state go to another together, or none of them does."""
        at_hand = Piece.objects.filter(pk__in=[piece.pk for piece in group])
        state, place, container = after
        still_there = at_hand.filter(state=before[0], place=before[1], container=before[2])
        if still_there.update(state=state, place=place, container=container) != len(group):
            moved = at_hand.exclude(state=state, place=place, container=container).first() or group[0]
            raise Refusal("moved_meanwhile", f"Somebody has just moved {moved.name}. Look again.")
        for piece in group:
            self.movements.append(
                Movement(
                    piece=piece,
                    state_from=before[0],
                    state_to=state,
                    place_from_id=before[1],
                    place_to=place,
                    container_from_id=before[2],
                    container_to=container,
                )
            )
            piece.state, piece.place, piece.container = state, place, container

    # --- weights and runs -------------------------------------------------------------------------------------

    def weigh(self, point: Point, weight: OnScale, **about: Any) -> Weighing:
        """Keep a reading (see OnScale.net for what is refused)."""
        return Weighing.objects.bulk_create([self.reading(point, weight, **about)])[0]

    def reading(self, point: Point, weight: OnScale, **about: Any) -> Weighing:
        """An unsaved weighing, for keeping many at once."""
        gross, tare, net = weight.net()
        self._refuse_beyond_species(net, point, **about)
        return Weighing(
            event_id=self.uid,
            point=point,
            gross=gross.value,
            tare=tare.value,
            net=net.value,
            unit=net.unit,
            decimals=net.decimals,
            mg=net.mg,
            captured=weight.captured,
            nominal=weight.nominal,
            **about,
        )

    def _refuse_beyond_species(self, net: Reading, point: Point, **about: Any) -> None:
        """Nothing weighed is more than its species, or all that are ground together, can weigh (`weight_impossible`).

        What comes off an animal that was weighed whole is not more than came in (`off_beyond_came`).
        """
        of = [about.get("animal")] + [getattr(about.get(name), "animal", None) for name in ("piece", "run")]
        animal = next((each for each in of if each is not None), None)
        if animal is not None:
            check_species_limit(animal.species, net.mg)
            if point in (Point.PART_OFF, Point.WASTE):
                refuse_more_off_than_came(animal, net)
            return
        orders = (getattr(about.get(name), "order", None) for name in ("piece", "run"))
        order = next((each for each in orders if each is not None), None)
        if order is not None:
            if order.pk not in self._pool_limits:
                pool = pooled_animals(order).values_list("species__max_mg", flat=True)
                self._pool_limits[order.pk] = sum(pool)
            check_pool_limit(self._pool_limits[order.pk], net.mg)

    def line(self, run: Run, direction: str, what: str, **values: Any) -> RunLine:
        """Write down what went in, came out, was added or was waste. No `weighing`: it was not weighed."""
        return RunLine.objects.create(event_id=self.uid, run=run, direction=direction, what=what, **values)

    # --- the end ----------------------------------------------------------------------------------------------

    def close(self, answer: Answer, payload_hash: str, payload: Any) -> None:
        self._event(
            Outcome.OK, answer.shown, payload_hash, {"payload": payload, "refs": answer.refs, **self.data}
        )
        for movement in self.movements:
            movement.event_id = self.uid
        Movement.objects.bulk_create(self.movements)
        if self.order is None:
            return
        states.touch(self.order)
        if self.movements or self.verb not in CHANGES_NO_STATE:
            states.refresh(self.order, self.at, hung=self._newly_hung())

    def refuse(self, refusal: Refusal, payload_hash: str, payload: Any) -> None:
        data = {"payload": payload, "field": refusal.field}
        self._event(Outcome.REFUSED, refusal.sentence, payload_hash, data, refusal=refusal.code)

    def _newly_hung(self) -> set[int]:
        return {
            movement.piece.animal_id
            for movement in self.movements
            if movement.state_to == PieceState.HANGING
            and movement.piece.kind in BODY_KINDS
            and movement.piece.animal_id
        }

    def _event(self, outcome: Outcome, shown: str, payload_hash: str, data: Any, refusal: str = "") -> None:
        Event.objects.create(
            uid=self.uid,
            verb=self.verb,
            outcome=outcome,
            refusal=refusal,
            shown=shown,
            raw_code=self.raw_code,
            person=self.by.person,
            device=self.by.device,
            station=self.by.station,
            at=self.at,
            received_at=timezone.now(),
            order=self.order,
            animal=self.animal,
            run=self.run,
            voids=self.voids if outcome == Outcome.OK else None,
            payload_hash=payload_hash,
            data=data,
        )


def _refuse_wrong_place(state: PieceState, place: Place) -> None:
    """What has ended is where such pieces end, and nothing else is there."""
    if (state in ENDED) != bool(place.sink):
        raise Refusal("wrong_place", f"{place.name} is not a place for that.", "place")


def _owner_filter(owner: Animal | Order) -> dict[str, Any]:
    return {"animal": owner} if isinstance(owner, Animal) else {"order": owner}
