"""Every paper from the ledger: rendered, its code read back from the picture, and its words as recorded."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pypdfium2
import pytest
import zxingcpp
from django.test import Client

from orders.cutsheets.actions import save_cut_sheet
from orders.cutsheets.rules import LineFacts
from orders.floor.block import fill_lug, open_animal
from orders.intake.actions import record_order
from orders.ledger.entry import By
from orders.ledger.holds import open_hold
from orders.ledger.models import Piece, PieceKind, Run
from orders.ledger.scale import OnScale
from orders.packing.actions import bring_to_wrap, pack, void_package
from orders.packing.models import Package
from orders.papers import intake, meat, office
from orders.papers.meat import net_text, package_labels, with_label_values
from orders.pickup.actions import release
from orders.pickup.models import Release
from shop.models import Choice, Part
from shop.weights import parse_reading
from tests.scenario import Scenario, lb

DOTS = 203 / 72


def codes_on(pdf: bytes) -> list[str]:
    """The codes that a scanner reads from each page, rasterised at a label printer's 203 dots an inch."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        pictures = [page.render(scale=DOTS).to_pil() for page in document]
    finally:
        document.close()
    return [found.text for picture in pictures for found in zxingcpp.read_barcodes(picture)]


def text_of(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    try:
        return "\n".join(page.get_textpage().get_text_bounded() for page in document)
    finally:
        document.close()


def printed(client: Client, path: str) -> bytes:
    """The PDF at an address, meant to be shown in the browser."""
    response = client.get(path)
    assert response.status_code == 200, response.content[:300]
    assert response.headers["Content-Type"] == "application/pdf"
    assert response.headers["Content-Disposition"].startswith("inline; filename=")
    assert response.content.startswith(b"%PDF-")
    return bytes(response.content)


def test_a_claim_slip_says_what_was_agreed(
    clerk_client: Client, scenario: Scenario, by: Callable[[str], By]
) -> None:
    deer = scenario.deer()
    record_order(deer.order, by=by("counter"), dropped_off_by="Ines Vardal", may_collect="Tobin Reyes")
    pdf = printed(clerk_client, f"/print/claim-slip/{deer.order.number}/")
    assert codes_on(pdf) == [deer.order.code]
    text = text_of(pdf)
    for said in (
        "26-0001",
        "Rowan Sedgewick",
        "(406) 555-0117",
        "Ines Vardal",
        "Tobin Reyes",
        "WT-10021",
        "131.5 lb",
        "antlers",
        "hit: shoulder",
    ):
        assert said in text, said


def test_a_whole_carcass_gets_two_tags_and_each_kept_part_one(
    cutter_client: Client, scenario: Scenario
) -> None:
    deer = scenario.hung(scenario.deer())
    pdf = printed(cutter_client, f"/print/tags/{deer.pk}/")
    carcass = deer.pieces.get(kind=PieceKind.CARCASS)
    rest = deer.pieces.exclude(pk=carcass.pk).order_by("id")
    assert sorted(codes_on(pdf)) == sorted([carcass.code, carcass.code, *(piece.code for piece in rest)])
    assert "KEEP FOR THE HUNTER" in text_of(pdf)


def test_tags_count_the_pieces_an_animal_came_as(scenario: Scenario) -> None:
    elk = scenario.elk()
    tags = intake.animal_tags(elk)
    body = [tag for tag in tags if not tag["kept"]]
    assert [(tag["number"], tag["of"]) for tag in body] == [(n, 7) for n in range(1, 8)]
    # What comes off later than the rest is not counted, as on the page.
    assert [(tag["piece"], tag["number"], tag["of"]) for tag in tags if tag["kept"]] == [("Head", None, None)]


def test_a_hold_is_on_the_tag(cutter_client: Client, scenario: Scenario, by: Callable[[str], By]) -> None:
    deer = scenario.deer()
    open_hold(deer, by=by("counter"), kind="disease_test")
    piece = deer.pieces.get()
    text = text_of(printed(cutter_client, f"/print/piece/{piece.pk}/"))
    assert "HOLD: disease test pending" in text


def test_a_missing_tag_is_said_on_the_tag(scenario: Scenario) -> None:
    deer = scenario.deer(tag="")
    assert intake.animal_tags(deer)[0]["tag"] == "tag missing"


def test_a_lug_card(cutter_client: Client, scenario: Scenario) -> None:
    deer = scenario.deer()
    lug = scenario.cut(deer)["grind_trim"]
    pdf = printed(cutter_client, f"/print/lug/{lug.pk}/")
    assert codes_on(pdf) == [lug.code]
    text = " ".join(text_of(pdf).split())
    for said in ("GRIND TRIM", "26.0 lb", "WT-10021", "filed: tag box, row 3"):
        assert said in text, said


def test_a_package_label_has_the_reading_as_packed(cutter_client: Client, scenario: Scenario) -> None:
    deer = scenario.deer()
    packages = scenario.packed(deer)
    ids = ",".join(str(package.pk) for package in packages[:3])
    pdf = printed(cutter_client, f"/print/packages/?ids={ids}")
    assert codes_on(pdf) == [package.piece.code for package in packages[:3]]
    text = text_of(pdf)
    for said in ("1.05 lb", "1.1 lb", "1 of 45", "Backstrap, steaks", "NOT FOR SALE", "4 in the pack"):
        assert said in text, said


@pytest.mark.parametrize(
    ("scale", "count", "said"),
    [
        (lb("1.25"), 4, "1.25 lb"),
        (lb("1.50", tare="0.05"), None, "1.45 lb"),
        (OnScale(parse_reading("20 oz")), None, "20 oz"),
        (OnScale(parse_reading("1 lb"), nominal=True), None, "nominal 1 lb"),
        (None, 4, "count: 4"),
        (None, None, "not weighed"),
    ],
)
def test_the_weight_on_a_label_is_what_the_scale_said(
    scenario: Scenario, by: Callable[[str], By], scale: OnScale | None, count: int | None, said: str
) -> None:
    deer = scenario.deer()
    run = bring_to_wrap(scenario.cut(deer)["whole_cuts"], by=by("wrap")).fetch(Run)
    answer = pack(
        run,
        by=by("wrap"),
        part=Part.objects.get(code="backstrap"),
        choice=Choice.objects.get(code="steaks"),
        weights=(scale,) if scale else (),
        unweighed=0 if scale else 1,
        count=count,
    )
    assert net_text(Package.objects.get(pk=answer.refs["packages"][0])) == said


def test_the_last_number_is_printed_only_when_it_is_known(
    scenario: Scenario, by: Callable[[str], By]
) -> None:
    deer = scenario.deer()
    run = bring_to_wrap(scenario.ground(deer)["ground"], by=by("wrap")).fetch(Run)
    scenario.pack(run, "grind-trim", "ground", "1", "1", "1")
    packages = list(with_label_values(deer.packages.all()))
    assert [label["of"] for label in package_labels(packages)] == [None, None, None]
    void_package(packages[0], by=by("wrap"), reason="torn")
    assert package_labels(packages)[1]["of"] is None


def test_added_fat_is_on_the_label(scenario: Scenario) -> None:
    deer = scenario.deer()
    scenario.packed(deer)
    labels = package_labels(list(with_label_values(deer.packages.filter(choice__code="ground"))))
    assert labels[0]["cut"] == "Ground, with pork fat"
    assert labels[0]["ingredients"] == "Contains added pork fat."
    assert labels[0]["origin"] == "Own meat"


def test_bear_has_its_caution_on_the_label(cutter_client: Client, scenario: Scenario) -> None:
    bear = scenario.deer(species="black-bear")
    package = scenario.packed(bear)[0]
    labels = package_labels(list(with_label_values(bear.packages.all())))
    assert {label["caution"] for label in labels} == {bear.species.caution}
    text = " ".join(text_of(printed(cutter_client, f"/print/packages/?ids={package.pk}")).split())
    assert bear.species.caution in text


def test_fat_that_is_wished_for_is_on_the_lug_card(scenario: Scenario, by: Callable[[str], By]) -> None:
    deer = scenario.hung(scenario.deer())
    line = LineFacts(
        part=Part.objects.get(code="grind-trim"),
        choice=Choice.objects.get(code="ground"),
        pack_oz=16,
        fat_bp=1_250,
        fat_kind="beef",
    )
    save_cut_sheet(deer, by=by("counter"), lines=(line,))
    run = open_animal(deer, by=by("block")).fetch(Run)
    trim = fill_lug(run, by=by("block"), contents="grind_trim").fetch(Piece)
    cuts = fill_lug(run, by=by("block"), contents="whole_cuts").fetch(Piece)
    assert meat.lug_card(trim)["note"] == "12.5 % beef fat"
    assert meat.lug_card(trim)["weight"] == ""
    assert meat.lug_card(cuts)["note"] == ""


def test_a_box_label_adds_up_what_is_in_it(cutter_client: Client, scenario: Scenario) -> None:
    deer = scenario.deer()
    box = scenario.stored(deer)
    pdf = printed(cutter_client, f"/print/box/{box.pk}/")
    assert codes_on(pdf) == [box.code]
    values = meat.box_label(box)
    assert (values["number"], values["of"]) == (1, 1)
    assert [(line["cut"], line["count"], line["weight"]) for line in values["lines"]] == [
        ("Tenderloin, whole", 1, "1.05 lb"),
        ("Backstrap, steaks", 6, "6.60 lb"),
        ("Top round, steaks", 10, "14.00 lb"),
        ("Ground, with pork fat", 28, "28.00 lb"),
    ]
    assert values["total"] == "45 packages, 49.65 lb"


def test_a_receipt_says_what_left_and_what_remains(
    clerk_client: Client, scenario: Scenario, by: Callable[[str], By]
) -> None:
    deer = scenario.deer()
    box = scenario.stored(deer)
    answer = release(
        deer.order,
        by=by("counter"),
        pieces=(box,),
        collector="Ines Vardal",
        mark=[[[0, 0], [1000, 1000]]],
        vouched="a note from the hunter",
    )
    made = answer.fetch(Release)
    text = " ".join(text_of(printed(clerk_client, f"/print/receipt/{made.pk}/")).split())
    for said in (
        "Receipt 26-0001-1",
        "Ines Vardal is not among those who may collect: a note from the hunter.",
        "Clem Tansy",
        "Box 1",
        "45 packages",
        "49.65 lb",
        "antlers",
        "WT-10021",
        "3 Quarry Road",
    ):
        assert said in text, said
    assert office.receipt(made)["remains"] == "antlers"


def test_a_cut_sheet_is_read_back_with_house_cuts_marked(
    clerk_client: Client, scenario: Scenario, by: Callable[[str], By]
) -> None:
    deer = scenario.deer()
    response = clerk_client.get(f"/print/cut-sheet/{deer.pk}/")
    assert response.status_code == 422
    assert "26-0001 has no cut sheet yet." in response.content.decode()
    save_cut_sheet(deer, by=by("counter"), note="No pork in anything.")
    text = text_of(printed(clerk_client, f"/print/cut-sheet/{deer.pk}/"))
    for said in ("Backstrap", "house cut", "No pork in anything.", "of boneless meat, likely"):
        assert said in text, said


def test_a_yield_statement_of_nothing_weighed_is_printed_too(
    clerk_client: Client, scenario: Scenario
) -> None:
    deer = scenario.deer(weight="")
    text = text_of(printed(clerk_client, f"/print/yield/{deer.pk}/"))
    assert "cannot be said" in text
    assert "not packed yet" in text


def test_the_register_says_missing(clerk_client: Client, scenario: Scenario) -> None:
    scenario.deer(tag="")
    text = text_of(printed(clerk_client, "/print/register/"))
    assert "MISSING" in text
    assert "26-0001" in text
    assert "1 incomplete" in text
    assert clerk_client.get("/print/register/?from=x").status_code == 422


def test_an_empty_register_is_printed(clerk_client: Client, scenario: Scenario) -> None:
    assert "0 rows" in text_of(printed(clerk_client, "/print/register/"))


def test_cards_of_places_stations_and_a_badge(
    owner_client: Client, scenario: Scenario, stations: Any, people: Any
) -> None:
    places = codes_on(printed(owner_client, "/print/places/"))
    assert scenario.places.rail.code in places
    assert len(places) == 11  # seven tables, rail, rack, shelf, hook; what left the shop has no card
    assert sorted(codes_on(printed(owner_client, "/print/stations/"))) == sorted(
        getattr(stations, name).code for name in stations.__dataclass_fields__
    )
    response = owner_client.get(f"/print/badge/{people.cutter.pk}/")
    assert response.status_code == 422
    assert "has no badge" in response.content.decode()
    people.cutter.badge = "402918773365"
    people.cutter.save(update_fields=["badge"])
    assert codes_on(printed(owner_client, f"/print/badge/{people.cutter.pk}/")) == ["402918773365"]


def test_who_may_print_what(
    client: Client, cutter_client: Client, clerk_client: Client, scenario: Scenario, people: Any
) -> None:
    deer = scenario.deer()
    closed_to_the_floor = [
        f"/print/claim-slip/{deer.order.number}/",
        f"/print/yield/{deer.pk}/",
        "/print/register/",
        "/print/places/",
        "/print/stations/",
        "/print/receipt/1/",
        f"/print/order/{deer.order.number}/",
        f"/print/order/{deer.order.number}/file/",
        f"/print/badge/{people.cutter.pk}/",
    ]
    for path in closed_to_the_floor:
        assert cutter_client.get(path).status_code == 403, path
        assert client.get(path).status_code == 302, path
    assert clerk_client.get(f"/print/badge/{people.cutter.pk}/").status_code == 403


@pytest.mark.parametrize(
    "ids", ["", "abc", "1,abc", "-1", "9" * 30, "1;2", "²", "1\x00", ",".join(["1"] * 301)]
)
def test_packs_that_cannot_be_named_get_a_sentence(cutter_client: Client, ids: str, db: None) -> None:
    response = cutter_client.get("/print/packages/", {"ids": ids})
    assert response.status_code == 422
    assert "Nothing was printed" in response.content.decode()


def test_unknown_things_are_not_found(owner_client: Client, db: None) -> None:
    for path in ("tags", "piece", "lug", "box", "receipt", "cut-sheet", "yield", "badge"):
        for pk in ("0", "424242", "9" * 40):
            assert owner_client.get(f"/print/{path}/{pk}/").status_code == 404, path
    for path in ("/print/claim-slip/26-9999/", "/print/order/26-9999/", "/print/order/26-9999/file/"):
        assert owner_client.get(path).status_code == 404
    assert owner_client.get("/print/packages/", {"ids": f"424242,{2**63}"}).status_code == 404
    assert not Piece.objects.exists()
