"""Handing back: told, handed over in one go or in parts, closed when nothing is left."""

from __future__ import annotations

from typing import Any

from django.db.models import Q

from orders.intake.models import Animal, Order, State
from orders.ledger.action import action
from orders.ledger.entry import Answer, Entry
from orders.ledger.models import ENDED, Piece, PieceKind, PieceState, Run
from orders.ledger.refusal import Refusal
from orders.ledger.voids import need_reason
from orders.pickup.models import Release
from orders.pickup.queries import pieces_left
from orders.pickup.who import may_collect
from shop.models import Step
from shop.places import sink

MAX_STROKES = 200
MAX_POINTS = 5_000
MOST_VOUCHED = 160


@action("notify")
def notify(entry: Entry, order: Order, *, how: str) -> Answer:
    """The hunter was told that his order is ready; from then on the free days count."""
    order = entry.about(order)
    if order.state not in (State.READY, State.NOTIFIED, State.PARTLY_COLLECTED):
        raise Refusal("not_ready", f"{order.number} is not ready: {order.get_state_display().lower()}.")
    Order.objects.filter(pk=order.pk).update(notified_at=entry.at)
    order.notified_at = entry.at
    return Answer(f"{order.number}: the hunter was told ({how.strip() or 'in person'}).")


@action("release")
def release(
    entry: Entry,
    order: Order,
    *,
    pieces: tuple[Piece, ...],
    collector: str,
    mark: list[Any] | None = None,
    initials: str = "",
    owed_confirmed: bool = False,
    vouched: str = "",
) -> Answer:
    """Hand over boxes, single packs and kept parts to a named person, whose mark or initials are kept.

    Money still owed is asked about once (`still_owed`), and so is somebody who is not among those who may collect
    (`collector_not_listed`): `vouched` says how the clerk knows. A hold stops it whatever is confirmed.
    """
    order = entry.about(order)
    entry.need_station(Step.COUNTER)
    collector = collector.strip()[:80]
    if not collector:
        raise Refusal("collector_missing", "Write down who collects it.", "who")
    unlisted = _check_collector(entry, order, collector, vouched)
    strokes = check_mark(mark or [])
    if not strokes and not initials.strip():
        raise Refusal("mark_missing", "The collector signs, or types initials.", "initials")
    if not pieces:
        raise Refusal("nothing_chosen", "Scan or tick what leaves.", "pieces")
    _check_money(order, owed_confirmed)
    keys = [piece.pk for piece in pieces]
    fresh = list(Piece.objects.select_related("animal__order", "order").filter(pk__in=keys))
    for piece in fresh:
        _check_leaves(order, piece)
    entry.move(fresh, state=PieceState.COLLECTED, place=sink("collected"))
    made = _write_release(entry, order, collector, initials, strokes)
    return Answer(f"{order.number}: handed over to {collector}{unlisted}.", {"release": made.pk})


def _check_collector(
    entry: Entry, order: Order, collector: str, vouched: str, *, brought: bool = False
) -> str:
    """Refuse somebody who was not named to the shop, unless somebody vouches; how is kept, and comes back in words."""
    listed = may_collect(order, brought=brought)
    vouched = " ".join(vouched.split())[:MOST_VOUCHED]
    if listed.named(collector):
        return ""
    if not vouched:
        raise Refusal(
            "collector_not_listed",
            f"{collector} is not among those who may collect {order.number}: {listed}. Ask the hunter. "
            "If it is right all the same, say how you know.",
            "vouched_by",
        )
    entry.data["vouched"] = vouched
    return f" (not on the list: {vouched})"


def _check_money(order: Order, owed_confirmed: bool) -> None:
    if order.owed_cents and not owed_confirmed:
        owed = f"${order.owed_cents // 100}.{order.owed_cents % 100:02d}"
        raise Refusal(
            "still_owed", f"{owed} is still owed. Confirm to hand it over all the same.", "owed_confirmed"
        )


def _write_release(
    entry: Entry, order: Order, collector: str, initials: str, strokes: list[list[list[int]]] | None = None
) -> Release:
    """The receipt's own row, numbered next of its order."""
    return Release.objects.create(
        event_id=entry.uid,
        order=order,
        n=order.releases.count() + 1,
        collector=collector,
        mark=strokes or [],
        initials=initials.strip()[:12],
        at=entry.at,
        person=entry.by.person,
    )


def _check_leaves(order: Order, piece: Piece) -> None:
    """Refuse what does not leave by itself or not yet; what a hold stops is seen to when it moves."""
    if piece.order_id_of != order.pk:
        other = piece.animal.order.number if piece.animal else piece.order.number if piece.order else ""
        raise Refusal("wrong_order", f"{piece.name} is {other}'s, not {order.number}'s.", "pieces")
    if piece.state == PieceState.COLLECTED:
        raise Refusal("collected_already", f"{piece.name} has left already.", "pieces")
    if piece.kind not in (PieceKind.BOX, PieceKind.PACKAGE, PieceKind.KEPT) or piece.container_id:
        raise Refusal("not_to_collect", f"{piece.name} is not handed over by itself.", "pieces")
    if piece.kind != PieceKind.KEPT and piece.state != PieceState.STORED:
        raise Refusal("not_stored", f"{piece.name} is not in the freezer yet.", "pieces")


