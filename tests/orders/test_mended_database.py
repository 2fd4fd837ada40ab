"""What a database of its own mind shows: races, text it cannot keep, rules it enforces, how often it is asked.

Each race is held open on purpose: whoever has looked waits a moment for the other to look too. Where the lock is
right the other cannot, and the wait ends by itself.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Callable
from contextlib import suppress
from typing import Any
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.utils import timezone

from orders.intake import actions as intake
from orders.intake.actions import end_animal, name_hunter, record_tag
from orders.intake.facts import HunterFacts, phone_e164
from orders.intake.models import Animal, Order, State
from orders.ledger.action import action
from orders.ledger.entry import Answer, By, Entry
from orders.ledger.models import Event, Piece, Run
from orders.ledger.refusal import Refusal
from orders.packing import actions as packing
from orders.packing.actions import bring_to_wrap, finish_wrap, new_box, put_in_box, store
from orders.packing.models import Package
from orders.pickup.actions import release
from orders.pickup.queries import leaving, pieces_left
from orders.yields.queries import animals_for_table, yields_of
from shop import signin
from shop.access import MAX_TRIES
from shop.models import LoginTry, Species, YieldFigure
from shop.weights import pounds
from tests.orders.floor.tablet import refused
from tests.orders.pools import grind_together, pool_in_box, two_deer
from tests.orders.test_races import at_once
from tests.orders.test_races import refused as refusals
from tests.scenario import Scenario

Stations = Callable[[str], By]
race = pytest.mark.django_db(transaction=True)


def wait_after(monkeypatch: pytest.MonkeyPatch, module: Any, name: str) -> None:
    """Whoever has looked waits up to a second for the other one to have looked too."""
    both, look = threading.Barrier(2), getattr(module, name)

    def looked(*args: Any, **facts: Any) -> Any:
        found = look(*args, **facts)
        with suppress(threading.BrokenBarrierError):
            both.wait(1)
        return found

    monkeypatch.setattr(module, name, looked)


# --- races ------------------------------------------------------------------------------------------------------


@race
def test_two_hunters_lugs_come_to_one_table_at_once(
    scenario: Scenario, by: Stations, monkeypatch: pytest.MonkeyPatch
) -> None:
    lugs = [scenario.cut(scenario.deer(tag=tag))["whole_cuts"] for tag in ("WT-1", "WT-2")]
    wait_after(monkeypatch, packing, "_run_at")
    results = at_once(
        *(lambda lug=lug: bring_to_wrap(Piece.objects.get(pk=lug.pk), by=by("wrap")) for lug in lugs)
    )
    assert refusals(results) in (["table_busy"], ["somebody_was_faster"])
    run = Run.objects.get(kind="wrap", closed_at=None)
    assert sorted(Piece.objects.filter(pk__in=[lug.pk for lug in lugs]).values_list("state", flat=True)) == [
        "table",
        "waiting",
    ]
    assert run.lines.count() == 1


@race
def test_one_tag_comes_in_on_two_orders_at_once(scenario: Scenario, monkeypatch: pytest.MonkeyPatch) -> None:
    orders = [scenario.order(), scenario.order("Marit Quillfeather", "406-555-0123")]
    wait_after(monkeypatch, intake, "refuse_tag_twice")
    spelled = zip(orders, ("WT-77", "wt 77"), strict=True)
    results = at_once(
        *(
            lambda order=order, tag=tag: answered(
                lambda: scenario.deer(Order.objects.get(pk=order.pk), tag=tag)
            )
            for order, tag in spelled
        )
    )
    assert refusals(results) == ["tag_taken"]
    assert Animal.objects.filter(tag_key="WT77").count() == 1


def answered(do: Callable[[], Animal]) -> Answer:
    return Answer(do().label)


@race
def test_one_tag_is_recorded_for_two_animals_at_once(
    scenario: Scenario, by: Stations, monkeypatch: pytest.MonkeyPatch
) -> None:
    animals = [scenario.deer(tag=""), scenario.deer(tag="")]
    wait_after(monkeypatch, intake, "refuse_tag_twice")
    results = at_once(
        *(lambda each=each: record_tag(each, by=by("counter"), tag_no="WT-77") for each in animals)
    )
    assert refusals(results) == ["tag_taken"]
    assert Animal.objects.filter(tag_key="WT77").count() == 1


@race
def test_the_last_try_is_used_once(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """With one try left, two at the same moment do not both get one."""
    key, checked = "password:clem:none", []
    LoginTry.objects.bulk_create(LoginTry(key=key, at=timezone.now()) for _ in range(MAX_TRIES - 1))
    wait_after(monkeypatch, signin, "too_many_tries")

    def wrong() -> bool:
        checked.append(1)
        return False

    def attempt() -> None:
        signin._attempt(key, wrong, wrong="wrong", wait="wait", at=None)

    said = {str(each) for each in at_once(attempt, attempt)}
    assert len(checked) <= 1
    assert said <= {"wrong", "wait"}
    assert "wait" in said
    assert LoginTry.objects.filter(key=key).count() == MAX_TRIES - 1 + len(checked)


@pytest.mark.django_db
def test_one_after_the_other_every_try_counts_and_waiting_counts_none(db: None) -> None:
    key, checked = "pin:7:3", []

    def wrong() -> bool:
        checked.append(1)
        return False

    said = []
    for _ in range(MAX_TRIES + 3):
        with pytest.raises(signin.SignInError) as refusal:
            signin._attempt(key, wrong, wrong="wrong", wait="wait", at=None)
        said.append(str(refusal.value))
    assert said == ["wrong"] * MAX_TRIES + ["wait"] * 3
    assert (len(checked), LoginTry.objects.filter(key=key).count()) == (MAX_TRIES, MAX_TRIES)


# --- text that a database does not keep -------------------------------------------------------------------------


@pytest.mark.parametrize("typed", ["+49 123456789012345", "+43 123456789012345", "+62 12345678901234567"])
def test_a_number_longer_than_e164_is_no_phone_number(
    scenario: Scenario, clerk_client: Client, typed: str
) -> None:
    """ITU-T E.164, 6.2.1: at most fifteen digits, the country code among them."""
    with pytest.raises(Refusal) as refusal:
        phone_e164(typed)
    assert refusal.value.code == "phone_wrong"
    order = scenario.order()
    facts = {"what": "new", "name": "Gerda Holm", "phone": typed, "sender_id": str(uuid4())}
    page = clerk_client.post(f"/orders/{order.number}/hunter/", facts)
    assert page.status_code == 422
    assert "is not a phone number" in page.content.decode()
    assert phone_e164("+49 1234567890") == "+491234567890"


def test_an_address_too_long_for_email_is_refused(scenario: Scenario, by: Stations) -> None:
    order = scenario.order()
    with refused("email_wrong"):
        name_hunter(order, by=by("counter"), facts=HunterFacts("Gerda Holm", email="a" * 250 + "@x.org"))
    name_hunter(order, by=by("counter"), facts=HunterFacts("Gerda Holm", email="a" * 60 + "@x.org"))
    assert Order.objects.get(pk=order.pk).hunter.email == "a" * 60 + "@x.org"


@pytest.mark.parametrize(
    "mark",
    [
        json.dumps(["\ud800"]),
        json.dumps(["\x00"]),
        json.dumps([[["\x00", 1]]]),
        "[[[" + "9" * 4000 + ",1]]]",
        *("[" * deep + "]" * deep for deep in (4, 300, 500, 700, 900)),
    ],
)
def test_a_mark_of_nonsense_is_refused(scenario: Scenario, clerk_client: Client, mark: str) -> None:
    deer = scenario.hung(scenario.deer())
    antlers = deer.pieces.get(kind="kept")
    sent = {"pieces": [antlers.pk], "collector": "Ines Vardal", "mark": mark, "sender_id": str(uuid4())}
    page = clerk_client.post(f"/orders/{deer.order.number}/pickup/", sent)
    assert page.status_code == 422
    assert "The mark did not arrive whole. Sign again." in page.content.decode()
    assert Piece.objects.get(pk=antlers.pk).state == "waiting"


def test_text_is_cleaned_before_it_is_kept_anywhere(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    end_animal(deer, by=by("counter"), ending="void", reason="twi\x00ce\ud800", raw_code="4\x002")
    event = Event.objects.get(verb="end_animal")
    assert event.shown == "26-0001 is void: twice?"
    assert event.data["payload"]["reason"] == "twice?"
    assert event.raw_code == "42"
    order = scenario.order()
    facts = HunterFacts("Ger\x00da Holm", address="3 Quarry\ud800 Road")
    name_hunter(order, by=by("counter"), facts=facts)
    hunter = Order.objects.get(pk=order.pk).hunter
    assert (hunter.name, hunter.search, hunter.address) == ("Gerda Holm", "gerda holm", "3 Quarry? Road")


# --- the database's own rules -----------------------------------------------------------------------------------


@action("break_a_rule")
def break_a_rule(entry: Entry, piece: Piece) -> Answer:
    entry.about(piece)
    Piece.objects.filter(pk=piece.pk).update(state="nonsense")
    return Answer("never said")


def test_a_rule_that_we_break_ourselves_is_a_fault_not_a_refusal(scenario: Scenario, by: Stations) -> None:
    piece = scenario.deer().pieces.get()
    with pytest.raises(IntegrityError, match="piece_state_known"):
        break_a_rule(piece, by=by("counter"))
    assert not Event.objects.filter(verb="break_a_rule").exists()
    assert Piece.objects.get(pk=piece.pk).state == "received"


def test_a_share_of_the_shop_s_own_is_at_most_the_whole(scenario: Scenario, owner_client: Client) -> None:
    figure = YieldFigure.objects.filter(species__code="white-tailed-deer").first()
    assert figure is not None
    with pytest.raises(IntegrityError, match="yield_figure_override_is_a_share"), transaction.atomic():
        YieldFigure.objects.filter(pk=figure.pk).update(override_bp=10_001)
    YieldFigure.objects.filter(pk=figure.pk).update(override_bp=10_000)
    scenario.deer()
    assert "26-0001" in owner_client.get("/yields/").content.decode()


# --- pools and filters ------------------------------------------------------------------------------------------


def test_a_species_filter_does_not_break_a_pool_apart(scenario: Scenario, by: Stations) -> None:
    order, white, mule = two_deer(scenario, species="mule-deer")
    grind_together(scenario, white, mule, out="51.5")
    pool_in_box(scenario, order, "25", "25")
    alone = scenario.deer(tag="WT-9")
    whole = {animal.pk for animal in (white, mule)}

    def groups(species: str) -> list[set[int]]:
        found = animals_for_table(order.season_id, Species.objects.get(code=species).pk)
        return [{animal.pk for animal in each.animals} for each in yields_of(found)]

    assert groups("white-tailed-deer") == [{alone.pk}, whole]
    assert groups("mule-deer") == [whole]
    assert groups("elk") == []
    (pooled,) = yields_of(animals_for_table(order.season_id, mule.species_id))
    assert pooled.account.packed_mg == 2 * pounds(25)
    assert pooled.estimate is not None
    assert pooled.estimate.weighed_mg == 2 * pounds("98.4")


# --- how often it is asked --------------------------------------------------------------------------------------


def boxed(scenario: Scenario, by: Stations, tag: str, many: int) -> tuple[Order, list[Piece]]:
    """A deer's packs in so many boxes on the shelf."""
    deer = scenario.deer(tag=tag)
    packs = scenario.packed(deer)
    boxes = []
    for n in range(many):
        box = new_box(deer.order, by=by("wrap")).fetch(Piece)
        put_in_box(box, by=by("wrap"), packages=tuple(packs[n::many]))
        store(box, by=by("freezer"), place=scenario.places.shelf)
        boxes.append(Piece.objects.get(pk=box.pk))
    return deer.order, boxes


