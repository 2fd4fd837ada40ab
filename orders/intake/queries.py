"""What the counter's screens ask."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Count, Exists, Max, OuterRef, Prefetch, Q, QuerySet
from django.utils import timezone

from orders.cutsheets.models import CutSheet
from orders.intake.arrival import more_may_come, standing
from orders.intake.facts import search_form
from orders.intake.models import Animal, Contact, Order, Season, State
from orders.ledger.models import BODY_KINDS, Event, Hold, Piece, PieceKind, PieceState, Point, Weighing
from orders.ledger.voids import may_void_piece
from shop.models import Species

BEFORE_CUTTING = (State.BOOKED, State.NOT_RECEIVED, State.RECEIVED, State.SKINNING, State.HANGING)
BEFORE_READY = (*BEFORE_CUTTING, State.CUTTING, State.GRINDING, State.WRAPPING, State.FREEZING)
ON_THE_BOARD = (*BEFORE_READY, State.READY, State.NOTIFIED, State.PARTLY_COLLECTED)
NEEDS = {
    "tag": "Tag missing",
    "cuts": "No cut sheet",
    "phone": "No phone number",
    "held": "On hold",
    "late": "Late",
    "tell": "Ready, hunter not told",
}
SHOWN_PER_NEED = 6
MAX_MATCHES = 12
MIN_PHONE_DIGITS = 3


def current_season(today: date) -> Season | None:
    """The season whose dates include today (the one begun last), else the newest; None before there is any."""
    running = Season.objects.filter(starts_on__lte=today, ends_on__gte=today)
    return running.order_by("-starts_on").first() or Season.objects.order_by("-starts_on").first()


def find_contacts(typed: str) -> list[Contact]:
    """Hunters by part of a phone number or by the words of a name, those who came last first."""
    words = search_form(typed).split()
    digits = "".join(each for each in typed if each.isdigit())
    has_letters = any(each.isalpha() for each in typed)
    if digits and not has_letters:
        if len(digits) < MIN_PHONE_DIGITS:
            return []
        found = Contact.objects.filter(phone__contains=digits)
    elif words:
        found = Contact.objects.all()
        for word in words:
            found = found.filter(search__contains=word)
    else:
        return []
    found = found.annotate(last_order=Max("orders__number"), last_id=Max("orders__id"))
    return list(found.order_by("-last_id", "search")[:MAX_MATCHES])


def search_orders(typed: str) -> Q:
    """Orders by number, tag, or their hunter's name or phone number."""
    typed = " ".join(typed.split())
    by_name = Q()
    for word in search_form(typed).split():
        by_name &= Q(hunter__search__contains=word)
    tagged = Animal.objects.filter(order=OuterRef("pk"), tag_no__icontains=typed)
    found = by_name | Q(number__icontains=typed) | Q(Exists(tagged))
    digits = "".join(each for each in typed if each.isdigit())
    if len(digits) >= MIN_PHONE_DIGITS and not any(each.isalpha() for each in typed):
        found |= Q(hunter__phone__contains=digits)
    return found


def needing(need: str, now: datetime) -> Q:
    """The condition for orders that need something, by the code of the need (see NEEDS)."""
    mine = Animal.objects.filter(order=OuterRef("pk"), ended="")
    open_order = Q(closed_at=None, state__in=ON_THE_BOARD)
    if need == "tag":
        return open_order & Q(Exists(mine.filter(tag_no="", no_tag_reason=None)))
    if need == "cuts":
        sheet = CutSheet.objects.filter(animal=OuterRef("pk"), current=True)
        return open_order & Q(Exists(mine.filter(~Exists(sheet), state__in=BEFORE_CUTTING)))
    if need == "phone":
        return open_order & (Q(hunter=None) | Q(hunter__phone=""))
    if need == "held":
        return open_order & Q(Exists(Hold.objects.filter(animal__order=OuterRef("pk"), released_at=None)))
    if need == "tell":
        return Q(closed_at=None, state=State.READY)
    past = Q(promised_on__lt=timezone.localdate(now), state__in=BEFORE_READY)
    return open_order & (past | Q(Exists(mine.filter(hung_too_long(now)))))


def hung_too_long(now: datetime) -> Q:
    """The condition for animals that hang longer than their species' limit."""
    found = Q(pk__in=[])
    for species in Species.objects.values("pk", "hang_limit_days"):
        limit = now - timedelta(days=species["hang_limit_days"])
        found |= Q(species=species["pk"], hung_at__lt=limit)
    return Q(state=State.HANGING) & found


@dataclass(frozen=True, slots=True)
class Need:
    """One list of the board: what is needed, how many orders need it, and the first of them."""

    code: str
    words: str
    count: int
    orders: list[Order]


@dataclass(frozen=True, slots=True)
class StateCount:
    state: State
    count: int


@dataclass(frozen=True, slots=True)
class Board:
    """Today at the counter."""

    needs: list[Need]
    states: list[StateCount]
    came_today: int
    hanging: int
    ready: int


