"""The wrap table's pages: bringing lugs, packing weighed or counted, labels, the tally, done."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse

from orders.ledger.holds import open_hold
from orders.ledger.models import Run
from orders.packing.actions import bring_to_wrap
from orders.packing.models import Package
from orders.packing.queries import wrap_groups, wrap_queue
from shop.models import Choice, Part, ShopSettings
from tests.orders.floor.tablet import Tablet, banner, last_event, words


@pytest.fixture
def wrapping(scenario: Any, tablet: Tablet, by: Any) -> tuple[Tablet, Run]:
    """A deer's three lugs and bags on the table: 22.4, 28.2 and 1.1 lb."""
    deer = scenario.deer()
    lugs = scenario.ground(deer)
    for lug in (*lugs.values(), deer.pieces.get(kind="tenderloin")):
        run = bring_to_wrap(lug, by=by("wrap")).fetch(Run)
    return tablet.at("wrap"), run


def keys(part: str, choice: str) -> tuple[int, int]:
    return Part.objects.get(code=part).pk, Choice.objects.get(code=choice).pk


def test_brings_a_lug_by_tile(scenario: Any, tablet: Tablet) -> None:
    deer = scenario.deer()
    lugs = scenario.ground(deer)
    page = tablet.at("wrap").get("floor")
    assert [group.label for group in page.context["queue"].ready.shown] == [deer.label]
    assert "Lug 1, whole cuts" in words(page)
    page = tablet.post("floor-bring", lugs["whole_cuts"].pk)
    run = deer.runs.get(kind="wrap")
    assert tablet.landed(page) == f"/floor/wrap/{run.pk}/"
    assert "Lug 1, whole cuts · 22.4 lb" in words(page)
    assert "Tenderloins, left and right too" in words(page)


def test_there_is_a_tile_for_each_cut_of_the_sheet(wrapping: tuple[Tablet, Run]) -> None:
    tablet, run = wrapping
    page = tablet.get("floor-wrap", run.pk)
    cuts = {(cut.part.code, cut.choice.code) for cut in page.context["cuts"]}
    assert ("backstrap", "steaks") in cuts
    assert ("grind-trim", "ground") in cuts
    # What is ground of other parts is in the grind, and what is thrown away is in no pack.
    assert not any(choice == "grind" for _, choice in cuts)
    assert not any(cut.choice.is_discard for cut in page.context["cuts"])


def test_one_pack_with_its_weight_and_pieces(wrapping: tuple[Tablet, Run]) -> None:
    tablet, run = wrapping
    part, choice = keys("backstrap", "steaks")
    page = tablet.get("floor-pack", run.pk, part, choice)
    assert 'name="count" value="4"' in page.content.decode()
    page = tablet.post("floor-pack", run.pk, part, choice, weight="1.12", count="4")
    package = run.packages.get()
    assert (package.n, package.count, package.weighing.net, package.weighing.decimals) == (1, 4, 112, 2)
    assert package.piece.state == "packed"
    assert tablet.landed(page) == f"/floor/wrap/{run.pk}/pack/{part}/{choice}/"
    assert banner(page)[0] == "good"


def test_several_weights_make_several_packs(wrapping: tuple[Tablet, Run]) -> None:
    tablet, run = wrapping
    tablet.post("floor-pack", run.pk, *keys("grind-trim", "ground"), weight="1.02; 0.98 ;12 oz;")
    nets = [(p.n, p.weighing.net, p.weighing.unit) for p in run.packages.order_by("n")]
    assert nets == [(1, 102, "lb"), (2, 98, "lb"), (3, 12, "oz")]
    assert {p.has_added_fat for p in run.packages.all()} == {"pork"}


def test_same_again_repeats_the_reading(wrapping: tuple[Tablet, Run]) -> None:
    tablet, run = wrapping
    where = keys("backstrap", "steaks")
    page = tablet.post("floor-pack", run.pk, *where, weight="1.12", tare="0.02", count="4")
    assert "Same again: 1.12 lb" in words(page)
    again = page.context["again"]
    assert again == {"weight": "1.12 lb", "tare": "0.02 lb", "count": "4"}
    tablet.post("floor-pack", run.pk, *where, **again)
    first, second = run.packages.order_by("n")
    assert (first.weighing.net, first.count) == (second.weighing.net, second.count) == (110, 4)


def test_counted_packs_are_not_weighed(wrapping: tuple[Tablet, Run]) -> None:
    tablet, run = wrapping
    page = tablet.post(
        "floor-pack", run.pk, *keys("backstrap", "steaks"), count="4", packs="3", not_weighed="1"
    )
    assert [(p.count, p.weighing) for p in run.packages.all()] == [(4, None)] * 3
    assert "not weighed" in words(page)
    said = words(tablet.get("floor-wrap", run.pk))
    assert "3 packs. Not everything was weighed: what is left is not known." in said


