"""The grinder's pages: whose trim waits, the fat that is asked for, in, added and out."""

from __future__ import annotations

from typing import Any

import pytest

from orders.cutsheets.actions import save_cut_sheet
from orders.cutsheets.rules import LineFacts
from orders.floor.block import fill_lug, finish_breakdown, open_animal, record_waste
from orders.floor.pages.grind import grind_groups
from orders.intake.actions import file_tag, record_order
from orders.intake.models import Animal
from orders.ledger.models import Piece, Run
from shop.models import Choice, Part
from tests.orders.floor.tablet import Tablet, banner, last_event, words
from tests.scenario import lb


def cut_with(
    scenario: Any, by: Any, animal: Animal, *, trim: str = "26", choice: str = "ground", fat_bp: int = 1_000
) -> Piece:
    """Broken down after a sheet that says how the trim is made; the lug of trim comes back."""
    scenario.hung(animal)
    made = Choice.objects.get(code=choice)
    line = LineFacts(
        Part.objects.get(code="grind-trim"),
        made,
        pack_oz=16 if made.wants_pack else None,
        fat_bp=fat_bp,
        fat_kind="pork" if fat_bp else "",
    )
    save_cut_sheet(animal, by=by("counter"), lines=(line,))
    run = open_animal(animal, by=by("block")).fetch(Run)
    weight = lb(trim) if trim else None
    lug = fill_lug(run, by=by("block"), contents="grind_trim", weight=weight).fetch(Piece)
    record_waste(run, by=by("block"), what="bone_fat")
    record_waste(run, by=by("block"), what="waste")
    file_tag(animal, by=by("block"), where="tag box")
    finish_breakdown(run, by=by("block"))
    return lug


@pytest.fixture
def grinding(scenario: Any, tablet: Tablet, by: Any) -> tuple[Tablet, Run]:
    """18 lb of trim in the grinder, 10 % pork fat asked for."""
    deer = scenario.deer()
    lug = cut_with(scenario, by, deer, trim="18")
    page = tablet.at("grind").post("floor-grind-start", lug.pk)
    run = deer.runs.get(kind="grind")
    assert tablet.landed(page) == f"/floor/grind/{run.pk}/"
    return tablet, run


def test_the_queue_says_how_each_is_made(scenario: Any, tablet: Tablet, by: Any) -> None:
    deer = scenario.deer()
    lug = cut_with(scenario, by, deer)
    page = tablet.at("grind").get("floor")
    assert [(group.label, [piece.pk for piece in group.pieces]) for group in page.context["ready"]] == [
        (deer.label, [lug.pk])
    ]
    assert "10 % pork fat" in words(page)


def test_two_pounds_of_fat_make_ten_percent_of_eighteen(grinding: tuple[Tablet, Run]) -> None:
    tablet, run = grinding
    # 18 lb and 2 lb are 20 lb, of which 2 lb are a tenth.
    assert "10 % pork fat: add 2.0 lb in all" in words(tablet.get("floor-grind", run.pk))
    assert "The cut sheet asks for 10 % pork fat: 2.0 lb in all." in words(tablet.get("floor-fat", run.pk))


def test_without_a_weight_no_fat_is_worked_out(scenario: Any, tablet: Tablet, by: Any) -> None:
    deer = scenario.deer()
    lug = cut_with(scenario, by, deer, trim="")
    tablet.at("grind").post("floor-grind-start", lug.pk)
    said = words(tablet.get("floor-grind", deer.runs.get(kind="grind").pk))
    assert "10 % pork fat: not every lug was weighed, so no weight can be given" in said
    assert "In not all weighed" in said


def test_in_added_and_out(grinding: tuple[Tablet, Run]) -> None:
    tablet, run = grinding
    tablet.post("floor-fat", run.pk, kind="pork", weight="2", lot="lot 7741")
    tablet.post("floor-grind-out", run.pk, weight="19.8")
    said = words(tablet.get("floor-grind", run.pk))
    assert "In 18.0 lb" in said
    assert "Fat added 2.0 lb Pork fat · 2 lb · lot 7741" in said
    assert "Out 19.8 lb" in said
    page = tablet.post("floor-grind-done", run.pk)
    assert tablet.landed(page) == "/floor/"
    assert run.animal.pieces.get(contents="ground").state == "waiting"
    assert run.animal.pieces.get(contents="grind_trim").state == "used"


