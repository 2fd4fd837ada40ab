"""One deer from the first keystroke to the pickup, through the pages only, and what is refused on its way."""

from __future__ import annotations

import re
from datetime import timedelta

from django.utils import timezone
from playwright.sync_api import Locator, Page, expect

from tests.journeys.office import (
    it_is_collected,
    the_price_is_set,
    the_warden_reads_the_register,
    where_the_pounds_went,
)
from tests.journeys.steps import (
    Shop,
    banner,
    begin_animal,
    body_code,
    choose,
    hold,
    new_hunter,
    no_money_and_no_phone,
    pack,
    paper,
    refused,
    release_hold,
    scan,
    send_twice,
    take_a_number,
    take_it_in,
    tap,
    type_code,
    weigh,
)

DEER = "26-0001"
HUNTER = {
    "Name": "Rowan Sedgewick",
    "Phone": "406-555-0117",
    "Address": "3 Quarry Road, Tamarack Fork",
    "License number": "L-2041",
}


def test_a_deer_from_the_tailgate_to_the_pickup(shop: Shop) -> None:
    clerk = shop.office("clem")
    carcass = it_comes_in(clerk)
    the_hunter_comes_again(clerk)
    clerk.goto("/orders/26-0001/")
    the_cut_sheet_is_made(clerk)
    skinning = shop.tablet("Skinning")
    bag = it_is_skinned_and_hung(skinning)
    lugs = it_is_cut(shop, clerk, carcass)
    a_scan_at_the_wrong_station(skinning, lugs["whole cuts"])
    lugs["ground"] = the_trim_is_ground(shop, lugs)
    wrap = shop.tablet("Wrap 1")
    package = it_is_wrapped(wrap, [lugs["ground"], lugs["whole cuts"], bag])
    boxes = it_is_boxed(wrap)
    freezer = shop.tablet("Freezer door")
    the_boxes_are_shelved(freezer, shop, boxes)
    the_price_is_set(clerk, "26-0001", "148.50")
    the_trail_tells_everything(clerk, freezer, package)
    where_the_pounds_went(shop.office("olive"))
    it_is_collected(clerk, boxes)
    the_warden_reads_the_register(clerk)


def it_comes_in(clerk: Page) -> str:
    """Step 1: a number first, the hunter, the animal with everything that is asked, its papers. Its code comes back."""
    number = take_a_number(clerk)
    new_hunter(clerk, **HUNTER)
    facts = clerk.get_by_role("region", name="This order")
    facts.get_by_label(re.compile("^Dropped off by")).fill("Tobin Ashgrove")
    facts.get_by_label(re.compile("^May collect")).fill("Wren Ashgrove")
    facts.get_by_label(re.compile("^Note")).fill("No bones in the bag")
    facts.get_by_role("button", name="Save").click()
    expect(banner(clerk)).to_contain_text(number)
    begin_animal(clerk, number, "White-tailed deer", "Whole, hide on")
    every_fact(clerk)
    what_cannot_be(clerk)
    clerk.get_by_label("Weight", exact=True).fill("131.5")
    clerk.get_by_label("Tare", exact=True).fill("1.5")
    take_it_in(clerk, DEER)
    code = body_code(clerk, "carcass")
    tags = paper(clerk, clerk.get_by_role("link", name="Tags"))
    assert tags.codes == (code, code)
    assert "WT-10021" in tags.words
    clerk.get_by_role("link", name=f"Order {number}").click()
    slip = paper(clerk, clerk.get_by_role("link", name="Claim slip"))
    assert number in slip.words
    trail = clerk.get_by_role("link", name="Trail").get_attribute("href")
    assert trail == f"/trail/{slip.codes[0]}/"
    return code