def test_the_tally_says_what_is_left(wrapping: tuple[Tablet, Run]) -> None:
    tablet, run = wrapping
    tablet.post("floor-pack", run.pk, *keys("backstrap", "steaks"), weight="1.1;1.2", count="4")
    page = tablet.get("floor-wrap", run.pk)
    said = words(page)
    # 22.4 + 28.2 + 1.1 lb came to the table, 2.3 lb are packed.
    assert "2 packs, 2.3 lb of 51.7 lb: 49.4 lb left" in said
    assert "Backstrap, steaks 2 2.3 lb" in said


def test_a_shop_that_only_counts_has_counting_first(wrapping: tuple[Tablet, Run]) -> None:
    tablet, run = wrapping
    ShopSettings.objects.update(weigh_packs=False)
    page = tablet.get("floor-pack", run.pk, *keys("backstrap", "steaks"))
    said = words(page)
    assert said.index("Count only, not weighed") < said.index("Pack with this weight")


@pytest.mark.parametrize(
    ("posted", "code", "sentence"),
    [
        ({"weight": "99"}, "weight_doubtful", "99.0 lb is a lot for one pack."),
        ({"weight": "103", "confirmed": "on"}, "packed_beyond_hung", "98.4 lb hung and 2.6 lb fat was added"),
        ({"weight": "60;60", "confirmed": "on"}, "packed_beyond_hung", "That makes 120.0 lb packed"),
        ({"weight": "1", "tare": "2"}, "tare_above_gross", "The tare (2 lb) is more than the gross weight"),
        ({"weight": "1", "tare": "8 oz"}, "tare_unit", "Weigh the tare in the same unit"),
    ],
)
def test_what_cannot_be_packed_is_refused_beside_the_weight(
    wrapping: tuple[Tablet, Run], posted: dict[str, str], code: str, sentence: str
) -> None:
    tablet, run = wrapping
    page = tablet.post("floor-pack", run.pk, *keys("grind-trim", "ground"), **posted)
    assert (page.status_code, last_event().refusal) == (422, code)
    assert sentence in words(page)
    assert not run.packages.exists()


@pytest.mark.parametrize(
    ("posted", "sentence"),
    [
        ({"weight": "1", "count": "0"}, "greater than or equal to 1"),
        ({"weight": "1", "count": "9" * 40}, "less than or equal to 500"),
        ({"packs": "201", "not_weighed": "1"}, "less than or equal to 200"),
        ({"weight": ";".join(["1"] * 201)}, "At most 200 packs at a time."),
        ({"weight": ";"}, "Between 1 and 200 packs at a time."),
        ({"weight": "1;two"}, "“two” is not a weight."),
        ({"weight": "1" * 2_001}, "at most 2000 characters"),
        ({"weight": "1\x00"}, "Null characters are not allowed"),
        ({}, "Type the weight, or tap “not weighed”."),
    ],
)
def test_wrong_figures_are_said_in_words(
    wrapping: tuple[Tablet, Run], posted: dict[str, str], sentence: str
) -> None:
    tablet, run = wrapping
    page = tablet.post("floor-pack", run.pk, *keys("grind-trim", "ground"), **posted)
    assert page.status_code == 422
    assert sentence in words(page)
    assert not run.packages.exists()


def test_a_cut_the_part_is_not_made_into_is_no_page(wrapping: tuple[Tablet, Run]) -> None:
    tablet, run = wrapping
    ground = Choice.objects.get(code="ground").pk
    backstrap = Part.objects.get(code="backstrap").pk
    assert tablet.get("floor-pack", run.pk, backstrap, ground).status_code == 404


def test_something_else_offers_every_cut(wrapping: tuple[Tablet, Run]) -> None:
    tablet, run = wrapping
    page = tablet.get("floor-other-cut", run.pk)
    neck = Part.objects.get(code="neck")
    roast = neck.choices.get(code="roast")
    assert reverse("floor-pack", args=[run.pk, neck.pk, roast.pk]) in page.content.decode()
    tablet.post("floor-pack", run.pk, neck.pk, roast.pk, weight="3")
    assert run.packages.get().part == neck


def test_a_label_is_destroyed_with_a_reason(wrapping: tuple[Tablet, Run]) -> None:
    tablet, run = wrapping
    where = keys("backstrap", "steaks")
    tablet.post("floor-pack", run.pk, *where, weight="1.1", count="4")
    package = run.packages.get()
    page = tablet.post("floor-pack-void", package.pk)
    assert (page.status_code, last_event().refusal) == (422, "reason_missing")
    page = tablet.post("floor-pack-void", package.pk, reason_tile="Torn or leaking")
    assert banner(page) == ("good", "Done. Destroy label 1: it is void.")
    assert "No pack yet." in words(page)
    tablet.post("floor-pack", run.pk, *where, weight="1.1", count="4")
    assert [p.n for p in run.packages.order_by("n")] == [1, 2]
    page = tablet.post("floor-pack-void", package.pk, reason_tile="Torn or leaking")
    assert (page.status_code, last_event().refusal) == (422, "not_voidable")


