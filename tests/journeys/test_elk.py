"""One elk in seven pieces and its head, from counter to pickup, through the pages only; birds without a tag."""

from __future__ import annotations

import re
from datetime import timedelta

from django.utils import timezone
from playwright.sync_api import Page, expect

from tests.journeys.office import sign
from tests.journeys.steps import (
    Shop,
    banner,
    begin_animal,
    body_code,
    choose,
    collects,
    new_hunter,
    pack,
    paper,
    refused,
    scan,
    take_a_number,
    take_it_in,
    tap,
    weigh,
)

ELK = "26-0001"
PIECES = (
    ("Hind quarter, left", "58.5"),
    ("Hind quarter, right", "57"),
    ("Front quarter, left", "41"),
    ("Front quarter, right", "42.5"),
    ("Bag of backstrap", "19.5"),
    ("Bag of tenderloin", "4.5"),
    ("Bag of neck meat", "17"),
)


def test_an_elk_in_seven_pieces_from_the_counter_to_the_pickup(shop: Shop) -> None:
    clerk = shop.office("clem")
    codes = it_comes_in_pieces(clerk)
    clerk.get_by_role("link", name=re.compile("^Cut sheet")).click()
    clerk.get_by_role("button", name="House cut for all of it").click()
    expect(clerk.get_by_text("Version 1", exact=True)).to_be_visible()
    every_piece_is_hung(shop.tablet("Cooler door"), shop, codes)
    lugs = it_is_cut(shop.tablet("Block 1"), codes[0])
    lugs.append(it_is_ground(shop.tablet("Grinder"), lugs.pop()))
    it_is_packed_in_one_box(shop.tablet("Wrap 1"), lugs)
    it_is_shelved(shop.tablet("Freezer door"))
    nothing_is_made_up(shop.office("olive"))
    everything_is_collected(clerk)


def test_birds_without_a_tag_are_refused(shop: Shop) -> None:
    clerk = shop.office("clem")
    number = take_a_number(clerk)
    begin_animal(clerk, number, "Mallard", "Birds")
    clerk.get_by_label("How many birds").fill("6")
    clerk.get_by_role("button", name="Take it in").click()
    tag = clerk.get_by_label("Tag or confirmation number")
    refused(tag, "Untagged birds cannot be taken in: they need the hunter's tag.", "")
    expect(clerk.get_by_label("How many birds")).to_have_value("6")
    tag.fill("MB-90017")
    clerk.get_by_label("Not weighed").check()
    take_it_in(clerk, "Mallard, 6")
    expect(clerk.get_by_text("Received", exact=True).first).to_be_visible()


def it_comes_in_pieces(clerk: Page) -> list[str]:
    """Seven pieces with their weights, k of n, and the head; each has a tag of its own. The codes of the seven."""
    number = take_a_number(clerk)
    new_hunter(clerk, Name="Marit Quillfeather", Phone="406-555-0123", Address="9 Loon Lake Road")
    begin_animal(clerk, number, "Elk", "Quarters and bags")
    clerk.get_by_label("Tag or confirmation number").fill("EK-30077")
    clerk.get_by_label("License number").fill("L-3310")
    clerk.get_by_label("Place of kill").fill("Lantern Ridge, unit 9")
    clerk.get_by_label("Date of kill").fill(str(timezone.localdate() - timedelta(days=2)))
    choose(clerk, "Sex", "Male")
    take_it_in(clerk, ELK)
    expect(clerk.get_by_role("region", name="Still owed")).to_contain_text(
        "Its pieces: none are written down yet."
    )
    for piece, pounds in (*PIECES, ("Head", "38")):
        bring(clerk, piece, pounds)
        expect(banner(clerk)).to_contain_text(f"{ELK}: {piece.lower()} taken in.")
    bring(clerk, "Hind quarter, left", "55")
    said = clerk.get_by_role("group", name="What it is", exact=True)
    expect(said).to_contain_text(f"{ELK} has brought its hind quarter, left already.")
    first = paper(clerk, clerk.get_by_role("link", name="Tags", exact=True))
    assert "7 of 7 so far" in first.words
    so_far = clerk.get_by_role("region", name=re.compile("^Pieces: 7 so far, 240.0 lb"))
    expect(so_far.get_by_role("row").filter(has_text="bag of neck meat")).to_contain_text("7 of 7 so far")
    clerk.get_by_role("button", name="All pieces are in: 7").click()
    expect(banner(clerk)).to_contain_text(f"{ELK}: all is in, 7 pieces.")
    pieces = clerk.get_by_role("region", name=re.compile("^Pieces: 7, 240.0 lb"))
    for k, (piece, pounds) in enumerate(PIECES, start=1):
        row = pieces.get_by_role("row").filter(has_text=piece.lower())
        expect(row).to_contain_text(f"{k} of 7")
        expect(row).to_contain_text(f"{float(pounds):.1f} lb")
    expect(pieces.get_by_role("row").filter(has_text="head")).not_to_contain_text(" of ")
    codes = [body_code(clerk, piece.lower()) for piece, _ in PIECES]
    tags = paper(clerk, clerk.get_by_role("link", name="Tags", exact=True))
    assert set(tags.codes) == {*codes, body_code(clerk, "head")}
    for k in range(1, 8):
        assert f"{k} of 7" in tags.words
    assert "so far" not in tags.words
    return codes


