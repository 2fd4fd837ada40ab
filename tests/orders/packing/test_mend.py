"""A pack that was lost or torn after its wrap, and a job that was finished too early: each has a way back."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from orders.floor.skin import start_skinning
from orders.intake.models import Animal, Order
from orders.ledger.entry import By
from orders.ledger.holds import open_hold, release_hold
from orders.ledger.models import Event, Piece, Run
from orders.ledger.voids import may_reopen, put_back, reopen_job
from orders.packing.actions import bring_to_wrap, finish_wrap, new_box, put_in_box, store, void_package
from orders.packing.models import Package
from orders.packing.table import table_sum
from orders.pickup.actions import close_order, notify, release
from orders.pickup.queries import pieces_to_hand_over
from shop.models import Step
from shop.places import add_station
from tests.orders.floor.tablet import Tablet, banner, last_event, refused, words
from tests.orders.pools import grind_together, pool_on_table, two_deer
from tests.orders.test_races import at_once
from tests.orders.test_races import refused as refused_codes
from tests.scenario import Scenario

Stations = Callable[[str], By]
TORN = {"reason": "Torn or leaking", "destroyed": True}
AGAIN = {"reason": "A pack is packed again"}


def fresh(thing: Any) -> Any:
    return type(thing)._default_manager.get(pk=thing.pk)


def where(piece: Piece) -> tuple[str, str]:
    piece = Piece.objects.select_related("place").get(pk=piece.pk)
    assert piece.place is not None
    return piece.state, piece.place.name


@pytest.fixture
def boxed(scenario: Scenario) -> tuple[Animal, Piece]:
    """A deer's packs in one box on its shelf: ready."""
    deer = scenario.deer()
    return deer, scenario.stored(deer)


def pack_of(animal: Animal, n: int = 7) -> Package:
    return Package.objects.select_related("piece", "run", "weighing").get(animal=animal, n=n)


# --- a pack after its wrap --------------------------------------------------------------------------------------


def test_a_torn_pack_comes_out_of_its_box_and_is_void(boxed: tuple[Animal, Piece], by: Stations) -> None:
    deer, box = boxed
    pack = pack_of(deer)
    with refused("reason_missing"):
        void_package(pack, by=by("freezer"), reason=" ", destroyed=True)
    with refused("label_not_destroyed"):
        void_package(pack, by=by("freezer"), reason="Torn or leaking")
    assert last_event().shown == "The wrap of pack 7 is finished. Destroy its label, then confirm it."
    assert fresh(pack.piece).container == box
    void_package(pack, by=by("freezer"), **TORN)
    assert where(pack.piece) == ("void", "Void")
    assert last_event().shown == "Pack 7 is void and out of box 1, its label destroyed: Torn or leaking"
    assert last_event().run == pack.run
    assert box.inside.count() == deer.packages.count() - 1
    assert (fresh(box).state, fresh(deer.order).state) == ("stored", "ready")
    # The job stays finished, and so does what was packed otherwise.
    assert fresh(pack.run).closed_at is not None


def test_a_pack_is_destroyed_once_whoever_comes_second(
    boxed: tuple[Animal, Piece], by: Stations, people: Any
) -> None:
    pack = pack_of(boxed[0])
    void_package(pack, by=by("counter"), **TORN)
    for person in (people.clerk, people.owner, people.cutter):
        with refused("not_voidable"):
            void_package(pack_of(boxed[0]), by=By(person, None, by("wrap").station), **TORN)


def test_a_held_pack_is_destroyed_all_the_same(boxed: tuple[Animal, Piece], by: Stations) -> None:
    """A hold keeps meat from being worked and handed over; a leaking pack is thrown away."""
    open_hold(boxed[0], by=by("counter"), kind="recall")
    void_package(pack_of(boxed[0]), by=by("freezer"), **TORN)
    assert fresh(pack_of(boxed[0]).piece).state == "void"


def test_what_has_left_or_is_closed_stays(boxed: tuple[Animal, Piece], by: Stations) -> None:
    deer, box = boxed
    alone = pack_of(deer, 1)
    void_package(pack_of(deer), by=by("freezer"), **TORN)
    release(deer.order, by=by("counter"), pieces=(fresh(box),), collector="Rowan Sedgewick", initials="RS")
    with refused("piece_ended"):
        void_package(alone, by=by("counter"), **TORN)
    close_order(fresh(deer.order), by=by("counter"), reason="the antlers stay")
    with refused("order_closed"):
        void_package(alone, by=by("counter"), **TORN)


