"""The counter's ways back: a piece, an ended animal, a closed order, a payment."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from orders.billing.actions import mark_paid, set_amount
from orders.intake.actions import end_animal
from orders.intake.models import Animal, Order
from orders.ledger.entry import By
from orders.ledger.holds import open_hold
from orders.ledger.models import Event, Piece
from orders.pickup.actions import close_order, haul_ended
from orders.pickup.models import Release
from tests.orders.floor.tablet import words
from tests.orders.pools import pieces_of_elk
from tests.scenario import Scenario

Stations = Callable[[str], By]


def send(client: Client, address: str, **typed: Any) -> Any:
    return client.post(address, {"sender_id": str(uuid4()), **typed})


def refusal_of(verb: str) -> str:
    """The code of the last event of this verb."""
    return Event.objects.filter(verb=verb).latest("id").refusal


# --- a piece written down by mistake ----------------------------------------------------------------------------


def test_a_quarter_is_taken_back_from_its_row(scenario: Scenario, clerk_client: Client) -> None:
    elk = pieces_of_elk(scenario, "EK-1", ("hind-quarter-left", "58.5"), ("head", "38"))
    quarter, head = elk.pieces.get(kind="quarter"), elk.pieces.get(kind="kept")
    page = clerk_client.get(f"/animals/{elk.pk}/").content.decode()
    assert f'action="/pieces/{quarter.pk}/void/"' in page
    assert f'action="/pieces/{head.pk}/void/"' in page
    unsaid = send(clerk_client, f"/pieces/{quarter.pk}/void/", reason=" ")
    assert unsaid.status_code == 422
    assert "Say why; the reason is kept." in words(unsaid)
    done = send(clerk_client, f"/pieces/{quarter.pk}/void/", reason="it was the right one")
    assert (done.status_code, done.url) == (302, f"/animals/{elk.pk}/")
    quarter.refresh_from_db()
    assert quarter.state == "void"
    rows = clerk_client.get(f"/animals/{elk.pk}/").context["pieces"]
    assert [row.piece for row in rows] == [head]


def test_a_piece_that_was_worked_is_refused_with_its_sentence_and_what_was_typed(
    scenario: Scenario, clerk_client: Client
) -> None:
    deer = scenario.hung(scenario.deer())
    carcass = deer.pieces.get(kind="carcass")
    page = clerk_client.get(f"/animals/{deer.pk}/").content.decode()
    assert f"/pieces/{carcass.pk}/void/" not in page
    assert f"/pieces/{deer.pieces.get(kind='kept').pk}/void/" in page
    refused = send(clerk_client, f"/pieces/{carcass.pk}/void/", reason="another deer")
    assert (refused.status_code, refusal_of("void_piece")) == (422, "not_voidable")
    assert "carcass is hanging: it cannot be taken back." in words(refused)
    kept = deer.pieces.get(kind="kept")
    long = send(clerk_client, f"/pieces/{kept.pk}/void/", reason="y" * 200)
    assert long.status_code == 422
    assert f'value="{"y" * 200}"' in long.content.decode()


def test_the_order_s_page_has_the_pieces_without_the_way_back(
    scenario: Scenario, clerk_client: Client
) -> None:
    elk = pieces_of_elk(scenario, "EK-1", ("hind-quarter-left", "58.5"))
    page = clerk_client.get(f"/orders/{elk.order.number}/").content.decode()
    assert "hind quarter, left" in page
    assert "/void/" not in page


# --- an animal that ended early ---------------------------------------------------------------------------------


@pytest.fixture
def ended(scenario: Scenario, by: Stations) -> Animal:
    """A deer that was refused at the door and is still there."""
    deer = scenario.deer()
    end_animal(deer, by=by("counter"), ending="refused", reason="warm, dirty")
    return deer


def test_a_refused_deer_is_handed_back_and_the_receipt_is_there(clerk_client: Client, ended: Animal) -> None:
    address = f"/animals/{ended.pk}/"
    assert "What became of it It is still here." in words(clerk_client.get(address))
    half = send(clerk_client, f"{address}hand-back/", collector="Ines Vardal", initials="")
    assert half.status_code == 422
    assert "Whoever takes it back types initials." in words(half)
    assert 'value="Ines Vardal"' in half.content.decode()
    unlisted = send(clerk_client, f"{address}hand-back/", collector="Ines Vardal", initials="IV")
    assert (unlisted.status_code, refusal_of("hand_back_ended")) == (422, "collector_not_listed")
    vouched = {"vouched_by": "the hunter said so on the phone"}
    done = send(clerk_client, f"{address}hand-back/", collector="Ines Vardal", initials="IV", **vouched)
    assert (done.status_code, done.url) == (302, address)
    made = Release.objects.get()
    assert (made.collector, made.initials) == ("Ines Vardal", "IV")
    page = clerk_client.get(address)
    assert "Handed back to Ines Vardal" in words(page)
    assert "It is still here." not in words(page)
    assert f"/print/receipt/{made.pk}/" in page.content.decode()
    receipt = clerk_client.get(f"/print/receipt/{made.pk}/")
    assert receipt.content.startswith(b"%PDF")
    again = send(clerk_client, f"{address}hand-back/", collector="Wren", initials="W")
    assert (again.status_code, refusal_of("hand_back_ended")) == (422, "nothing_left")
    assert "Nothing of 26-0001 is here any more." in words(again)


def test_the_same_form_sent_twice_hands_back_once(clerk_client: Client, ended: Animal) -> None:
    sent = {"sender_id": str(uuid4()), "who": "Rowan Sedgewick", "initials": "RS"}
    for _ in range(2):
        assert send(clerk_client, f"/animals/{ended.pk}/hand-back/", **sent).status_code == 302
    assert Release.objects.count() == 1


def test_what_spoiled_is_hauled_away(scenario: Scenario, by: Stations, clerk_client: Client) -> None:
    deer = scenario.hung(scenario.deer())
    end_animal(deer, by=by("counter"), ending="spoiled", reason="sour")
    address = f"/animals/{deer.pk}/"
    unsaid = send(clerk_client, f"{address}haul/", where="")
    assert unsaid.status_code == 422
    assert "Say who hauls it, or the ticket's number." in words(unsaid)
    done = send(clerk_client, f"{address}haul/", where="county landfill, ticket 7")
    assert (done.status_code, done.url) == (302, address)
    said = words(clerk_client.get(address))
    assert "26-0001 is hauled away: county landfill, ticket 7" in said
    assert set(deer.pieces.values_list("state", flat=True)) == {"hauled"}
    # Nothing of it can be weighed or taken back any more, so nothing is offered.
    assert [voidable for _, voidable in clerk_client.get(address).context["weighings"]] == [False] * 3
    carcass = deer.pieces.get(kind="carcass")
    assert "hauled away" in words(clerk_client.get(f"/trail/{carcass.code}/"))


def test_a_hold_stops_handing_back_and_says_so(
    scenario: Scenario, by: Stations, clerk_client: Client
) -> None:
    deer = scenario.deer()
    open_hold(deer, by=by("counter"), kind="disease_test")
    end_animal(deer, by=by("counter"), ending="spoiled", reason="sour")
    page = send(clerk_client, f"/animals/{deer.pk}/hand-back/", collector="Ines Vardal", initials="IV")
    assert (page.status_code, refusal_of("hand_back_ended")) == (422, "on_hold")
    assert "26-0001 is on hold: disease test pending." in words(page)
    assert 'value="Ines Vardal"' in page.content.decode()


def test_an_animal_that_goes_on_is_neither_handed_back_nor_hauled(
    scenario: Scenario, clerk_client: Client
) -> None:
    deer = scenario.deer()
    assert "What became of it" not in words(clerk_client.get(f"/animals/{deer.pk}/"))
    for road, facts in (("haul", {"where": "x"}), ("hand-back", {"collector": "x", "initials": "x"})):
        page = send(clerk_client, f"/animals/{deer.pk}/{road}/", **facts)
        assert page.status_code == 422
        assert "26-0001 is neither refused nor spoiled." in words(page)
    assert deer.pieces.get().state == "received"


# --- closed, and open again -------------------------------------------------------------------------------------


def test_a_closed_order_is_reopened_with_a_reason(
    scenario: Scenario, by: Stations, clerk_client: Client
) -> None:
    deer = scenario.deer()
    box = scenario.stored(deer)
    order = deer.order
    address = f"/orders/{order.number}/"
    assert "Reopen it" not in words(clerk_client.get(f"{address}pickup/"))
    close_order(order, by=by("counter"), reason="the wrong one")
    closed = words(clerk_client.get(f"{address}pickup/"))
    assert "The order is closed, and 2 things of it are still here." in closed
    assert "Reopen it" in closed
    assert "Hand over" not in closed
    stopped = send(
        clerk_client, f"{address}pickup/", do="release", pieces=[box.pk], collector="Wren", initials="W"
    )
    assert (stopped.status_code, refusal_of("release")) == (422, "order_closed")
    assert "26-0001 is closed. Reopen it first." in words(stopped)
    unsaid = send(clerk_client, f"{address}reopen/", reason="")
    assert unsaid.status_code == 422
    assert "Say why; the reason is kept." in words(unsaid)
    done = send(clerk_client, f"{address}reopen/", reason="closed the wrong one")
    assert (done.status_code, done.url) == (302, f"{address}pickup/")
    order.refresh_from_db()
    assert (order.closed_at, order.state) == (None, "ready")
    again = send(clerk_client, f"{address}reopen/", reason="closed the wrong one")
    assert (again.status_code, refusal_of("reopen_order")) == (422, "not_closed")
    assert "26-0001 is not closed." in words(again)


# --- not paid after all -----------------------------------------------------------------------------------------


def test_paid_is_taken_back_beside_the_amount(scenario: Scenario, by: Stations, clerk_client: Client) -> None:
    order = scenario.deer().order
    address = f"/orders/{order.number}/"
    early = send(clerk_client, f"{address}unpaid/", reason="the check came back")
    assert (early.status_code, refusal_of("unmark_paid")) == (422, "not_paid")
    assert "26-0001 is not paid." in words(early)
    set_amount(order, by=by("counter"), cents=11_250)
    mark_paid(order, by=by("counter"), how="check")
    assert "Not paid after all" in words(clerk_client.get(f"{address}pickup/"))
    unsaid = send(clerk_client, f"{address}unpaid/", reason="")
    assert unsaid.status_code == 422
    assert "Say why; the reason is kept." in words(unsaid)
    done = send(clerk_client, f"{address}unpaid/", reason="the check came back")
    assert (done.status_code, done.url) == (302, f"{address}pickup/")
    page = words(clerk_client.get(f"{address}pickup/"))
    assert "$112.50 owed" in page
    assert "Not paid after all" not in page


# --- who may, and what is not there -----------------------------------------------------------------------------


ROADS = ("/animals/{}/haul/", "/animals/{}/hand-back/", "/pieces/{}/void/")
ORDER_ROADS = ("/orders/{}/reopen/", "/orders/{}/unpaid/")


def test_these_ways_are_the_counter_s_and_the_office_s(
    scenario: Scenario, client: Client, cutter_client: Client, owner_client: Client
) -> None:
    deer = scenario.deer()
    piece, order = deer.pieces.get(), deer.order
    addresses = [road.format(deer.pk) for road in ROADS[:2]] + [ROADS[2].format(piece.pk)]
    addresses += [road.format(order.number) for road in ORDER_ROADS]
    for address in addresses:
        assert cutter_client.post(address).status_code == 403, address
        assert client.post(address).url.startswith("/login/"), address
        assert owner_client.get(address).status_code == 405, address
        assert owner_client.post(address).status_code == 422, address


@pytest.mark.parametrize("pk", ["0", "999999", "9" * 40])
def test_unknown_ids_are_not_found(clerk_client: Client, db: None, pk: str) -> None:
    for road in (*ROADS, *ORDER_ROADS):
        assert clerk_client.post(road.format(pk)).status_code == 404
    assert not Order.objects.exists()


def test_the_floor_s_trail_does_not_say_that_a_payment_was_taken_back(
    scenario: Scenario, by: Stations, clerk_client: Client, cutter_client: Client
) -> None:
    order = scenario.deer().order
    set_amount(order, by=by("counter"), cents=11_250)
    mark_paid(order, by=by("counter"), how="check")
    send(clerk_client, f"/orders/{order.number}/unpaid/", reason="the check came back")
    assert "the check came back" in words(clerk_client.get(f"/trail/{order.code}/"))
    assert "the check came back" not in words(cutter_client.get(f"/trail/{order.code}/"))


def test_the_animal_page_asks_as_often_for_one_piece_as_for_three(
    scenario: Scenario, by: Stations, clerk_client: Client, queries_of: Callable[[Callable[[], Any]], int]
) -> None:
    few = pieces_of_elk(scenario, "EK-1", ("hind-quarter-left", "50"))
    many = pieces_of_elk(
        scenario, "EK-2", ("hind-quarter-left", "50"), ("neck", "12"), ("front-quarter-left", "40")
    )
    for elk in (few, many):
        end_animal(elk, by=by("counter"), ending="spoiled", reason="sour")
    haul_ended(few, by=by("counter"), where="county landfill")
    haul_ended(many, by=by("counter"), where="county landfill")
    clerk_client.get(f"/animals/{few.pk}/")
    one = queries_of(lambda: clerk_client.get(f"/animals/{few.pk}/"))
    assert queries_of(lambda: clerk_client.get(f"/animals/{many.pk}/")) == one
    assert Piece.objects.filter(state="hauled").count() == 4
