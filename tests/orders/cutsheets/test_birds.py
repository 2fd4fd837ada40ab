"""Birds from the cut sheet to the label: whole or breasted out, legs and giblets apart, never a part of a carcass."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from orders.cutsheets.actions import save_cut_sheet
from orders.cutsheets.queries import current_sheet
from orders.cutsheets.rules import LineFacts, offers
from orders.floor.block import fill_lug, finish_breakdown, open_animal, record_waste
from orders.floor.skin import hang_up
from orders.intake.actions import add_animal, file_tag
from orders.intake.facts import AnimalFacts
from orders.intake.models import Animal, State
from orders.ledger.models import Piece, Run
from orders.packing.actions import bring_to_wrap, finish_wrap, pack
from orders.packing.models import Package
from orders.packing.queries import cuts_to_pack
from orders.papers.meat import package_labels, with_label_values
from shop.models import Choice, Part, Species
from tests.orders.cutsheets.test_page import filled, page, pk
from tests.orders.intake.conftest import codes
from tests.scenario import Scenario, lb

pytestmark = pytest.mark.django_db
Send = Callable[..., Any]


def birds(scenario: Scenario, species: str = "mallard", count: int = 6) -> Animal:
    answer = add_animal(
        scenario.order(),
        by=scenario.by("counter"),
        species=Species.objects.get(code=species),
        arrived_as="birds",
        facts=AnimalFacts(bird_count=count),
        place=scenario.places.door,
        tag_no=f"GB-{species}",
        weight=lb("14.5"),
    )
    return answer.fetch(Animal)


@pytest.fixture
def ducks(scenario: Scenario) -> Animal:
    """Six mallards in their bag."""
    return birds(scenario)


@pytest.mark.parametrize(
    ("species", "made"),
    [
        ("mallard", "plucked-whole"),
        ("canada-goose", "breast-fillets"),
        ("wild-turkey", "plucked-whole"),
        ("ring-necked-pheasant", "skinned-whole"),
    ],
)
def test_every_bird_has_a_house_cut(scenario: Scenario, species: str, made: str) -> None:
    """A duck and a turkey plucked, a goose breasted out, a pheasant skinned: common practice, no source."""
    lot = birds(scenario, species)
    save_cut_sheet(lot, by=scenario.by("counter"))
    lines = current_sheet(lot).lines.order_by("part__sort").values_list("part__code", "choice__code")
    assert list(lines) == [("bird", made), ("loose-legs", "whole"), ("giblets", "keep")]


def test_birds_are_asked_about_as_birds(ducks: Animal, counter: Client, send: Send) -> None:
    form = counter.get(page(ducks)).context["form"]
    assert [row.offer.part.code for row in form.rows()] == ["bird", "loose-legs", "giblets"]
    assert all(row.is_house for row in form.rows())
    assert send(counter, page(ducks), **filled(counter, page(ducks))).status_code == 302
    assert current_sheet(ducks).lines.filter(from_house=True).count() == 3


def test_half_of_the_birds_are_plucked_and_half_breasted(ducks: Animal, counter: Client, send: Send) -> None:
    sent = filled(counter, page(ducks))
    sent |= {"bird__second": pk("breast-fillets"), "bird__second_pieces": "4", "bird__share": "50"}
    assert send(counter, page(ducks), **sent).status_code == 302
    lines = current_sheet(ducks).lines.filter(part__code="bird").select_related("choice").order_by("id")
    assert [(line.choice.code, line.share_bp, line.pieces_per_pack) for line in lines] == [
        ("plucked-whole", 5_000, 1),
        ("breast-fillets", 5_000, 4),
    ]


def test_ground_birds_say_how_they_are_ground(ducks: Animal, counter: Client, send: Send) -> None:
    """A bird has no grind trim: the first part that is ground carries the fat, all of them the pack size."""
    sent = filled(counter, page(ducks)) | {"bird": pk("ground"), "loose-legs": pk("ground")}
    sent |= {"grind_fat": "10", "grind_fat_kind": "pork", "grind_pack": ""}
    assert codes(send(counter, page(ducks), **sent).context["form"]) == {"grind_pack": ["pack_missing"]}
    assert send(counter, page(ducks), **{**sent, "grind_pack": "1 lb"}).status_code == 302
    lines = {line.part.code: line for line in current_sheet(ducks).lines.select_related("part")}
    assert (lines["bird"].fat_bp, lines["bird"].fat_kind, lines["bird"].pack_oz) == (1_000, "pork", 16)
    assert (lines["loose-legs"].fat_bp, lines["loose-legs"].pack_oz) == (0, 16)


def test_grind_all_of_it_leaves_the_giblets(ducks: Animal, counter: Client) -> None:
    rows = counter.get(f"{page(ducks)}?start=grind").context["form"].rows()
    assert [str(row.choice.value()) for row in rows] == [pk("ground"), pk("ground"), pk("keep")]


def test_no_bird_is_made_into_backstrap(
    ducks: Animal, scenario: Scenario, refused: Callable[..., Any]
) -> None:
    steaks = LineFacts(Part.objects.get(code="backstrap"), Choice.objects.get(code="whole"))
    refused("part_absent", save_cut_sheet, ducks, by=scenario.by("counter"), lines=(steaks,))
    assert not {"bird", "giblets"} & {offer.part.code for offer in offers(scenario.deer())}


def test_birds_go_over_block_and_table_to_their_labels(ducks: Animal, scenario: Scenario) -> None:
    by = scenario.by
    save_cut_sheet(ducks, by=by("counter"))
    hang_up(ducks.pieces.get(), by=by("cooler"), place=scenario.places.rack)
    run = open_animal(ducks, by=by("block")).fetch(Run)
    parts = tuple(Part.objects.filter(code__in=["bird", "giblets"]).order_by("sort"))
    filling = {"contents": "whole_cuts", "parts": parts, "weight": lb("10.0")}
    lug = fill_lug(run, by=by("block"), **filling).fetch(Piece)
    assert lug.name == "lug 1, whole cuts: bird, giblets"
    record_waste(run, by=by("block"), what="bone_fat")
    record_waste(run, by=by("block"), what="waste")
    file_tag(ducks, by=by("block"), where="the bag with the birds")
    finish_breakdown(run, by=by("block"))
    table = bring_to_wrap(lug, by=by("wrap")).fetch(Run)
    assert [(cut.part.code, cut.choice.code, cut.pieces) for cut in cuts_to_pack(table)] == [
        ("bird", "plucked-whole", 1),
        ("loose-legs", "whole", None),
        ("giblets", "keep", None),
    ]
    scenario.pack(table, "bird", "plucked-whole", *["1.6"] * 6, count=1)
    giblets = {"part": Part.objects.get(code="giblets"), "choice": Choice.objects.get(code="keep")}
    pack(table, by=by("wrap"), unweighed=1, count=6, **giblets)
    finish_wrap(table, by=by("wrap"))
    ducks.refresh_from_db()
    assert ducks.state == State.FREEZING
    labels = package_labels(with_label_values(Package.objects.filter(animal=ducks)))
    assert [(label["cut"], label["net"], label["style"]) for label in labels[-2:]] == [
        ("Bird, plucked whole", "1.6 lb", "1 in the pack"),
        ("Giblets, keep", "count: 6", ""),
    ]
    assert (labels[0]["species"], labels[0]["number"], labels[0]["of"]) == ("Mallard", 1, 7)
    assert "165 °F" in labels[0]["caution"]