def board(now: datetime) -> Board:
    """Counts by state, and what needs somebody; a fixed number of queries whatever the season's size."""
    rows = Order.objects.filter(closed_at=None).values_list("state").annotate(count=Count("id")).order_by()
    counts = dict(rows)
    needs = []
    for code, words in NEEDS.items():
        found = Order.objects.filter(needing(code, now))
        first = found.select_related("hunter").order_by("-rush", "id")[:SHOWN_PER_NEED]
        needs.append(Need(code, words, found.count(), list(first)))
    return Board(
        needs=needs,
        states=[StateCount(state, counts.get(state, 0)) for state in ON_THE_BOARD],
        came_today=Animal.objects.filter(arrived_on=timezone.localdate(now)).exclude(ended="void").count(),
        hanging=Animal.objects.filter(state=State.HANGING).count(),
        ready=sum(counts.get(state, 0) for state in (State.READY, State.NOTIFIED)),
    )


def order_with_everything(number: str) -> QuerySet[Order]:
    """An order with what its page shows of its hunter, animals, holds and current cut sheets."""
    animals = Animal.objects.select_related("species", "no_tag_reason", "taker", "order").order_by("n")
    animals = animals.prefetch_related(
        Prefetch("holds", Hold.objects.filter(released_at=None), to_attr="open_holds"),
        Prefetch("cut_sheets", CutSheet.objects.filter(current=True), to_attr="current_sheets"),
    )
    orders = Order.objects.filter(number=number).select_related("hunter", "season", "created_by")
    return orders.prefetch_related(Prefetch("animals", animals))


@dataclass(frozen=True, slots=True)
class PieceRow:
    """A piece as listed: which of how many among what came in, and its received weight in milligrams.

    `so_far`: more pieces of its animal may come, so that `n` is not the last word.
    """

    piece: Piece
    state: str
    k: int | None
    n: int | None
    received_mg: int | None
    may_weigh: bool
    may_void: bool = False
    so_far: bool = False

    @property
    def count(self) -> str:
        """`2 of 7`, or `2 of 3 so far`; nothing for what is not counted."""
        return f"{self.k} of {self.n}{' so far' if self.so_far else ''}" if self.n else ""


LISTED = (*BODY_KINDS, PieceKind.TENDERLOIN, PieceKind.KEPT)


def piece_rows(animals: Iterable[Animal]) -> dict[int, list[PieceRow]]:
    """Body pieces, tenderloin bags and kept parts of animals, by the animal's id; four queries for any number."""
    known = {animal.pk: animal for animal in animals}
    pieces = list(
        Piece.objects.filter(animal__in=known, kind__in=LISTED)
        .exclude(state=PieceState.VOID)
        .select_related("place", "form")
        .order_by("id")
    )
    body: dict[Animal, list[int]] = {animal: [] for animal in known.values()}
    for piece in pieces:
        if piece.kind in BODY_KINDS:
            body[known[piece.animal_id or 0]].append(piece.pk)
    weighed = _received(list(known))
    more = more_may_come(body)
    found: dict[int, list[PieceRow]] = {pk: [] for pk in known}
    for piece in pieces:
        animal = known[piece.animal_id or 0]
        found[animal.pk].append(
            _piece_row(piece, animal, body[animal], weighed.get(piece.pk), so_far=animal.pk in more)
        )
    return found


def _piece_row(
    piece: Piece, animal: Animal, body: list[int], received_mg: int | None, *, so_far: bool
) -> PieceRow:
    is_body = piece.kind in BODY_KINDS
    at_the_door = piece.state in (PieceState.RECEIVED, PieceState.HANGING)
    return PieceRow(
        piece=piece,
        state=standing(piece, has_tag=animal.has_tag),
        k=body.index(piece.pk) + 1 if is_body else None,
        n=len(body) if is_body else None,
        received_mg=received_mg,
        may_weigh=is_body and received_mg is None and at_the_door,
        may_void=may_void_piece(piece),
        so_far=is_body and so_far,
    )


def _received(animal_ids: list[int]) -> dict[int | None, int]:
    points = (Point.RECEIVED, Point.PART_OFF)
    rows = Weighing.objects.filter(animal__in=animal_ids, point__in=points, event__voided_by=None)
    return dict(rows.order_by("id").values_list("piece_id", "mg"))


def weighings(animal: Animal) -> list[Weighing]:
    """Every weighing of an animal, in the order they were taken, with the event that may have voided it."""
    rows = Weighing.objects.filter(animal=animal)
    return list(rows.select_related("piece", "event__person", "event__voided_by__person", "event__run"))


def history(order: Order, animal: Animal | None = None, limit: int | None = None) -> list[Event]:
    """What was done and what was refused, newest first; of one animal if one is given."""
    events = Event.objects.filter(order=order)
    if animal is not None:
        events = events.filter(animal=animal)
    found = events.select_related("person", "station", "animal__order", "voids__person").order_by(
        "-at", "-id"
    )
    return list(found if limit is None else found[:limit])


def open_holds(*, released_too: bool = False) -> QuerySet[Hold]:
    """Holds with what their list shows, the longest standing first."""
    holds = Hold.objects.select_related(
        "animal__order__hunter", "animal__species", "opened_by", "released_by"
    )
    return (
        holds.order_by("-id") if released_too else holds.filter(released_at=None).order_by("opened_at", "id")
    )
