"""Every page of a stocked shop as each role sees it, on a tablet and on a phone.

Accessibility is judged by axe-core (tests/data/axe-core). The least size of a target on the floor is 20 mm, which is
118 px on a 10-inch tablet of 1280x800 (149 dots per inch): common practice, no source.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from orders.intake.models import Order
from orders.ledger.entry import By
from orders.ledger.models import Piece, PieceKind
from shop.models import Place, Station
from tests.conftest import People, Stations
from tests.journeys.steps import Shop, log_in, settled
from tests.journeys.stock import Stock, fill
from tests.scenario import Scenario

AXE = (Path(__file__).resolve().parents[1] / "data" / "axe-core" / "axe.min.js").read_text()
# Where to keep a picture of every page; nowhere by default.
PICTURES = os.environ.get("GAMBREL_PICTURES", "")
WIDE = {"width": 1280, "height": 800}
NARROW = {"width": 390, "height": 844}
LEAST = 118
SERIOUS = """async () => {
    const found = await axe.run(document, {resultTypes: ["violations"]});
    return found.violations
        .filter((each) => ["serious", "critical"].includes(each.impact))
        .map((each) => `${each.id}: ${each.nodes[0].html.slice(0, 160)} (${each.nodes.length})`);
}"""
# What is beside the work (its paper, taking back, another way) may be smaller: `slim`. In a list with one line for each
# animal, a line is 20 mm at the 96 dots of a large screen, so that more of them are in sight.
SMALL = """(least) => [...document.querySelectorAll("main button, main a.button, main .tile")]
    .filter((each) => each.checkVisibility() && !each.matches(".slim, .done:not(button)"))
    .filter((each) => !each.closest("details:not([open]), .undo"))
    .map((each) => [each.textContent.trim().slice(0, 40), each.getBoundingClientRect(), each.closest(".waiting")])
    .filter(([, box, line]) => box.height < (line ? 76 : least) - 0.5 || box.width < least - 0.5)
    .map(([words, box]) => `${words}: ${Math.round(box.width)}x${Math.round(box.height)}`)"""
TOO_WIDE = """() => document.documentElement.scrollWidth - document.documentElement.clientWidth"""


@pytest.fixture
def stock(crew: None, scenario: Scenario, by: Callable[[str], By]) -> Stock:
    return fill(scenario, by)


class Look:
    """One role's browser, and everything wrong that was seen in it."""

    def __init__(self, page: Page, role: str) -> None:
        self.page, self.role = page, role
        self.wrong: list[str] = []

    def at(self, address: str, *, floor: bool = False) -> None:
        """Open a page and look at it."""
        self.page.goto(address)
        self.here(address, floor=floor)

    def here(self, name: str, *, floor: bool = False) -> None:
        """Look at the page as it stands, wide and narrow."""
        page = self.page
        settled(page)
        expect(page.locator("html.script")).to_be_attached()
        if not page.get_by_role("heading").count():
            self.wrong.append(f"{name}: no heading")
        page.evaluate(AXE)
        self.wrong += [f"{name}: {each}" for each in page.evaluate(SERIOUS)]
        if floor:
            self.wrong += [f"{name}: small target {each}" for each in page.evaluate(SMALL, LEAST)]
        for size in (NARROW, WIDE):
            page.set_viewport_size(size)
            beyond = page.evaluate(TOO_WIDE)
            if beyond > 0:
                self.wrong.append(f"{name}: {beyond} px wider than {size['width']}")
            self._keep_picture(name, size["width"])

    def _keep_picture(self, name: str, width: int) -> None:
        if PICTURES:
            stem = name.strip("/").replace("/", "-").replace("?", "-") or "home"
            self.page.screenshot(path=f"{PICTURES}/{self.role}-{stem}-{width}.png", full_page=True)