def bring(clerk: Page, piece: str, pounds: str) -> None:
    """One more piece, with its weight, at the counter."""
    adding = clerk.get_by_role("region", name=re.compile("^Pieces"))
    choose(clerk, "What it is", piece)
    adding.get_by_role("textbox", name="Weight", exact=True).last.fill(pounds)
    adding.get_by_role("button", name=re.compile("^Add piece")).click()


def every_piece_is_hung(cooler: Page, shop: Shop, codes: list[str]) -> None:
    """The first by tiles, the others by scanning the tag and the rail."""
    cooler.get_by_role("region", name="To hang").get_by_role(
        "link", name=re.compile("hind quarter, left")
    ).click()
    tap(cooler, "Rail A")
    cooler.get_by_role("button", name="Not weighed").click()
    expect(banner(cooler)).to_contain_text("hind quarter, left hangs at Rail A.")
    for code, (piece, _) in list(zip(codes, PIECES, strict=True))[1:]:
        scan(cooler, code)
        expect(cooler.get_by_role("heading", level=1)).to_have_text(f"Hang {piece.lower()}")
        scan(cooler, shop.places.rail.code)
        expect(banner(cooler)).to_contain_text(f"{piece.lower()} hangs at Rail A.")
    expect(cooler.get_by_text("Everything hangs.")).to_be_visible()


def it_is_cut(block: Page, code: str) -> list[str]:
    """Any piece's tag opens the animal; what is not weighed is said to be so. The lugs' codes, the trim last."""
    scan(block, code)
    expect(block.get_by_role("region", name="Cut sheet")).to_contain_text("Backstrap")
    codes = []
    for contents, pounds in (("Whole cuts", "88.5"), ("Grind trim", "71")):
        block.get_by_role("link", name="Fill a lug").click()
        tap(block, contents)
        weigh(block, pounds, "Save the lug")
        row = (
            block.get_by_role("region", name="Lugs").get_by_role("listitem").filter(has_text=contents.lower())
        )
        codes += paper(block, row.get_by_role("link", name=re.compile("^Print its card"))).codes
    for what in ("bone and fat", "waste"):
        block.get_by_role("link", name=re.compile(f"^{what.capitalize()}")).click()
        block.get_by_role("button", name="Not weighed").click()
        expect(banner(block)).to_contain_text(f"{what}, not weighed")
    block.get_by_role("button", name="Done at the block").click()
    expect(banner(block)).to_contain_text("Where is tag EK-30077 kept now that the hock is off?")
    block.get_by_role("link", name=re.compile("^Tag EK-30077")).click()
    block.get_by_role("button", name="Envelope with the order").click()
    block.get_by_role("button", name="Done at the block").click()
    expect(block.get_by_role("heading", level=1)).to_have_text("Block 1")
    return codes


