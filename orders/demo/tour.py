"""What the demo says of itself: who can log in, and what to try first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from django.db.models import Count, Max, QuerySet
from django.urls import reverse

from orders.cutsheets.models import CutLine
from orders.demo.hunters import people
from orders.demo.setup import NAME, PASSWORD
from orders.demo.story import BOX_MISSING
from orders.intake.models import Animal, Order, State
from orders.ledger.models import (
    Contents,
    Event,
    Hold,
    Piece,
    PieceKind,
    PieceState,
    Point,
    Run,
    RunKind,
    Weighing,
)
from orders.packing.models import Package
from orders.papers.common import day_time
from shop.codes import spaced
from shop.models import Person

# Where it is (a code to scan or an address), and what there is to see.
Stop = tuple[str, str]


def text() -> str:
    """The whole page, as plain lines."""
    counter = "At the counter, as clem or wren:"
    floor = (
        "On the floor, as kit, bram, sofia or hazel: tap a station, then scan, or type the code in the box:"
    )
    office = "In the office, as olive:"
    parts = [(counter, _counter()), (floor, _floor()), (office, _office())]
    tries = [line for title, stops in parts for line in ("", title, *_lines(stops))]
    return "\n".join((*_logins(), "", *_states(), "", "Try this first.", *tries, ""))


def _lines(stops: Iterable[Stop]) -> Iterator[str]:
    for where, what in stops:
        yield f"  {where:<24} {what}"


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
    last = Event.objects.aggregate(at=Max("at"))["at"]
    if last is not None:
        yield f"The shop stands as it did at its last work: {day_time(last)}."


def _order(order: Order) -> str:
    return reverse("order", args=[order.number])


def _in_state(state: State) -> QuerySet[Order]:
    return Order.objects.filter(state=state, closed_at=None).order_by("pk")


def _counter() -> Iterator[Stop]:
    yield "/", "what needs somebody today. Press “New order”: the number comes first, questions later"
    orders = (
        (_in_state(State.NOT_RECEIVED), "its tag is missing: it is here, and nothing is done with it"),
        (
            Order.objects.filter(events__refusal="untagged_birds"),
            "birds, turned away until the hunter had filled in their tag",
        ),
        (
            _held("disease_test"),
            "on hold for a disease test: nobody can work on it until the hold is released",
        ),
        (_elk_in_pieces(), "an elk as quarters and bags, each with its own tag and weight"),
        (_in_state(State.READY), "ready: say what it costs, tell the hunter"),
        (_in_state(State.NOTIFIED), "told: take the money, hand it over, print the receipt"),
        (_in_state(State.PARTLY_COLLECTED), "one box went home, the rest waits"),
        (Order.objects.filter(close_reason=BOX_MISSING), "closed with a box that nobody found, and why"),
    )
    split = _split()
    if split is not None:
        yield reverse("cut-sheet", args=[split.pk]), "a cut sheet with a split: half roast, half steaks"
    for found, what in orders:
        order = found.first()
        if order is not None:
            yield _order(order), what
    yield reverse("pickup"), "what waits to be collected, since when, and what is owed"


def _held(kind: str) -> QuerySet[Order]:
    holds = Hold.objects.filter(released_at=None, kind=kind)
    return Order.objects.filter(animals__holds__in=holds).order_by("pk")


def _elk_in_pieces() -> QuerySet[Order]:
    elk = Animal.objects.filter(species__code="elk", arrived_as="pieces", state=State.HANGING)
    return Order.objects.filter(animals__in=elk).order_by("pk")


def _split() -> Animal | None:
    """An animal with a split on its cut sheet, one that still hangs before any other."""
    split = CutLine.objects.filter(sheet__current=True, share_bp__lt=10_000, part__code="top-round")
    animals = Animal.objects.filter(cut_sheets__lines__in=split).order_by("pk")
    return animals.filter(state=State.HANGING, runs__kind=RunKind.SKIN).first() or animals.first()


def _floor() -> Iterator[Stop]:
    yield "/floor/", "what is next at this station, and why"
    lugs = Piece.objects.filter(kind=PieceKind.LUG, state=PieceState.WAITING).order_by("-id")
    carcass = _ready_to_cut().first()
    if carcass is not None:
        yield (
            spaced(carcass.code),
            f"a carcass on {carcass.place}: at Block 1 it opens, at Wrap 1 it is refused",
        )
    for contents, what in (
        (Contents.GRIND_TRIM, "grind trim, for the grinder"),
        (Contents.WHOLE_CUTS, "whole cuts, for the wrap table"),
    ):
        lug = lugs.filter(contents=contents).first()
        if lug is not None:
            yield spaced(lug.code), f"a lug of {what}"
    box = Piece.objects.filter(kind=PieceKind.BOX, state=PieceState.STORED).last()
    if box is not None:
        yield spaced(box.code), f"a box in {box.place}: scan it at the freezer door, then another shelf"
    run = Run.objects.filter(kind=RunKind.CUT, closed_at=None).select_related("animal__order", "station")
    for each in run[:1]:
        if each.animal is not None:
            yield reverse("floor-block", args=[each.pk]), f"{each.animal.label}, open at {each.station} now"


def _ready_to_cut() -> QuerySet[Piece]:
    """Carcasses that hang, skinned and with a cut sheet, held by nothing; the longest hanging first."""
    open_holds = Hold.objects.filter(released_at=None)
    found = Piece.objects.filter(kind=PieceKind.CARCASS, state=PieceState.HANGING)
    found = found.filter(animal__cut_sheets__current=True, animal__runs__kind=RunKind.SKIN)
    return found.exclude(animal__holds__in=open_holds).order_by("animal__hung_at", "id")


def _office() -> Iterator[Stop]:
    yield reverse("yields"), "where the pounds went: expected against packed, and the gaps"
    for found, what in (
        (_ground_together(), "two deer ground together, reckoned together"),
        (_not_weighed(), "a point that nobody weighed: no gap is made of it"),
        (_counted_only(), "packs that were counted, not weighed"),
        (_other_scales(), "a scale with kilograms and one with ounces"),
    ):
        animal = found.order_by("pk").first()
        if animal is not None:
            yield reverse("yield-detail", args=[animal.pk]), what
    for found, what in (
        (Animal.objects.filter(events__verb="void_event"), "a weight that was taken back, and the new one"),
        (Animal.objects.filter(state=State.SPOILED), "spoiled: ended early, with the reason"),
    ):
        animal = found.order_by("pk").first()
        if animal is not None:
            yield reverse("animal", args=[animal.pk]), what
    collected = Piece.objects.filter(kind=PieceKind.PACKAGE, container__state=PieceState.COLLECTED).last()
    if collected is not None:
        yield spaced(collected.code), "a pack that went home: back to hunter, tag and every hand it passed"
    yield reverse("register"), "the custody register, as a warden asks for it"


def _done() -> QuerySet[Animal]:
    return Animal.objects.filter(state__in=(State.READY, State.NOTIFIED, State.COLLECTED))


def _ground_together() -> QuerySet[Animal]:
    return _done().filter(order__grind_together=True, order__runs__kind=RunKind.GRIND)


def _not_weighed() -> QuerySet[Animal]:
    hung = Weighing.objects.filter(point=Point.HANGING, animal__isnull=False)
    return _done().filter(arrived_as="whole").exclude(pk__in=hung.values("animal"))


def _counted_only() -> QuerySet[Animal]:
    counted = Package.objects.filter(weighing=None, part__code="grind-trim", animal__isnull=False)
    return _done().filter(pk__in=counted.values("animal"))


def _other_scales() -> QuerySet[Animal]:
    lugs = Weighing.objects.filter(unit="kg", point=Point.LUG)
    packs = Weighing.objects.filter(unit="oz", point=Point.PACK)
    return _done().filter(pk__in=lugs.values("animal")).filter(pk__in=packs.values("animal"))
