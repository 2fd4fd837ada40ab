"""The office's part of a journey: the price, where the pounds went, the pickup, the register."""

from __future__ import annotations

import csv
import io
import re

from playwright.sync_api import Locator, Page, expect

from tests.journeys.steps import banner, collects, in_order, paper, refused, scan


def the_price_is_set(clerk: Page, number: str, dollars: str) -> None:
    clerk.goto(f"/orders/{number}/pickup/")
    clerk.get_by_label("Amount").fill("a lot")
    clerk.get_by_role("button", name="Set the amount").click()
    refused(clerk.get_by_label("Amount"), "Type dollars and cents, like 85 or 112.50.", "a lot")
    clerk.get_by_label("Amount").fill(dollars)
    clerk.get_by_role("button", name="Set the amount").click()
    expect(clerk.get_by_text(f"${dollars} owed")).to_be_visible()


def where_the_pounds_went(owner: Page) -> None:
    """Step 5: the table sorts, narrows and is saved; the animal's page tells expected from packed."""
    owner.get_by_role("link", name="Where the pounds went").click()
    table = owner.get_by_role("table", name="Expected and packed")
    expect(table.get_by_role("row")).to_have_count(3)
    table.get_by_role("link", name=re.compile("^Weighed$")).click()
    expect(table.get_by_role("columnheader", name="Weighed", exact=True)).to_have_attribute(
        "aria-sort", "ascending"
    )
    owner.get_by_label(re.compile("^Species")).select_option(label="White-tailed deer")
    owner.get_by_role("button", name="Show").click()
    expect(table.get_by_role("row")).to_have_count(2)
    rows = saved(owner, owner.get_by_role("link", name="Save as CSV"))
    assert [row["Species"] for row in rows] == ["White-tailed deer"]
    table.get_by_role("link", name="26-0001").click()
    main = owner.get_by_role("main")
    text = " ".join(main.inner_text().split())
    assert in_order(text, ("Expected", "low", "lb", "high", "lb", "98.4 lb", "hanging"))
    assert in_order(text, ("Packed", "28 of them not weighed", "pork fat", "2.9 lb", "not the hunter’s own"))
    assert in_order(text, ("From weight to weight", "130.0 lb", "99.5 lb", "waste not weighed"))
    statement = paper(owner, owner.get_by_role("link", name="Print the statement"))
    assert "not weighed" in statement.words


def saved(page: Page, link: Locator) -> list[dict[str, str]]:
    """The rows of a table that is saved as CSV."""
    answer = page.context.request.get(page.url.partition("?")[0] + (link.get_attribute("href") or ""))
    assert answer.headers["content-type"].startswith("text/csv")
    return list(csv.DictReader(io.StringIO(answer.body().decode("utf-8-sig"))))


def sign(page: Page) -> None:
    """A signature drawn with the mouse."""
    canvas = page.locator("#mark-pad canvas")
    canvas.scroll_into_view_if_needed()
    box = canvas.bounding_box()
    assert box
    page.mouse.move(box["x"] + 30, box["y"] + 40)
    page.mouse.down()
    for step in range(1, 9):
        page.mouse.move(box["x"] + 30 + 20 * step, box["y"] + 40 + 25 * (step % 2))
    page.mouse.up()
    expect(page.locator("#mark-said")).to_have_text("The mark is drawn.")


def it_is_collected(clerk: Page, boxes: list[str]) -> None:
    """Step 6: found by the claim slip's code; one box leaves, it cannot close, the rest leaves, it closes."""
    clerk.goto("/orders/26-0001/")
    slip = paper(clerk, clerk.get_by_role("link", name="Claim slip"))
    clerk.goto("/")
    scan(clerk, slip.codes[0])
    clerk.get_by_role("link", name="Pickup", exact=True).last.click()
    may = clerk.locator("section").filter(has=clerk.get_by_role("heading", name="Who may collect"))
    expect(may).to_contain_text("Wren Ashgrove")
    hand_over = clerk.get_by_role("button", name="Hand over")
    scan(clerk, boxes[0])
    expect(clerk.get_by_role("checkbox", name=re.compile("^box 1"))).to_be_checked()
    collects(clerk, "Wren Ashgrove")
    sign(clerk)
    hand_over.click()
    expect(clerk.get_by_text("$148.50 is still owed.")).to_be_visible()
    expect(clerk.get_by_role("radio", name="Wren Ashgrove")).to_be_checked()
    expect(clerk.locator("#mark-said")).to_have_text("The mark is drawn.")
    clerk.get_by_label("How").first.select_option(label="Cash")
    clerk.get_by_role("button", name="It is paid").click()
    expect(clerk.get_by_text("Paid $148.50")).to_be_visible()
    scan(clerk, boxes[0])
    collects(clerk, "Wren Ashgrove")
    sign(clerk)
    hand_over.click()
    expect(banner(clerk)).to_contain_text("handed over to Wren Ashgrove.")
    expect(clerk.get_by_text("Partly collected")).to_be_visible()
    receipt = paper(clerk, clerk.get_by_role("link", name="Print the receipt"))
    assert "Wren Ashgrove" in receipt.words
    it_does_not_close(clerk)
    the_rest_leaves(clerk)


def it_does_not_close(clerk: Page) -> None:
    clerk.get_by_role("button", name="Close it").click()
    left = "Still here or unaccounted for: box 2, antlers"
    refused(clerk.get_by_label(re.compile("^Reason")), left, "")


def the_rest_leaves(clerk: Page) -> None:
    for thing in ("box 2", "antlers"):
        clerk.get_by_role("checkbox", name=re.compile(f"^{thing}")).check()
    collects(clerk, "Rowan Sedgewick")
    clerk.get_by_role("button", name="Hand over").click()
    refused(clerk.get_by_label(re.compile("^Initials")), "The collector signs, or types initials.", "")
    clerk.get_by_label(re.compile("^Initials")).fill("RS")
    clerk.get_by_role("button", name="Hand over").click()
    expect(clerk.get_by_text("Everything has been collected.")).to_be_visible()
    clerk.get_by_role("button", name="Close it").click()
    expect(banner(clerk)).to_contain_text("26-0001 is closed.")


def the_warden_reads_the_register(clerk: Page) -> None:
    """Step 7: every animal of the days asked for; what is missing says MISSING, on the screen and on paper."""
    clerk.get_by_role("link", name="Register").click()
    table = clerk.get_by_role("table", name="Custody register")
    whole = table.get_by_role("row").filter(has_text="WT-10021")
    for words in ("26-0001", "Tobin Ashgrove", "Rowan Sedgewick", "3 Quarry Road", "L-2041", "Wren Ashgrove"):
        expect(whole).to_contain_text(words)
    expect(whole).not_to_contain_text("MISSING")
    expect(table.get_by_role("row").filter(has_text="MD-20440")).to_contain_text("MISSING")
    expect(clerk.get_by_text("1 incomplete")).to_be_visible()
    printed = paper(clerk, clerk.get_by_role("link", name="Print the register"))
    for words in ("WT-10021", "MD-20440", "MISSING", "Rowan Sedgewick"):
        assert words in printed.words
    first = clerk.get_by_label("From")
    first.fill("2020-01-01")
    clerk.get_by_label("To", exact=True).fill("2020-01-31")
    clerk.get_by_role("button", name="Show").click()
    expect(clerk.get_by_text("0 animals")).to_be_visible()
