"""Who collects: names that were given to the shop at once, anybody else only when the clerk says how they know."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from orders.intake.actions import end_animal, new_order, record_order
from orders.intake.models import Order
from orders.ledger.entry import By
from orders.ledger.models import Event
from orders.ledger.refusal import Refusal
from orders.papers.office import receipt
from orders.pickup.actions import hand_back_ended, release
from orders.pickup.models import Release
from orders.pickup.who import may_collect
from tests.scenario import Scenario

CALLED = "the hunter said so on the phone"


@pytest.fixture
def ready(scenario: Scenario, by: Callable[[str], By]) -> Any:
    """A deer in one box; besides its hunter Ines Vardal may collect, and a brother who was not named."""
    deer = scenario.deer()
    box = scenario.stored(deer)
    record_order(
        deer.order,
        by=by("counter"),
        may_collect="Ines Vardal (wife) or his brother",
        dropped_off_by="Tobin Reyes",
    )
    return deer.order, box


def post(client: Client, order: Any, **data: Any) -> Any:
    sent = {"do": "release", "sender_id": str(uuid4()), "initials": "XX", **data}
    return client.post(f"/orders/{order.number}/pickup/", sent)


# --- the list --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "names", "described"),
    [
        ("", (), ()),
        ("Ines Vardal", ("Ines Vardal",), ()),
        ("Ines Vardal, Tobin Reyes", ("Ines Vardal", "Tobin Reyes"), ()),
        ("Ines Vardal and Tobin Reyes; Andor Oriel", ("Ines Vardal", "Tobin Reyes", "Andor Oriel"), ()),
        ("ines vardal & Tobin Reyes/Wren", ("ines vardal", "Tobin Reyes", "Wren"), ()),
        ("Ines Vardal (wife) 406-555-0123", ("Ines Vardal",), ()),
        ("his brother or the neighbor, Wren", ("Wren",), ("his brother", "the neighbor")),
        ("rowan  SEDGEWICK, Ines Vardal, Inès Vardal", ("Ines Vardal",), ()),
    ],
)
def test_names_as_clerks_write_them(
    scenario: Scenario, by: Callable[[str], By], said: str, names: tuple[str, ...], described: tuple[str, ...]
) -> None:
    order = scenario.order()
    record_order(order, by=by("counter"), may_collect=said)
    order.refresh_from_db()
    found = may_collect(order)
    assert found.names == ("Rowan Sedgewick", *names)
    assert found.described == described


def test_whoever_brought_it_takes_back_what_was_refused_and_no_more(ready: Any) -> None:
    order = Order.objects.get(pk=ready[0].pk)
    assert may_collect(order).names == ("Rowan Sedgewick", "Ines Vardal")
    assert may_collect(order, brought=True).names == ("Rowan Sedgewick", "Ines Vardal", "Tobin Reyes")


def test_a_name_is_the_same_however_it_is_written(ready: Any) -> None:
    order = Order.objects.get(pk=ready[0].pk)
    for written in ("ines  vardal", "INES VARDAL", " Inés Vardal "):
        assert may_collect(order).named(written) == "Ines Vardal"
    for other in ("Ines", "Vardal Ines", "his brother", ""):
        assert may_collect(order).named(other) == ""


# --- the action ------------------------------------------------------------------------------------------------


def hand_over(ready: Any, by: Callable[[str], By], collector: str, **more: Any) -> Release:
    order, box = ready
    answer = release(order, by=by("counter"), pieces=(box,), collector=collector, initials="XX", **more)
    return answer.fetch(Release)


def test_somebody_who_is_not_on_the_list_is_asked_about(ready: Any, by: Callable[[str], By]) -> None:
    for vouched in ("", "  "):
        with pytest.raises(Refusal) as refusal:
            hand_over(ready, by, "Wren Okafor", vouched=vouched)
        assert (refusal.value.code, refusal.value.field) == ("collector_not_listed", "vouched_by")
        assert refusal.value.sentence == (
            "Wren Okafor is not among those who may collect 26-0001: Rowan Sedgewick, Ines Vardal, his brother. "
            "Ask the hunter. If it is right all the same, say how you know."
        )
    assert Event.objects.filter(verb="release", refusal="collector_not_listed").count() == 2
    assert not Release.objects.exists()


def test_how_the_clerk_knew_is_kept_and_printed(ready: Any, by: Callable[[str], By]) -> None:
    made = hand_over(ready, by, "Wren Okafor", vouched=CALLED)
    event = Event.objects.get(verb="release", outcome="ok")
    assert event.data["vouched"] == CALLED
    assert event.shown == f"26-0001: handed over to Wren Okafor (not on the list: {CALLED})."
    assert (made.vouched, made.collected_by) == (CALLED, f"Wren Okafor (not on the list: {CALLED})")
    assert receipt(made)["note"] == f"Wren Okafor is not among those who may collect: {CALLED}."


def test_of_somebody_on_the_list_nothing_is_kept(ready: Any, by: Callable[[str], By]) -> None:
    made = hand_over(ready, by, "ines vardal", vouched=CALLED)
    assert "vouched" not in made.event.data
    assert Event.objects.get(verb="release").shown == "26-0001: handed over to ines vardal."
    assert (made.vouched, made.collected_by, receipt(made)["note"]) == ("", "ines vardal", "")


def test_an_order_without_a_hunter_is_asked_about_whoever_comes(
    scenario: Scenario, by: Callable[[str], By]
) -> None:
    order = new_order(scenario.season, by=by("counter")).fetch(Order)
    deer = scenario.deer(order)
    box = scenario.stored(deer)
    with pytest.raises(Refusal, match="may collect 26-0001: nobody is written down"):
        hand_over((order, box), by, "Rowan Sedgewick")


def test_an_animal_that_was_refused_goes_back_to_whoever_brought_it(
    scenario: Scenario, by: Callable[[str], By]
) -> None:
    deer = scenario.deer()
    record_order(deer.order, by=by("counter"), dropped_off_by="Tobin Reyes")
    end_animal(deer, by=by("counter"), ending="refused", reason="warm")
    with pytest.raises(Refusal) as refusal:
        hand_back_ended(deer, by=by("counter"), collector="Wren Okafor", initials="WO")
    assert refusal.value.code == "collector_not_listed"
    answer = hand_back_ended(deer, by=by("counter"), collector="Tobin Reyes", initials="TR")
    assert answer.shown == "26-0001: handed back to Tobin Reyes."


# --- the page --------------------------------------------------------------------------------------------------


def test_the_names_are_offered_and_one_of_them_is_enough(clerk_client: Client, ready: Any) -> None:
    order, box = ready
    page = clerk_client.get(f"/orders/{order.number}/pickup/")
    form = page.context["release_form"]
    assert [label for _, label in form.fields["who"].choices] == [
        "Rowan Sedgewick",
        "Ines Vardal",
        "Somebody else",
    ]
    assert "The hunter also said: his brother." in page.content.decode()
    # A name that was typed before another was chosen does not count.
    assert post(clerk_client, order, pieces=[box.pk], who="Ines Vardal", collector="Wren").status_code == 302
    assert Release.objects.get().collector == "Ines Vardal"


def test_somebody_else_is_named_and_vouched_for(clerk_client: Client, ready: Any) -> None:
    order, box = ready
    sent = {"pieces": [box.pk], "who": "somebody-else"}
    unnamed = post(clerk_client, order, **sent)
    assert unnamed.status_code == 422
    assert unnamed.context["release_form"].errors == {"collector": ["Write down the name."]}
    asked = post(clerk_client, order, **sent, collector="Wren Okafor")
    assert asked.status_code == 422
    assert list(asked.context["release_form"].errors) == ["vouched_by"]
    text = asked.content.decode()
    assert 'value="Wren Okafor"' in text
    assert "Wren Okafor is not among those who may collect 26-0001" in text
    note = {"vouched_by": "has the claim slip, ID seen", "vouched_note": "ID ends in 0142"}
    done = post(clerk_client, order, **sent, collector="Wren Okafor", **note)
    assert done.status_code == 302
    said = "has the claim slip, ID seen; ID ends in 0142"
    assert Release.objects.get().vouched == said
    page = clerk_client.get(f"/orders/{order.number}/pickup/").content.decode()
    assert f"</strong>, not on the list: {said}, by Clem Tansy" in " ".join(page.split())


def test_a_reason_that_is_none_of_the_list_is_refused(clerk_client: Client, ready: Any) -> None:
    order, box = ready
    sent = {"pieces": [box.pk], "who": "somebody-else", "collector": "Wren", "vouched_by": "because"}
    answer = post(clerk_client, order, **sent)
    assert answer.context["release_form"].errors == {
        "vouched_by": ["Choose one of these, or say it in words."]
    }
    assert post(clerk_client, order, pieces=[box.pk], who="Nobody Known").status_code == 422
    assert not Release.objects.exists()


def test_the_trail_and_the_register_say_it_too(
    clerk_client: Client, ready: Any, by: Callable[[str], By]
) -> None:
    order, box = ready
    hand_over(ready, by, "Wren Okafor", vouched=CALLED)
    said = f"Wren Okafor (not on the list: {CALLED})"
    for address in (f"/trail/{box.code}/", f"/trail/{order.code}/", "/register/"):
        assert said in clerk_client.get(address).content.decode(), address
