"""The counter in a real browser: what is focused, what stays in sight, and a pickup with scanner and signature."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

from orders.ledger.entry import By
from orders.ledger.holds import open_hold
from orders.ledger.models import Piece
from tests.journeys.office import sign
from tests.journeys.steps import (
    Shop,
    banner,
    begin_animal,
    collects,
    log_in,
    paper,
    refused,
    release_hold,
    scan,
    take_a_number,
)
from tests.scenario import Scenario

NARROW = {"width": 390, "height": 844}
IN_SIGHT = """(element) => {
    const box = element.getBoundingClientRect();
    return box.top >= 0 && box.bottom <= innerHeight && box.height > 0;
}"""


def in_sight(place: Locator) -> bool:
    """Whether something is on the screen without scrolling."""
    expect(place).to_be_visible()
    return bool(place.evaluate(IN_SIGHT))


def test_the_hunter_s_search_has_the_focus_and_the_notice_is_in_sight(shop: Shop) -> None:
    clerk = shop.office("clem")
    number = take_a_number(clerk)
    expect(clerk.get_by_label(re.compile("^Phone number or name"))).to_be_focused()
    begin_animal(clerk, number, "White-tailed deer", "Whole, hide on")
    take = clerk.get_by_role("button", name="Take it in")
    for size in (NARROW, {"width": 1280, "height": 800}):
        clerk.set_viewport_size(size)
        clerk.evaluate("scrollTo(0, 0)")
        assert in_sight(take)
    clerk.evaluate("scrollTo(0, 0)")
    take.click()
    count = clerk.get_by_role("alert")
    expect(count).to_contain_text("1 answer to mend")
    assert in_sight(count)
    weight = clerk.get_by_label("Weight", exact=True)
    expect(weight).to_be_focused()
    assert in_sight(weight)
    weight.fill("131")
    take.click()
    assert in_sight(banner(clerk).locator(".notice"))
    assert in_sight(clerk.get_by_role("link", name="The cut sheet."))


def test_without_scripts_a_count_is_asked_of_birds_only(crew: None, open_page: Callable[..., Page]) -> None:
    page = open_page(java_script_enabled=False)
    log_in(page, "clem")
    page.get_by_role("button", name="New order").click()
    number = page.get_by_role("heading", level=1).inner_text().strip()
    begin_animal(page, number, "Elk", "Quarters and bags")
    expect(page.get_by_label("How many birds")).to_have_count(0)
    page.get_by_role("link", name="Another species").click()
    page.get_by_role("link", name="Mallard").click()
    expect(page.get_by_label("How many birds")).to_be_visible()
    for never in ("Head", "Left tenderloin", "It came as"):
        expect(page.get_by_role("group", name=never, exact=True)).to_have_count(0)
    page.get_by_role("button", name="Take it in").click()
    tag = page.get_by_label("Tag or confirmation number")
    refused(tag, "Untagged birds cannot be taken in: they need the hunter's tag.", "")
    expect(page.locator("main .error")).to_have_count(1)


@pytest.fixture
def waiting(crew: None, scenario: Scenario, by: Callable[[str], By]) -> Any:
    """Two orders in the freezer: a deer in two boxes with its antlers, on hold, and another hunter's box."""
    deer = scenario.deer()
    first = scenario.stored(deer)
    other = scenario.stored(scenario.deer(scenario.order("Marit Quillfeather", "406-555-0123"), tag="WT-2"))
    open_hold(deer, by=by("counter"), kind="disease_test", note="sample 88-14")
    return deer, first, other, deer.pieces.get(kind="kept")


