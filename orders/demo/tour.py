"""What the demo says of itself: who can log in, and what to try first."""

from __future__ import annotations

from collections.abc import Iterator

from django.db.models import Count

from orders.demo.hunters import people
from orders.demo.setup import NAME, PASSWORD
from orders.intake.models import Animal, Order, State
from orders.ledger.models import Hold, Piece, PieceKind, PieceState, Run, RunKind
from shop.codes import spaced
from shop.models import Person


def text() -> str:
    """The whole page, as plain lines."""
    return "\n".join((*_logins(), "", *_states(), "", *_tries(), ""))


def _logins() -> Iterator[str]:
    yield f"{NAME}: an invented shop. Every name, number and price in it is made up."
    yield ""
    yield f"Log in with the password {PASSWORD} (PIN and badge work on enrolled devices):"
    pins = {row["username"]: row["pin"] for row in people()["staff"]}
    for person in Person.objects.filter(username__in=pins).order_by("pk"):
        pin = pins[person.username]
        yield f"  {person.username:<8} {person.get_role_display():<8} PIN {pin}  badge {person.badge}  {person}"


def _states() -> Iterator[str]:
    rows = Order.objects.order_by().values_list("state").annotate(many=Count("pk"))
    counts = dict(rows)
    yield f"{sum(counts.values())} orders: " + ", ".join(
        f"{counts[state.value]} {state.label.lower()}" for state in State if counts.get(state.value)
    )


def _tries() -> Iterator[str]:
    yield "Try first (type a code where a scanner would scan it, in the box on every page):"
    for what, code in _codes():
        yield f"  {spaced(code)}   {what}"
    for what, path in _pages():
        yield f"  {path:<28} {what}"


def _codes() -> Iterator[tuple[str, str]]:
    collected = Piece.objects.filter(kind=PieceKind.PACKAGE, container__state=PieceState.COLLECTED).last()
    if collected is not None:
        yield "a pack that went home: back to its hunter, tag and every hand it passed", collected.code
    hanging = Piece.objects.filter(kind=PieceKind.CARCASS, state=PieceState.HANGING).first()
    if hanging is not None:
        yield f"a carcass on {hanging.place}", hanging.code
    box = Piece.objects.filter(kind=PieceKind.BOX, state=PieceState.STORED).last()
    if box is not None:
        yield f"a box in {box.place}, ready to be handed over", box.code
    lug = Piece.objects.filter(kind=PieceKind.LUG, state=PieceState.WAITING).last()
    if lug is not None:
        yield f"{lug.name}, on its way", lug.code


def _pages() -> Iterator[tuple[str, str]]:
    yield "the counter's board; as kit, bram or hazel the floor's", "/"
    for state, what in (
        (State.NOT_RECEIVED, "an animal whose tag is missing"),
        (State.READY, "ready, and its hunter not told yet"),
        (State.NOTIFIED, "told, not collected yet"),
        (State.PARTLY_COLLECTED, "one box went home, the rest waits"),
    ):
        order = Order.objects.filter(state=state).order_by("pk").first()
        if order is not None:
            yield what, f"/orders/{order.number}/"
    hold = Hold.objects.filter(released_at=None, kind="disease_test").select_related("animal__order").first()
    if hold is not None:
        yield "on hold for a disease test", f"/orders/{hold.animal.order.number}/"
    together = Order.objects.filter(grind_together=True, runs__kind=RunKind.GRIND).first()
    if together is not None:
        yield "two deer of one order, ground together", f"/orders/{together.number}/"
    run = (
        Run.objects.filter(kind=RunKind.CUT, closed_at=None)
        .select_related("animal__order", "station")
        .first()
    )
    if run is not None and run.animal is not None:
        yield f"open at {run.station} right now", f"/orders/{run.animal.order.number}/"
    elk = Animal.objects.filter(species__code="elk", arrived_as="pieces", state=State.HANGING).first()
    if elk is not None:
        yield "an elk as quarters and bags", f"/orders/{elk.order.number}/"
