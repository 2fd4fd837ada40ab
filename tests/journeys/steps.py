"""What people do at the pages, in their own words: log in, scan, weigh, read a label. Pages only, no actions."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import pypdfium2 as pdfium
import zxingcpp
from playwright.sync_api import Locator, Page, expect

PASSWORD = "lantern-test"
PIN = "270461"
PRINTER_DPI = 203


@dataclass
class Shop:
    """The shop's browsers. `places` are its rails, racks, shelves and hooks."""

    open_page: Callable[..., Page]
    places: Any

    def office(self, username: str) -> Page:
        """A PC where somebody is logged in with a password."""
        page = self.open_page()
        log_in(page, username)
        return page

    def tablet(self, station: str, person: str = "Kit Barlow", name: str = "") -> Page:
        """A tablet that the owner enrolls at a station, where a person of the floor then comes in by PIN."""
        page = self.open_page()
        log_in(page, "olive")
        page.get_by_role("link", name="Devices").click()
        page.get_by_label("What this device is called").fill(name or f"{station} tablet")
        page.get_by_label("Where it stands").select_option(label=station)
        page.get_by_role("button", name="Enroll this device").click()
        expect(banner(page)).to_contain_text(f"is enrolled at {station}.")
        page.get_by_role("button", name="Log out").click()
        come_in(page, person)
        expect(page.get_by_role("heading", level=1)).to_have_text(station)
        return page


def log_in(page: Page, username: str) -> None:
    page.goto("/login/")
    page.get_by_label("Username").fill(username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Log in").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Today")


def come_in(page: Page, person: str) -> None:
    """A name tile and a PIN on its pad."""
    expect(page.get_by_text("Who is here?")).to_be_visible()
    page.get_by_text(person, exact=True).click()
    for digit in PIN:
        page.get_by_role("button", name=digit, exact=True).click()
    page.get_by_role("button", name="Start").click()


def settled(page: Page) -> None:
    """What was sent is answered."""
    page.locator("html.sending").wait_for(state="detached")


def banner(page: Page) -> Locator:
    """What the page says was done, or not, once it is answered."""
    settled(page)
    return page.locator("#messages")


def scan(page: Page, code: str) -> None:
    """A scanner with nothing focused: all keys within one task of the page, and Enter."""
    expect(page.locator("html.script")).to_be_attached()
    page.evaluate(
        """(keys) => {
            document.activeElement?.blur();
            for (const key of keys) {
                document.body.dispatchEvent(new KeyboardEvent("keydown", {key, bubbles: true, cancelable: true}));
            }
        }""",
        [*code, "Enter"],
    )
    settled(page)


def type_code(page: Page, code: str) -> None:
    """A code typed by hand into the box that every page has."""
    page.get_by_role("searchbox").first.fill(code)
    page.get_by_role("searchbox").first.press("Enter")


def digits(text: str) -> str:
    return re.sub(r"\D", "", text)


def refused(field: Locator, sentence: str, typed: str) -> None:
    """The sentence stands beside its field, where a screen reader finds it, and what was typed is still there."""
    expect(field).to_have_accessible_description(re.compile(re.escape(sentence)))
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(field).to_have_value(typed)


def weigh(page: Page, pounds: str, button: str = "Save the weight") -> None:
    """A weight tapped on the keypad of a floor screen, and saved."""
    pad = page.get_by_role("group", name="Keypad")
    for key in pounds:
        pad.get_by_role("button", name=key, exact=True).click()
    expect(page.get_by_label(re.compile("^Weight in"))).to_have_value(pounds)
    page.get_by_role("button", name=button, exact=True).click()


def tap(page: Page, label: str) -> None:
    """A tile of a floor screen, chosen."""
    page.locator("label.tile").filter(has_text=re.compile(rf"^\s*{re.escape(label)}")).click()


def pack(page: Page, cut: str, weights: str) -> None:
    """Packs of one cut at the wrap table, each with its weight; the screen stays there for the next ones."""
    if page.get_by_role("link", name="Back", exact=True).count():
        page.get_by_role("link", name="Back", exact=True).click()
    page.get_by_role("link", name=re.compile(f"^{re.escape(cut)}")).click()
    page.get_by_label(re.compile("^Weight in")).fill(weights)
    page.get_by_role("button", name="Pack with this weight").click()
    expect(banner(page)).to_contain_text("pack ")


def no_money_and_no_phone(page: Page) -> None:
    """The floor's pages have neither, wherever it goes."""
    text = page.locator("body").inner_text()
    assert "$" not in text
    assert "555-" not in text