def test_a_pickup_with_a_scanner(shop: Shop, waiting: Any) -> None:
    deer, box, other, antlers = waiting
    clerk = shop.office("clem")
    clerk.goto(f"/animals/{deer.pk}/")
    release_hold(clerk, "not detected")
    clerk.goto(f"/orders/{deer.order.number}/pickup/")
    scans(clerk, box, other)
    unknown_collector(clerk, antlers)
    clerk.get_by_role("button", name="Hand over").click()
    vouched = "Wren Okafor (not on the list: the hunter said so on the phone; ID seen)"
    expect(banner(clerk)).to_contain_text(f"handed over to {vouched}.")
    expect(clerk.get_by_text("Partly collected")).to_be_visible()
    receipt = paper(clerk, clerk.get_by_role("link", name="Print the receipt"))
    assert (
        "Wren Okafor is not among those who may collect: the hunter said so on the phone; ID seen."
        in receipt.words
    )
    closed_without_the_rest(clerk)


def scans(clerk: Page, box: Piece, other: Piece) -> None:
    """Another hunter's box is refused where one is; the next good scan clears that, wherever the focus is."""
    field = clerk.get_by_label("Scan each box")
    ticked = clerk.get_by_role("checkbox", name=re.compile("^box 1"))
    wrong = banner(clerk).locator(".notice.refused")
    scan(clerk, other.code)
    expect(wrong).to_contain_text("26-0002’s, not 26-0001’s.")
    expect(field).to_be_focused()
    # One pull of the trigger reads for a third of a second.
    clerk.wait_for_timeout(350)
    scan(clerk, box.code)
    expect(ticked).to_be_checked()
    expect(wrong).to_have_count(0)
    ticked.uncheck()
    field.fill(other.code)
    field.press("Enter")
    expect(wrong).to_be_visible()
    expect(field).to_be_focused()
    field.fill(box.code)
    field.press("Enter")
    expect(ticked).to_be_checked()
    expect(wrong).to_have_count(0)
    expect(field).to_be_focused()
    expect(field).to_have_value("")


def unknown_collector(clerk: Page, antlers: Piece) -> None:
    """Nobody is chosen; somebody else is named, signs, and is asked about; what was drawn stays."""
    hand_over = clerk.get_by_role("button", name="Hand over")
    hand_over.click()
    expect(clerk.get_by_text("Write down who collects it.")).to_be_visible()
    name = clerk.get_by_label("Name of somebody else")
    expect(name).to_be_hidden()
    collects(clerk, "Rowan Sedgewick")
    expect(name).to_be_hidden()
    collects(clerk, "Somebody else")
    name.fill("Wren Okafor")
    sign(clerk)
    hand_over.click()
    asked = clerk.get_by_role("group", name="How you know they may")
    expect(asked).to_contain_text("Wren Okafor is not among those who may collect 26-0001: Rowan Sedgewick.")
    expect(name).to_have_value("Wren Okafor")
    expect(clerk.locator("#mark-said")).to_have_text("The mark is drawn.")
    expect(clerk.get_by_role("checkbox", name=re.compile("^box 1"))).to_be_checked()
    asked.locator("label").filter(has_text="The hunter said so on the phone").click()
    clerk.get_by_label("In words").fill("ID seen")


def closed_without_the_rest(clerk: Page) -> None:
    """The antlers are nowhere to be found: the order closes only with a reason, and can be opened again."""
    clerk.get_by_role("button", name="Close it").click()
    reason = clerk.get_by_label(re.compile("^Reason"))
    refused(reason, "Still here or unaccounted for: antlers. Say why it closes.", "")
    expect(reason).to_be_focused()
    reason.fill("Antlers not on their hook; the hunter knows.")
    clerk.get_by_role("button", name="Close it").click()
    expect(banner(clerk)).to_contain_text("26-0001 is closed.")
    expect(clerk.get_by_text("The order is closed, and 1 thing of it is still here.")).to_be_visible()
    clerk.get_by_label("Why it is opened again").fill("The antlers turned up.")
    clerk.get_by_role("button", name="Reopen it").click()
    expect(clerk.get_by_role("checkbox", name=re.compile("^antlers"))).to_be_visible()
