"""The yield statement: every pound of the ledger on one page, adding up as printed, with nothing hidden or blamed."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pypdfium2
import pytest
from django.db import connection
from django.test import Client

from orders.cutsheets.actions import save_cut_sheet
from orders.floor.block import fill_lug, finish_breakdown, open_animal, record_waste, weigh_at_block
from orders.floor.grind import add_fat, finish_grind, start_grind, take_from_grinder
from orders.intake.actions import end_animal, file_tag
from orders.intake.models import Animal
from orders.ledger.models import Piece, Run
from orders.ledger.scale import OnScale
from orders.packing.actions import bring_to_wrap, finish_wrap, pack, void_package
from orders.packing.models import Package
from orders.papers.rounding import Printed
from orders.papers.statement import yield_statement
from orders.yields.causes import record_cause
from orders.yields.queries import yield_of
from shop.models import Choice, Part, ShopSettings
from shop.weights import mg_in, parse_reading, pounds
from tests.orders.yields.test_queries import cut_and_packed, ground_together
from tests.scenario import Scenario, lb

Stations = Callable[[str], Any]
BLAME = (
    "percentile",
    "below the range",
    "above the range",
    "gap",
    "flag",
    "unexplained",
    "more than the work",
)


def fresh(animal: Animal) -> Animal:
    return Animal.objects.select_related("order", "species").get(pk=animal.pk)


def statement(animal: Animal) -> dict[str, Any]:
    return yield_statement(yield_of(fresh(animal)))


def pages_of(client: Client, animal: Animal) -> list[str]:
    """The text of each page of the printed statement."""
    response = client.get(f"/print/yield/{animal.pk}/")
    assert response.status_code == 200, response.content[:300]
    with pypdfium2.PdfDocument(response.content) as document:
        return [" ".join(page.get_textpage().get_text_bounded().split()) for page in document]


def one_page(client: Client, animal: Animal) -> str:
    pages = pages_of(client, animal)
    assert len(pages) == 1
    return pages[0]


def weight(text: str) -> Decimal | None:
    """A printed weight with its sign; None for words such as “not weighed”."""
    found = re.fullmatch("([\u2212+]?)([0-9.]+) (lb|kg|oz|g)", text)
    return found and Decimal(found[2]) * (-1 if found[1] == "\u2212" else 1)


def assert_adds_up(values: dict[str, Any]) -> int:
    """Each printed weighing is the one before with all that is printed between; how many were compared."""
    running, compared = None, 0
    for row in values["went"]:
        amount = weight(row["weight"])
        if amount is None:
            continue
        if not row["point"]:
            running = None if running is None else running + amount
            continue
        if running is not None:
            assert running == amount, row
            compared += 1
        running = amount
    return compared


def rows(values: dict[str, Any]) -> dict[str, str]:
    return {row["what"]: row["weight"] for row in values["went"]}


def in_shop_units(unit: str, decimals: int) -> None:
    ShopSettings.objects.filter(pk=1).update(unit=unit, label_decimals=decimals)


def weighed_nowhere(scenario: Scenario, *, packs_weighed: bool) -> Animal:
    """A deer of a shop that weighs only at drop-off, and perhaps its packs."""
    by, deer = scenario.by, scenario.deer()
    scenario.hung(deer, weight="")
    save_cut_sheet(deer, by=by("counter"))
    run = open_animal(deer, by=by("block")).fetch(Run)
    lugs = [
        fill_lug(run, by=by("block"), contents=what).fetch(Piece) for what in ("whole_cuts", "grind_trim")
    ]
    for what in ("bone_fat", "waste"):
        record_waste(run, by=by("block"), what=what)
    file_tag(deer, by=by("block"), where="box")
    finish_breakdown(run, by=by("block"))
    run = start_grind(lugs[1], by=by("grind")).fetch(Run)
    ground = take_from_grinder(run, by=by("grind")).fetch(Piece)
    finish_grind(run, by=by("grind"))
    for lug in (lugs[0], ground, deer.pieces.get(kind="tenderloin")):
        run = bring_to_wrap(lug, by=by("wrap")).fetch(Run)
    for part, choice, many in (
        ("backstrap", "steaks", 6),
        ("tenderloin", "whole", 1),
        ("grind-trim", "ground", 28),
    ):
        pack(
            run,
            by=by("wrap"),
            part=Part.objects.get(code=part),
            choice=Choice.objects.get(code=choice),
            weights=(lb("1.25"),) * many if packs_weighed else (),
            unweighed=0 if packs_weighed else many,
            count=4 if choice == "steaks" else None,
        )
    finish_wrap(run, by=by("wrap"))
    return fresh(deer)


def elk_in_pieces(scenario: Scenario) -> Animal:
    """An elk as quarters and bags, its ground meat in tubes of a stated size."""
    by, elk = scenario.by, scenario.hung(scenario.elk())
    run = scenario.opened(elk)
    lugs = [
        fill_lug(run, by=by("block"), contents=what, weight=lb(typed)).fetch(Piece)
        for what, typed in (("whole_cuts", "71.5"), ("grind_trim", "88.2"))
    ]
    for what, typed in (("bone_fat", "51"), ("waste", "12.5")):
        record_waste(run, by=by("block"), what=what, weight=lb(typed))
    file_tag(elk, by=by("block"), where="box")
    finish_breakdown(run, by=by("block"))
    run = start_grind(lugs[1], by=by("grind")).fetch(Run)
    ground = take_from_grinder(run, by=by("grind"), weight=lb("87.9")).fetch(Piece)
    finish_grind(run, by=by("grind"))
    for lug in (lugs[0], ground):
        run = bring_to_wrap(lug, by=by("wrap")).fetch(Run)
    for part, choice, weights in (
        ("backstrap", "steaks", ["1.2"] * 12),
        ("tenderloin", "whole", ["1.9", "2.1"]),
        ("top-round", "steaks", ["1.5"] * 10),
        ("sirloin-tip", "roast", ["3.1", "2.9"]),
        ("neck", "roast", ["4.0"]),
        ("shank", "stew", ["1.0"] * 6),
        ("shoulder", "roast", ["3.3"] * 4),
        ("eye-of-round", "steaks", ["0.9"] * 3),
    ):
        scenario.pack(run, part, choice, *weights, count=4 if choice == "steaks" else None)
    tube = OnScale(parse_reading("2 lb"), nominal=True)
    ground_part, choice_ground = Part.objects.get(code="grind-trim"), Choice.objects.get(code="ground")
    pack(run, by=by("wrap"), part=ground_part, choice=choice_ground, weights=(tube,) * 43)
    finish_wrap(run, by=by("wrap"), reason="Two sinewy ends were thrown away")
    return fresh(elk)


def test_the_statement_of_a_deer_is_one_page_with_everything(
    clerk_client: Client, scenario: Scenario
) -> None:
    deer = scenario.deer()
    scenario.stored(deer)
    text = one_page(clerk_client, deer)
    for said in (
        "Rowan Sedgewick",
        "WT-10021",
        "Received 131.50 lb whole, hide on: field-dressed, feet on",
        "Hung 99.50 lb with the tenderloins that were bagged",
        "Dried not weighed",
        "Bone and fat \u221224.00 lb",
        "Waste not weighed",
        "Drying, waste \u221226.00 lb not weighed apart: what is left between the two weighings",
        "Pork fat +2.60 lb added in the grinder, not your own meat",
        "What stays in the grinder \u22120.40 lb within what the work takes and the scales can tell",
        "Packed 49.65 lb 45 packs",
        "Less pork fat \u22122.60 lb",
        "Your own meat 47.05 lb",
        "5 of 6 points weighed.",
        "What animals like this one give",
        "90 % of animals like it lie between low and high",
        "Backstrap, steaks, 24 pieces 6 6.60 lb",
        "Ground, with pork fat 28 28.00 lb",
        "Of this animal alone, nothing pooled: 45 packs, 49.65 lb with the fat in it.",
        "page 1 of 1",
    ):
        assert said in text, said


def test_cuts_packs_and_pounds_are_those_of_the_ledger(scenario: Scenario) -> None:
    """Against a sum over the rows of the weighings, by hand in SQL."""
    deer = scenario.deer()
    scenario.stored(deer)
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT part.code, choice.code, COUNT(*), SUM(weighing.mg) FROM orders_package AS package"
            " JOIN orders_weighing AS weighing ON weighing.id = package.weighing_id"
            " JOIN shop_part AS part ON part.id = package.part_id"
            " JOIN shop_choice AS choice ON choice.id = package.choice_id"
            " WHERE package.animal_id = %s GROUP BY part.code, choice.code ORDER BY MIN(package.n)",
            [deer.pk],
        )
        ledger = cursor.fetchall()
    values = statement(deer)
    assert [(cut["packs"], cut["weight"]) for cut in values["cuts"]] == [
        (str(count), f"{mg_in(mg, 'lb', 2)} lb") for _, _, count, mg in ledger
    ]
    assert rows(values)["Packed"] == f"{mg_in(sum(mg for *_, mg in ledger), 'lb', 2)} lb"


@pytest.mark.parametrize(
    ("unit", "decimals"), [("lb", 2), ("lb", 1), ("lb", 0), ("kg", 3), ("kg", 2), ("kg", 1), ("oz", 1)]
)
def test_what_is_printed_adds_up_in_every_unit(scenario: Scenario, unit: str, decimals: int) -> None:
    in_shop_units(unit, decimals)
    deer = scenario.deer()
    scenario.stored(deer)
    values = statement(deer)
    assert assert_adds_up(values) == 5
    packed = sum((weight(cut["weight"]) or 0 for cut in values["cuts"]), Decimal(0))
    assert packed == weight(rows(values)["Packed"])
    assert f"{packed} {unit}" in values["sums"][0]


@pytest.mark.parametrize(
    ("total", "parts", "shares"),
    [
        # Each third of a pound is 0.333: two are cut, the first of equals gets the step that is left.
        ("1.00", ["1/3", "1/3", "1/3"], ["0.34", "0.33", "0.33"]),
        ("0.30", ["0.104", "0.104", "0.092"], ["0.11", "0.10", "0.09"]),
        # A total that is printed elsewhere, a step off the parts' own sum either way.
        ("0.31", ["0.10", "0.20"], ["0.11", "0.20"]),
        ("0.29", ["0.10", "0.20"], ["0.10", "0.19"]),
        ("-0.05", ["0.10", "-0.15"], ["0.10", "-0.15"]),
        ("0.00", [], []),
    ],
)
def test_parts_share_out_their_total(total: str, parts: list[str], shares: list[str]) -> None:
    thirds = {"1/3": (pounds(1) + 2) // 3}
    mg = [thirds[part] if part in thirds else pounds(part) for part in parts]
    found = Printed("lb", 2).share_out(Decimal(total), mg)
    assert sum(found, Decimal(0)) == Decimal(total)
    assert found == [Decimal(share) for share in shares]


def test_a_total_without_parts_is_refused() -> None:
    with pytest.raises(ValueError, match="needs parts"):
        Printed("lb", 2).share_out(Decimal("0.01"), [])


def test_an_elk_in_pieces_is_one_page_and_its_tubes_are_nominal(
    clerk_client: Client, scenario: Scenario
) -> None:
    elk = elk_in_pieces(scenario)
    text = one_page(clerk_client, elk)
    for said in (
        "Received 240.00 lb quarters and bags",
        "Hung not weighed",
        "Drying \u221216.80 lb not weighed apart",
        "Ground 43 86.00 lb, nominal",
        "Nominal: the stated size of the pack, not a reading of the scale. 86.00 lb of the packs is nominal.",
        "Two sinewy ends were thrown away",
        "4 of 6 points weighed.",
    ):
        assert said in text, said
    assert assert_adds_up(statement(elk)) == 4


def test_a_shop_that_weighs_only_at_drop_off_and_at_packing(clerk_client: Client, scenario: Scenario) -> None:
    deer = weighed_nowhere(scenario, packs_weighed=True)
    text = one_page(clerk_client, deer)
    said = (
        "2 of 6 points weighed. What was not weighed apart is given together: nobody can say how it divides."
    )
    assert said in text
    assert "Hide, head, antlers, feet, drying, bone and fat, waste" in " ".join(rows(statement(deer)))
    found = rows(statement(deer))
    for name in ("Hung", "Dried", "At the block", "Bone and fat", "Waste", "Off the block, in lugs"):
        assert found[name] == "not weighed", name
    assert found["Your own meat"] == "43.75 lb"
    assert assert_adds_up(statement(deer)) == 2


def test_packs_that_were_only_counted_stay_without_a_weight(clerk_client: Client, scenario: Scenario) -> None:
    deer = weighed_nowhere(scenario, packs_weighed=False)
    values = statement(deer)
    assert values["packed_mg"] is None
    assert {cut["weight"] for cut in values["cuts"]} == {"not weighed"}
    assert rows(values)["Your own meat"] == "not weighed"
    text = one_page(clerk_client, deer)
    for said in (
        "35 packs, counted and not weighed",
        "Backstrap, steaks, 24 pieces 6 not weighed",
        "Of this animal alone, nothing pooled: 35 packs, not weighed.",
        "1 of 6 points weighed. Nothing can be compared: that takes two weighings.",
    ):
        assert said in text, said
    assert "43.75" not in text


def test_one_pack_that_was_not_weighed_is_said_and_nothing_is_made_of_it(
    scenario: Scenario, by: Stations
) -> None:
    values = statement(cut_and_packed(scenario, by, scenario.deer(), weighed=False))
    assert values["cuts"][1]["weight"] == "20.00 lb, 1 not weighed"
    found = rows(values)
    assert (found["Packed"], found["Your own meat"]) == ("not weighed", "not weighed")
    assert values["sums"] == [
        "Of this animal alone, nothing pooled: 3 packs, 21.05 lb with the fat in it; 1 of them not weighed."
    ]
    remarks = {row["what"]: row["remark"] for row in values["went"]}
    assert "2 of them weigh 21.05 lb, the others were not weighed" in remarks["Packed"]
    assert remarks["Your own meat"] == "not every pack was weighed"


def test_fat_that_was_not_weighed_leaves_own_meat_not_known(scenario: Scenario, by: Stations) -> None:
    values = statement(cut_and_packed(scenario, by, scenario.deer(), fat_weighed=False))
    found = rows(values)
    assert (found["Less beef fat"], found["Your own meat"]) == ("not weighed", "not weighed")
    assert found["Packed"] == "21.05 lb"
    assert values["went"][-1]["remark"] == "what was added was not weighed"
    assert_adds_up(values)


def test_what_is_missing_is_shown_and_nobody_is_blamed(
    clerk_client: Client, scenario: Scenario, by: Stations
) -> None:
    """22.45 lb came to the wrap table and are in no pack: the paper says how many, and what the scales explain."""
    deer = cut_and_packed(scenario, by, scenario.deer())
    found = yield_of(deer)
    assert any(gap.flagged for gap in found.gaps)
    text = one_page(clerk_client, deer)
    assert "What stays on the wrap table \u221223.55 lb of it the scales explain" in text
    assert not [word for word in BLAME if word in text.lower()]
    assert assert_adds_up(statement(deer)) >= 3


def test_more_than_the_weighing_before_has_its_sign(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    lugs = scenario.ground(deer, fat="2.6", out="28.7")
    values = statement(scenario_packed(scenario, deer, lugs))
    row = next(row for row in values["went"] if row["what"] == "More than the weighing before")
    assert row["weight"] == "+0.10 lb"
    assert_adds_up(values)


def scenario_packed(scenario: Scenario, deer: Animal, lugs: dict[str, Piece]) -> Animal:
    by = scenario.by("wrap")
    for lug in (*lugs.values(), deer.pieces.get(kind="tenderloin")):
        run = bring_to_wrap(lug, by=by).fetch(Run)
    scenario.pack(run, "tenderloin", "whole", "1.1")
    scenario.pack(run, "backstrap", "steaks", *["2.2"] * 10)
    scenario.pack(run, "grind-trim", "ground", *["2.0"] * 14)
    finish_wrap(run, by=by, reason="the last of it")
    return fresh(deer)


def test_drying_is_a_loss_of_its_own_where_both_ends_were_weighed(
    scenario: Scenario, by: Stations, at: Any
) -> None:
    deer = scenario.hung(scenario.deer())
    save_cut_sheet(deer, by=by("counter"))
    open_animal(deer, by=by("block"))
    weigh_at_block(deer.pieces.get(kind="carcass"), by=by("block"), weight=lb("96.2"))
    assert rows(statement(deer))["Dried"] == "\u22122.20 lb"


def test_animals_ground_together_say_whose_meat_is_whose(
    clerk_client: Client, scenario: Scenario, by: Stations
) -> None:
    animals = ground_together(scenario, by)
    values = statement(animals[1])
    assert values["sums"] == [
        "Of animal 1 alone: 11 packs, 21.05 lb.",
        "Of animal 2 alone: 11 packs, 21.05 lb.",
        "Pooled, of this order’s animals and nobody else’s: 50 packs, 50.00 lb.",
    ]
    assert [cut["what"] for cut in values["cuts"]] == [
        "Tenderloin, whole (1)",
        "Top round, steaks, 40 pieces (1)",
        "Tenderloin, whole (2)",
        "Top round, steaks, 40 pieces (2)",
        "Ground (pooled)",
    ]
    assert rows(values)["Bone and fat"] == "\u221248.00 lb"
    assert assert_adds_up(values) == 5
    text = one_page(clerk_client, animals[0])
    assert "What animals like these give" in text
    assert "WT-1, WT-2" in text


def test_a_spoiled_animal_says_so_and_why(clerk_client: Client, scenario: Scenario, by: Stations) -> None:
    deer = scenario.hung(scenario.deer())
    end_animal(deer, by=by("counter"), ending="spoiled", reason="Sour at the hip")
    text = one_page(clerk_client, deer)
    assert re.search(r"Ended 26-0001 spoiled, \w+ \d+, \d+: Sour at the hip", text)
    assert "Packed nothing" in text
    assert "local rules and licensed practice decide" in text
    assert "not packed yet" not in text


def test_a_cause_that_was_recorded_is_on_the_paper(
    clerk_client: Client, scenario: Scenario, by: Stations
) -> None:
    deer = scenario.deer()
    scenario.stored(deer)
    record_cause(deer, by=by("counter"), cause="part_missing", note="A lug was never found.")
    assert "26-0001: part of it is missing." in one_page(clerk_client, deer)


def test_bone_in_cuts_are_not_set_against_the_range(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    run = scenario.opened(deer)
    lug = fill_lug(run, by=by("block"), contents="whole_cuts", weight=lb("23")).fetch(Piece)
    for what in ("bone_fat", "waste"):
        record_waste(run, by=by("block"), what=what)
    file_tag(deer, by=by("block"), where="box")
    finish_breakdown(run, by=by("block"))
    for each in (lug, deer.pieces.get(kind="tenderloin")):
        run = bring_to_wrap(each, by=by("wrap")).fetch(Run)
    scenario.pack(run, "tenderloin", "whole", "1.1")
    scenario.pack(run, "backstrap", "chops", "11", "11.1")
    finish_wrap(run, by=by("wrap"), reason="done")
    values = statement(deer)
    assert values["packed"] == "23.20 lb"
    assert values["packed_mg"] is None
    assert "Some cuts were packed with their bone" in " ".join(values["notes"])


def test_organs_are_the_hunters_own_but_not_in_the_range(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    lugs = scenario.ground(deer)
    for lug in (*lugs.values(), deer.pieces.get(kind="tenderloin")):
        run = bring_to_wrap(lug, by=by("wrap")).fetch(Run)
    scenario.pack(run, "tenderloin", "whole", "1.0")
    scenario.pack(run, "grind-trim", "ground", *["1.0"] * 28)
    scenario.pack(run, "organs", "keep", "2.5")
    finish_wrap(run, by=by("wrap"), reason="kept for the second day")
    values = statement(deer)
    found = rows(values)
    assert (found["Packed"], found["Less organs and bones"]) == ("31.50 lb", "\u22122.50 lb")
    assert found["Your own meat"] == "26.40 lb"
    assert assert_adds_up(values) == 5


def test_a_void_pack_is_in_no_sum(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    scenario.packed(deer)
    void_package(Package.objects.filter(animal=deer).last(), by=by("wrap"), reason="torn", destroyed=True)
    values = statement(deer)
    assert rows(values)["Packed"] == "48.65 lb"
    assert values["cuts"][-1] == {"what": "Ground, with pork fat", "packs": "27", "weight": "27.00 lb"}
    assert_adds_up(values)


def test_two_kinds_of_fat_in_one_grind_are_each_taken_off(scenario: Scenario, by: Stations) -> None:
    lugs = scenario.cut(scenario.deer())
    deer = Animal.objects.get()
    run = start_grind(lugs.pop("grind_trim"), by=by("grind")).fetch(Run)
    for kind, typed in (("pork", "1.3"), ("beef", "0.7"), ("pork", "0.6")):
        add_fat(run, by=by("grind"), kind=kind, weight=lb(typed))
    lugs["ground"] = take_from_grinder(run, by=by("grind"), weight=lb("28.5")).fetch(Piece)
    finish_grind(run, by=by("grind"))
    values = statement(scenario_packed(scenario, deer, lugs))
    found = rows(values)
    assert (found["Pork fat"], found["Less pork fat"]) == ("+1.90 lb", "\u22121.90 lb")
    assert (found["Beef fat"], found["Less beef fat"]) == ("+0.70 lb", "\u22120.70 lb")
    assert found["Your own meat"] == "48.50 lb"
    assert_adds_up(values)


@pytest.mark.parametrize("name", ["Nguyễn Thị Phương Thảo", "Ольга Щербакова", "Siobhán Ó Faoláin"])
def test_names_are_printed_as_they_are_written(clerk_client: Client, scenario: Scenario, name: str) -> None:
    deer = scenario.deer(scenario.order(name))
    scenario.stored(deer)
    assert name in one_page(clerk_client, deer)


def test_bear_has_its_caution(clerk_client: Client, scenario: Scenario) -> None:
    bear = scenario.deer(species="black-bear")
    scenario.stored(bear)
    assert bear.species.caution in one_page(clerk_client, bear)


def test_the_statement_is_the_offices(
    owner_client: Client, clerk_client: Client, cutter_client: Client, scenario: Scenario
) -> None:
    path = f"/print/yield/{scenario.deer().pk}/"
    assert [each.get(path).status_code for each in (owner_client, clerk_client, cutter_client)] == [
        200,
        200,
        403,
    ]