# --- what is printed -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Paper:
    """A printed PDF: its words, and the codes that a scanner reads from it at the printer's own dots."""

    pages: int
    words: str
    codes: tuple[str, ...]


def fetch(page: Page, address: str) -> bytes:
    """A PDF with the page's own cookies."""
    answer = page.context.request.get(address)
    assert answer.status == 200, (address, answer.status)
    assert answer.headers["content-type"] == "application/pdf"
    body = answer.body()
    assert body.startswith(b"%PDF-")
    return body


def paper(page: Page, link: Locator) -> Paper:
    """What a link to a paper prints."""
    address = link.get_attribute("href")
    assert address
    with pdfium.PdfDocument(fetch(page, address)) as document:
        texts = [each.get_textpage().get_text_range() for each in document]
        codes = [
            found.text
            for each in document
            for found in zxingcpp.read_barcodes(
                each.render(scale=PRINTER_DPI / 72).to_pil().convert("L"),
                formats=zxingcpp.BarcodeFormat.Code128,
            )
        ]
    return Paper(len(texts), " ".join(" ".join(texts).split()), tuple(codes))


# --- the counter -----------------------------------------------------------------------------------------------


def take_a_number(page: Page) -> str:
    """New order: the number stands there before any question."""
    page.get_by_role("link", name="Today").click()
    page.get_by_role("button", name="New order").click()
    heading = page.get_by_role("heading", level=1)
    expect(heading).to_have_text(re.compile(r"^\s*26-\d{4}\s*$"))
    return heading.inner_text().strip()


def new_hunter(page: Page, **facts: str) -> None:
    """Write down a hunter who was never here; the names are the labels' first words."""
    hunter = page.get_by_role("region", name="Hunter")
    hunter.get_by_text("New hunter", exact=True).click()
    for label, value in facts.items():
        hunter.get_by_role("textbox", name=re.compile(rf"^{label}( optional)?$")).fill(value)
    hunter.get_by_role("button", name="Save the hunter").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(facts["Name"])


def choose(page: Page, group: str, answer: str) -> None:
    """One answer of a question whose answers are all in sight."""
    question = page.get_by_role("group", name=group, exact=True)
    question.locator("label").filter(has_text=re.compile(rf"^\s*{re.escape(answer)}\s*$")).click()


def begin_animal(page: Page, number: str, species: str, came_as: str) -> None:
    page.goto(f"/orders/{number}/")
    page.get_by_role("link", name=re.compile("^Add an")).click()
    page.get_by_role("navigation", name="What is it?").get_by_role("link", name=species, exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(f"{species} for {number}")
    if came_as != "Birds":
        choose(page, "It came as", came_as)


def take_it_in(page: Page, label: str) -> None:
    take = page.get_by_role("button", name="Take it in")
    take.click()
    expect(take).to_have_count(0)
    expect(page.get_by_role("heading", level=1)).to_contain_text(label)


def collects(page: Page, name: str) -> None:
    """One of the names that were given to the shop, tapped."""
    group = page.get_by_role("group", name="Collected by", exact=True)
    group.locator("label").filter(has_text=re.compile(rf"^\s*{re.escape(name)}\s*$")).click()


def body_code(page: Page, piece: str) -> str:
    """The code of a piece as the animal's page shows it."""
    row = page.get_by_role("region", name=re.compile("^Pieces")).get_by_role("row").filter(has_text=piece)
    return digits(row.locator(".code").inner_text())


def hold(page: Page, kind: str, note: str) -> None:
    holds = page.get_by_role("region", name="Holds")
    holds.get_by_text("Put it on hold").click()
    holds.get_by_label("Held for").select_option(label=kind)
    holds.get_by_label(re.compile("^Note")).fill(note)
    holds.get_by_role("button", name="Hold it").click()
    expect(banner(page)).to_contain_text("is on hold")


def release_hold(page: Page, why: str) -> None:
    holds = page.get_by_role("region", name="Holds")
    holds.get_by_label("Why it is released").fill(why)
    holds.get_by_role("button", name="Release").click()
    expect(banner(page)).to_contain_text(f"is released: {why}")


# --- sent twice ------------------------------------------------------------------------------------------------


def send_twice(page: Page, form: Locator, **typed: str) -> None:
    """A filled form sent by hand two times over, as a bad line does; its own id goes along both times."""
    sent = form.evaluate("form => Object.fromEntries(new FormData(form))") | typed
    address = form.evaluate("form => form.action")
    for _ in range(2):
        assert page.context.request.post(address, form=sent).ok


def in_order(text: str, words: Sequence[str]) -> bool:
    """Whether the words stand in a text one after the other."""
    return re.search(".*".join(map(re.escape, words)), text, re.DOTALL) is not None
