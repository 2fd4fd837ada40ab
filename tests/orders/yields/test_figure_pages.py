"""The owner's page of yield figures: what is published, what is the shop's own, and setting one."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from orders.intake.models import Animal
from orders.yields.models import YieldRecord
from orders.yields.queries import yield_of
from orders.yields.refresh import refresh
from shop.models import FigureChange, Species, YieldFigure
from tests.scenario import Scenario

TYPED = {"low": "48", "likely": "51.25", "high": "55 %", "reason": "Our own season"}


@pytest.fixture
def lean(catalog: None) -> YieldFigure:
    return YieldFigure.objects.get(code="white-tailed-deer-lean-of-hanging")


def post(client: Client, figure: YieldFigure, *, back: bool = False, **typed: Any) -> Any:
    last = figure.changes.first()
    data = {"sender_id": uuid4(), "seen": last.pk if last else "", **({} if back else TYPED), **typed}
    return client.post(f"/yields/figures/{figure.pk}/{'published/' if back else ''}", data)


def error_of(response: Any, name: str, ids: str = "id_") -> str:
    found = re.search(rf'id="{ids}{name}_error">([^<]*)', response.content.decode())
    return found[1] if found else ""


def test_only_the_owner_sees_the_figures(
    owner_client: Client, clerk_client: Client, cutter_client: Client, lean: YieldFigure
) -> None:
    for path in ("/yields/figures/", f"/yields/figures/{lean.pk}/"):
        assert clerk_client.get(path).status_code == 403
        assert cutter_client.get(path).status_code == 403
        assert "Yield figures" in owner_client.get(path).content.decode()
    for client in (clerk_client, cutter_client):
        assert post(client, lean).status_code == 403
        assert post(client, lean, back=True, reason="x").status_code == 403
    assert not FigureChange.objects.exists()


def test_every_figure_has_its_source_and_says_what_is_used(owner_client: Client, lean: YieldFigure) -> None:
    text = owner_client.get("/yields/figures/").content.decode()
    count = YieldFigure.objects.count()
    assert f"<strong>{count} figures</strong>, 0 of them the shop’s own" in text
    for said in (
        "57.29 % (50.8 to 63.2)",
        "borrowed: mule deer",
        "borrowed: the deer family",
        "Boneless lean, of the skinned carcass",
        "Field-dressed, feet on, of the live weight (male, adult)",
        "Shot at the shoulder, of the average shot loss",
        "Backstrap, of the boneless lean",
        "Univ. Wyoming Agric. Exp. Stn Bulletin B-594R",
        "common practice",
        "meant to hold 90 % of animals",
    ):
        assert said in text, said


def test_an_own_value_is_set_and_shown(owner_client: Client, lean: YieldFigure, people: Any) -> None:
    assert post(owner_client, lean).status_code == 302
    lean.refresh_from_db()
    assert (lean.override_low_bp, lean.override_bp, lean.override_high_bp) == (4800, 5125, 5500)
    page = owner_client.get(f"/yields/figures/{lean.pk}/").content.decode()
    for said in (
        "51.25 % (48 to 55)",
        "the shop’s own",
        "Our own season",
        "as published",
        str(people.owner),
        "57.29 % (50.8 to 63.2)",
        "first chill, drying, fat; 14 days of drying",
        "published rows Y026, Y027, Y028, Y029, Y030",
    ):
        assert said in page, said
    table = owner_client.get("/yields/figures/", {"used": "own"}).content.decode()
    assert "<strong>1 figure</strong>, 1 of them the shop’s own" in table
    assert "51.25 % (48 to 55)" in table


def test_the_next_range_uses_it(owner_client: Client, lean: YieldFigure, scenario: Scenario) -> None:
    deer = Animal.objects.select_related("species").get(pk=scenario.deer().pk)
    before = yield_of(deer).estimate
    post(owner_client, lean)
    after = yield_of(deer).estimate
    assert before is not None
    assert after is not None
    step = next(step for step in after.steps if step.name == "bone, fat and silverskin off")
    assert (step.low_bp, step.likely_bp, step.high_bp) == (4800, 5125, 5500)
    assert after.likely_mg < before.likely_mg
    assert not any("lean share" in note for note in after.notes)


def test_what_was_reckoned_with_the_old_value_is_forgotten(
    owner_client: Client, lean: YieldFigure, scenario: Scenario
) -> None:
    scenario.stored(scenario.deer())
    refresh()
    old = YieldRecord.objects.get().likely_mg
    post(owner_client, YieldFigure.objects.get(code="elk-lean-of-hanging"))
    assert YieldRecord.objects.count() == 1
    post(owner_client, YieldFigure.objects.get(code="any-part-share-neck"), low="5", likely="7", high="9")
    assert YieldRecord.objects.count() == 1
    post(owner_client, lean)
    assert YieldRecord.objects.count() == 0
    refresh()
    assert YieldRecord.objects.get().likely_mg != old


def test_back_to_published(owner_client: Client, lean: YieldFigure) -> None:
    post(owner_client, lean)
    assert post(owner_client, lean, back=True).status_code == 422
    response = post(owner_client, lean, back=True)
    assert error_of(response, "reason", "back_") == "Say why, in a few words; the reason is kept."
    assert post(owner_client, lean, back=True, reason="The scale was wrong").status_code == 302
    lean.refresh_from_db()
    assert lean.override_bp is None
    page = owner_client.get(f"/yields/figures/{lean.pk}/").content.decode()
    assert "The scale was wrong" in page
    assert "Use the published value" not in page
    assert FigureChange.objects.count() == 2


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        ({"low": "60"}, "low", "Low is between 0 % and the likely value."),
        ({"high": "50"}, "high", "High is between the likely value and 100 %."),
        ({"high": "101"}, "high", "High is between the likely value and 100 %."),
        ({"likely": "120", "high": "130"}, "likely", "This is between 0 and 100 %."),
        ({"likely": "half"}, "likely", "Type a percentage like 57 or 57.29."),
        ({"likely": "-4"}, "likely", "Type a percentage like 57 or 57.29."),
        ({"likely": "51.257"}, "likely", "Type a percentage like 57 or 57.29."),
        ({"likely": "٥١"}, "likely", "Type a percentage like 57 or 57.29."),
        ({"low": ""}, "low", "Type a percentage like 57 or 57.29."),
        ({"reason": " "}, "reason", "Say why, in a few words; the reason is kept."),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field(
    owner_client: Client, lean: YieldFigure, typed: dict[str, str], field: str, said: str
) -> None:
    response = post(owner_client, lean, **typed)
    assert response.status_code == 422
    assert error_of(response, field) == said
    for name, value in {**TYPED, **typed}.items():
        assert f'name="{name}" value="{value}"' in response.content.decode() or not value.strip()
    assert not FigureChange.objects.exists()


def test_a_comma_is_a_decimal_point(owner_client: Client, lean: YieldFigure) -> None:
    assert post(owner_client, lean, likely="51,5").status_code == 302
    lean.refresh_from_db()
    assert lean.override_bp == 5150


def test_sent_twice_it_is_changed_once(owner_client: Client, lean: YieldFigure) -> None:
    sender = uuid4()
    for _ in range(2):
        assert post(owner_client, lean, sender_id=sender, seen="").status_code == 302
    assert FigureChange.objects.count() == 1


def test_another_owner_s_change_is_read_before_it_is_changed_again(
    owner_client: Client, lean: YieldFigure
) -> None:
    post(owner_client, lean)
    response = post(owner_client, lean, seen="", likely="52")
    text = response.content.decode()
    assert response.status_code == 422
    assert "Somebody changed this figure meanwhile. Look at it again." in text
    seen = re.search(r'<input[^>]*name="seen"[^>]*value="(\d+)"[^>]*id="id_seen"', text)
    assert seen is not None
    assert post(owner_client, lean, seen=seen[1], likely="52").status_code == 302
    lean.refresh_from_db()
    assert lean.override_bp == 5200


def test_the_list_is_narrowed_by_species_with_what_is_for_every_species(
    owner_client: Client, catalog: None
) -> None:
    bear = Species.objects.get(code="black-bear")
    text = owner_client.get("/yields/figures/", {"species": bear.pk}).content.decode()
    assert "Every species" in text
    assert ">Black bear<" in text
    assert ">Elk</td>" not in text
    lent = owner_client.get("/yields/figures/", {"species": bear.pk, "used": "lent"}).content.decode()
    assert "Backstrap, of the boneless lean" not in lent
    for wrong in ({"species": "999"}, {"used": "best"}):
        assert owner_client.get("/yields/figures/", wrong).status_code == 422


def test_the_list_is_saved_as_csv(owner_client: Client, lean: YieldFigure) -> None:
    post(owner_client, lean)
    text = owner_client.get("/yields/figures/", {"save": "csv"}).content.decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) == YieldFigure.objects.count()
    own = [row for row in rows if row["The shop’s own"]]
    assert [(row["Species"], row["The shop’s own"], row["Used"]) for row in own] == [
        ("White-tailed deer", "51.25 % (48 to 55)", "the shop’s own")
    ]


def test_many_figures_take_as_many_queries_as_few(
    owner_client: Client, catalog: None, queries_of: Callable[[Any], int]
) -> None:
    def show(**asked: Any) -> None:
        assert owner_client.get("/yields/figures/", asked).status_code == 200

    show()
    assert queries_of(lambda: show(used="own")) == queries_of(show)


def test_an_unknown_figure_is_not_found(owner_client: Client, catalog: None) -> None:
    for pk in ("0", "999999"):
        assert owner_client.get(f"/yields/figures/{pk}/").status_code == 404
        assert owner_client.post(f"/yields/figures/{pk}/published/").status_code == 404
    figure = YieldFigure.objects.first()
    assert figure is not None
    assert owner_client.get(f"/yields/figures/{figure.pk}/published/").status_code == 405
