"""Replays the ledger and says where what is cached, counted or derived does not agree with it.

Every check reads in bulk and yields sentences; no sentence means that all agrees. Weights are checked in
`orders.ledger.check_weights`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from typing import Any

from django.db import connection, transaction
from django.db.models import F, Max, Q

from orders.intake.models import Animal, Order, State
from orders.ledger import check_weights, states
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
    Run,
    RunLine,
    Weighing,
)
from orders.ledger.payload import digest
from shop.codes import CodeError, Kind, read_code
from shop.models import Counter, Place, Station

CHUNK = 5_000
# What the machine's clock may be behind an event: see FUTURE_TOLERANCE where events are made.
CLOCK_TOLERANCE = timedelta(minutes=2)
READY_STATES = (State.READY, State.NOTIFIED, State.PARTLY_COLLECTED, State.COLLECTED)
PIECE_CODES = {PieceKind.LUG: Kind.LUG, PieceKind.PACKAGE: Kind.PACKAGE, PieceKind.BOX: Kind.BOX}


def problems() -> list[str]:
    """Every disagreement in the ledger as a sentence; an empty list when there is none."""
    with _one_moment():
        return [sentence for check in CHECKS for sentence in check()]


@contextmanager
def _one_moment() -> Iterator[None]:
    """Read everything as it stood at one moment, without keeping the shop's writers waiting."""
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "postgresql":
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield
    else:
        # atomic() would take the write lock at once (transaction_mode IMMEDIATE).
        with connection.cursor() as cursor:
            cursor.execute("BEGIN DEFERRED")
            try:
                yield
            finally:
                cursor.execute("ROLLBACK")


# --- pieces ---------------------------------------------------------------------------------------------------


def movements_fold_to_pieces() -> Iterator[str]:
    """Each movement begins where the last one ended, nothing moves after its end, the last one is what is cached.

    Only a job that is opened again brings back what it had used up.
    """
    fields = ("code", "state", "place_id", "container_id")
    cached = {row[0]: row[1:] for row in Piece.objects.values_list("pk", *fields).iterator(CHUNK)}
    folded: dict[int, tuple[Any, ...]] = {}
    begins, ends = (
        tuple(
            f"{name}_{side}" + ("" if name == "state" else "_id") for name in ("state", "place", "container")
        )
        for side in ("from", "to")
    )
    reopened = Movement.objects.filter(event__verb="reopen_job", state_from=PieceState.USED)
    brought_back = set(reopened.values_list("pk", flat=True))
    rows = Movement.objects.order_by("id").values_list("pk", "piece_id", *begins, *ends)
    for pk, piece, *places in rows.iterator(CHUNK):
        code = cached[piece][0]
        before, after = tuple(places[:3]), tuple(places[3:])
        known = folded.get(piece, ("", None, None))
        if before != known:
            yield f"Piece {code}: movement {pk} begins at {before}, but the piece was at {known}."
        if known[0] in ENDED and pk not in brought_back:
            yield f"Piece {code}: movement {pk} moves what was {known[0]} already."
        folded[piece] = after
    for piece, (code, *where) in cached.items():
        if piece not in folded:
            yield f"Piece {code} has no movement: nobody recorded how it came to be."
        elif folded[piece] != tuple(where):
            yield f"Piece {code} is kept as {tuple(where)}, but its movements end at {folded[piece]}."


def boxes_hold_their_own_order() -> Iterator[str]:
    """A pack lies in a box, of its own order, that is not void."""
    rows = Piece.objects.exclude(container=None).values_list(
        "code", "animal__order_id", "order_id", "container__kind", "container__order_id", "container__state"
    )
    for code, by_animal, by_order, kind, box_order, state in rows.iterator(CHUNK):
        if kind != PieceKind.BOX or state == PieceState.VOID:
            yield f"Pack {code} is in something that is not a box: {kind}, {state}."
        if (by_animal or by_order) != box_order:
            yield f"Pack {code} of order {by_animal or by_order} is in a box of order {box_order}."


def boxes_that_left_stay_as_they_are() -> Iterator[str]:
    """Nothing moves out of a box, or into it, after the box itself has ended."""
    gone = Movement.objects.filter(piece__kind=PieceKind.BOX, state_to__in=ENDED).order_by("-id")
    ended = dict(gone.values_list("piece_id", "pk"))
    later = Movement.objects.filter(Q(container_from__state__in=ENDED) | Q(container_to__state__in=ENDED))
    rows = later.values_list("pk", "piece__code", "container_from_id", "container_to_id")
    for pk, code, came_from, went_to in rows.iterator(CHUNK):
        for box, how in ((came_from, "out of"), (went_to, "into")):
            if pk > ended.get(box, pk):
                yield f"Pack {code}: movement {pk} takes it {how} a box that had ended before."