def the_hunter_comes_again(clerk: Page) -> None:
    """A second order of the same hunter, found by phone; no tag yet, so it is not received until there is one."""
    number = take_a_number(clerk)
    hunter = clerk.get_by_role("region", name="Hunter")
    hunter.get_by_label(re.compile("^Phone number or name")).fill("555-0117")
    hunter.get_by_role("button", name=re.compile(r"^This one ?: Rowan Sedgewick, \(406\) 555-0117")).click()
    expect(clerk.get_by_role("heading", level=1)).to_have_text(f"{number} Rowan Sedgewick")
    begin_animal(clerk, number, "Mule deer", "Whole, hide on")
    clerk.get_by_label("Weight", exact=True).fill("144")
    take_it_in(clerk, number)
    expect(clerk.get_by_text("Not received: tag missing")).to_be_visible()
    owed = clerk.get_by_role("region", name="Still owed")
    expect(owed).to_contain_text("The tag number, or a reason the shop allows.")
    tag = clerk.get_by_role("region", name="Tag")
    tag.get_by_label(re.compile("^Tag or confirmation number")).fill("WT-10021")
    tag.get_by_role("button", name="Record the tag").click()
    taken = "Tag WT-10021 is on 26-0001 already."
    refused(tag.get_by_label(re.compile("^Tag or confirmation number")), taken, "WT-10021")
    tag.get_by_label(re.compile("^Tag or confirmation number")).fill("MD-20440")
    tag.get_by_role("button", name="Record the tag").click()
    expect(banner(clerk)).to_contain_text(f"{number} is received.")
    expect(clerk.get_by_text("Not received: tag missing")).to_have_count(0)


def the_cut_sheet_is_made(clerk: Page) -> None:
    """Step 2: the house cut is filled in; the hunter wants his backstraps butterflied and half a top round as jerky."""
    clerk.get_by_role("link", name=re.compile("^Cut sheet")).click()
    expect(clerk.get_by_role("link", name="House cut")).to_have_attribute("aria-current", "true")
    backstrap, top_round = part(clerk, "Backstrap"), part(clerk, "Top round")
    expect(backstrap.get_by_label("Steaks", exact=True)).to_be_checked()
    expect(backstrap.get_by_text("House cut")).to_be_visible()
    backstrap.locator("label").filter(has_text="Butterfly steaks").click()
    expect(backstrap.get_by_text("House cut")).to_be_hidden()
    top_round.get_by_text("Split or note").click()
    top_round.get_by_label("The rest of it").select_option(label="Jerky strips, fresh")
    top_round.get_by_label("How much, %").fill("40")
    top_round.get_by_label("Pack size").last.fill("2 lb")
    clerk.get_by_label(re.compile("^Fat added")).fill("10")
    save = clerk.get_by_role("button", name="Save the cut sheet")
    save.click()
    refused(clerk.get_by_label(re.compile("^Which fat")), "Say which fat is added", "")
    expect(top_round.get_by_label("How much, %")).to_have_value("40")
    clerk.get_by_label(re.compile("^Which fat")).select_option(label="Pork fat")
    save.click()
    expect(banner(clerk)).to_contain_text("version 1")
    expect(clerk.get_by_text("Version 1", exact=True)).to_be_visible()
    read_back = paper(clerk, clerk.get_by_role("link", name="Print to read back"))
    assert "Butterfly steaks" in read_back.words
    assert "Jerky strips, fresh" in read_back.words


def part(clerk: Page, name: str) -> Locator:
    return clerk.get_by_role("group", name=re.compile(f"^{name}"))


def it_is_skinned_and_hung(tablet: Page) -> str:
    """Step 3, skinning: what is kept is tagged, the tenderloins are bagged, the carcass hangs. The bag's code."""
    tablet.get_by_role("region", name="Next").get_by_role("button", name=re.compile(DEER)).click()
    expect(tablet.get_by_text("HIT: SHOULDER")).to_be_visible()
    tablet.get_by_role("link", name="Hang it").click()
    expect(tablet.get_by_role("heading", level=1)).to_have_text("Left and right tenderloins still in?")
    tablet.get_by_role("link", name=re.compile("^Leave them in; pull them by")).click()
    tap(tablet, "Rail A")
    weigh(tablet, "98.4", "Hang it with this weight")
    kept = f"{DEER} keeps its antlers: take them off and tag them."
    refused(tablet.get_by_role("textbox", name="Another reason"), kept, "")
    tablet.get_by_role("link", name="Back", exact=True).click()
    tablet.get_by_role("button", name=re.compile("^Antlers off")).click()
    expect(banner(tablet)).to_contain_text("antlers")
    antlers = paper(tablet, tablet.get_by_role("link", name="Print its tag"))
    assert "Antlers" in antlers.words
    assert len(antlers.codes) == 1
    tablet.get_by_role("link", name="Hang it").click()
    tablet.get_by_role("link", name="Pull and bag them now").click()
    weigh(tablet, "1.1")
    expect(banner(tablet)).to_contain_text("tenderloins, left and right bagged.")
    tablet.get_by_role("link", name="Back", exact=True).click()
    bag = paper(tablet, tablet.get_by_role("link", name="Print tag: tenderloins"))
    tablet.get_by_role("link", name=re.compile("^Bloodshot")).click()
    weigh(tablet, "2.3")
    tablet.get_by_role("link", name="Hang it").click()
    tap(tablet, "Rail A")
    weigh(tablet, "98.4", "Hang it with this weight")
    expect(banner(tablet)).to_contain_text("Rail A")
    expect(tablet.get_by_role("region", name="Next")).not_to_contain_text(f"{DEER} ")
    no_money_and_no_phone(tablet)
    return bag.codes[0]