def test_a_doubtful_fat_is_asked_about_once(grinding: tuple[Tablet, Run]) -> None:
    tablet, run = grinding
    page = tablet.post("floor-fat", run.pk, kind="pork", weight="20")
    assert (page.status_code, last_event().refusal) == (422, "weight_doubtful")
    assert 'name="confirmed"' in page.content.decode()
    assert "Yes, this weight is right" in words(page)
    tablet.post("floor-fat", run.pk, kind="pork", weight="20", confirmed="on")
    assert run.lines.get(direction="added").weighing.net == 20


def test_more_out_than_in_is_refused_beside_the_weight(grinding: tuple[Tablet, Run]) -> None:
    tablet, run = grinding
    page = tablet.post("floor-grind-out", run.pk, weight="19")
    assert (page.status_code, last_event().refusal) == (422, "out_beyond_in")
    assert "19.0 lb came out, but 18.0 lb went in and 0.0 lb fat was added." in words(page)
    assert not run.animal.pieces.filter(contents="ground").exists()


def test_nothing_out_needs_a_reason(grinding: tuple[Tablet, Run]) -> None:
    tablet, run = grinding
    page = tablet.post("floor-grind-done", run.pk)
    assert (page.status_code, last_event().refusal) == (422, "nothing_out")
    assert "Nothing came out of the grinder." in words(page)
    tablet.post("floor-grind-done", run.pk, reason_tile="It was spoiled")
    run.refresh_from_db()
    assert run.close_reason == "It was spoiled"


def test_one_hunter_in_the_grinder_at_a_time(grinding: tuple[Tablet, Run], scenario: Any, by: Any) -> None:
    tablet, run = grinding
    other = cut_with(scenario, by, scenario.deer(tag="WT-2"))
    page = tablet.post("floor-grind-start", other.pk)
    assert last_event().refusal == "grinder_busy"
    assert f"The grinder still has {run.animal.label}." in banner(page)[1]


def test_trim_that_stays_whole_skips_the_grinder(scenario: Any, tablet: Tablet, by: Any) -> None:
    whole = Part.objects.get(code="grind-trim").choices.filter(is_grind=False, is_discard=False).first()
    deer = scenario.deer()
    lug = cut_with(scenario, by, deer, choice=whole.code, fat_bp=0)
    assert grind_groups() == []
    page = tablet.at("grind").post("floor-grind-start", lug.pk)
    assert last_event().refusal == "wrong_station"
    assert f"The trim of {deer.label} is not ground: it belongs to wrap." in banner(page)[1]


def test_an_order_ground_together_is_one_group(scenario: Any, tablet: Tablet, by: Any) -> None:
    order = scenario.order()
    record_order(order, by=by("counter"), grind_together=True)
    order.refresh_from_db()
    first, second = scenario.deer(order, tag="WT-1"), scenario.deer(order, tag="WT-2")
    lugs = [cut_with(scenario, by, first, trim="18"), cut_with(scenario, by, second, trim="9")]
    groups = grind_groups()
    assert [(group.label, len(group.pieces)) for group in groups] == [(order.number, 2)]
    tablet.at("grind").post("floor-grind-start", lugs[0].pk)
    run = order.runs.get(kind="grind")
    said = words(tablet.get("floor-grind", run.pk))
    assert "Ground together" in said
    assert "Lug 1, grind trim too" in said
    page = tablet.post("floor-grind-start", lugs[1].pk)
    assert tablet.landed(page) == f"/floor/grind/{run.pk}/"
    # 27 lb and 3 lb are 30 lb, of which 3 lb are a tenth.
    assert "10 % pork fat: add 3.0 lb in all" in words(page)


def test_rush_orders_are_ground_first(scenario: Any, by: Any) -> None:
    plain = scenario.deer(tag="WT-1")
    cut_with(scenario, by, plain)
    rush = scenario.deer(scenario.order(rush=True), tag="WT-2")
    cut_with(scenario, by, rush)
    assert [group.label for group in grind_groups()] == [rush.label, plain.label]