def tables_belong_to_open_runs() -> Iterator[str]:
    """What went into an open job is on the table, and what is on a table went into an open job."""
    went_in = RunLine.objects.filter(run__closed_at=None, direction="in")
    astray = went_in.exclude(piece__state__in=(PieceState.TABLE, PieceState.VOID))
    for run, code, state in astray.values_list("run__code", "piece__code", "piece__state"):
        yield f"Run {run} is open, but what went into it, {code}, is {state}."
    on_table = Piece.objects.filter(state=PieceState.TABLE).exclude(pk__in=went_in.values("piece"))
    for code in on_table.values_list("code", flat=True):
        yield f"Piece {code} is on a table, but in no open run."


# --- events ---------------------------------------------------------------------------------------------------


def events_are_whole() -> Iterator[str]:
    """The fingerprint is that of the payload kept beside it, the time is not in the future, all of one order."""
    rows = Event.objects.order_by("id").values_list(
        "pk", "verb", "payload_hash", "data", "at", "received_at", "order_id", "animal__order_id"
    )
    for pk, verb, payload_hash, data, at, received_at, order, animal_order in rows.iterator(CHUNK):
        if "payload" not in data or digest(verb, data["payload"]) != payload_hash:
            yield f"Event {pk} ({verb}): the fingerprint is not that of its payload."
        if at > received_at + CLOCK_TOLERANCE:
            yield f"Event {pk} ({verb}) happened at {at}, after it was received at {received_at}."
        if animal_order is not None and order != animal_order:
            yield f"Event {pk} ({verb}) is about order {order} and an animal of order {animal_order}."


def refused_events_left_nothing() -> Iterator[str]:
    """What was refused was undone whole."""
    for name, rows in (("movement", Movement), ("weighing", Weighing), ("run line", RunLine)):
        left: Any = rows.objects.filter(event__outcome=Outcome.REFUSED)
        for verb, pk in left.values_list("event__verb", "pk"):
            yield f"A refused event ({verb}) left {name} {pk}."


def voids_name_what_was_done() -> Iterator[str]:
    """A void names one event that was done and is no void itself; nothing else names an event."""
    wrong = Q(outcome=Outcome.REFUSED) | ~Q(verb="void_event") | Q(voids__outcome=Outcome.REFUSED)
    wrong |= Q(voids__verb="void_event") | Q(voids__id__gte=F("id"))
    for pk in Event.objects.exclude(voids=None).filter(wrong).values_list("pk", flat=True):
        yield f"Event {pk} voids what it cannot void."
    empty = Event.objects.filter(verb="void_event", outcome=Outcome.OK, voids=None)
    for pk in empty.values_list("pk", flat=True):
        yield f"Event {pk} is a void that names nothing."


def handings_over_are_recorded() -> Iterator[str]:
    """What was collected left with a recorded handing over, of its own order; every hold is released whole."""
    left = Movement.objects.filter(state_to=PieceState.COLLECTED)
    for code in left.filter(event__release=None).values_list("piece__code", flat=True):
        yield f"Piece {code} was collected, but nobody's name is kept with it."
    own = Q(piece__animal__isnull=False, piece__animal__order=F("event__release__order"))
    own |= Q(piece__order__isnull=False, piece__order=F("event__release__order"))
    for code in left.exclude(event__release=None).exclude(own).values_list("piece__code", flat=True):
        yield f"Piece {code} was collected with another order."
    half = Q(released_at=None) ^ Q(released_by=None)
    for pk in Hold.objects.filter(half | (~Q(released_at=None) & Q(release_note=""))).values_list(
        "pk", flat=True
    ):
        yield f"Hold {pk} is released by halves."


# --- states ---------------------------------------------------------------------------------------------------


def states_follow_from_pieces() -> Iterator[str]:
    """The states of animals and orders are what their pieces and open runs make them."""
    pieces, runs = _pieces_by_owner(), _open_runs_by_owner()
    found: dict[int, list[State]] = defaultdict(list)
    rows = Animal.objects.order_by("order_id", "n").values_list(
        "pk", "order_id", "state", "ended", "tag_no", "no_tag_reason_id"
    )
    for pk, order, kept, ended, tag_no, reason in rows.iterator(CHUNK):
        facts = states.AnimalFacts(
            ended=ended,
            has_tag=bool(tag_no or reason),
            pieces=tuple(pieces["animal", pk] + pieces["order", order]),
            open_runs=frozenset(runs["animal", pk] | runs["order", order]),
        )
        state = states.animal_state(facts)
        found[order].append(state)
        if state != kept:
            yield f"Animal {pk} is kept as {kept}, but its pieces say {state}."
    yield from _order_states(found)


