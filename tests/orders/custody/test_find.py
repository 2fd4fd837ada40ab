"""The scan box: codes, order numbers, badges, and for counter and owner hunters, phones and tags."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any
from urllib.parse import quote

import pytest
from django.test import Client
from django.utils import timezone

from orders.intake.actions import new_order
from orders.intake.models import Order, Season
from orders.ledger.entry import By
from orders.ledger.models import PieceKind
from shop.codes import check_digit
from tests.scenario import Scenario


def lands(client: Client, typed: str) -> str:
    """Where the scan box leads, or the text of the page it shows."""
    response = client.get(f"/find/?q={quote(typed)}")
    return response.headers["Location"] if response.status_code == 302 else response.content.decode()


def test_each_kind_of_code_lands_on_its_thing(
    clerk_client: Client, scenario: Scenario, stations: Any
) -> None:
    deer = scenario.deer()
    box = scenario.stored(deer)
    package = deer.packages.first()
    lug = deer.pieces.filter(kind=PieceKind.LUG).first()
    carcass = deer.pieces.get(kind=PieceKind.CARCASS)
    run = deer.runs.first()
    assert package is not None
    assert lug is not None
    assert run is not None
    codes = [
        box.code,
        package.piece.code,
        lug.code,
        carcass.code,
        run.code,
        scenario.places.rail.code,
        stations.block.code,
    ]
    assert sorted(code[0] for code in codes) == list("2345678")
    for code in codes:
        assert lands(clerk_client, code) == f"/trail/{code}/"
    assert lands(clerk_client, deer.order.code) == f"/orders/{deer.order.number}/"


def test_a_code_is_read_with_spaces_as_it_is_printed(cutter_client: Client, scenario: Scenario) -> None:
    code = scenario.deer().pieces.get().code
    assert lands(cutter_client, f" {code[0]} {code[1:5]} {code[5:9]} {code[9]} ") == f"/trail/{code}/"


@pytest.mark.parametrize("typed", ["26-0001", "26-1", "1", "0001", " 26-0001 "])
def test_an_order_number_lands_on_the_order(clerk_client: Client, scenario: Scenario, typed: str) -> None:
    assert scenario.order().number == "26-0001"
    assert lands(clerk_client, typed) == "/orders/26-0001/"


def test_the_floor_lands_on_the_trail_of_an_order(cutter_client: Client, scenario: Scenario) -> None:
    order = scenario.order()
    assert lands(cutter_client, order.number) == f"/trail/{order.code}/"
    assert lands(cutter_client, order.code) == f"/trail/{order.code}/"


def test_an_animal_of_an_order_is_named_after_a_slash(clerk_client: Client, scenario: Scenario) -> None:
    order = scenario.order()
    scenario.deer(order, tag="WT-1")
    second = scenario.deer(order, tag="WT-2")
    assert lands(clerk_client, "26-0001/2") == f"/animals/{second.pk}/"
    assert lands(clerk_client, "1/2") == f"/animals/{second.pk}/"
    assert lands(clerk_client, "26-0001/9") == "/orders/26-0001/"


def test_a_bare_number_is_this_season_s(
    clerk_client: Client, scenario: Scenario, by: Callable[[str], By]
) -> None:
    long_ago = timezone.localdate() - timedelta(days=500)
    old = Season.objects.create(
        name="Old season", short="25", starts_on=long_ago, ends_on=long_ago + timedelta(days=90)
    )
    new_order(old, by=by("counter"))
    new_order(old, by=by("counter"))
    scenario.order()
    assert lands(clerk_client, "1") == "/orders/26-0001/"
    assert lands(clerk_client, "25-1") == "/orders/25-0001/"
    # Only the old season has a second one.
    assert lands(clerk_client, "2") == "/orders/25-0002/"


@pytest.mark.parametrize(
    "typed", ["rowan", "SEDGE", "Rówan Sedgewick", "406-555-0117", "(406) 555-0117", "5550117", "wt-10021"]
)
def test_a_hunter_a_phone_or_a_tag_lands_on_the_one_order(
    clerk_client: Client, scenario: Scenario, typed: str
) -> None:
    order = scenario.deer().order
    scenario.order("Marit Quillfeather", "406-555-0123")
    assert lands(clerk_client, typed) == f"/orders/{order.number}/"


@pytest.mark.parametrize("typed", ["rowan", "5550117", "wt-10021"])
def test_the_floor_does_not_find_hunters_phones_or_tags(
    cutter_client: Client, scenario: Scenario, typed: str
) -> None:
    scenario.deer()
    text = lands(cutter_client, typed)
    assert "Nothing here has the code or the order number" in text
    assert "Sedgewick" not in text


def test_several_matches_are_listed_newest_first(clerk_client: Client, scenario: Scenario) -> None:
    first, second = (
        scenario.order("Wren Okafor", "406-555-0131"),
        scenario.order("Ada Okafor", "406-555-0132"),
    )
    text = lands(clerk_client, "okafor")
    assert "2 orders match" in text
    assert text.index(second.number) < text.index(first.number)


def test_who_dropped_off_or_may_collect_is_found_too(
    clerk_client: Client, scenario: Scenario, by: Callable[[str], By]
) -> None:
    from orders.intake.actions import record_order

    order = scenario.order()
    record_order(order, by=by("counter"), dropped_off_by="Ines Vardal", may_collect="Tobin Reyes")
    assert lands(clerk_client, "vardal") == f"/orders/{order.number}/"
    assert lands(clerk_client, "Tobin") == f"/orders/{order.number}/"


def test_a_wrong_check_digit_says_so(cutter_client: Client, scenario: Scenario) -> None:
    code = scenario.deer().pieces.get().code
    wrong = code[:9] + str((int(code[9]) + 1) % 10)
    response = cutter_client.get(f"/find/?q={wrong}")
    assert response.status_code == 404
    assert "One digit of this code is wrong" in response.content.decode()


def test_an_unknown_code_says_what_it_would_be(cutter_client: Client, db: None) -> None:
    body = "400000099"
    text = lands(cutter_client, f"{body}{check_digit(body)}")
    assert "code of a package, but this shop has none with it" in text


def test_a_phone_number_that_is_a_code_too_shows_both(clerk_client: Client, scenario: Scenario) -> None:
    """Ten digits can be both; neither is hidden behind the other."""
    carcass = scenario.deer().pieces.get()
    other = scenario.order("Marit Quillfeather", "")
    other.hunter.phone = f"+1{carcass.code}"
    other.hunter.save(update_fields=["phone"])
    text = lands(clerk_client, carcass.code)
    assert f"/trail/{carcass.code}/" in text
    assert f"/orders/{other.number}/" in text


def test_a_badge_leads_to_the_person_or_to_the_sign_in(
    owner_client: Client, cutter_client: Client, people: Any
) -> None:
    people.cutter.badge = "402918773365"
    people.cutter.save(update_fields=["badge"])
    assert lands(owner_client, "402918773365") == f"/people/{people.cutter.pk}/"
    assert lands(cutter_client, "402918773365") == "/who/"
    assert "This badge belongs to nobody here" in lands(cutter_client, "402918773399")


@pytest.mark.parametrize(
    "typed",
    [
        "",
        " ",
        "\x00",
        "a\x00b",
        "%",
        "_",
        "'; drop table",
        "9" * 500,
        "26-" + "9" * 30,
        "99999999999999999",
        "/2",
        "²",
        "é" * 90,
    ],
)
def test_nonsense_gets_a_sentence(
    clerk_client: Client, cutter_client: Client, scenario: Scenario, typed: str
) -> None:
    scenario.order()
    for client in (clerk_client, cutter_client):
        response = client.get("/find/", {"q": typed})
        assert response.status_code == 404
        assert "Nothing found" in response.content.decode()


def test_matches_are_capped(clerk_client: Client, scenario: Scenario) -> None:
    order = scenario.order()
    orders = [
        Order(
            code=f"1{n:08d}{check_digit(f'1{n:08d}')}",
            season=order.season,
            seq=n,
            number=f"26-{n:04d}",
            created_at=order.created_at,
            created_by=order.created_by,
            hunter=order.hunter,
        )
        for n in range(900, 960)
    ]
    Order.objects.bulk_create(orders)
    try:
        assert lands(clerk_client, "sedgewick").count('class="found"') == 50
    finally:
        Order.objects.filter(seq__gte=900).delete()