def test_a_lost_pack_of_a_pool(scenario: Scenario, by: Stations) -> None:
    order, first, second = two_deer(scenario)
    grind_together(scenario, first, second)
    run = pool_on_table(scenario, order)
    ids = scenario.pack(run, "grind-trim", "ground", "24.5", "24.5")
    finish_wrap(run, by=by("wrap"))
    lost = Package.objects.get(pk=ids[0])
    void_package(lost, by=by("counter"), reason="Lost, nowhere to be found", destroyed=True)
    assert fresh(lost.piece).state == "void"


# --- a wrap that is opened again --------------------------------------------------------------------------------


def test_a_torn_pack_is_packed_again(boxed: tuple[Animal, Piece], scenario: Scenario, by: Stations) -> None:
    deer, box = boxed
    notify(deer.order, by=by("counter"), how="called")
    torn = pack_of(deer, 45)
    run, lugs = torn.run, list(deer.pieces.filter(kind__in=["lug", "tenderloin"], state="used"))
    void_package(torn, by=by("freezer"), **TORN)
    reopen_job(run, by=by("counter"), **AGAIN)
    assert last_event().shown == "26-0001: wrap is open again: A pack is packed again"
    assert (fresh(run).closed_at, fresh(run).close_reason) == (None, "")
    # Three lugs and bags of the wrap are on its table; the trim, which the grinder used up, is not.
    assert sorted(where(lug) for lug in lugs) == [("table", "Wrap 1")] * 3 + [("used", "Used up")]
    order = fresh(deer.order)
    # Whoever was told that it is ready is told again.
    assert (order.state, order.ready_at, order.notified_at) == ("wrapping", None, None)
    (made,) = scenario.pack(run, "grind-trim", "ground", "0.98")
    again = Package.objects.get(pk=made)
    assert (again.n, again.has_added_fat) == (46, "pork")
    finish_wrap(run, by=by("wrap"))
    put_in_box(fresh(box), by=by("freezer"), packages=(again,))
    assert fresh(deer.order).state == "ready"
    assert fresh(run).closed_at is not None
    assert sorted(where(lug) for lug in lugs) == [("used", "Used up")] * 4


def test_why_it_was_finished_before_stays_in_the_event(scenario: Scenario, by: Stations) -> None:
    run = bring_to_wrap(scenario.ground(scenario.deer())["ground"], by=by("wrap")).fetch(Run)
    finish_wrap(run, by=by("wrap"), reason="The dog had it")
    closed_at = fresh(run).closed_at
    reopen_job(run, by=by("wrap"), reason="It did not")
    assert last_event().data["before"] == {"closed_at": closed_at.isoformat(), "reason": "The dog had it"}


def test_what_is_still_missing_is_asked_for_again(boxed: tuple[Animal, Piece], by: Stations) -> None:
    deer, _ = boxed
    run = deer.runs.get(kind="wrap")
    for n in (44, 45):
        void_package(pack_of(deer, n), by=by("freezer"), **TORN)
    reopen_job(run, by=by("wrap"), **AGAIN)
    assert table_sum(run).packs == 43
    with refused("left_on_table"):
        finish_wrap(run, by=by("wrap"))
    assert "Where is the other 2.9 lb?" in last_event().shown


def test_opening_again_needs_a_reason_and_a_finished_job(
    scenario: Scenario, by: Stations, people: Any
) -> None:
    deer = scenario.deer()
    run = bring_to_wrap(scenario.ground(deer)["ground"], by=by("wrap")).fetch(Run)
    with refused("open_already"):
        reopen_job(run, by=by("wrap"), **AGAIN)
    finish_wrap(run, by=by("wrap"), reason="later")
    with refused("reason_missing"):
        reopen_job(run, by=by("wrap"), reason="")
    reopen_job(run, by=by("wrap"), **AGAIN)
    for person in (people.owner, people.clerk, people.cutter):
        with refused("open_already"):
            reopen_job(run, by=By(person, None, by("counter").station), **AGAIN)


