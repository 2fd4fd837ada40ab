"""Only what lies on the table is packed: ground meat of a ground lug, whole cuts of a lug of whole cuts."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse

from orders.floor.grind import finish_grind, start_grind, take_from_grinder
from orders.ledger.models import Contents, Piece, Run
from orders.packing.actions import bring_to_wrap, pack
from orders.packing.table import can_be_packed, comes_of
from shop.models import Choice, Part
from tests.orders.floor.tablet import Tablet, banner, last_event, refused, words
from tests.orders.floor.test_grind_pages import cut_with
from tests.orders.pools import grind_together, pool_on_table, two_deer
from tests.scenario import lb

CUTS = {
    "ground": ("grind-trim", "ground"),
    "patties": ("grind-trim", "patties"),
    "steaks": ("backstrap", "steaks"),
    "roast": ("neck", "roast"),
    "tenderloin": ("tenderloin", "whole"),
    "stew of the trim": ("grind-trim", "stew"),
    "organs": ("organs", "keep"),
    "bones": ("bones", "soup-bones"),
}
OF = {
    "whole_cuts": {"steaks", "roast", "tenderloin", "stew of the trim", "organs", "bones"},
    "ground": {"ground", "patties", "organs", "bones"},
    "tenderloins": {"tenderloin", "organs", "bones"},
    "grind_trim": {"stew of the trim", "organs", "bones"},
}


def cut(name: str) -> dict[str, Any]:
    part, choice = CUTS[name]
    return {"part": Part.objects.get(code=part), "choice": Choice.objects.get(code=choice)}


@pytest.mark.parametrize("contents", OF)
def test_each_lug_gives_its_own_packs(catalog: None, contents: str) -> None:
    lug = Piece(contents=contents)
    assert {name for name in CUTS if can_be_packed(**cut(name), here=[lug])} == OF[contents]


def test_every_cut_of_the_catalog_comes_of_some_lug(catalog: None) -> None:
    for part in Part.objects.prefetch_related("choices"):
        for choice in part.choices.all():
            assert set(comes_of(part, choice)) <= set(Contents), (part, choice)


def test_ground_packs_want_a_ground_lug(scenario: Any, by: Any) -> None:
    deer = scenario.deer()
    lugs = scenario.ground(deer)
    run = bring_to_wrap(lugs["whole_cuts"], by=by("wrap")).fetch(Run)
    with refused("not_on_this_table"):
        pack(run, by=by("wrap"), **cut("ground"), weights=(lb("1"),))
    assert last_event().shown == "Grind trim, ground: bring a lug of ground meat to this table first."
    bring_to_wrap(lugs["ground"], by=by("wrap"))
    pack(run, by=by("wrap"), **cut("ground"), weights=(lb("1"),))
    assert run.packages.get().has_added_fat == "pork"


def test_whole_cuts_want_their_lug_and_tenderloins_their_bag(scenario: Any, by: Any) -> None:
    deer = scenario.deer()
    run = bring_to_wrap(scenario.ground(deer)["ground"], by=by("wrap")).fetch(Run)
    for name, lug in (
        ("steaks", "a lug of whole cuts"),
        ("tenderloin", "the tenderloin bag or a lug of whole cuts"),
    ):
        with refused("not_on_this_table"):
            pack(run, by=by("wrap"), **cut(name), unweighed=1)
        assert f"bring {lug} to this table first." in last_event().shown
    bring_to_wrap(deer.pieces.get(kind="tenderloin"), by=by("wrap"))
    pack(run, by=by("wrap"), **cut("tenderloin"), unweighed=1)
    with refused("not_on_this_table"):
        pack(run, by=by("wrap"), **cut("steaks"), unweighed=1)
    assert not run.packages.exclude(part__code="tenderloin").exists()


def test_trim_that_is_not_ground_is_packed_of_its_lug(scenario: Any, by: Any) -> None:
    deer = scenario.deer()
    trim = cut_with(scenario, by, deer, trim="18", choice="stew", fat_bp=0)
    run = bring_to_wrap(trim, by=by("wrap")).fetch(Run)
    with refused("not_on_this_table"):
        pack(run, by=by("wrap"), **cut("ground"), weights=(lb("1"),))
    pack(run, by=by("wrap"), **cut("stew of the trim"), weights=(lb("1"),))


def test_the_meat_of_a_pool_is_ground_only(scenario: Any, by: Any) -> None:
    order, first, second = two_deer(scenario)
    grind_together(scenario, first, second)
    run = pool_on_table(scenario, order)
    with refused("not_on_this_table"):
        pack(run, by=by("wrap"), **cut("steaks"), weights=(lb("1"),))
    pack(run, by=by("wrap"), **cut("ground"), weights=(lb("1"),))


def test_another_animal_s_ground_lug_does_not_count(scenario: Any, by: Any) -> None:
    """Two deer of one order, ground apart: the lug on the table is the one that counts, not one that waits."""
    order = scenario.order()
    deer, other = (scenario.deer(order, tag=f"WT-{n}") for n in (1, 2))
    lugs = scenario.cut(deer)
    run = start_grind(scenario.cut(other)["grind_trim"], by=by("grind")).fetch(Run)
    take_from_grinder(run, by=by("grind"), weight=lb("25"))
    finish_grind(run, by=by("grind"))
    table = bring_to_wrap(lugs["whole_cuts"], by=by("wrap")).fetch(Run)
    with refused("not_on_this_table"):
        pack(table, by=by("wrap"), **cut("ground"), weights=(lb("1"),))


# --- the page ---------------------------------------------------------------------------------------------------


def test_only_what_can_be_packed_is_offered(scenario: Any, by: Any, tablet: Tablet) -> None:
    deer = scenario.deer()
    lugs = scenario.ground(deer)
    run = bring_to_wrap(lugs["whole_cuts"], by=by("wrap")).fetch(Run)
    page = tablet.at("wrap").get("floor-wrap", run.pk)
    offered = {(each.part.code, each.choice.code) for each in page.context["cuts"]}
    assert ("backstrap", "steaks") in offered
    assert CUTS["ground"] not in offered
    assert "On the sheet, but in no lug on this table: grind trim (ground)." in words(page)
    others = tablet.get("floor-other-cut", run.pk).content.decode()
    here, not_here = (
        reverse("floor-pack", args=[run.pk, *(each.pk for each in cut(name).values())])
        for name in ("roast", "patties")
    )
    assert here in others
    assert not_here not in others
    tablet.post("floor-bring", lugs["ground"].pk)
    page = tablet.get("floor-wrap", run.pk)
    assert CUTS["ground"] in {(each.part.code, each.choice.code) for each in page.context["cuts"]}
    assert "in no lug on this table" not in words(page)


def test_a_page_left_open_says_what_is_missing(scenario: Any, by: Any, tablet: Tablet) -> None:
    run = bring_to_wrap(scenario.ground(scenario.deer())["whole_cuts"], by=by("wrap")).fetch(Run)
    keys = [each.pk for each in cut("ground").values()]
    page = tablet.at("wrap").post("floor-pack", run.pk, *keys, weight="1.02", count="3")
    assert (page.status_code, last_event().refusal) == (422, "not_on_this_table")
    assert banner(page)[1].endswith("bring a lug of ground meat to this table first.")
    assert 'value="1.02"' in page.content.decode()
    assert not run.packages.exists()


def test_packing_asks_no_more_than_it_must(scenario: Any, by: Any, queries_of: Any) -> None:
    """The same number of queries for one pack and for twelve; fewer where nothing is weighed."""
    deer = scenario.deer()
    for lug in scenario.ground(deer).values():
        run = bring_to_wrap(lug, by=by("wrap")).fetch(Run)
    counter = by("wrap")

    def packing(**packs: Any) -> int:
        return int(queries_of(lambda: pack(run, by=counter, **cut("ground"), **packs)))

    packing(weights=(lb("1"),))
    one, twelve = packing(weights=(lb("1"),)), packing(weights=(lb("1"),) * 12)
    assert one == twelve
    assert packing(unweighed=12) < one
