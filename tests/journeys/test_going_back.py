"""A refused form keeps what was typed, says why, and leaves no trace in the browser's history."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.conftest import Stations
from tests.journeys.steps import (
    PIN,
    Shop,
    banner,
    begin_animal,
    log_in,
    refused,
    scan,
    settled,
    take_a_number,
)
from tests.scenario import Scenario

pytestmark = pytest.mark.browser
WRONG = "“heavy” is not a weight."


def wrong_weight(page: Page) -> None:
    page.get_by_label("Weight", exact=True).fill("heavy")
    page.get_by_label("Place of kill").fill("Tamarack County, unit 4")
    page.get_by_role("button", name="Take it in").click()


def test_back_leads_to_the_page_before_the_form(shop: Shop) -> None:
    page = shop.office("olive")
    page.get_by_role("link", name="People").click()
    page.get_by_role("link", name="Devices").click()
    expect(page).to_have_url(re.compile("/devices/$"))
    form = page.url
    name, stands = page.get_by_label("What this device is called"), page.get_by_label("Where it stands")
    for typed in ("Cooler tablet", "Cooler tablet, left"):
        name.fill(typed)
        page.get_by_role("button", name="Enroll this device").click()
        settled(page)
        refused(stands, "Choose the station it stands at.", "")
        expect(name).to_have_value(typed)
        expect(page).to_have_url(form)
    page.go_back()
    expect(page).to_have_url(re.compile("/people/$"))
    expect(page.get_by_role("heading", level=1)).to_have_text("People")
    page.go_forward()
    expect(page).to_have_url(form)
    expect(page.get_by_role("button", name="Enroll this device")).to_be_visible()


def test_what_was_done_leads_on_and_its_banner_is_seen(shop: Shop) -> None:
    page = shop.office("clem")
    number = take_a_number(page)
    begin_animal(page, number, "White-tailed deer", "Whole, hide on")
    form = page.url
    wrong_weight(page)
    refused(page.get_by_label("Weight", exact=True), WRONG, "heavy")
    page.get_by_label("Weight", exact=True).fill("131.5")
    page.get_by_role("button", name="Take it in").click()
    expect(banner(page)).to_contain_text(f"{number}")
    expect(page).to_have_url(re.compile(r"/animals/\d+/"))
    page.go_back()
    expect(page).to_have_url(form)
    expect(page.get_by_role("button", name="Take it in")).to_be_visible()


def test_the_page_s_own_script_works_on_a_refused_page(shop: Shop) -> None:
    """The PIN pad at the door of a tablet, after a PIN that was wrong, and again."""
    tablet = shop.tablet("Block 1")
    tablet.get_by_role("link", name="Switch").click()
    for pin in ("4321", "1234", PIN):
        tablet.get_by_text("Kit Barlow", exact=True).last.click()
        for digit in pin:
            tablet.get_by_role("button", name=digit, exact=True).click()
        expect(tablet.get_by_label(re.compile("^Your PIN"))).to_have_value(pin)
        tablet.get_by_role("button", name="Start").click()
        settled(tablet)
        expect(tablet.get_by_role("alert")).to_have_count(0 if pin == PIN else 1)
    expect(tablet.get_by_role("heading", level=1)).to_have_text("Block 1")


def test_without_scripts_the_browser_sends_it(shop: Shop, scenario: Scenario) -> None:
    page = shop.open_page(java_script_enabled=False)
    page.goto("/login/")
    page.get_by_label("Username").fill("clem")
    page.get_by_label("Password").fill("lantern-test")
    page.get_by_role("button", name="Log in").click()
    begin_animal(page, scenario.order().number, "White-tailed deer", "Whole, hide on")
    wrong_weight(page)
    refused(page.get_by_label("Weight", exact=True), WRONG, "heavy")


def test_on_the_floor_the_keypad_works_on_and_back_leads_to_the_job(
    shop: Shop, scenario: Scenario, stations: Stations
) -> None:
    run = scenario.opened(scenario.deer())
    tablet = shop.tablet("Block 1")
    tablet.get_by_role("link", name=re.compile(run.animal.label)).click()
    job = tablet.url
    tablet.get_by_role("link", name="Fill a lug").click()
    pad = tablet.get_by_role("group", name="Keypad")
    for _ in range(2):
        pad.get_by_role("button", name="9", exact=True).click()
        tablet.get_by_role("button", name="Save the lug").click()
        expect(tablet.locator("#main")).to_be_focused()
        expect(tablet.get_by_text("Tap what is in the lug.")).to_be_visible()
    expect(tablet.get_by_label(re.compile("^Weight in"))).to_have_value("99")
    tablet.go_back()
    expect(tablet).to_have_url(job)
    expect(tablet.get_by_role("button", name="Done at the block")).to_be_visible()


def test_a_scan_with_nothing_focused_acts_on_a_refused_screen(
    shop: Shop, scenario: Scenario, stations: Stations
) -> None:
    first, second = scenario.deer(tag="WT-1"), scenario.deer(scenario.order("Ida Fenwick"), tag="WT-2")
    tablet = shop.tablet("Skinning")
    scan(tablet, first.pieces.get().code)
    tablet.get_by_role("link", name=re.compile("^Weigh it.*head")).click()
    tablet.get_by_role("button", name="Save the weight").click()
    expect(tablet.get_by_text("Type the weight, or tap “not weighed”.")).to_be_visible()
    scan(tablet, second.pieces.get().code)
    expect(banner(tablet)).to_contain_text(f"{second.label} is yours to skin.")


def test_no_answer_loses_nothing(shop: Shop, scenario: Scenario, stations: Stations) -> None:
    run = scenario.opened(scenario.deer())
    tablet = shop.tablet("Block 1")
    tablet.goto(f"/floor/block/{run.pk}/waste/waste/")
    tablet.get_by_label(re.compile("^Weight in")).fill("2.5")
    tablet.context.set_offline(True)
    tablet.get_by_role("button", name="Save the weight").click()
    expect(banner(tablet)).to_contain_text("did not answer. Nothing typed is lost")
    expect(tablet.get_by_label(re.compile("^Weight in"))).to_have_value("2.5")
    tablet.context.set_offline(False)
    tablet.get_by_role("button", name="Save the weight").click()
    expect(banner(tablet)).to_contain_text("waste, 2.5 lb")


def test_a_door_that_refuses_says_so(shop: Shop) -> None:
    page = shop.open_page()
    page.goto("/login/")
    page.get_by_label("Username").fill("clem")
    page.get_by_label("Password").fill("wrong")
    page.get_by_role("button", name="Log in").click()
    expect(page.locator("main .error, main .notice.refused").first).to_be_visible()
    log_in(page, "clem")