def it_is_cut(shop: Shop, clerk: Page, carcass: str) -> dict[str, str]:
    """Step 3, the block: a hold stops it, a second cutter is told, a double tap counts once. The lugs' codes."""
    block = shop.tablet("Block 1")
    clerk.get_by_role("link", name=DEER).first.click()
    hold(clerk, "Disease test pending", "sample 88-14")
    scan(block, carcass)
    expect(banner(block)).to_contain_text(f"Stop. {DEER} is on hold: disease test pending (sample 88-14).")
    expect(block.get_by_role("region", name="Not now")).to_contain_text(DEER)
    release_hold(clerk, "not detected")
    scan(block, carcass)
    expect(block.get_by_role("region", name="Cut sheet")).to_contain_text("Butterfly steaks")
    second = shop.tablet("Block 1", person="Bea Hollow", name="Block tablet 2")
    type_code(second, carcass)
    expect(banner(second)).to_contain_text(f"Kit Barlow has had {DEER} open at Block 1 since")
    lugs = {
        "whole cuts": lug_filled(block, "Whole cuts", "22.4"),
        "grind trim": lug_filled(block, "Grind trim", "26.0"),
    }
    block.get_by_role("link", name="Bone and fat").click()
    weigh(block, "24")
    done = block.get_by_role("button", name="Done at the block")
    done.click()
    expect(banner(block)).to_contain_text("Waste: weigh it, or tap “not weighed”.")
    block.get_by_role("link", name=re.compile("^Waste")).click()
    block.get_by_role("button", name="Not weighed").click()
    block.get_by_role("link", name=re.compile("^Tag WT-10021")).click()
    block.get_by_label("Elsewhere").fill("tag box, row 3")
    block.get_by_role("button", name="Save elsewhere").click()
    done.click()
    expect(block.get_by_role("heading", level=1)).to_have_text("Block 1")
    return lugs


def lug_filled(block: Page, contents: str, pounds: str) -> str:
    """A lug saved with a double tap is one lug; its code is read from its card."""
    rows = block.get_by_role("region", name="Lugs").get_by_role("listitem").filter(has_text=f"{pounds} lb")
    expect(rows).to_have_count(0)
    block.get_by_role("link", name="Fill a lug").click()
    tap(block, contents)
    pad = block.get_by_role("group", name="Keypad")
    for key in pounds:
        pad.get_by_role("button", name=key, exact=True).click()
    block.get_by_role("button", name="Save the lug").dblclick()
    expect(rows).to_have_count(1)
    card = paper(block, rows.get_by_role("link", name=re.compile("^Print its card")))
    assert DEER in card.words
    return card.codes[0]


def a_scan_at_the_wrong_station(skinning: Page, lug: str) -> None:
    scan(skinning, lug)
    expect(banner(skinning)).to_contain_text(f"Wrong station. {DEER}: ")
    expect(banner(skinning)).to_contain_text("belongs to wrap; you are at Skinning.")
    scan(skinning, lug[:-1] + str((int(lug[-1]) + 1) % 10))
    expect(banner(skinning)).to_contain_text("Wrong check digit.")


