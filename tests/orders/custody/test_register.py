"""The custody register: every animal of a range of days, what is missing in words, and what became of each."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from orders.custody.queries import COLUMNS, RegisterRow, register_rows
from orders.intake.actions import add_animal, end_animal, record_order
from orders.intake.facts import AnimalFacts
from orders.intake.models import Animal
from orders.ledger.entry import By
from orders.pickup.actions import close_order, hand_back_ended, haul_ended, release
from shop.models import Species
from tests.conftest import Places
from tests.scenario import DEER, Scenario

WREN = {"collector": "Wren Okafor", "initials": "WO", "vouched": "the hunter said so on the phone"}
WREN_SAID = "Wren Okafor (not on the list: the hunter said so on the phone)"
INES = {"collector": "Ines Vardal", "initials": "IV", "vouched": "has the claim slip, ID seen"}


def rows() -> list[RegisterRow]:
    today = timezone.localdate()
    return register_rows(today - timedelta(days=1), today)


def test_the_columns_cover_what_states_ask_for() -> None:
    """14 CCR 711 (California): deliverer, taker with address, license and tag, place of kill, species, date received;
    41:06:03:11 (South Dakota): from whom, species and number, dates, owner and address, delivered to;
    50 CFR 20.82: number of each species, location taken, date received and disposed, from and to whom.
    """
    asked = {
        "from_whom", "taker", "address", "license", "tag", "kill_place", "species", "count", "date_in",
        "date_out", "to_whom",
    }  # fmt: skip
    assert asked <= set(COLUMNS)
    assert set(COLUMNS) == set(RegisterRow.__dataclass_fields__)


def test_a_complete_row(scenario: Scenario, by: Callable[[str], By]) -> None:
    today = timezone.localdate()
    facts = replace(DEER, killed_on=today, sample_no="", disease_test="none")
    deer = scenario.deer(facts=facts)
    record_order(deer.order, by=by("counter"), dropped_off_by="Ines Vardal", may_collect="Tobin Reyes")
    box = scenario.stored(deer)
    antlers = deer.pieces.get(kind="kept")
    release(deer.order, by=by("counter"), pieces=(box, antlers), collector="Tobin Reyes", initials="TR")
    (row,) = rows()
    assert row.missing == []
    assert row == RegisterRow(
        number="26-0001",
        date_in=today.isoformat(),
        from_whom="Ines Vardal",
        taker="Rowan Sedgewick",
        address="3 Quarry Road",
        license="L-2041",
        tag="WT-10021",
        species="White-tailed deer",
        sex="Male",
        count="1",
        killed_on=today.isoformat(),
        kill_place="Tamarack County, unit 4",
        sample="—",
        date_out=today.isoformat(),
        to_whom="Tobin Reyes",
    )


def test_what_is_missing_says_so_and_the_animal_is_still_listed(
    clerk_client: Client, scenario: Scenario
) -> None:
    scenario.deer(tag="", facts=AnimalFacts())
    (row,) = rows()
    assert row.missing == ["License", "Tag, or reason", "Killed", "Where killed"]
    assert (row.date_out, row.to_whom) == ("—", "here, at Counter")
    text = clerk_client.get("/register/").content.decode()
    assert text.count('<strong class="missing">MISSING</strong>') == 4
    assert "1 incomplete" in text


def test_a_missing_sample_number_is_missing_only_where_a_test_was_asked_for(scenario: Scenario) -> None:
    scenario.deer(facts=replace(DEER, disease_test="asked"))
    (row,) = rows()
    assert "Sample" in row.missing


def test_part_of_an_animal_left(scenario: Scenario, by: Callable[[str], By]) -> None:
    deer = scenario.deer()
    scenario.stored(deer)
    release(deer.order, by=by("counter"), pieces=(deer.pieces.get(kind="kept"),), **WREN)
    (row,) = rows()
    assert row.date_out == f"{timezone.localdate().isoformat()} in part"
    assert row.to_whom == f"{WREN_SAID}; the rest is here, at Shelf 1"


def test_a_box_counts_for_the_animals_in_it_only(scenario: Scenario, by: Callable[[str], By]) -> None:
    order = scenario.order()
    first, _second = scenario.deer(order, tag="WT-1"), scenario.deer(order, tag="WT-2")
    box = scenario.stored(first)
    release(order, by=by("counter"), pieces=(box,), **WREN)
    assert [row.to_whom for row in rows()] == [
        f"{WREN_SAID}; the rest is here, at Hook 1",
        "here, at Counter",
    ]


def test_what_is_in_the_shop_says_how_much_and_where(
    scenario: Scenario, by: Callable[[str], By], places: Places
) -> None:
    goose = Species.objects.get(code="canada-goose")
    add_animal(
        scenario.order(),
        by=by("counter"),
        species=goose,
        arrived_as="birds",
        facts=AnimalFacts(bird_count=4),
        place=places.rack,
        tag_no="CG-1",
    )
    scenario.elk(head=True)
    scenario.hung(scenario.deer(tag="WT-2"))
    scenario.cut(scenario.deer(tag="WT-3"))
    scenario.stored(scenario.deer(tag="WT-4"))
    assert [row.to_whom for row in rows()] == [
        "here: 4 birds, at Rack 1",
        "here: 7 pieces, at Counter",
        "here, at Hook 1, Rack 1 and Rail A",
        "here, at Block 1, Hook 1 and Rack 1",
        "here, at Hook 1 and Shelf 1",
    ]


@pytest.mark.parametrize("ending", ["refused", "spoiled", "void"])
def test_an_animal_that_ended_early_is_listed_with_its_reason(
    scenario: Scenario, by: Callable[[str], By], ending: str
) -> None:
    deer = scenario.deer()
    end_animal(deer, by=by("counter"), ending=ending, reason="sour at the bone")
    (row,) = rows()
    if ending == "void":
        assert (row.date_out, row.to_whom) == (timezone.localdate().isoformat(), "void: sour at the bone")
    else:
        assert (row.date_out, row.to_whom) == ("—", f"{ending}: sour at the bone; still here")


def test_what_was_refused_is_out_once_it_is_handed_back(scenario: Scenario, by: Callable[[str], By]) -> None:
    deer = scenario.deer()
    end_animal(deer, by=by("counter"), ending="refused", reason="warm and dirty")
    hand_back_ended(deer, by=by("counter"), **INES)
    (row,) = rows()
    assert row.date_out == timezone.localdate().isoformat()
    handed = "handed over to Ines Vardal (not on the list: has the claim slip, ID seen)"
    assert row.to_whom == f"refused: warm and dirty; {handed}"


def test_what_spoiled_is_out_once_it_is_hauled(
    scenario: Scenario, by: Callable[[str], By], at: Callable[[float], Any], queries_of: Callable[[Any], int]
) -> None:
    deer = scenario.hung(scenario.deer())
    antlers = deer.pieces.get(kind="kept")
    release(deer.order, by=by("counter"), pieces=(antlers,), **WREN, at=at(60))
    end_animal(deer, by=by("counter"), at=at(50), ending="spoiled", reason="sour at the bone")
    one = queries_of(rows)
    (row,) = rows()
    assert (row.date_out, row.to_whom) == (
        "—",
        f"spoiled: sour at the bone; handed over to {WREN_SAID}; still here",
    )
    haul_ended(deer, by=by("counter"), at=at(1), where="county landfill, ticket 7")
    (row,) = rows()
    assert row.date_out == timezone.localdate(at(1)).isoformat()
    assert row.to_whom == (
        f"spoiled: sour at the bone; handed over to {WREN_SAID}; hauled away: county landfill, ticket 7"
    )
    for tag in ("WT-2", "WT-3"):
        other = scenario.deer(tag=tag)
        end_animal(other, by=by("counter"), ending="spoiled", reason="sour")
        haul_ended(other, by=by("counter"), where="county landfill")
    assert queries_of(rows) == one


def test_an_order_closed_with_meat_left_says_why(scenario: Scenario, by: Callable[[str], By]) -> None:
    deer = scenario.deer()
    scenario.stored(deer)
    close_order(deer.order, by=by("counter"), reason="given to the food bank, unclaimed")
    (row,) = rows()
    assert row.to_whom == "order closed: given to the food bank, unclaimed"


def test_birds_are_counted(scenario: Scenario, by: Callable[[str], By]) -> None:
    add_animal(
        scenario.order(),
        by=by("counter"),
        species=Species.objects.get(code="mallard"),
        arrived_as="birds",
        facts=AnimalFacts(bird_count=6, kill_place="Slough Creek"),
        place=scenario.places.door,
        tag_no="B-7",
    )
    (row,) = rows()
    assert (row.species, row.count, row.sex) == ("Mallard", "6", "—")


def test_the_range_is_by_the_day_of_arrival_both_ends_included(
    scenario: Scenario, days_ago: Callable[[int], date], at: Callable[[float], Any]
) -> None:
    scenario.deer(tag="WT-1")
    assert [len(register_rows(days_ago(a), days_ago(b))) for a, b in ((0, 0), (1, 0), (2, 1))] == [1, 1, 0]


def test_the_screen_takes_a_range_and_keeps_what_was_typed(clerk_client: Client, scenario: Scenario) -> None:
    scenario.deer()
    today = timezone.localdate()
    text = clerk_client.get(
        "/register/", {"from": today.isoformat(), "to": today.isoformat()}
    ).content.decode()
    assert "WT-10021" in text
    for data, sentence in (
        ({"from": "yesterday"}, "This is not a day. Write it like 2026-11-14."),
        ({"from": "2026-11-20", "to": "2026-11-19"}, "The last day is before the first."),
        ({"from": "1999-01-01", "to": "2026-11-19"}, "Ask for 800 days at most at a time."),
    ):
        response = clerk_client.get("/register/", data)
        assert response.status_code == 422
        text = response.content.decode()
        assert sentence in text
        assert f'value="{data["from"]}"' in text


def test_the_register_is_saved_as_csv_with_missing_in_words(clerk_client: Client, scenario: Scenario) -> None:
    scenario.deer(tag="", facts=AnimalFacts(kill_place="=1+1"))
    response = clerk_client.get("/register/", {"save": "csv"})
    header, row = csv.reader(io.StringIO(response.content.decode("utf-8-sig")))
    assert header == list(COLUMNS.values())
    assert row[0] == "26-0001"
    assert row[6] == "MISSING"
    assert row[11] == "'=1+1"


def test_one_and_three_rows_take_the_same_queries(
    clerk_client: Client, scenario: Scenario, by: Callable[[str], By], queries_of: Callable[[Any], int]
) -> None:
    def show() -> None:
        assert clerk_client.get("/register/").status_code == 200

    box = scenario.stored(scenario.deer(tag="WT-1"))
    release(Animal.objects.get().order, by=by("counter"), pieces=(box,), **WREN)
    show()
    one = queries_of(show)
    for tag in ("WT-2", "WT-3"):
        deer = scenario.deer(tag=tag)
        box = scenario.stored(deer)
        release(deer.order, by=by("counter"), pieces=(box,), **WREN)
    assert queries_of(show) == one


@pytest.mark.parametrize("asked", ["page", "per_page"])
@pytest.mark.parametrize("number", ["0", "-1", "99", "x", "9" * 5_000, "٣"])
def test_a_page_that_cannot_be_is_no_error(
    clerk_client: Client, scenario: Scenario, asked: str, number: str
) -> None:
    scenario.deer()
    assert "WT-10021" in clerk_client.get("/register/", {asked: number}).content.decode()


def test_the_floor_has_no_register(cutter_client: Client, scenario: Scenario) -> None:
    assert cutter_client.get("/register/").status_code == 403
    assert cutter_client.get("/print/register/").status_code == 403