def it_is_ground(grinder: Page, trim: str) -> str:
    """No fat is asked for; what comes out is not weighed. The ground lug's code."""
    scan(grinder, trim)
    grinder.get_by_role("link", name="Ground meat out").click()
    grinder.get_by_role("button", name="Not weighed").click()
    out = grinder.get_by_role("region", name="Out")
    expect(out.get_by_role("listitem")).to_contain_text("not weighed")
    card = paper(grinder, out.get_by_role("link", name="Print its card"))
    grinder.get_by_role("button", name="Empty and cleaned").click()
    expect(grinder.get_by_text("No trim waits for the grinder.")).to_be_visible()
    return card.codes[0]


def it_is_packed_in_one_box(wrap: Page, lugs: list[str]) -> None:
    for code in lugs:
        scan(wrap, code)
        expect(banner(wrap)).to_contain_text(re.compile("(is|are) on the table\\."))
    pack(wrap, "Tenderloin Whole", "2.1; 2.2")
    pack(wrap, "Backstrap Steaks", "1.6; 1.6; 1.7; 1.6")
    wrap.get_by_role("link", name="Back", exact=True).click()
    wrap.get_by_role("link", name=re.compile("^Grind trim Ground")).click()
    wrap.get_by_label("How many packs, if they are only counted").fill("70")
    wrap.get_by_role("button", name="Count only, not weighed").click()
    labels = paper(wrap, wrap.get_by_role("link", name="Print these labels"))
    assert labels.words.upper().count("NOT FOR SALE") == 70
    wrap.get_by_role("link", name="Back", exact=True).click()
    wrap.get_by_role("button", name="All packed").click()
    wrap.get_by_role("button", name="A new box").click()
    wrap.get_by_role("button", name="All 76 packs").click()
    expect(wrap.get_by_text("76 packs in it")).to_be_visible()


def it_is_shelved(freezer: Page) -> None:
    for region, name, place in (("Boxes waiting", "box 1", "Shelf 1"), ("Kept parts", "head", "Hook 1")):
        waiting = freezer.get_by_role("region", name=re.compile(f"^{region}"))
        waiting.get_by_role("link", name=re.compile(name)).click()
        tap(freezer, place)
        freezer.get_by_role("button", name="It is there").click()
        expect(banner(freezer)).to_contain_text(f"{name} is at {place}.")


def nothing_is_made_up(owner: Page) -> None:
    """What was not weighed stays not weighed, and no difference is claimed from it."""
    owner.get_by_role("link", name="Where the pounds went").click()
    row = owner.get_by_role("table", name="Expected and packed").get_by_role("row").filter(has_text="Elk")
    expect(row).to_contain_text("not weighed")
    row.get_by_role("link", name=ELK).click()
    main = owner.get_by_role("main")
    expect(main).to_contain_text("76 packs, 70 of them not weighed")
    expect(main).to_contain_text(re.compile(r"low [\d.]+ lb"))
    expect(main).not_to_contain_text("Difference")


def everything_is_collected(clerk: Page) -> None:
    clerk.get_by_role("link", name="Pickup", exact=True).first.click()
    row = clerk.get_by_role("row").filter(has_text="Marit Quillfeather")
    expect(row).to_contain_text("head")
    row.get_by_role("link", name=ELK).click()
    clerk.get_by_role("button", name="The hunter is told").click()
    expect(clerk.get_by_text("Ready, hunter told")).to_be_visible()
    for thing in ("box 1, 76 packs", "head"):
        clerk.get_by_role("checkbox", name=re.compile(f"^{thing}")).check()
    collects(clerk, "Marit Quillfeather")
    sign(clerk)
    clerk.get_by_role("button", name="Hand over").click()
    expect(clerk.get_by_text("Everything has been collected.")).to_be_visible()
    clerk.get_by_role("button", name="Close it").click()
    expect(banner(clerk)).to_contain_text(f"{ELK} is closed.")