def check_mark(strokes: list[Any]) -> list[list[list[int]]]:
    """A drawn mark: strokes of points with both coordinates from 0 to 1000. Raises Refusal `mark_wrong`."""
    try:
        found = [[[int(x), int(y)] for x, y in stroke] for stroke in strokes]
    except (TypeError, ValueError, OverflowError):
        raise Refusal("mark_wrong", "The mark did not arrive whole. Sign again.", "mark") from None
    points = [number for stroke in found for point in stroke for number in point]
    if len(found) > MAX_STROKES or len(points) > 2 * MAX_POINTS or any(not 0 <= n <= 1000 for n in points):
        raise Refusal("mark_wrong", "The mark did not arrive whole. Sign again.", "mark")
    return [stroke for stroke in found if stroke]


def _refuse_open_job(order: Order) -> None:
    """A job that is open holds its table; nobody could finish it once its order is closed (`job_open`)."""
    jobs = Run.objects.filter(Q(order=order) | Q(animal__order=order), closed_at=None)
    job = jobs.select_related("station").first()
    if job is not None:
        what = job.get_kind_display().lower()
        raise Refusal(
            "job_open", f"Its {what} is still open at {job.station}: finish it or take it back first."
        )


@action("close_order")
def close_order(entry: Entry, order: Order, *, reason: str = "") -> Answer:
    """Close an order when everything has left. With anything left, only with a reason, which is kept."""
    order = entry.about(order)
    if order.closed_at:
        raise Refusal("order_closed", f"{order.number} is closed already.")
    _refuse_open_job(order)
    left = pieces_left(order)
    if left and not reason.strip():
        # What lies in a box that is here is fetched with it.
        alone = [piece for piece in left if piece.container_id is None]
        names = ", ".join(piece.name for piece in alone[:6]) + (", ..." if len(alone) > 6 else "")
        raise Refusal("pieces_left", f"Still here or unaccounted for: {names}. Say why it closes.", "reason")
    if not left and not order.releases.exists() and not reason.strip():
        raise Refusal(
            "nothing_left_yet", "Nothing of this order has been handed over. Say why it closes.", "reason"
        )
    if order.owed_cents and not reason.strip():
        raise Refusal("still_owed", "There is still money owed. Say why it closes.", "reason")
    entry.data["left"] = [piece.code for piece in left]
    Order.objects.filter(pk=order.pk).update(closed_at=entry.at, close_reason=reason.strip()[:200])
    order.closed_at, order.close_reason = entry.at, reason.strip()[:200]
    return Answer(f"{order.number} is closed.")


@action("reopen_order")
def reopen_order(entry: Entry, order: Order, *, reason: str) -> Answer:
    """Open a closed order again; why it was closed stays in the event."""
    order = entry.about(order)
    need_reason(reason)
    if order.closed_at is None:
        raise Refusal("not_closed", f"{order.number} is not closed.", "reason")
    entry.data["before"] = {"closed_at": order.closed_at.isoformat(), "reason": order.close_reason}
    Order.objects.filter(pk=order.pk).update(closed_at=None, close_reason="")
    order.closed_at, order.close_reason = None, ""
    return Answer(f"{order.number} is open again.")


@action("haul_ended")
def haul_ended(entry: Entry, animal: Animal, *, where: str) -> Answer:
    """What is left of an animal that ended early (refused, spoiled) is hauled away; `where` is the hauler or ticket."""
    entry.about(animal)
    left = _left_of_ended(animal)
    if not where.strip():
        raise Refusal("where_missing", "Say who hauls it, or the ticket's number.", "where")
    entry.move(left, state=PieceState.HAULED, place=sink("hauled"), cold=True)
    return Answer(f"{animal.label} is hauled away: {where.strip()}")


@action("hand_back_ended")
def hand_back_ended(
    entry: Entry, animal: Animal, *, collector: str, initials: str, vouched: str = ""
) -> Answer:
    """What is left of an animal that ended early goes back to a named person; an open hold still stops it.

    Whoever brought it may take it back; anybody else who is not listed is asked about, as in `release`.
    """
    order = entry.about(animal)
    entry.need_station(Step.COUNTER)
    left = _left_of_ended(animal)
    hold = animal.holds.filter(released_at=None).first()
    if hold is not None:
        raise Refusal("on_hold", f"{animal.label} is on hold: {hold.get_kind_display().lower()}.")
    collector = collector.strip()[:80]
    if not collector:
        raise Refusal("collector_missing", "Write down who takes it back.", "who")
    unlisted = _check_collector(entry, order, collector, vouched, brought=True)
    if not initials.strip():
        raise Refusal("mark_missing", "Whoever takes it back types initials.", "initials")
    entry.move(left, state=PieceState.COLLECTED, place=sink("collected"), cold=True)
    made = _write_release(entry, order, collector, initials)
    return Answer(f"{animal.label}: handed back to {collector}{unlisted}.", {"release": made.pk})


def _left_of_ended(animal: Animal) -> list[Piece]:
    """What is still here of an animal that ended early. Raises Refusal `not_ended` or `nothing_left`."""
    if animal.ended not in ("refused", "spoiled"):
        raise Refusal("not_ended", f"{animal.label} is neither refused nor spoiled.")
    left = list(animal.pieces.exclude(state__in=ENDED).select_related("animal", "order", "container"))
    if not left:
        raise Refusal("nothing_left", f"Nothing of {animal.label} is here any more.")
    return left
