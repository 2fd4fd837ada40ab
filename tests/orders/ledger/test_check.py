"""The ledger's check: silent about a whole job, and each thing that can be spoiled is named."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection, transaction
from django.db.models import F

from orders.intake.models import Animal, Order
from orders.ledger import check, triggers
from orders.ledger.check import problems
from orders.ledger.entry import By
from orders.ledger.models import Event, Hold, Movement, Piece, Run, RunLine, Weighing
from orders.ledger.voids import void_event
from orders.packing.models import Package
from orders.pickup.actions import close_order, notify, release
from orders.pickup.models import Release
from shop.codes import Kind, make_code
from shop.models import Counter
from shop.weights import Reading
from tests.scenario import Scenario


@pytest.fixture
def shop(scenario: Scenario, by: Callable[[str], By]) -> Scenario:
    """One deer collected, one stored, one open at the block, an elk in pieces, and a weight taken back."""
    done = scenario.deer(tag="A-1")
    box = scenario.stored(done)
    antlers = done.pieces.get(kind="kept")
    notify(done.order, by=by("counter"), how="called")
    release(done.order, by=by("counter"), pieces=(box, antlers), collector="Rowan Sedgewick", initials="RS")
    close_order(done.order, by=by("counter"))
    scenario.stored(scenario.deer(tag="A-2"))
    scenario.opened(scenario.deer(tag="A-3"))
    elk = scenario.elk()
    weighed = Event.objects.filter(animal=elk, verb="bring_piece").first()
    void_event(weighed, by=by("counter"), reason="the wrong quarter")
    return scenario


def test_it_is_silent_about_a_whole_job(shop: Scenario) -> None:
    assert problems() == []
    states = set(Order.objects.values_list("state", flat=True))
    assert states == {"collected", "ready", "cutting", "received"}


def test_it_reads_a_fixed_number_of_times(
    shop: Scenario, django_assert_num_queries: Any, django_assert_max_num_queries: Any
) -> None:
    """More animals must not mean more queries."""
    with django_assert_max_num_queries(60) as first:
        problems()
    shop.stored(shop.deer(tag="A-9"))
    with django_assert_num_queries(len(first)):
        problems()


def _first(model: Any, **wanted: Any) -> Any:
    return model.objects.filter(**wanted).order_by("pk").first()


def _set(model: Any, wanted: dict[str, Any], **values: Any) -> Callable[[], Any]:
    """Change the first row that is wanted, past every action and trigger."""
    return lambda: model.objects.filter(pk=_first(model, **wanted).pk).update(**values)


def _copy(model: Any, wanted: dict[str, Any], **values: Any) -> Callable[[], Any]:
    def spoil() -> None:
        row = _first(model, **wanted)
        row.pk = None
        for name, value in values.items():
            setattr(row, name, value() if callable(value) else value)
        row.save(force_insert=True)

    return spoil


def _other_order() -> Any:
    return _first(Order, animals__tag_no="A-2")


def _other_animal() -> Any:
    return _first(Animal, tag_no="A-2")


def _refused() -> Any:
    """A refused event, made past every action."""
    event = _first(Event)
    event.pk, event.uid = None, "00000000-0000-4000-8000-000000000001"
    event.outcome, event.refusal, event.voids = "refused", "because", None
    event.save(force_insert=True)
    return event


def _from_now_refused(model: Any) -> Callable[[], Any]:
    return lambda: model.objects.filter(pk=_first(model).pk).update(event=_refused().uid)


def _to(model: Any, wanted: dict[str, Any], name: str, value: Callable[[], Any]) -> Callable[[], Any]:
    return lambda: model.objects.filter(pk=_first(model, **wanted).pk).update(**{name: value()})


def _voids(uid: Callable[[], Any], **wanted: Any) -> Callable[[], Any]:
    return _to(Event, wanted, "voids", uid)


def _unpacked() -> None:
    Package.objects.filter(pk=_first(Package).pk).delete()


def _heavier_packs() -> None:
    """Every pack of one animal ten times as heavy, right in each single reading."""
    for weighing in Weighing.objects.filter(point="pack", animal=_first(Animal, tag_no="A-2")):
        weighing.gross, weighing.net = weighing.gross * 10, weighing.net * 10
        weighing.mg = Reading(weighing.net, weighing.unit, weighing.decimals).mg
        weighing.save()


SPOILED: dict[str, tuple[Callable[[], Any], str]] = {
    "a cached state": (_set(Piece, {"kind": "box"}, state="packed"), "but its movements end at"),
    "a cached place": (
        _to(Piece, {"state": "received"}, "place", lambda: _first(Piece, state="used").place),
        "but its movements end at",
    ),
    "a movement that begins elsewhere": (
        _set(Movement, {"state_from": "received"}, state_from="waiting"),
        "begins at",
    ),
    "a movement after the end": (
        _copy(
            Movement,
            {"state_to": "used"},
            state_from="used",
            state_to="waiting",
            place_from_id=lambda: _first(Movement, state_to="used").place_to_id,
        ),
        "moves what was used already",
    ),
    "a piece without a movement": (
        _copy(Piece, {"kind": "lug"}, code=lambda: make_code(Kind.LUG, 1_000)),
        "has no movement",
    ),
    "a pack in another order's box": (
        _to(
            Piece,
            {"kind": "package", "animal__tag_no": "A-2"},
            "container",
            lambda: _first(Piece, kind="box", order__animals__tag_no="A-1"),
        ),
        "is in a box of order",
    ),
    "a pack in a lug": (
        _to(Piece, {"kind": "package"}, "container", lambda: _first(Piece, kind="lug")),
        "is in something that is not a box",
    ),
    "a pack out of a box that left": (
        _copy(
            Movement,
            {"piece__kind": "package", "container_to__state": "collected"},
            container_from_id=lambda: _first(Piece, kind="box", state="collected").pk,
            container_to_id=None,
            place_to_id=lambda: _first(Piece, state="used").place_id,
        ),
        "out of a box that had ended before",
    ),
    "an open run with nothing on its table": (
        _set(Piece, {"state": "table"}, state="hanging"),
        "but what went into it",
    ),
    "a piece on no table": (_set(Piece, {"state": "received"}, state="table"), "but in no open run"),
    "a fingerprint": (_set(Event, {"verb": "pack"}, payload_hash="0" * 64), "is not that of its payload"),
    "an event without a payload": (_set(Event, {"verb": "pack"}, data={}), "is not that of its payload"),
    "a time in the future": (
        lambda: Event.objects.filter(pk=_first(Event).pk).update(at=F("received_at") + timedelta(hours=1)),
        "after it was received",
    ),
    "an event about two orders": (
        _to(Event, {"verb": "open_animal"}, "order", _other_order),
        "and an animal of order",
    ),
    "a movement of a refused event": (_from_now_refused(Movement), "left movement"),
    "a weighing of a refused event": (_from_now_refused(Weighing), "left weighing"),
    "a line of a refused event": (_from_now_refused(RunLine), "left run line"),
    "a void of a void": (
        _voids(lambda: _first(Event, verb="void_event").uid, verb="add_animal"),
        "voids what it cannot void",
    ),
    "a void that names nothing": (_voids(lambda: None, verb="void_event"), "names nothing"),
    "a collected piece without a name": (
        lambda: Release.objects.all().delete(),
        "nobody's name is kept",
    ),
    "a piece collected with another order": (_to(Release, {}, "order", _other_order), "with another order"),
    "a hold released by halves": (
        lambda: Hold.objects.create(
            animal=_other_animal(),
            kind="tag",
            opened_at=_first(Event).at,
            opened_by=_first(Event).person,
            released_at=_first(Event).at,
        ),
        "by halves",
    ),
    "an animal's state": (_set(Animal, {"tag_no": "A-2"}, state="hanging"), "is kept as hanging"),
    "an order's state": (_set(Order, {"animals__tag_no": "A-2"}, state="hanging"), "is kept as hanging"),
    "a ready order without a time": (
        _set(Order, {"animals__tag_no": "A-2"}, ready_at=None),
        "ready since None",
    ),
    "since when it hangs": (_set(Animal, {"tag_no": "A-2"}, hung_at=None), "hung first at"),
    "a check digit": (_set(Run, {}, code="8000000001"), "One digit of this code is wrong"),
    "a kind of code": (_set(Run, {}, code=make_code(Kind.LUG, 77)), "is one of a lug"),
    "a code counter": (
        lambda: Counter.objects.filter(name="code-4").update(next=1),
        "The counter of package codes",
    ),
    "an order number": (_set(Order, {}, number="26-9999"), "should be number 1"),
    "a season's counter": (
        lambda: Counter.objects.filter(name__startswith="season-").update(next=1),
        "would give number",
    ),
    "a weighing's milligrams": (_set(Weighing, {}, mg=1), "is kept as"),
    "a weighing's unit": (_set(Weighing, {}, unit="st"), "cannot be read"),
    "a weighing of two animals": (
        _to(Weighing, {"animal__tag_no": "A-1"}, "animal", _other_animal),
        "is about one animal and of another's",
    ),
    "a weighing of no animal": (
        _set(Weighing, {"piece__isnull": False}, animal=None),
        "is about one animal and of another's",
    ),
    "a line of another's piece": (
        _to(
            RunLine,
            {"run__animal__tag_no": "A-1", "direction": "in"},
            "piece",
            lambda: _first(Piece, animal__tag_no="A-2"),
        ),
        "belongs to another animal or order than the run",
    ),
    "a line with another's weight": (
        _to(
            RunLine,
            {"weighing__piece__isnull": False},
            "weighing",
            lambda: _first(Weighing, animal__tag_no="A-3", piece__isnull=False),
        ),
        "carries the weight of another piece",
    ),
    "a piece without its pack": (_unpacked, "is a piece without a pack"),
    "a pack's number": (_set(Package, {}, n=900), "does not agree with its piece"),
    "a pack's owner": (
        _to(Package, {"animal__tag_no": "A-1", "n": 1}, "run", lambda: _first(Run, animal__tag_no="A-3")),
        "does not agree with its piece",
    ),
    "a pack out of nowhere": (
        _set(RunLine, {"what": "pack"}, direction="in"),
        "came out of no run",
    ),
    "pounds from nowhere": (_heavier_packs, "has more in packs than there was"),
}


def test_it_names_what_is_spoiled(shop: Scenario) -> None:
    """Each thing is spoiled in a savepoint of its own, and each check is set off by something."""
    silent, set_off = {}, set()
    for what, (spoil, sentence) in SPOILED.items():
        with transaction.atomic():
            with triggers.lifted(connection), connection.constraint_checks_disabled():
                spoil()
            found = {each: list(each()) for each in check.CHECKS}
            transaction.set_rollback(True)
        set_off |= {each for each, sentences in found.items() if any(sentence in said for said in sentences)}
        if not any(sentence in said for sentences in found.values() for said in sentences):
            silent[what] = found
    assert silent == {}
    assert set_off == set(check.CHECKS)


def test_the_command_says_that_all_agrees(shop: Scenario) -> None:
    said = StringIO()
    call_command("ledger_check", stdout=said)
    assert said.getvalue() == "The ledger agrees with itself.\n"


@pytest.mark.spoils_ledger
def test_the_command_ends_with_one_and_names_them(shop: Scenario) -> None:
    Order.objects.filter(pk=_other_order().pk).update(state="hanging")
    said, complained = StringIO(), StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("ledger_check", stdout=said, stderr=complained)
    assert ended.value.code == 1
    assert said.getvalue() == "Order 26-0002 is kept as hanging, but its animals say ready.\n"
    assert complained.getvalue() == "1 disagreements.\n"


@pytest.mark.django_db(transaction=True)
def test_it_keeps_no_writer_waiting() -> None:
    """It reads one moment without the write lock: another connection writes in the middle of it."""
    import threading

    written: list[int] = []

    def write() -> None:
        try:
            written.append(Counter.objects.create(name="meanwhile").next)
        finally:
            connection.close()

    with check._one_moment():
        assert Counter.objects.count() == 0
        thread = threading.Thread(target=write)
        thread.start()
        thread.join(10)
        assert Counter.objects.count() == 0
    assert written == [1]
    assert Counter.objects.count() == 1