def the_trim_is_ground(shop: Shop, lugs: dict[str, str]) -> str:
    """Step 3, the grinder: whole cuts are sent on, the trim is ground with fat. The ground lug's code."""
    grinder = shop.tablet("Grinder")
    scan(grinder, lugs["whole cuts"])
    expect(banner(grinder)).to_contain_text("it belongs to wrap")
    scan(grinder, lugs["grind trim"])
    grinder.get_by_role("link", name="Add fat").click()
    expect(grinder.get_by_text("The cut sheet asks for 10 % pork fat: 2.9 lb in all.")).to_be_visible()
    tap(grinder, "Pork fat")
    grinder.get_by_label("The supplier's lot").fill("lot 7741")
    weigh(grinder, "2.9", "Save the fat")
    grinder.get_by_role("link", name="Ground meat out").click()
    weigh(grinder, "28.5", "Save the lug")
    out = grinder.get_by_role("region", name="Out")
    expect(out).to_contain_text("28.5 lb")
    card = paper(grinder, out.get_by_role("link", name="Print its card"))
    grinder.get_by_role("button", name="Empty and cleaned").click()
    expect(grinder.get_by_text("No trim waits for the grinder.")).to_be_visible()
    return card.codes[0]


def it_is_wrapped(wrap: Page, on_the_table: list[str]) -> str:
    """Step 3, wrap: weighed packs, counted packs, a pack sent twice, a label destroyed. One label's code."""
    for code in on_the_table:
        scan(wrap, code)
        expect(banner(wrap)).to_contain_text(re.compile("(is|are) on the table\\."))
    pack(wrap, "Tenderloin Whole", "1.05")
    pack(wrap, "Backstrap Butterfly steaks", "1.1; 1.1; 1.2; 1.1; 1.0; 1.1")
    labels = paper(wrap, wrap.get_by_role("link", name="Print these labels"))
    assert (labels.pages, len(set(labels.codes))) == (6, 6)
    assert labels.words.upper().count("NOT FOR SALE") == 6
    assert "Rowan Sedgewick" in labels.words
    wrap.get_by_role("link", name="Back", exact=True).click()
    wrap.get_by_role("link", name=re.compile("^Top round Steaks")).click()
    send_twice(wrap, wrap.locator("form.task"), weight="1.4")
    wrap.get_by_role("link", name="Back", exact=True).click()
    packed = wrap.get_by_role("region", name="Packed so far")
    expect(packed.get_by_role("row", name="Top round, steaks 1 1.4 lb")).to_be_visible()
    wrap.get_by_role("link", name=re.compile("^Grind trim Ground")).click()
    wrap.get_by_label("How many packs, if they are only counted").fill("28")
    wrap.get_by_role("button", name="Count only, not weighed").click()
    ground = paper(wrap, wrap.get_by_role("link", name="Print these labels"))
    assert ground.words.upper().count("NOT FOR SALE") == 28
    assert "pork fat" in ground.words.lower()
    wrap.get_by_role("link", name="Back", exact=True).click()
    expect(packed.get_by_role("row", name="Grind trim, ground 28 not weighed")).to_be_visible()
    no_money_and_no_phone(wrap)
    wrap.get_by_role("button", name="All packed").click()
    expect(wrap.get_by_role("heading", level=1)).to_have_text("Boxes")
    return labels.codes[0]


def it_is_boxed(wrap: Page) -> list[str]:
    """Three packs in one box, all others in a second. The boxes' codes, from their labels."""
    codes = []
    for ticked in (3, 0):
        wrap.get_by_role("button", name="A new box").click()
        for number in range(ticked):
            wrap.get_by_role("group", name=re.compile("^Or tick some")).locator("label").nth(number).click()
        wrap.get_by_role("button", name="The ticked packs" if ticked else re.compile("^All .* packs")).click()
        label = paper(wrap, wrap.get_by_role("link", name="Print its label"))
        assert "NOT FOR SALE" in label.words.upper()
        codes.append(label.codes[0])
        wrap.get_by_role("link", name="All boxes").click()
    expect(wrap.get_by_text("Every pack is in a box.")).to_be_visible()
    return codes