def test_a_hold_keeps_a_wrap_closed(boxed: tuple[Animal, Piece], by: Stations) -> None:
    deer, _ = boxed
    run = deer.runs.get(kind="wrap")
    open_hold(deer, by=by("counter"), kind="disease_test")
    with refused("on_hold"):
        reopen_job(run, by=by("wrap"), **AGAIN)
    release_hold(deer.holds.get(), by=by("counter"), note="not detected")
    reopen_job(run, by=by("wrap"), **AGAIN)
    assert fresh(deer).state == "wrapping"


def test_a_hold_on_one_animal_keeps_the_wrap_of_the_pool_closed(scenario: Scenario, by: Stations) -> None:
    order, first, second = two_deer(scenario)
    grind_together(scenario, first, second)
    run = pool_on_table(scenario, order)
    scenario.pack(run, "grind-trim", "ground", "24.5", "24.5")
    finish_wrap(run, by=by("wrap"))
    open_hold(second, by=by("counter"), kind="recall")
    with refused("on_hold"):
        reopen_job(run, by=by("wrap"), **AGAIN)
    release_hold(second.holds.get(), by=by("counter"), note="another lot")
    reopen_job(run, by=by("wrap"), **AGAIN)
    assert fresh(run).closed_at is None


def test_a_closed_order_is_reopened_first(boxed: tuple[Animal, Piece], by: Stations) -> None:
    deer, _ = boxed
    close_order(deer.order, by=by("counter"), reason="given up")
    for kind in ("wrap", "cut"):
        with refused("order_closed"):
            reopen_job(deer.runs.get(kind=kind), by=by("counter"), **AGAIN)


def test_another_hunter_s_meat_on_the_table_comes_first(
    boxed: tuple[Animal, Piece], scenario: Scenario, by: Stations
) -> None:
    other = bring_to_wrap(scenario.ground(scenario.deer(tag="WT-2"))["ground"], by=by("wrap")).fetch(Run)
    run = boxed[0].runs.get(kind="wrap")
    with refused("table_busy"):
        reopen_job(run, by=by("wrap"), **AGAIN)
    assert last_event().shown == "26-0002 is on the table of Wrap 1. Finish it first."
    put_back(other, by=by("wrap"), reason="tapped by mistake")
    reopen_job(run, by=by("wrap"), **AGAIN)
    assert fresh(run).closed_at is None


def test_the_same_animal_s_other_wrap_is_finished_first(
    scenario: Scenario, by: Stations, people: Any
) -> None:
    deer = scenario.deer()
    lugs = scenario.ground(deer)
    run = bring_to_wrap(lugs["ground"], by=by("wrap")).fetch(Run)
    finish_wrap(run, by=by("wrap"), reason="the rest later")
    second = By(people.cutter, None, add_station("Wrap 2", Step.WRAP))
    bring_to_wrap(lugs["whole_cuts"], by=second)
    with refused("already_open"):
        reopen_job(run, by=by("wrap"), **AGAIN)


@pytest.mark.parametrize("kind", ["skin", "grind", "put back"])
def test_what_is_not_opened_again(scenario: Scenario, by: Stations, kind: str) -> None:
    deer = scenario.deer()
    if kind == "put back":
        run = start_skinning(deer.pieces.get(), by=by("skin")).fetch(Run)
        put_back(run, by=by("skin"), reason="another one")
        run = scenario.opened(fresh(deer))
        put_back(run, by=by("block"), reason="another one")
    else:
        scenario.ground(deer)
        run = deer.runs.get(kind=kind)
    assert not may_reopen(fresh(run))
    with refused("not_reopened"):
        reopen_job(run, by=by("block"), **AGAIN)


# --- two people at once -----------------------------------------------------------------------------------------


