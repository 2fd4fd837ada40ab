"""On a tablet of 1280x800 what a screen is there for is in sight and under the thumb, however long the rest is."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from orders.floor.skin import start_skinning
from orders.ledger.models import Run
from shop.models import PlaceKind
from shop.places import add_place
from tests.journeys.steps import Shop, settled
from tests.scenario import Scenario

pytestmark = pytest.mark.browser
# What a gloved thumb hits: at least this many pixels high, of 149 to the inch (13 mm); common practice, no source.
LEAST_HEIGHT = 76
# Each control's words, its height, and whether its middle is in sight and nothing lies over it.
REACH = """(selector) => [...document.querySelectorAll(selector)].map((each) => {
    const box = each.getBoundingClientRect();
    const x = box.x + box.width / 2, y = box.y + box.height / 2;
    const top = document.elementFromPoint(x, y);
    return [each.textContent.trim().split("\\n")[0], box.height, Boolean(top && (each === top || each.contains(top)))];
})"""


def within_reach(page: Page, selector: str, *words: str) -> None:
    """All that a selector finds is in sight, free and high enough; `words` are among them."""
    settled(page)
    found = page.evaluate(REACH, selector)
    assert [name for name, _, free in found if not free] == []
    assert [(name, height) for name, height, _ in found if height < LEAST_HEIGHT] == []
    said = " ".join(name for name, _, _ in found)
    for word in words:
        assert word in said, (word, said)


def at_the_top_and_at_the_end(page: Page, selector: str, *words: str) -> None:
    for place in ("0", "document.body.scrollHeight"):
        page.evaluate(f"scrollTo(0, {place})")
        within_reach(page, selector, *words)


@pytest.fixture
def many_rails(places: Any) -> None:
    """Twelve rails and four racks: more than fit beside a keypad."""
    for letter in "BCDEFGHIJKL":
        add_place(f"Rail {letter}", PlaceKind.RAIL)
    for number in (2, 3, 4):
        add_place(f"Rack {number}", PlaceKind.RACK)


def test_hanging(shop: Shop, scenario: Scenario, many_rails: None) -> None:
    run = start_skinning(scenario.deer().pieces.get(), by=scenario.by("skin")).fetch(Run)
    tablet = shop.tablet("Skinning")
    tablet.goto(f"/floor/skin/{run.pk}/")
    at_the_top_and_at_the_end(tablet, ".floor-bar a, .floor-bar button", "Hang it", "Back to the queue")
    tablet.goto(f"/floor/skin/{run.pk}/hang/")
    at_the_top_and_at_the_end(
        tablet, ".ways .tile, .floor-bar a", "Pull and bag", "Not there", "Leave them in"
    )
    tablet.get_by_role("link", name=re.compile("^Leave them in; pull them by")).click()
    expect(tablet.get_by_text("Where does it hang?")).to_be_visible()
    keys = ".keypad button, .readings input, .floor-bar button, .floor-bar a"
    at_the_top_and_at_the_end(tablet, keys, "7", "0", "Hang it with this weight", "Not weighed", "Back")
    tablet.evaluate("scrollTo(0, 0)")
    within_reach(tablet, "label.tile:nth-child(-n+6)", "Rail A", "Rail E")


def test_the_refused_reason_stands_at_its_tiles(shop: Shop, scenario: Scenario, many_rails: None) -> None:
    run = start_skinning(scenario.deer().pieces.get(), by=scenario.by("skin")).fetch(Run)
    tablet = shop.tablet("Skinning")
    tablet.goto(f"/floor/skin/{run.pk}/hang/?left_in=later")
    tablet.locator("label.tile").filter(has_text="Rail A").click()
    tablet.get_by_role("button", name="Not weighed").click()
    sentence = tablet.get_by_text("keeps its antlers: take them off and tag them.")
    expect(sentence).to_be_in_viewport()
    expect(tablet.get_by_role("group", name="Why").get_by_text("It was spoiled")).to_be_in_viewport()
    expect(tablet.get_by_role("group", name="Where does it hang?").get_by_label("Rail A")).to_be_checked()
    within_reach(tablet, ".keypad button, .floor-bar button", "Hang it with this weight")


def test_the_block(shop: Shop, scenario: Scenario) -> None:
    run = scenario.opened(scenario.deer())
    tablet = shop.tablet("Block 1")
    tablet.goto(f"/floor/block/{run.pk}/")
    bar = ".floor-bar a, .floor-bar button"
    at_the_top_and_at_the_end(
        tablet, bar, "Fill a lug", "Bone and fat", "Waste", "Bloodshot", "Tag", "Done at the block"
    )
    for address, words in (("lug", "Save the lug"), ("waste/bone_fat", "Save the weight")):
        tablet.goto(f"/floor/block/{run.pk}/{address}/")
        at_the_top_and_at_the_end(
            tablet, f".keypad button, .readings input, {bar}", "7", words, "Not weighed"
        )
    tablet.goto(f"/floor/block/{run.pk}/tag/")
    at_the_top_and_at_the_end(
        tablet, f".task-answers .tile, .floor-bar input, {bar}", "Tag box", "Save elsewhere"
    )


def test_the_grinder(shop: Shop, scenario: Scenario) -> None:
    lug = scenario.cut(scenario.deer())["grind_trim"]
    tablet = shop.tablet("Grinder")
    tablet.get_by_role("button", name=re.compile("^Lug")).click()
    expect(tablet.get_by_role("region", name="In", exact=True)).to_contain_text(
        re.compile(lug.name, re.IGNORECASE)
    )
    at_the_top_and_at_the_end(
        tablet, ".floor-bar a, .floor-bar button", "Add fat", "Ground meat out", "Empty and cleaned"
    )


def test_the_trail_leads_back(shop: Shop, scenario: Scenario) -> None:
    deer = scenario.deer()
    scenario.cut(deer)
    tablet = shop.tablet("Block 1")
    tablet.goto(f"/trail/{deer.order.code}/")
    at_the_top_and_at_the_end(tablet, ".floor-bar a", "Back to Block 1")
    tablet.get_by_role("link", name="Back to Block 1").click()
    expect(tablet.get_by_role("heading", level=1)).to_have_text("Block 1")