def the_boxes_are_shelved(freezer: Page, shop: Shop, boxes: list[str]) -> None:
    """One by tiles, one by scanning box and shelf; the antlers go to their hook."""
    waiting = freezer.get_by_role("region", name="Boxes waiting for a place")
    waiting.get_by_role("link", name=re.compile("box 1")).click()
    tap(freezer, "Shelf 1")
    freezer.get_by_role("button", name="It is there").click()
    expect(banner(freezer)).to_contain_text("box 1 is at Shelf 1.")
    scan(freezer, boxes[1])
    expect(freezer.get_by_role("heading", level=1)).to_have_text("Store box 2")
    scan(freezer, shop.places.shelf.code)
    expect(banner(freezer)).to_contain_text("box 2 is at Shelf 1.")
    kept = freezer.get_by_role("region", name="Kept parts")
    kept.get_by_role("link", name=re.compile("antlers")).click()
    tap(freezer, "Hook 1")
    freezer.get_by_role("button", name="It is there").click()
    expect(banner(freezer)).to_contain_text(re.compile("antlers (is|are) at Hook 1."))


def the_trail_tells_everything(clerk: Page, freezer: Page, package: str) -> None:
    """Step 4: one pack's code in the box of any page leads to hunter, tag, weights and hands."""
    for page in (clerk, freezer):
        page.goto("/find/?q=nothing-like-this")
        expect(page.get_by_role("heading", level=1)).to_have_text("Nothing found")
        if page is clerk:
            type_code(page, package)
        else:
            # At a station the box acts; what was typed in words is looked up, and leads on to every piece.
            type_code(page, DEER)
            expect(page).to_have_url(re.compile("/trail/"))
            page.goto(f"/trail/{package}/")
        main = page.get_by_role("main")
        for words in (
            "Rowan Sedgewick",
            "WT-10021",
            "Backstrap",
            "1.1 lb",
            "98.4 lb",
            "130.0 lb",
            "Kit Barlow",
        ):
            expect(main).to_contain_text(words)
        expect(main).to_contain_text("Clem Tansy")
        expect(main).to_contain_text("in box 1")
    no_money_and_no_phone(freezer)
    freezer.get_by_role("link", name="Back to Freezer door").click()
    expect(freezer.get_by_role("heading", level=1)).to_have_text("Freezer door")
    clerk.goto("/orders/")
    scan(clerk, package)
    expect(clerk).to_have_url(re.compile(f"/trail/{package}/$"))


def every_fact(clerk: Page) -> None:
    clerk.get_by_label("Tag or confirmation number").fill("WT-10021")
    clerk.get_by_label("Place of kill").fill("Tamarack County, unit 4")
    choose(clerk, "As weighed it was", "Field-dressed, feet on")
    choose(clerk, "Sex", "Male")
    choose(clerk, "Age", "Adult")
    choose(clerk, "Left tenderloin", "Present")
    choose(clerk, "Right tenderloin", "Present")
    choose(clerk, "Head", "Antlers only")
    for part in ("Cape", "Hide", "Organs"):
        choose(clerk, part, "Discard")
    choose(clerk, "Where it was hit", "Shoulder")
    clerk.get_by_text("Condition in words", exact=True).click()
    clerk.get_by_label("Condition, in words").fill("one shot, high")


def what_cannot_be(clerk: Page) -> None:
    """Wrong weights and a kill in the future: a sentence beside each, and everything typed stays."""
    weight, tare = clerk.get_by_label("Weight", exact=True), clerk.get_by_label("Tare", exact=True)
    killed, tag = clerk.get_by_label("Date of kill"), clerk.get_by_label("Tag or confirmation number")
    today = timezone.localdate()
    killed.fill(str(today - timedelta(days=1)))
    for typed, empty, sentence in (
        ("-5", "", "A weight cannot be negative."),
        ("12", "15", "The tare (15 lb) is more than the gross weight (12 lb)."),
        ("5000", "", "cannot be: a white-tailed deer stays under"),
        ("heavy", "", "“heavy” is not a weight."),
    ):
        weight.fill(typed)
        tare.fill(empty)
        clerk.get_by_role("button", name="Take it in").click()
        refused(weight, sentence, typed)
        expect(tare).to_have_value(empty)
        expect(tag).to_have_value("WT-10021")
    tomorrow = str(today + timedelta(days=1))
    weight.fill("131.5")
    killed.fill(tomorrow)
    clerk.get_by_role("button", name="Take it in").click()
    refused(killed, "The date of kill is in the future.", tomorrow)
    expect(weight).to_have_value("131.5")
    expect(clerk.get_by_role("group", name="Head").get_by_label("Antlers only")).to_be_checked()
    killed.fill(str(today - timedelta(days=1)))
