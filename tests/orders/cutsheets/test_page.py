"""The cut sheet as a clerk sees and sends it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from django.test import Client

from orders.cutsheets.actions import ask_change, save_cut_sheet
from orders.cutsheets.models import CutRequest, CutSheet
from orders.cutsheets.queries import current_sheet
from orders.cutsheets.rules import LineFacts
from orders.intake.actions import end_animal
from orders.intake.models import Animal
from orders.ledger.models import Event
from shop.models import Choice, Part
from tests.orders.intake.conftest import codes
from tests.scenario import DEER, Scenario

pytestmark = pytest.mark.django_db
Send = Callable[..., Any]


@pytest.fixture
def animal(scenario: Scenario) -> Animal:
    return scenario.deer()


def page(animal: Animal) -> str:
    return f"/animals/{animal.pk}/cuts/"


def pk(code: str) -> str:
    return str(Choice.objects.get(code=code).pk)


def filled(client: Client, address: str) -> dict[str, str]:
    """The form as the page shows it, ready to be sent."""
    form = client.get(address).context["form"]
    sent = {}
    for name in form.fields:
        value = form[name].value()
        if value is not None and value is not False and value != "":
            sent[name] = str(value)
    return sent


def chosen(sheet: CutSheet) -> list[tuple[str, str, int]]:
    rows = sheet.lines.filter(from_house=False).order_by("part__sort", "-share_bp", "id")
    return list(rows.values_list("part__code", "choice__code", "share_bp"))


def test_every_part_is_offered_with_its_hint(animal: Animal, counter: Client) -> None:
    shown = counter.get(page(animal))
    rows = {row.offer.part.code: row for row in shown.context["form"].rows()}
    assert list(rows)[:2] == ["tenderloin", "backstrap"]
    assert "inside, small" in shown.content.decode()
    assert "outside, long" in shown.content.decode()
    assert all(row.is_house for row in rows.values())


def test_sent_as_it_is_it_stays_the_house_cut(animal: Animal, counter: Client, send: Send) -> None:
    answer = send(counter, page(animal), **filled(counter, page(animal)))
    assert (answer.status_code, answer.url) == (302, page(animal))
    sheet = current_sheet(animal)
    assert (sheet.version, chosen(sheet)) == (1, [])
    assert counter.get(page(animal)).context["sheet"] == sheet


def test_only_what_was_changed_is_posted_as_chosen(animal: Animal, counter: Client, send: Send) -> None:
    sent = filled(counter, page(animal))
    sent |= {
        "backstrap__thickness": "16",
        "backstrap__pieces": "2",
        "neck": pk("roast"),
        "neck__pack": "3 lb",
    }
    sent["shank__note"] = "for the dog"
    send(counter, page(animal), **sent)
    sheet = current_sheet(animal)
    assert chosen(sheet) == [
        ("backstrap", "steaks", 10_000),
        ("neck", "roast", 10_000),
        ("shank", "grind", 10_000),
    ]
    backstrap = sheet.lines.get(part__code="backstrap")
    assert (backstrap.thickness_16ths, backstrap.pieces_per_pack) == (16, 2)
    assert sheet.lines.get(part__code="neck").pack_oz == 48
    assert sheet.lines.get(part__code="shank").note == "for the dog"


def test_a_line_that_was_chosen_stays_chosen_though_it_is_the_house_cut(
    animal: Animal, counter: Client, send: Send, by: Any
) -> None:
    told = LineFacts(Part.objects.get(code="tenderloin"), Choice.objects.get(code="whole"))
    save_cut_sheet(animal, by=by("counter"), lines=(told,))
    send(counter, page(animal), **filled(counter, page(animal)))
    assert chosen(current_sheet(animal)) == [("tenderloin", "whole", 10_000)]


def test_a_split_in_percent(animal: Animal, counter: Client, send: Send) -> None:
    sent = filled(counter, page(animal))
    sent |= {
        "top-round__second": pk("roast"),
        "top-round__share": "33.3",
        "top-round__second_pack": "2 lb 8 oz",
    }
    send(counter, page(animal), **sent)
    sheet = current_sheet(animal)
    assert chosen(sheet) == [("top-round", "steaks", 6670), ("top-round", "roast", 3330)]
    assert sheet.lines.get(part__code="top-round", choice__code="roast").pack_oz == 40
    again = filled(counter, page(animal))
    assert (again["top-round__share"], again["top-round__second_pack"]) == ("33.3", "2 lb 8 oz")


def test_the_grind_is_asked_about_once(animal: Animal, counter: Client, send: Send) -> None:
    sent = filled(counter, page(animal)) | {
        "grind_fat": "12.5",
        "grind_fat_kind": "pork",
        "grind_pack": "2 lb",
    }
    send(counter, page(animal), **sent)
    sheet = current_sheet(animal)
    assert chosen(sheet) == [("grind-trim", "ground", 10_000)]
    trim = sheet.lines.get(part__code="grind-trim")
    assert (trim.fat_bp, trim.fat_kind, trim.pack_oz) == (1250, "pork", 32)
    again = filled(counter, page(animal))
    assert (again["grind_fat"], again["grind_fat_kind"], again["grind_pack"]) == ("12.5", "pork", "2 lb")


def test_where_the_trim_is_not_ground_another_part_says_how(
    animal: Animal, counter: Client, send: Send
) -> None:
    sent = filled(counter, page(animal)) | {"grind-trim": pk("stew"), "grind-trim__pack": "1 lb"}
    send(counter, page(animal), **sent, grind_fat_kind="beef")
    sheet = current_sheet(animal)
    assert chosen(sheet) == [("grind-trim", "stew", 10_000)]
    sent |= {"grind_fat": "10", "grind_fat_kind": "beef", "based_on": "1"}
    send(counter, page(animal), **sent)
    fat = current_sheet(animal).lines.exclude(fat_bp=0).values_list("part__code", "fat_bp", "fat_kind")
    assert list(fat) == [(next(iter(_ground(animal))), 1000, "beef")]


def _ground(animal: Animal) -> list[str]:
    lines = current_sheet(animal).lines.filter(choice__is_grind=True)
    return list(lines.order_by("part__sort", "part__id").values_list("part__code", flat=True))


def test_one_button_is_the_house_cut_whatever_stands_in_the_form(
    animal: Animal, counter: Client, send: Send
) -> None:
    sent = filled(counter, page(animal)) | {"neck": pk("roast"), "backstrap__pieces": "many"}
    assert send(counter, page(animal), **sent, house="1").status_code == 302
    assert chosen(current_sheet(animal)) == []


def test_same_as_last_time(scenario: Scenario, counter: Client, send: Send) -> None:
    order = scenario.order()
    first, second = scenario.deer(order), scenario.deer(order, tag="WT-2")
    assert counter.get(page(second)).context["last"] is None
    sent = filled(counter, page(first)) | {"backstrap": pk("butterflied"), "backstrap__thickness": "20"}
    send(counter, page(first), **sent)
    send(counter, page(second), **filled(counter, f"{page(second)}?start=last"))
    assert chosen(current_sheet(second)) == [("backstrap", "butterflied", 10_000)]
    assert current_sheet(second).lines.get(part__code="backstrap").thickness_16ths == 20


def test_grind_all_of_it(animal: Animal, counter: Client, send: Send) -> None:
    send(counter, page(animal), **filled(counter, f"{page(animal)}?start=grind"))
    left = current_sheet(animal).lines.filter(choice__is_grind=False)
    assert {row.part.code for row in left} <= {"bones", "organs", "ribs"}
    assert not left.filter(part__code="ribs").exists()


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ({"backstrap": ""}, {"backstrap": ["required"]}),
        ({"backstrap": "999999"}, {"backstrap": ["invalid_choice"]}),
        ({"backstrap": "\0"}, {"backstrap": ["invalid_choice"]}),
        ({"backstrap__thickness": ""}, {"backstrap": ["thickness_missing"]}),
        ({"backstrap__thickness": "65"}, {"backstrap__thickness": ["invalid_choice"]}),
        ({"backstrap__pieces": ""}, {"backstrap": ["pieces_missing"]}),
        ({"backstrap__pieces": "9" * 30}, {"backstrap": ["pieces_missing"]}),
        ({"backstrap__pieces": "four"}, {"backstrap__pieces": ["invalid"]}),
        ({"bottom-round__pack": ""}, {"bottom-round": ["pack_missing"]}),
        ({"bottom-round__pack": "big"}, {"bottom-round__pack": ["pack_unreadable"]}),
        ({"bottom-round__pack": "0.3 lb"}, {"bottom-round__pack": ["pack_unreadable"]}),
        ({"bottom-round__pack": "100 lb"}, {"bottom-round": ["pack_missing"]}),
        ({"backstrap__note": "n" * 81}, {"backstrap__note": ["max_length"]}),
        ({"backstrap__second": "SAME"}, {"backstrap": ["choice_twice"]}),
        ({"backstrap__second": "WHOLE", "backstrap__share": "0"}, {"backstrap__share": ["share_wrong"]}),
        ({"backstrap__second": "WHOLE", "backstrap__share": "100"}, {"backstrap__share": ["share_wrong"]}),
        (
            {"backstrap__second": "WHOLE", "backstrap__share": "33.333"},
            {"backstrap__share": ["max_decimal_places"]},
        ),
        ({"backstrap__second": "WHOLE", "backstrap__share": "half"}, {"backstrap__share": ["invalid"]}),
        ({"backstrap__second": "WHOLE", "backstrap__share": "NaN"}, {"backstrap__share": ["invalid"]}),
        ({"grind_fat": "51", "grind_fat_kind": "pork"}, {"grind_fat": ["max_value"]}),
        ({"grind_fat": "lots"}, {"grind_fat": ["invalid"]}),
        ({"grind_fat": "10"}, {"grind_fat_kind": ["fat_kind_missing"]}),
        ({"grind_pack": ""}, {"grind_pack": ["pack_missing"]}),
        ({"grind_pack": "3 oz"}, {"grind_pack": ["pack_missing"]}),
        ({"grind_pack": "huge"}, {"grind_pack": ["pack_unreadable"]}),
        ({"wrap": "foil"}, {"wrap": ["invalid_choice"]}),
        ({"note": "n" * 81}, {"note": ["max_length"]}),
    ],
)
def test_a_cut_sheet_filled_in_wrong_is_refused_beside_the_field_and_kept(
    animal: Animal, counter: Client, typed: dict[str, str], expected: dict[str, list[str]]
) -> None:
    known = {"SAME": pk("steaks"), "WHOLE": pk("whole")}
    sent = filled(counter, page(animal)) | {name: known.get(value, value) for name, value in typed.items()}
    answer = counter.post(page(animal), sent)
    form = answer.context["form"]
    assert (answer.status_code, codes(form)) == (422, expected)
    for name in typed:
        assert form[name].value() == sent[name]
    assert CutSheet.objects.count() == 0


def test_every_wrong_part_is_named_at_once(animal: Animal, counter: Client) -> None:
    sent = filled(counter, page(animal)) | {"backstrap__pieces": "", "bottom-round__pack": ""}
    answer = counter.post(page(animal), sent)
    assert codes(answer.context["form"]) == {
        "backstrap": ["pieces_missing"],
        "bottom-round": ["pack_missing"],
    }
    assert "Backstrap: say how many in a pack" in answer.content.decode()


def test_a_sheet_that_somebody_else_saved_meanwhile_is_not_overwritten(
    animal: Animal, counter: Client, send: Send, by: Any
) -> None:
    sent = filled(counter, page(animal))
    save_cut_sheet(animal, by=by("counter"))
    answer = send(counter, page(animal), **sent)
    assert (answer.status_code, codes(answer.context["form"])) == (422, {"__all__": ["sheet_changed"]})
    assert CutSheet.objects.count() == 1


def test_after_cutting_began_the_cutter_is_asked(
    scenario: Scenario, animal: Animal, counter: Client, send: Send
) -> None:
    scenario.opened(animal)
    shown = counter.get(page(animal))
    assert (shown.status_code, shown.templates[0].name) == (200, "cutsheets/as_it_is.html")
    late = send(counter, page(animal), house="1")
    assert (late.status_code, Event.objects.get(verb="save_cut_sheet", outcome="refused").refusal) == (
        422,
        "cutting_began",
    )
    empty = send(counter, f"{page(animal)}change/", text=" ")
    assert (empty.status_code, codes(empty.context["form"])) == (422, {"text": ["required"]})
    assert send(counter, f"{page(animal)}change/", text="no roasts").url == page(animal)
    assert CutRequest.objects.get().asked_by.username == "clem"
    assert "Not answered yet" in counter.get(page(animal)).content.decode()


def test_before_cutting_a_request_is_refused(animal: Animal, counter: Client, send: Send) -> None:
    answer = send(counter, f"{page(animal)}change/", text="no roasts")
    assert (answer.status_code, codes(answer.context["form"])) == (422, {"text": ["not_cutting"]})


def test_an_ended_animal_shows_its_sheet_and_takes_no_other(
    animal: Animal, counter: Client, send: Send, by: Any
) -> None:
    end_animal(animal, by=by("counter"), ending="spoiled", reason="sour")
    assert counter.get(page(animal)).templates[0].name == "cutsheets/as_it_is.html"
    assert send(counter, page(animal), house="1").status_code == 422
    assert CutSheet.objects.count() == 0


def test_the_page_takes_as_many_queries_for_an_elk_in_pieces_as_for_a_cut_sheet_with_choices(
    scenario: Scenario, counter: Client, queries_of: Any, by: Any
) -> None:
    """Its rows are the parts; a part more costs no query."""
    whole = scenario.deer()
    short = scenario.deer(tag="WT-2", facts=replace(DEER, tenderloin_left="field", tenderloin_right="field"))
    assert len(counter.get(page(whole)).context["form"].rows()) > len(
        counter.get(page(short)).context["form"].rows()
    )
    assert queries_of(counter, page(whole)) == queries_of(counter, page(short))


def test_requests_take_as_many_queries_with_one_as_with_three(
    scenario: Scenario, animal: Animal, counter: Client, queries_of: Any, by: Any
) -> None:
    scenario.opened(animal)
    ask_change(animal, by=by("counter"), text="first")
    one = queries_of(counter, page(animal))
    for text in ("second", "third"):
        ask_change(animal, by=by("counter"), text=text)
    assert queries_of(counter, page(animal)) == one