def counter_pages(stock: Stock) -> Iterator[str]:
    """What the counter and the owner both have."""
    yield reverse("home")
    yield reverse("orders")
    yield reverse("orders") + "?q=nobody"
    for animal in (stock.ready, stock.received, stock.untagged, stock.held):
        yield reverse("order", args=[animal.order.number])
        yield reverse("animal", args=[animal.pk])
    yield reverse("order", args=[stock.ready.order.number]) + "?correct=1"
    yield reverse("order", args=[stock.ready.order.number]) + "?hunter=quill"
    yield reverse("animal-add", args=[stock.ready.order.number])
    yield reverse("animal-add", args=[stock.ready.order.number]) + "?species=elk"
    yield reverse("animal-add", args=[stock.ready.order.number]) + "?species=mallard"
    yield reverse("animal-edit", args=[stock.ready.pk])
    yield reverse("cut-sheet", args=[stock.received.pk])
    assert stock.cutting.animal
    yield reverse("cut-sheet", args=[stock.cutting.animal.pk])
    yield reverse("pickup")
    yield reverse("order-pickup", args=[stock.ready.order.number])
    yield reverse("holds")
    yield reverse("holds") + "?all=1"
    yield reverse("register")
    yield reverse("print-order", args=[stock.ready.order.number])
    yield reverse("print-package")


def trails(stock: Stock) -> Iterator[str]:
    """One code of every kind."""
    piece = Piece.objects.filter(kind=PieceKind.KEPT).first()
    assert piece
    codes = [stock.ready.order.code, stock.package.piece.code, stock.box.code, piece.code, stock.cutting.code]
    codes += [Place.objects.get(name="Shelf 1").code, Station.objects.get(name="Block 1").code]
    for code in codes:
        yield reverse("trail", args=[code])
    yield "/find/?q=nothing-like-this"
    yield "/there-is-no-such-page/"


def owner_pages(stock: Stock, people: People) -> Iterator[str]:
    yield reverse("yields")
    yield reverse("yields") + "?show=flagged"
    yield reverse("yield-detail", args=[stock.ready.pk])
    yield reverse("yield-detail", args=[stock.received.pk])
    for name in ("audit", "yield-charts", "yield-crew", "learned", "scale-checks", "yield-figures"):
        yield reverse(name)
    yield reverse("yield-cause", args=[stock.ready.pk])
    yield reverse("people")
    yield reverse("person", args=[people.clerk.pk])
    yield reverse("devices")
    yield reverse("season-new")


def floor_pages(stock: Stock, stations: Stations) -> Iterable[tuple[str, list[str]]]:
    """By station, the queue and what one task after the other looks like."""
    skin, cut, grind, wrap = (
        stock.skinning.pk,
        stock.cutting.pk,
        stock.grinding.pk,
        stock.wrapping.pk,
    )
    assert stock.skinning.animal
    trim, ground = stock.trim.pk, stock.trim.choices.get(code="ground").pk
    carcass = stock.held.pieces.get(kind="carcass")
    lug = stock.cutting.animal.pieces.get(kind="lug") if stock.cutting.animal else None
    assert lug
    return [
        (
            stations.skin.name,
            [
                reverse("floor-skin", args=[skin]),
                reverse("floor-take-off", args=[skin, "head"]),
                reverse("floor-tenderloins", args=[stock.skinning.animal.pk]),
                reverse("floor-bloodshot", args=[skin]),
                reverse("floor-tenderloins-found", args=[stock.skinning.animal.pk]),
                reverse("floor-hang", args=[skin]),
                reverse("floor-hang", args=[skin]) + "?left_in=later",
            ],
        ),
        (stations.cooler.name, [reverse("floor-cooler-piece", args=[carcass.pk])]),
        (
            stations.block.name,
            [
                reverse("floor-block", args=[cut]),
                reverse("floor-lug", args=[cut]),
                reverse("floor-waste", args=[cut, "bone_fat"]),
                reverse("floor-tag", args=[cut]),
                reverse("floor-block-done", args=[cut]),
                reverse("floor-lug-void", args=[lug.pk]),
            ],
        ),
        (
            stations.grind.name,
            [
                reverse("floor-grind", args=[grind]),
                reverse("floor-fat", args=[grind]),
                reverse("floor-grind-out", args=[grind]),
            ],
        ),
        (
            stations.wrap.name,
            [
                reverse("floor-wrap", args=[wrap]),
                reverse("floor-pack", args=[wrap, trim, ground]),
                reverse("floor-other-cut", args=[wrap]),
                reverse("floor-packs", args=[wrap]),
                reverse("floor-off-table", args=[wrap, "waste"]),
                reverse("floor-wrap-done", args=[wrap]),
                reverse("floor-pack-void", args=[stock.package.pk]),
                reverse("floor-reopen", args=[stock.package.run_id]),
                reverse("floor-boxes", args=[stock.packed.order.pk]),
            ],
        ),
        (
            stations.freezer.name,
            [reverse("floor-box", args=[stock.box.pk]), reverse("floor-store", args=[stock.box.pk])],
        ),
    ]