def _order_states(found: dict[int, list[State]]) -> Iterator[str]:
    rows = Order.objects.values_list("pk", "number", "state", "ready_at", "notified_at", "closed_at")
    for pk, number, kept, ready_at, notified_at, closed_at in rows.iterator(CHUNK):
        state = states.order_state(
            found.get(pk, []), notified=notified_at is not None, closed=closed_at is not None
        )
        if state != kept:
            yield f"Order {number} is kept as {kept}, but its animals say {state}."
        if (ready_at is not None) != (state in READY_STATES):
            yield f"Order {number} is {state}, but ready since {ready_at}."


def _pieces_by_owner() -> dict[tuple[str, int], list[states.PieceFacts]]:
    found: dict[tuple[str, int], list[states.PieceFacts]] = defaultdict(list)
    rows = Piece.objects.values_list("kind", "state", "contents", "animal_id", "container__state", "order_id")
    for kind, state, contents, animal, container_state, order in rows.iterator(CHUNK):
        piece = states.PieceFacts(kind, state, contents, animal, container_state)
        found[("order", order) if animal is None else ("animal", animal)].append(piece)
    return found


def _open_runs_by_owner() -> dict[tuple[str, int], set[str]]:
    found: dict[tuple[str, int], set[str]] = defaultdict(set)
    for kind, animal, order in Run.objects.filter(closed_at=None).values_list(
        "kind", "animal_id", "order_id"
    ):
        found[("order", order) if animal is None else ("animal", animal)].add(kind)
    return found


def hanging_since_is_first_hanging() -> Iterator[str]:
    """`hung_at` is the time of the first movement that hung a body piece of the animal."""
    hung = Movement.objects.filter(state_to=PieceState.HANGING, piece__kind__in=BODY_KINDS)
    first: dict[int, Any] = {}
    for animal, at in hung.order_by("id").values_list("piece__animal_id", "event__at").iterator(CHUNK):
        first.setdefault(animal, at)
    for pk, kept in Animal.objects.values_list("pk", "hung_at").iterator(CHUNK):
        if kept != first.get(pk):
            yield f"Animal {pk} is kept as hanging since {kept}, but it was hung first at {first.get(pk)}."


# --- numbers --------------------------------------------------------------------------------------------------


def codes_are_of_their_kind() -> Iterator[str]:
    """Every code has its kind's first digit and a right check digit, and its counter is beyond it."""
    taken: dict[Kind, int] = defaultdict(int)
    for expected, code in _codes():
        try:
            kind, _ = read_code(code)
        except CodeError as error:
            yield f"Code {code} of a {expected.name.lower()}: {error}"
            continue
        if kind is not expected:
            yield f"Code {code} of a {expected.name.lower()} is one of a {kind.name.lower()}."
        taken[kind] = max(taken[kind], int(code[1:-1]))
    counters = dict(Counter.objects.values_list("name", "next"))
    for kind, serial in taken.items():
        if counters.get(f"code-{kind.value}", 1) <= serial:
            yield f"The counter of {kind.name.lower()} codes would give {serial} again."


def _codes() -> Iterator[tuple[Kind, str]]:
    tables: tuple[tuple[Kind, Any], ...] = (
        (Kind.ORDER, Order),
        (Kind.PLACE, Place),
        (Kind.STATION, Station),
        (Kind.RUN, Run),
    )
    for kind, table in tables:
        for code in table.objects.order_by().values_list("code", flat=True).iterator(CHUNK):
            yield kind, code
    for piece_kind, code in Piece.objects.order_by().values_list("kind", "code").iterator(CHUNK):
        yield PIECE_CODES.get(PieceKind(piece_kind), Kind.PIECE), code


def order_numbers_are_their_season_s() -> Iterator[str]:
    """An order's number is its season's short name and its own sequence, below the season's counter."""
    rows = Order.objects.values_list("number", "season__short", "seq")
    for number, short, seq in rows.iterator(CHUNK):
        if number != f"{short}-{seq:04d}":
            yield f"Order {number} should be number {seq} of season {short}."
    counters = dict(Counter.objects.values_list("name", "next"))
    highest = Order.objects.order_by().values_list("season_id").annotate(last=Max("seq"))
    for season, last in highest:
        if counters.get(f"season-{season}", 1) <= last:
            yield f"The counter of season {season} would give number {last} again."


CHECKS: tuple[Callable[[], Iterator[str]], ...] = (
    movements_fold_to_pieces,
    boxes_hold_their_own_order,
    boxes_that_left_stay_as_they_are,
    tables_belong_to_open_runs,
    events_are_whole,
    refused_events_left_nothing,
    voids_name_what_was_done,
    handings_over_are_recorded,
    states_follow_from_pieces,
    hanging_since_is_first_hanging,
    codes_are_of_their_kind,
    order_numbers_are_their_season_s,
    *check_weights.CHECKS,
)