def all_but_the_tenderloins(tablet: Tablet, run: Run) -> None:
    """50.2 of the 51.7 lb on the table, in four packs."""
    tablet.post("floor-pack", run.pk, *keys("backstrap", "steaks"), weight="11;11", count="4")
    tablet.post("floor-pack", run.pk, *keys("grind-trim", "ground"), weight="14.1;14.1")


def test_done_leads_to_the_boxes(wrapping: tuple[Tablet, Run]) -> None:
    tablet, run = wrapping
    all_but_the_tenderloins(tablet, run)
    tablet.post("floor-pack", run.pk, *keys("tenderloin", "whole"), weight="1.05")
    page = tablet.post("floor-wrap-done", run.pk)
    assert tablet.landed(page) == f"/floor/orders/{run.animal.order_id}/boxes/"
    assert "5 packs in no box." in words(page)
    assert set(run.animal.pieces.filter(kind="lug").values_list("state", flat=True)) == {"used"}


def test_nothing_packed_needs_a_reason(wrapping: tuple[Tablet, Run]) -> None:
    tablet, run = wrapping
    page = tablet.post("floor-wrap-done", run.pk)
    assert (page.status_code, last_event().refusal) == (422, "nothing_packed")
    tablet.post("floor-wrap-done", run.pk, reason_tile="Spoiled, thrown away")
    run.refresh_from_db()
    assert run.close_reason == "Spoiled, thrown away"


def test_a_tenderloin_in_no_pack_needs_a_reason(wrapping: tuple[Tablet, Run]) -> None:
    tablet, run = wrapping
    all_but_the_tenderloins(tablet, run)
    page = tablet.post("floor-wrap-done", run.pk)
    assert (page.status_code, last_event().refusal) == (422, "tenderloin_missing")
    assert "The tenderloins of" in words(page)
    tablet.post("floor-wrap-done", run.pk, reason_tile="Tenderloins packed with other cuts")
    run.refresh_from_db()
    assert run.closed_at is not None


def test_a_finished_table_takes_no_pack(wrapping: tuple[Tablet, Run]) -> None:
    tablet, run = wrapping
    tablet.post("floor-wrap-done", run.pk, reason="nothing left")
    page = tablet.post("floor-pack", run.pk, *keys("tenderloin", "whole"), weight="1.05")
    assert (page.status_code, last_event().refusal) == (422, "run_closed")
    assert not Package.objects.exists()


def test_tenderloins_alone_wait_apart(scenario: Any, tablet: Tablet) -> None:
    only_tenderloins = scenario.hung(scenario.deer(tag="WT-1"))
    whole = scenario.deer(tag="WT-2")
    scenario.ground(whole)
    queue = wrap_queue()
    assert [group.label for group in queue.ready.all] == [whole.label]
    assert [group.label for group in queue.bags.all] == [only_tenderloins.label]
    assert "Tenderloins only, the rest is not here yet: 1" in words(tablet.at("wrap").get("floor"))


@pytest.mark.parametrize("which", ["ready", "bags", "stopped"])
def test_the_first_lines_are_shown_and_all_of_them_when_asked(
    scenario: Any, tablet: Tablet, by: Any, monkeypatch: pytest.MonkeyPatch, which: str
) -> None:
    monkeypatch.setattr("orders.packing.queries.SHOWN", 2)
    for n in range(3):
        deer = scenario.deer(tag=f"WT-{n}")
        (scenario.hung if which == "bags" else scenario.cut)(deer)
        if which == "stopped":
            open_hold(deer, by=by("counter"), kind="recall")
    labels = [f"26-000{n}" for n in (1, 2, 3)]
    page = tablet.at("wrap").get("floor")
    lines = getattr(page.context["queue"], which)
    assert [group.label for group in lines.all] == labels
    assert [group.label for group in lines.shown] == labels[:2]
    assert "Show all 3" in words(page)
    assert labels[2] not in words(page)
    page = tablet.client.get("/floor/?all")
    assert labels[2] in words(page)
    assert "Show all" not in words(page)


def test_a_table_that_was_finished_today_is_a_tap_away(scenario: Any, tablet: Tablet) -> None:
    deer = scenario.deer()
    page = tablet.at("wrap").get("floor")
    assert "Finished here today" not in words(page)
    scenario.packed(deer)
    run = deer.runs.get(kind="wrap")
    page = tablet.get("floor")
    assert reverse("trail", args=[run.code]) in page.content.decode()
    assert page.context["just_finished"] == [run]


def test_grind_trim_waits_for_the_grinder_not_for_the_table(scenario: Any, tablet: Tablet) -> None:
    deer = scenario.deer()
    lugs = scenario.cut(deer)
    names = [piece.name for group in wrap_groups() for piece in group.pieces]
    assert lugs["grind_trim"].name not in names
    page = tablet.at("wrap").post("floor-bring", lugs["grind_trim"].pk)
    assert last_event().refusal == "wrong_station"
    assert "goes to the grinder first" in banner(page)[1]
