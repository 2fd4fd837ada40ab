"""At the wrap table of a full season the next thing to do is in sight and under the thumb, on a tablet of 1280x800."""

from __future__ import annotations

import re
from datetime import timedelta

from django.utils import timezone
from playwright.sync_api import expect

from orders.ledger.models import Run
from orders.packing.actions import bring_to_wrap
from tests.journeys.steps import Shop, pack, settled, weigh
from tests.journeys.test_within_reach import at_the_top_and_at_the_end, within_reach
from tests.scenario import Scenario

BAR = ".floor-bar a, .floor-bar button"


def on_table(scenario: Scenario) -> Run:
    """A deer with all its lugs and its tenderloins on the table."""
    deer = scenario.deer()
    for lug in (*scenario.ground(deer).values(), deer.pieces.get(kind="tenderloin")):
        run = bring_to_wrap(lug, by=scenario.by("wrap")).fetch(Run)
    return run


def test_packing(shop: Shop, scenario: Scenario) -> None:
    run = on_table(scenario)
    tablet = shop.tablet("Wrap 1")
    tablet.goto(f"/floor/wrap/{run.pk}/")
    at_the_top_and_at_the_end(
        tablet, BAR, "All packed", "Waste", "To the grinder", "Boxes", "Back to the queue"
    )
    tablet.evaluate("scrollTo(0, 0)")
    within_reach(tablet, ".queue .tile:nth-child(-n+4)", "Tenderloin")
    pack(tablet, "Tenderloin Whole", "1.05")
    # With the banner of the last pack above it, and what to do with its label.
    everything = f".keypad button, .pack-fields input, .last a, .last button, {BAR}"
    words = (
        "7",
        "0",
        "Next pack",
        "Print its label",
        "Same again",
        "Pack with this weight",
        "Count only",
        "Back",
    )
    within_reach(tablet, everything, *words)


def test_what_is_left(shop: Shop, scenario: Scenario) -> None:
    """Nothing is finished that nobody has answered for; what it was is weighed in two taps."""
    run = on_table(scenario)
    scenario.pack(run, "tenderloin", "whole", "1.1")
    scenario.pack(run, "backstrap", "steaks", "11", "11", count=4)
    scenario.pack(run, "grind-trim", "ground", "12", "12")
    tablet = shop.tablet("Wrap 1")
    tablet.goto(f"/floor/wrap/{run.pk}/")
    tablet.get_by_role("button", name=re.compile("^All packed")).click()
    sentence = tablet.get_by_text(
        "51.7 lb came to this table and 47.1 lb is packed. Where is the other 4.6 lb?"
    )
    expect(sentence).to_be_in_viewport()
    expect(tablet.get_by_label("Another reason", exact=True)).to_have_accessible_description(
        re.compile("Where is the other 4.6 lb")
    )
    within_reach(tablet, f".quick-ways a, {BAR}", "Weigh it: waste", "Weigh it: to the grinder", "Finish")
    tablet.get_by_role("link", name="Weigh it: waste").click()
    weigh(tablet, "4.2")
    expect(tablet.get_by_text("4.2 lb off as waste or grind trim")).to_be_visible()
    tablet.get_by_role("button", name=re.compile("^All packed")).click()
    expect(tablet.get_by_role("heading", level=1)).to_have_text("Boxes")


def test_a_full_season_waits_in_short_lines(shop: Shop, scenario: Scenario) -> None:
    """Bags of tenderloins, whose animals hang, do not hide the lugs; the longest waiting is on top."""
    for n in range(3):
        scenario.hung(scenario.deer(tag=f"WT-{n}"))
    late = scenario.deer(tag="WT-8")
    scenario.cut(late)
    old = scenario.deer(tag="WT-9")
    lugs = scenario.cut(old)
    old.pieces.filter(pk=lugs["whole_cuts"].pk).update(made_at=timezone.now() - timedelta(days=3))
    tablet = shop.tablet("Wrap 1")
    settled(tablet)
    ready = tablet.get_by_role("region", name="Next").get_by_role("listitem")
    expect(ready).to_have_text([re.compile(f"^\\s*{old.label}"), re.compile(f"^\\s*{late.label}")])
    assert [row.bounding_box()["height"] < 110 for row in ready.all()] == [True, True]  # type: ignore[index]
    within_reach(tablet, ".waiting li.first button", "Lug 1, whole cuts", "Tenderloins")
    bags = tablet.get_by_role("region", name="Tenderloins only")
    expect(bags.get_by_role("listitem").first).to_be_hidden()
    bags.get_by_text("Tenderloins only, the rest is not here yet: 3").click()
    expect(bags.get_by_role("listitem")).to_have_count(3)
    ready.first.get_by_role("button", name=re.compile("^Lug 1, whole cuts")).click()
    expect(tablet.get_by_role("region", name="On the table")).to_contain_text("Lug 1, whole cuts · 22.4 lb")