@pytest.mark.django_db(transaction=True)
def test_two_people_destroy_one_label(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    scenario.stored(deer)
    results = at_once(
        *[
            lambda step=step: void_package(pack_of(deer), by=by(step), **TORN)
            for step in ("counter", "freezer")
        ]
    )
    assert refused_codes(results) == ["not_voidable"]


@pytest.mark.django_db(transaction=True)
def test_two_people_open_one_wrap_again(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    scenario.stored(deer)
    run = deer.runs.get(kind="wrap")
    results = at_once(
        *[lambda step=step: reopen_job(fresh(run), by=by(step), **AGAIN) for step in ("counter", "wrap")]
    )
    assert refused_codes(results) == ["open_already"]
    assert Event.objects.filter(verb="reopen_job", outcome="ok").count() == 1


@pytest.mark.django_db(transaction=True)
def test_one_table_for_what_is_opened_again_and_what_is_brought(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    scenario.stored(deer)
    run, lug = deer.runs.get(kind="wrap"), scenario.ground(scenario.deer(tag="WT-2"))["ground"]
    results = at_once(
        lambda: reopen_job(fresh(run), by=by("wrap"), **AGAIN),
        lambda: bring_to_wrap(fresh(lug), by=by("wrap")),
    )
    assert refused_codes(results) == ["table_busy"]


# --- the pages --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("client", ["owner_client", "clerk_client", "cutter_client"])
def test_the_trail_leads_everybody_to_the_way_back(
    boxed: tuple[Animal, Piece], request: pytest.FixtureRequest, client: str
) -> None:
    browser: Client = request.getfixturevalue(client)
    deer, _ = boxed
    pack = pack_of(deer)
    page = browser.get(f"/trail/{pack.piece.code}/")
    assert f"/floor/packs/{pack.pk}/void/" in page.content.decode()
    run = pack.run
    page = browser.get(f"/trail/{run.code}/")
    assert f"/floor/runs/{run.pk}/reopen/" in page.content.decode()
    page = browser.post(f"/floor/packs/{pack.pk}/void/", {"reason_tile": "Torn or leaking"}, follow=True)
    assert (page.status_code, last_event().refusal) == (422, "label_not_destroyed")
    assert "Destroy its label, then confirm it." in banner(page)[1]
    assert 'value="Torn or leaking"' in page.content.decode()
    page = browser.post(
        f"/floor/packs/{pack.pk}/void/", {"reason_tile": "Torn or leaking", "confirmed": "on"}, follow=True
    )
    assert Tablet.landed(page) == f"/trail/{run.code}/"
    assert "Pack 7 is void and out of box 1" in words(page)
    page = browser.post(f"/floor/runs/{run.pk}/reopen/", {}, follow=True)
    assert (page.status_code, last_event().refusal) == (422, "reason_missing")
    page = browser.post(
        f"/floor/runs/{run.pk}/reopen/", {"reason_tile": "A pack is packed again"}, follow=True
    )
    assert Tablet.landed(page) == f"/floor/wrap/{run.pk}/"
    assert fresh(run).closed_at is None


def test_a_void_or_collected_pack_and_an_open_job_offer_no_way_back(
    boxed: tuple[Animal, Piece], by: Stations, clerk_client: Client
) -> None:
    deer, box = boxed
    torn, other = pack_of(deer), pack_of(deer, 8)
    void_package(torn, by=by("freezer"), **TORN)
    release(deer.order, by=by("counter"), pieces=(fresh(box),), collector="Rowan Sedgewick", initials="RS")
    for pack in (torn, other):
        assert "/void/" not in clerk_client.get(f"/trail/{pack.piece.code}/").content.decode()
    reopen_job(torn.run, by=by("wrap"), **AGAIN)
    for run in (torn.run, deer.runs.get(kind="skin"), deer.runs.get(kind="grind")):
        assert "/reopen/" not in clerk_client.get(f"/trail/{run.code}/").content.decode()
        if run.kind != "wrap":
            assert clerk_client.get(f"/floor/runs/{run.pk}/reopen/").status_code == 404


def test_a_box_that_is_emptied_is_nothing_to_fetch(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    run = bring_to_wrap(scenario.ground(deer)["ground"], by=by("wrap")).fetch(Run)
    (made,) = scenario.pack(run, "grind-trim", "ground", "20")
    finish_wrap(run, by=by("wrap"), reason="the rest later")
    box = new_box(deer.order, by=by("wrap")).fetch(Piece)
    put_in_box(box, by=by("wrap"), packages=(Package.objects.get(pk=made),))
    store(box, by=by("freezer"), place=scenario.places.shelf)
    void_package(Package.objects.get(pk=made), by=by("freezer"), **TORN)
    assert not box.inside.exists()
    # Nothing but the unpacked lug is left, and the box is not among what is handed over.
    assert Order.objects.get(pk=deer.order_id).state == "wrapping"
    assert [piece.name for piece in pieces_to_hand_over(deer.order)] == ["antlers"]
