"""The scanner as a keyboard, in a real browser: digits find their way wherever the focus is, and never into a field."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest
from playwright.sync_api import Browser, Page, Request, Route, expect

pytestmark = pytest.mark.browser

CODE = "2000000425"
BADGE = "100200300402"
SCRIPTS = Path(__file__).resolve().parents[2] / "shop" / "static" / "shop"
HOME = "http://shop.test/page"
PAGE = """<!doctype html><title>page</title>
<form class="scan" method="get" action="/find"><input type="search" name="q" data-scan></form>
<form id="badge-form" method="post" action="/who" hidden><input type="hidden" name="badge"></form>
<form id="note" method="post" action="/note"><input name="note"><input type="checkbox" name="bone">
<button name="go" value="yes">Save</button></form>
<button id="loose" type="button">Undo</button>
<input id="pin"><div data-pad="pin"><button type="button" data-key="4">4</button>
<button type="button" data-key="back">Erase</button></div>
<script src="/scan.js"></script><script src="/pin.js"></script>"""


class Desk:
    """A page with a scan box, and what it sent."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.sent: list[tuple[str, str, dict[str, list[str]]]] = []
        page.route("**/*", self._answer)
        page.goto(HOME)

    def _answer(self, route: Route, request: Request) -> None:
        parts = urlsplit(request.url)
        if parts.path.endswith(".js"):
            route.fulfill(path=str(SCRIPTS / parts.path[1:]), content_type="text/javascript")
        elif parts.path == "/page":
            route.fulfill(body=PAGE, content_type="text/html")
        else:
            self.sent.append((request.method, parts.path, parse_qs(request.post_data or parts.query)))
            # No content: the page stays, and a second sending would be seen.
            route.fulfill(status=204)

    def scan(self, digits: str, end: str = "Enter") -> None:
        """Types as fast as a scanner does: all keys within one task of the page."""
        self.page.evaluate(
            """([digits, end]) => {
                for (const key of [...digits, end]) {
                    const target = document.activeElement || document.body;
                    target.dispatchEvent(new KeyboardEvent("keydown", {key, bubbles: true, cancelable: true}));
                }
            }""",
            [digits, end],
        )

    def wait_until_sent(self, count: int = 1) -> None:
        deadline = 50
        while len(self.sent) < count and deadline:
            self.page.wait_for_timeout(40)
            deadline -= 1
        self.page.wait_for_timeout(150)


@pytest.fixture(scope="module")
def chromium_page(chromium: Browser) -> Iterator[Page]:
    page = chromium.new_page()
    yield page
    page.close()


@pytest.fixture
def desk(chromium_page: Page) -> Iterator[Desk]:
    yield Desk(chromium_page)
    chromium_page.unroute_all()


@pytest.mark.parametrize("end", ["Enter", "Tab"])
def test_a_scan_with_nothing_focused_is_found(desk: Desk, end: str) -> None:
    desk.scan(CODE, end)
    desk.wait_until_sent()
    assert desk.sent == [("GET", "/find", {"q": [CODE]})]


@pytest.mark.parametrize("focus", ["#loose", "[name=go]", "[name=bone]", "[data-scan]"])
def test_a_scan_beside_a_focused_button_box_or_the_scan_box_is_found(desk: Desk, focus: str) -> None:
    desk.page.focus(focus)
    desk.scan(CODE)
    desk.wait_until_sent()
    assert desk.sent == [("GET", "/find", {"q": [CODE]})]


def test_the_scanner_s_enter_does_not_press_the_focused_button(desk: Desk) -> None:
    desk.page.focus("[name=go]")
    desk.page.keyboard.type(CODE)
    desk.page.keyboard.press("Enter")
    desk.wait_until_sent()
    assert [sent[1] for sent in desk.sent] == ["/find"]


def test_somebody_typing_in_a_field_is_left_alone(desk: Desk) -> None:
    desk.page.focus("[name=note]")
    desk.page.keyboard.type(CODE)
    desk.page.keyboard.press("Tab")
    desk.page.wait_for_timeout(300)
    assert desk.sent == []
    expect(desk.page.locator("[name=note]")).to_have_value(CODE)


def test_digits_that_come_slowly_are_no_scan(desk: Desk) -> None:
    desk.page.keyboard.type(CODE, delay=110)
    desk.page.keyboard.press("Enter")
    desk.page.wait_for_timeout(300)
    assert desk.sent == []


@pytest.mark.parametrize("digits", ["200000042", "20000004251", "20000a0425", ""])
def test_other_lengths_and_letters_are_no_scan(desk: Desk, digits: str) -> None:
    desk.scan(digits)
    desk.page.wait_for_timeout(300)
    assert desk.sent == []


def test_one_pull_of_the_trigger_is_one_scan(desk: Desk) -> None:
    desk.scan(CODE)
    desk.scan(CODE)
    desk.wait_until_sent(2)
    assert len(desk.sent) == 1
    desk.page.wait_for_timeout(350)
    desk.scan(CODE)
    desk.wait_until_sent(2)
    assert len(desk.sent) == 2


def test_a_badge_is_sent_to_the_door_and_not_in_an_address(desk: Desk) -> None:
    desk.scan(BADGE)
    desk.wait_until_sent()
    assert desk.sent == [("POST", "/who", {"badge": [BADGE]})]


def test_a_badge_typed_into_the_scan_box_goes_there_too(desk: Desk) -> None:
    desk.page.fill("[data-scan]", BADGE)
    desk.page.wait_for_timeout(100)
    desk.page.press("[data-scan]", "Enter")
    desk.wait_until_sent()
    assert desk.sent == [("POST", "/who", {"badge": [BADGE]})]


def test_a_page_may_take_the_scan_itself(desk: Desk) -> None:
    desk.page.evaluate(
        """document.addEventListener("scan", (event) => {
            window.taken = event.detail.code;
            event.preventDefault();
        })"""
    )
    desk.scan(CODE)
    desk.page.wait_for_timeout(300)
    assert desk.page.evaluate("window.taken") == CODE
    assert desk.sent == []


def test_a_double_click_sends_a_form_once_with_its_button(desk: Desk) -> None:
    desk.page.fill("[name=note]", "one hind shot")
    desk.page.dblclick("[name=go]")
    desk.wait_until_sent()
    assert desk.sent == [("POST", "/note", {"note": ["one hind shot"], "go": ["yes"]})]
    expect(desk.page.locator("[name=go]")).to_be_disabled()


def test_coming_back_to_a_page_lets_its_form_be_sent_again(desk: Desk) -> None:
    desk.page.click("[name=go]")
    desk.wait_until_sent()
    desk.page.evaluate("""window.dispatchEvent(new Event("pageshow"))""")
    desk.page.click("[name=go]")
    desk.wait_until_sent(2)
    assert len(desk.sent) == 2


def test_the_pad_types_and_erases(desk: Desk) -> None:
    for _ in range(9):
        desk.page.click("[data-key='4']")
    expect(desk.page.locator("#pin")).to_have_value("4" * 8)
    desk.page.click("[data-key='back']")
    expect(desk.page.locator("#pin")).to_have_value("4" * 7)