@pytest.mark.parametrize(("username", "role"), [("olive", "owner"), ("clem", "counter")])
def test_the_office_and_the_counter(
    username: str, role: str, shop: Shop, stock: Stock, people: People
) -> None:
    look = Look(shop.open_page(), role)
    if role == "counter":
        look.at(reverse("login"))
    log_in(look.page, username)
    pages = list(counter_pages(stock)) if role == "counter" else list(owner_pages(stock, people))
    pages += list(trails(stock)) if role == "counter" else [reverse("home"), reverse("floor")]
    for address in pages:
        look.at(address)
    assert look.wrong == []


def test_what_was_refused_at_the_counter(shop: Shop, stock: Stock) -> None:
    """Pages with sentences on them: every form sent empty or wrong."""
    look = Look(shop.office("clem"), "refused")
    page = look.page
    order = Order.objects.get(pk=stock.ready.order.pk)
    for address, button in (
        (reverse("animal-add", args=[order.number]) + "?species=white-tailed-deer", "Take it in"),
        (reverse("animal-add", args=[order.number]) + "?species=mallard", "Take it in"),
        (reverse("animal", args=[stock.untagged.pk]), "Record the tag"),
        (reverse("order-pickup", args=[order.number]), "Hand over"),
        (reverse("order-pickup", args=[order.number]), "Close it"),
        (reverse("order-pickup", args=[order.number]), "Set the amount"),
        (reverse("register") + "?from=&to=x", "Show"),
    ):
        page.goto(address)
        if button == "Set the amount":
            page.get_by_label("Amount").fill("a lot")
        page.get_by_role("button", name=button, exact=True).click()
        expect(page.locator("main .error, main .errorlist, main .notice.refused").first).to_be_visible()
        look.here(f"{address}-{button}")
    assert look.wrong == []


def test_the_floor(shop: Shop, stock: Stock, stations: Stations) -> None:
    """Each station of somebody who came in with a password and chooses where to stand."""
    look = Look(shop.open_page(), "floor")
    page = look.page
    page.goto("/login/")
    page.get_by_label("Username").fill("kit")
    page.get_by_label("Password").fill("lantern-test")
    page.get_by_role("button", name="Log in").click()
    look.here("choose", floor=True)
    for station, addresses in floor_pages(stock, stations):
        page.goto("/floor/?choose")
        page.get_by_role("button", name=station).click()
        expect(page.get_by_role("heading", level=1)).to_have_text(station)
        look.here(f"queue-{station}", floor=True)
        for address in addresses:
            look.at(address, floor=True)
            assert "$" not in page.locator("body").inner_text()
            assert "555-" not in page.locator("body").inner_text()
    look.at(reverse("trail", args=[stock.package.piece.code]), floor=True)
    assert look.wrong == []


def test_the_door_of_a_tablet(shop: Shop) -> None:
    """Name tiles and the PIN pad, and what they look like after a wrong PIN."""
    tablet = shop.tablet("Block 1")
    tablet.get_by_role("link", name="Switch").click()
    look = Look(tablet, "door")
    look.here("who", floor=True)
    tablet.get_by_text("Kit Barlow", exact=True).last.click()
    tablet.get_by_role("button", name="Start").click()
    expect(tablet.get_by_role("alert")).to_be_visible()
    look.here("who-wrong")
    assert look.wrong == []
