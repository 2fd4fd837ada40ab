"""Handing over at the counter: what leaves, with whom, the mark, the money; and every refusal beside its field."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from orders.billing.actions import mark_paid, set_amount
from orders.intake.actions import record_order
from orders.ledger.entry import By
from orders.ledger.holds import open_hold
from orders.ledger.models import Event, Piece, PieceKind
from orders.ledger.refusal import Refusal
from orders.pickup.actions import check_mark
from orders.pickup.models import Release
from shop.codes import Kind, make_code
from tests.scenario import Scenario


@pytest.fixture
def ready(scenario: Scenario) -> Any:
    """A deer in one box, its antlers on a hook."""
    deer = scenario.deer()
    box = scenario.stored(deer)
    return deer.order, box, deer.pieces.get(kind=PieceKind.KEPT)


def post(client: Client, order: Any, **data: Any) -> Any:
    sent = {
        "do": "release",
        "sender_id": str(uuid4()),
        "collector": "Rowan Sedgewick",
        "initials": "RS",
        **data,
    }
    return client.post(f"/orders/{order.number}/pickup/", sent)


def refused(response: Any, code: str) -> str:
    """The page of a refusal: 422, recorded under its code; returns the text."""
    assert response.status_code == 422
    assert Event.objects.filter(verb="release", refusal=code).count() == 1
    assert not Release.objects.exists()
    return str(response.content.decode())


def test_a_box_and_the_antlers_are_handed_over_with_a_mark(clerk_client: Client, ready: Any) -> None:
    order, box, antlers = ready
    mark = [[[10, 20], [500, 900]], [[700, 0]]]
    response = post(clerk_client, order, pieces=[box.pk, antlers.pk], mark=json.dumps(mark), initials="")
    assert response.status_code == 302
    made = Release.objects.get()
    assert (made.collector, made.mark, made.initials) == ("Rowan Sedgewick", mark, "")
    assert set(Piece.objects.filter(state="collected").values_list("pk", flat=True)) == {box.pk, antlers.pk}
    order.refresh_from_db()
    assert order.state == "collected"
    text = clerk_client.get(response.headers["Location"]).content.decode()
    assert "Everything has been collected." in text
    assert f"/print/receipt/{made.pk}/" in text


def test_the_same_form_sent_twice_hands_over_once(clerk_client: Client, ready: Any) -> None:
    order, box, _ = ready
    sent = {"pieces": [box.pk], "sender_id": str(uuid4())}
    post(clerk_client, order, **sent)
    response = post(clerk_client, order, **sent)
    assert response.status_code == 302
    assert "Already done" in clerk_client.get(response.headers["Location"]).content.decode()
    assert Release.objects.count() == 1


def test_nobody_named(clerk_client: Client, ready: Any) -> None:
    order, box, _ = ready
    text = refused(post(clerk_client, order, pieces=[box.pk], collector=" "), "collector_missing")
    assert "Write down who collects it." in text
    assert f'value="{box.pk}" data-codes="{box.code} ' in text
    assert "checked" in text


def test_no_mark(clerk_client: Client, ready: Any) -> None:
    order, box, _ = ready
    text = refused(post(clerk_client, order, pieces=[box.pk], initials=""), "mark_missing")
    assert "The collector signs, or types initials." in text
    assert 'value="Rowan Sedgewick"' in text


def test_nothing_ticked(clerk_client: Client, ready: Any) -> None:
    text = refused(post(clerk_client, ready[0]), "nothing_chosen")
    assert "Scan or tick what leaves." in text


@pytest.mark.parametrize(
    "mark", ["{", "[[[2000,1],[3,4]]]", "[[1]]", '["ab"]', "[[[Infinity,1]]]", "7", "[" * 20_000]
)
def test_a_broken_mark(clerk_client: Client, ready: Any, mark: str) -> None:
    order, box, _ = ready
    response = post(clerk_client, order, pieces=[box.pk], mark=mark, initials="")
    assert response.status_code == 422
    assert "The mark did not arrive whole. Sign again." in response.content.decode()
    assert not Release.objects.exists()


def test_a_mark_too_long_is_refused() -> None:
    with pytest.raises(Refusal) as refusal:
        check_mark([[[1, 1]]] * 201)
    assert refusal.value.code == "mark_wrong"
    with pytest.raises(Refusal):
        check_mark([[[1, 1]] * 5001])
    assert check_mark([[], [[0, 1000]]]) == [[[0, 1000]]]


def test_money_owed_is_asked_about_once(clerk_client: Client, ready: Any, by: Callable[[str], By]) -> None:
    order, box, _ = ready
    set_amount(order, by=by("counter"), cents=8_550)
    text = refused(post(clerk_client, order, pieces=[box.pk]), "still_owed")
    assert "$85.50 is still owed." in text
    assert post(clerk_client, order, pieces=[box.pk], owed_confirmed="on").status_code == 302
    assert Release.objects.count() == 1


def test_a_hold_stops_it_whoever_confirms(
    clerk_client: Client, owner_client: Client, ready: Any, by: Callable[[str], By]
) -> None:
    order, box, _ = ready
    open_hold(order.animals.get(), by=by("counter"), kind="recall", note="")
    page = clerk_client.get(f"/orders/{order.number}/pickup/").content.decode()
    assert "Cannot leave: on hold: recall." in page
    for client in (clerk_client, owner_client):
        response = post(client, order, pieces=[box.pk], owed_confirmed="on")
        assert response.status_code == 422
        assert "is on hold: recall" in response.content.decode()
    assert Event.objects.filter(refusal="on_hold", verb="release").count() == 2


def test_another_order_s_box_cannot_be_ticked(clerk_client: Client, ready: Any, scenario: Scenario) -> None:
    other = scenario.stored(scenario.deer(scenario.order("Marit", "406-555-0123"), tag="WT-2"))
    response = post(clerk_client, ready[0], pieces=[other.pk])
    assert response.status_code == 422
    assert "Something that was ticked has left already. Look again." in response.content.decode()


@pytest.mark.parametrize("pieces", [["abc"], ["-1"], ["9" * 40], ["1\x00"]])
def test_nonsense_ticks_are_refused(clerk_client: Client, ready: Any, pieces: list[str]) -> None:
    assert post(clerk_client, ready[0], pieces=pieces).status_code == 422
    assert not Release.objects.exists()


def test_scanning_ticks_the_box_and_keeps_what_was_typed(clerk_client: Client, ready: Any) -> None:
    order, box, antlers = ready
    response = post(
        clerk_client, order, do="tick", scan=f"{box.code} {antlers.code}", collector="Ines Vardal"
    )
    text = response.content.decode()
    assert response.status_code == 200
    assert text.count(" checked>") == 2
    assert 'value="Ines Vardal"' in text
    assert not Event.objects.filter(verb="release").exists()


def test_a_pack_s_code_ticks_the_box_it_is_in(clerk_client: Client, ready: Any) -> None:
    order, box, _ = ready
    pack = box.inside.first()
    assert pack is not None
    text = post(clerk_client, order, do="tick", scan=pack.code).content.decode()
    assert "box 1 is ticked." in text


def test_scans_that_do_not_belong_here_say_why(clerk_client: Client, ready: Any, scenario: Scenario) -> None:
    order, box, _ = ready
    other = scenario.stored(scenario.deer(scenario.order("Marit", "406-555-0123"), tag="WT-2"))
    for scan, sentence in (
        (other.code, "26-0002’s, not 26-0001’s."),
        (box.code[:9] + str((int(box.code[9]) + 1) % 10), "One digit of this code is wrong."),
        ("hello", "is not one of our codes"),
        ("", "is not one of our codes"),
        (order.code, "is the code of one order. Scan the box, the pack or the kept part."),
        (make_code(Kind.BOX, 99_999), "this shop has nothing with this code"),
    ):
        response = post(clerk_client, order, do="tick", scan=scan)
        assert response.status_code == 422
        assert sentence in response.content.decode()


def test_what_cannot_leave_is_not_ticked_by_a_scan(
    clerk_client: Client, ready: Any, by: Callable[[str], By]
) -> None:
    order, box, _ = ready
    open_hold(order.animals.get(), by=by("counter"), kind="recall", note="")
    response = post(clerk_client, order, do="tick", scan=box.code)
    assert response.status_code == 422
    text = response.content.decode()
    assert "box 1 cannot leave: on hold: recall." in text
    assert "is ticked" not in text


def test_unfinished_meat_is_not_ticked_by_a_scan(clerk_client: Client, scenario: Scenario) -> None:
    deer = scenario.deer()
    lug = scenario.cut(deer)["grind_trim"]
    response = post(clerk_client, deer.order, do="tick", scan=lug.code)
    assert response.status_code == 422
    assert "lug 2, grind trim is not handed over by itself: it is waiting." in response.content.decode()


@pytest.mark.parametrize("scan", ["", "hello"])
def test_after_a_scan_the_page_waits_for_the_next_one(clerk_client: Client, ready: Any, scan: str) -> None:
    order, box, _ = ready
    for code in (scan, box.code):
        text = post(clerk_client, order, do="tick", scan=code).content.decode()
        assert re.search(r'<input[^>]* name="scan"[^>]* autofocus', text)
    # What was refused otherwise is found where it is.
    unsigned = post(clerk_client, order, pieces=[box.pk], initials="").content.decode()
    assert re.search(r'<input[^>]* name="initials"[^>]* autofocus', unsigned)
    assert unsigned.count(" autofocus") == 1


def test_a_very_long_scan_is_answered(clerk_client: Client, ready: Any) -> None:
    response = post(clerk_client, ready[0], do="tick", scan="7" * 50_000 + "\x00 é")
    assert response.status_code == 422
    assert "Our codes have ten digits; this one has 40." in response.content.decode()


def test_who_may_collect_is_shown_large(clerk_client: Client, ready: Any, by: Callable[[str], By]) -> None:
    order = ready[0]
    record_order(order, by=by("counter"), may_collect="Ines Vardal, Tobin Reyes")
    text = clerk_client.get(f"/orders/{order.number}/pickup/").content.decode()
    assert "<strong>Rowan Sedgewick</strong>" in text
    assert "<strong>Ines Vardal, Tobin Reyes</strong>" in text
    assert "(406) 555-0117" in text


def test_unfinished_meat_is_named(clerk_client: Client, scenario: Scenario) -> None:
    deer = scenario.deer()
    scenario.cut(deer)
    text = clerk_client.get(f"/orders/{deer.order.number}/pickup/").content.decode()
    assert "Not done yet" in text
    assert "lug 2, grind trim" in text
    # The antlers may leave on their own.
    assert "antlers" in text


def test_the_hunter_is_told(clerk_client: Client, ready: Any) -> None:
    order = ready[0]
    response = clerk_client.post(
        f"/orders/{order.number}/told/", {"how": "by phone", "sender_id": str(uuid4())}
    )
    assert response.status_code == 302
    order.refresh_from_db()
    assert order.state == "notified"
    assert Event.objects.get(verb="notify").shown == "26-0001: the hunter was told (by phone)."


def test_telling_before_it_is_ready_is_refused(clerk_client: Client, scenario: Scenario) -> None:
    order = scenario.deer().order
    response = clerk_client.post(f"/orders/{order.number}/told/", {"how": "by phone"})
    assert response.status_code == 422
    assert Event.objects.get(verb="notify").refusal == "not_ready"
    assert clerk_client.post(f"/orders/{order.number}/told/", {"how": "by pigeon"}).status_code == 422


def test_closing_with_anything_left_needs_a_reason(clerk_client: Client, ready: Any) -> None:
    order = ready[0]
    response = clerk_client.post(f"/orders/{order.number}/close/", {"reason": " "})
    assert response.status_code == 422
    assert "Still here or unaccounted for:" in response.content.decode()
    assert Event.objects.get(verb="close_order").refusal == "pieces_left"
    assert clerk_client.post(f"/orders/{order.number}/close/", {"reason": "Unclaimed."}).status_code == 302
    response = clerk_client.post(f"/orders/{order.number}/close/", {"reason": "Again."})
    assert response.status_code == 422
    assert Event.objects.filter(refusal="order_closed").count() == 1


def test_closing_when_nothing_was_handed_over(clerk_client: Client, scenario: Scenario) -> None:
    order = scenario.order()
    response = clerk_client.post(f"/orders/{order.number}/close/", {"reason": ""})
    assert response.status_code == 422
    assert Event.objects.get(verb="close_order").refusal == "nothing_left_yet"


def test_closing_with_money_owed(clerk_client: Client, ready: Any, by: Callable[[str], By]) -> None:
    order, box, antlers = ready
    set_amount(order, by=by("counter"), cents=100)
    post(clerk_client, order, pieces=[box.pk, antlers.pk], owed_confirmed="on")
    assert clerk_client.post(f"/orders/{order.number}/close/", {"reason": ""}).status_code == 422
    assert Event.objects.get(verb="close_order").refusal == "still_owed"
    mark_paid(order, by=by("counter"))
    assert clerk_client.post(f"/orders/{order.number}/close/", {"reason": ""}).status_code == 302


def test_the_floor_and_strangers_have_no_pickup(cutter_client: Client, client: Client, ready: Any) -> None:
    number = ready[0].number
    for path in ("pickup", "told", "close", "amount", "paid"):
        assert cutter_client.post(f"/orders/{number}/{path}/").status_code == 403
        assert client.post(f"/orders/{number}/{path}/").status_code == 302
    assert cutter_client.get("/pickup/").status_code == 403


def test_an_unknown_order_is_not_found(clerk_client: Client, db: None) -> None:
    for number in ("26-9999", "x", "9" * 3000):
        for path in ("pickup", "told", "close", "amount", "paid"):
            assert clerk_client.post(f"/orders/{number}/{path}/").status_code == 404