def test_one_box_and_three_are_asked_for_and_handed_over_alike(
    scenario: Scenario, by: Stations, queries_of: Callable[[Callable[[], Any]], int]
) -> None:
    (small, one), (large, three) = boxed(scenario, by, "WT-1", 1), boxed(scenario, by, "WT-2", 3)
    assert queries_of(lambda: pieces_left(small)) == queries_of(lambda: pieces_left(large)) == 1
    assert queries_of(lambda: leaving(small)) == queries_of(lambda: leaving(large))

    def hand_over(order: Order, boxes: list[Piece]) -> Callable[[], Answer]:
        pieces = tuple(boxes)
        return lambda: release(
            order, by=by("counter"), pieces=pieces, collector="Rowan Sedgewick", initials="RS"
        )

    hand_over(*boxed(scenario, by, "WT-3", 1))()
    assert queries_of(hand_over(small, one)) == queries_of(hand_over(large, three))
    assert Order.objects.get(pk=large.pk).state == State.PARTLY_COLLECTED


def test_an_empty_box_is_nothing_that_is_left(scenario: Scenario, by: Stations) -> None:
    order, boxes = boxed(scenario, by, "WT-1", 1)
    new_box(order, by=by("wrap"))
    assert [piece for piece in pieces_left(order) if piece.kind == "box"] == boxes


def test_packs_of_a_pool_are_boxed_with_as_many_questions_as_their_animals(
    scenario: Scenario, by: Stations, queries_of: Callable[[Callable[[], Any]], int]
) -> None:
    order, first, second = two_deer(scenario)
    grind_together(scenario, first, second)
    run = bring_to_wrap(Piece.objects.get(order=order, contents="ground"), by=by("wrap")).fetch(Run)
    ids = scenario.pack(run, "grind-trim", "ground", *["1"] * 12)
    finish_wrap(run, by=by("wrap"), reason="the rest is packed tomorrow")
    boxes = [new_box(order, by=by("wrap")).fetch(Piece) for _ in range(2)]
    few, many = (tuple(Package.objects.filter(pk__in=part)) for part in (ids[:2], ids[2:]))

    def fill(box: Piece, packs: tuple[Package, ...]) -> Callable[[], Answer]:
        return lambda: put_in_box(box, by=by("wrap"), packages=packs)

    assert queries_of(fill(boxes[0], few)) == queries_of(fill(boxes[1], many))
    assert boxes[1].inside.count() == 10
