"""The counter's board and its orders, as a clerk sees and sends them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from orders.intake.actions import name_hunter, new_order, record_order
from orders.intake.facts import AnimalFacts, HunterFacts
from orders.intake.models import Animal, Order, Season
from orders.intake.queries import board, current_season, needing
from orders.ledger.holds import open_hold
from orders.ledger.models import Event
from orders.pickup.actions import notify
from tests.orders.intake.conftest import codes
from tests.scenario import Scenario

pytestmark = pytest.mark.django_db
Send = Callable[..., Any]
Count = Callable[[Client, str], int]


def needs(code: str) -> list[str]:
    found = Order.objects.filter(needing(code, timezone.now())).order_by("number")
    return list(found.values_list("number", flat=True))


# --- seasons and numbers --------------------------------------------------------------------------------------


def make_season(short: str, begins: int, ends: int) -> Season:
    today = timezone.localdate()
    return Season.objects.create(
        name=f"Season {short}",
        short=short,
        starts_on=today + timedelta(days=begins),
        ends_on=today + timedelta(days=ends),
    )


def test_the_season_that_runs_today_counts_else_the_newest(db: None) -> None:
    today = timezone.localdate()
    assert current_season(today) is None
    old = make_season("24", -700, -400)
    assert current_season(today) == old
    running = make_season("25", -30, 0)
    make_season("26", 10, 200)
    assert current_season(today) == running
    assert current_season(today + timedelta(days=1)).short == "26"


def test_new_order_gives_the_next_number_and_opens_it(
    counter: Client, season: Season, stations: Any, send: Send
) -> None:
    first, second = send(counter, "/orders/new/"), send(counter, "/orders/new/")
    assert (first.status_code, first.url) == (302, "/orders/26-0001/")
    assert second.url == "/orders/26-0002/"
    event = Event.objects.filter(verb="new_order").first()
    assert (event.person.username, event.station.step) == ("clem", "counter")


def test_the_same_form_sent_twice_is_one_order(counter: Client, season: Season, stations: Any) -> None:
    sent = {"sender_id": str(uuid4())}
    assert counter.post("/orders/new/", sent).url == counter.post("/orders/new/", sent).url
    assert Order.objects.count() == 1


def test_without_a_season_the_owner_opens_one_and_the_clerk_asks(
    counter: Client, office: Client, catalog: Any, send: Send
) -> None:
    asked = send(counter, "/orders/new/")
    assert (asked.status_code, asked.templates[0].name) == (409, "intake/no_season.html")
    assert send(office, "/orders/new/").url == "/season/new/"
    assert counter.get("/season/new/").status_code == 403
    dates = {"starts_on": "2026-09-01", "ends_on": "2027-02-28"}
    assert send(office, "/season/new/", name="2026-27", short="26", **dates).url == "/"
    assert Season.objects.get().short == "26"


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("name", {"name": "  "}),
        ("short", {"short": "2/6"}),
        ("short", {"short": "26"}),
        ("name", {"name": "Test season"}),
        ("ends_on", {"ends_on": "2026-09-01"}),
        ("starts_on", {"starts_on": "soon"}),
    ],
)
def test_a_season_typed_wrong_is_refused_beside_its_field_and_kept(
    office: Client, season: Season, catalog: Any, field: str, typed: dict[str, str]
) -> None:
    sent = {"name": "Next", "short": "27", "starts_on": "2026-09-01", "ends_on": "2027-02-28", **typed}
    answer = office.post("/season/new/", sent)
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [field]
    assert answer.context["form"][field].value() == sent[field]
    assert Season.objects.count() == 1


# --- today ----------------------------------------------------------------------------------------------------


def test_the_floor_is_sent_to_its_own_page(floor: Client, stations: Any) -> None:
    assert floor.get("/").url == "/floor/"


def test_the_board_says_what_is_needed(scenario: Scenario, by: Any) -> None:
    clerk = by("counter")
    untagged = scenario.deer(scenario.order(), tag="")
    unnamed = new_order(scenario.season, by=clerk).fetch(Order)
    no_phone = scenario.order("Wren Hollis", "")
    held = scenario.deer(scenario.order(), tag="WT-2")
    open_hold(held, by=clerk, kind="deposit")
    ready = scenario.deer(scenario.order(), tag="WT-3")
    scenario.stored(ready)
    promised = scenario.order()
    record_order(promised, by=clerk, promised_on=timezone.localdate() - timedelta(days=1))
    assert needs("tag") == [untagged.order.number]
    assert needs("cuts") == [untagged.order.number, held.order.number]
    assert needs("phone") == [unnamed.number, no_phone.number]
    assert needs("held") == [held.order.number]
    assert needs("tell") == [ready.order.number]
    assert needs("late") == [promised.number]
    today = board(timezone.now())
    assert [(need.code, need.count) for need in today.needs] == [
        ("tag", 1),
        ("cuts", 2),
        ("phone", 2),
        ("held", 1),
        ("late", 1),
        ("tell", 1),
    ]
    assert {row.state: row.count for row in today.states if row.count} == {
        "booked": 3,
        "not_received": 1,
        "received": 1,
        "ready": 1,
    }
    assert (today.came_today, today.hanging, today.ready) == (3, 0, 1)
    notify(Order.objects.get(pk=ready.order_id), by=clerk, how="phone")
    assert needs("tell") == []


def test_what_hangs_beyond_its_limit_is_late(scenario: Scenario) -> None:
    animal = scenario.hung(scenario.deer())
    limit = animal.species.hang_limit_days
    hung = timezone.now() - timedelta(days=limit)
    Animal.objects.filter(pk=animal.pk).update(hung_at=hung + timedelta(minutes=5))
    assert needs("late") == []
    Animal.objects.filter(pk=animal.pk).update(hung_at=hung - timedelta(minutes=5))
    assert needs("late") == [animal.order.number]
    Animal.objects.filter(pk=animal.pk).update(hung_at=Event.objects.get(verb="finish_skinning").at)


def test_today_takes_as_many_queries_with_one_order_as_with_three(
    scenario: Scenario, counter: Client, queries_of: Count
) -> None:
    scenario.deer(scenario.order(), tag="")
    one = queries_of(counter, "/")
    for tag in ("WT-2", "WT-3"):
        scenario.deer(scenario.order(), tag=tag)
    scenario.order("Nobody Answers", "")
    assert queries_of(counter, "/") == one
    shown = counter.get("/").content.decode()
    assert "Nobody Answers" in shown


# --- the list -------------------------------------------------------------------------------------------------


def listed(client: Client, **asked: str) -> list[str]:
    return [row.record.number for row in client.get("/orders/", asked).context["table"].rows]


def test_orders_are_found_by_number_name_phone_and_tag(scenario: Scenario, counter: Client) -> None:
    scenario.deer(scenario.order("Rowan Sedgewick", "406-555-0117"), tag="WT-881")
    scenario.order("Åsa Nightingale", "406-555-0129")
    assert listed(counter) == ["26-0002", "26-0001"]
    assert listed(counter, q="0001") == ["26-0001"]
    assert listed(counter, q="sedg rowan") == ["26-0001"]
    assert listed(counter, q="asa") == ["26-0002"]
    assert listed(counter, q="(406) 555-0129") == ["26-0002"]
    assert listed(counter, q="wt-881") == ["26-0001"]
    assert listed(counter, q="100%") == []
    assert listed(counter, state="received") == ["26-0001"]
    assert listed(counter, needs="cuts") == ["26-0001"]
    assert listed(counter, sort="number") == ["26-0001", "26-0002"]


def test_a_filter_that_means_nothing_shows_no_rows_and_says_so(scenario: Scenario, counter: Client) -> None:
    scenario.order()
    answer = counter.get("/orders/", {"state": "lost"})
    assert (answer.status_code, codes(answer.context["form"])) == (422, {"state": ["invalid_choice"]})
    assert list(answer.context["table"].rows) == []
    assert counter.get("/orders/", {"q": "a\0b"}).status_code == 422


def test_the_list_is_capped_whatever_the_address_asks(scenario: Scenario, counter: Client) -> None:
    scenario.order()
    for asked in (
        {"per_page": "100000"},
        {"per_page": "-3"},
        {"page": "9" * 40},
        {"page": "x", "per_page": "y"},
    ):
        table = counter.get("/orders/", asked).context["table"]
        assert 1 <= table.paginator.per_page <= 200
        assert table.page.number == 1


def test_the_list_takes_as_many_queries_with_one_row_as_with_three(
    scenario: Scenario, counter: Client, queries_of: Count
) -> None:
    scenario.deer()
    one = queries_of(counter, "/orders/")
    for tag in ("WT-2", "WT-3"):
        scenario.deer(scenario.order(), tag=tag)
    assert queries_of(counter, "/orders/") == one
    assert len(listed(counter)) == 3


def test_the_list_as_a_file_holds_no_formula(scenario: Scenario, counter: Client) -> None:
    scenario.deer(scenario.order("=HYPERLINK(1)", "406-555-0129"))
    saved = counter.get("/orders/", {"save": "csv"})
    assert saved["Content-Type"].startswith("text/csv")
    rows = saved.content.decode("utf-8-sig").splitlines()
    assert rows[0] == "Order,Hunter,Phone,Animals,State,Came in,Promised for"
    assert rows[1].startswith("26-0001,'=HYPERLINK(1),(406) 555-0129,White-tailed deer,Received,")


# --- the order's page -----------------------------------------------------------------------------------------


def test_the_order_page_says_what_is_still_owed(scenario: Scenario, counter: Client, by: Any) -> None:
    order = new_order(scenario.season, by=by("counter")).fetch(Order)
    page = counter.get(f"/orders/{order.number}/")
    assert [owed.sentence for owed in page.context["owed"]] == ["Whose order it is."]
    name_hunter(order, by=by("counter"), facts=HunterFacts("Juniper Ashgrove"))
    scenario.deer(order, tag="", weight="", facts=AnimalFacts(tenderloin_left="field", keep_head="keep"))
    page = counter.get(f"/orders/{order.number}/")
    assert [owed.sentence for owed in page.context["owed"]] == [
        "Juniper Ashgrove's phone number.",
        "Juniper Ashgrove's address, for the register.",
    ]
    (row,) = page.context["animals"]
    assert [(owed.sentence, owed.stops) for owed in row["owed"]] == [
        ("The tag number, or a reason the shop allows.", True),
        ("Not weighed: carcass.", False),
        ("The cut sheet.", True),
        ("Whether the right tenderloin is there.", False),
        ("What becomes of: cape, hide, organs. Unanswered, it is kept.", False),
        ("Date and place of kill, for the register.", False),
        ("The license number, for the register.", False),
    ]


def test_the_order_page_shows_pieces_holds_and_refusals(scenario: Scenario, counter: Client) -> None:
    elk = scenario.elk()
    counter.post(f"/animals/{elk.pk}/hold/", {"kind": "deposit", "note": "half"})
    counter.post(f"/animals/{elk.pk}/tag/", {"tag_no": ""})
    page = counter.get(f"/orders/{elk.order.number}/").content.decode()
    assert "1 of 7" in page
    assert "7 of 7" in page
    assert "58.5 lb" in page
    assert elk.pieces.first().code[1:5] in page
    assert "Hold: Deposit" in page
    assert "Write down the tag number, or choose a reason that the shop allows." in page


def test_facts_of_the_order_are_saved_and_wrong_ones_kept(
    scenario: Scenario, counter: Client, send: Send
) -> None:
    order = scenario.order()
    address = f"/orders/{order.number}/facts/"
    assert send(counter, address, note="leave the shanks", rush="on").status_code == 302
    order.refresh_from_db()
    assert (order.note, order.rush) == ("leave the shanks", True)
    wrong = send(counter, address, note="n" * 81, promised_on="tomorrow-ish")
    assert (wrong.status_code, codes(wrong.context["facts_form"])) == (
        422,
        {"note": ["max_length"], "promised_on": ["invalid"]},
    )
    assert wrong.context["facts_form"]["promised_on"].value() == "tomorrow-ish"


def test_an_action_that_is_refused_answers_422_beside_its_field(
    scenario: Scenario, counter: Client, send: Send
) -> None:
    animal = scenario.deer()
    scenario.ground(animal)
    answer = send(counter, f"/orders/{animal.order.number}/facts/", grind_together="on")
    assert (answer.status_code, codes(answer.context["facts_form"])) == (
        422,
        {"grind_together": ["grind_began"]},
    )


def test_the_order_page_takes_as_many_queries_with_one_animal_as_with_three(
    scenario: Scenario, counter: Client, queries_of: Count
) -> None:
    order = scenario.order()
    scenario.deer(order)
    one = queries_of(counter, f"/orders/{order.number}/")
    for tag in ("WT-2", "WT-3"):
        scenario.deer(order, tag=tag)
    assert queries_of(counter, f"/orders/{order.number}/") == one
    assert len(counter.get(f"/orders/{order.number}/").context["animals"]) == 3
