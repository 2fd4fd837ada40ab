"""The season report as a paper and as a file: the owner's alone, safe to open, and adding up as printed."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pypdfium2
import pytest
from django.test import Client
from django.utils import timezone
from reportlab.graphics.shapes import Drawing, String

from labels.registry import render
from orders.intake.models import Season
from orders.ledger.entry import By
from orders.models import YieldRecord
from orders.papers.season import season_report
from orders.yields.report import season_figures
from shop.models import Person, ShopSettings, Species
from tests.orders.yields.test_queries import cut_and_packed
from tests.scenario import Scenario

PATH = "/print/season/"
Stations = Callable[[str], By]


def pages_of(pdf: bytes) -> list[str]:
    with pypdfium2.PdfDocument(pdf) as document:
        return [" ".join(page.get_textpage().get_text_bounded().split()) for page in document]


def file_of(client: Client, **asked: Any) -> list[dict[str, str]]:
    response = client.get(PATH, {"format": "csv", **asked})
    assert response.status_code == 200
    assert response["Content-Type"].startswith("text/csv")
    assert response["Content-Disposition"] == 'attachment; filename="season-26.csv"'
    return list(csv.DictReader(io.StringIO(response.content.decode("utf-8-sig"))))


def packed_season(scenario: Scenario, by: Stations) -> None:
    """Three deer: one weighed all the way, one whose hanging weight is missing, one whose packs are."""
    scenario.stored(scenario.deer(tag="WT-1"))
    cut_and_packed(scenario, by, scenario.hung(scenario.deer(tag="WT-2"), weight=""))
    cut_and_packed(scenario, by, scenario.deer(tag="WT-3"), weighed=False)


@pytest.mark.parametrize("form", ["pdf", "csv"])
def test_the_report_is_the_owners_alone(
    client: Client,
    owner_client: Client,
    clerk_client: Client,
    cutter_client: Client,
    scenario: Scenario,
    form: str,
) -> None:
    path = f"{PATH}?format={form}"
    answers = [each.get(path) for each in (owner_client, clerk_client, cutter_client, client)]
    assert [answer.status_code for answer in answers] == [200, 403, 403, 302]
    assert owner_client.post(path).status_code == 405
    assert answers[0]["Cache-Control"] == "no-store"


def test_the_paper_has_every_sum_and_says_of_how_many(
    owner_client: Client, scenario: Scenario, by: Stations
) -> None:
    packed_season(scenario, by)
    response = owner_client.get(PATH)
    assert response["Content-Type"] == "application/pdf"
    pages = pages_of(response.content)
    text = " ".join(pages)
    for said in (
        "Season report",
        "Test season",
        "All weights in lb.",
        "By species Species Animals Hung",
        # 47.05 lb and 17.05 lb of own meat, of two animals; two hung 99.5 lb with their tenderloins.
        "White-tailed deer 3 199.0 (2) 64.1 (2) 47.3 % (1)",
        "By species: where what hung went",
        "By crew Cutter Animals",
        "Kit Barlow 3 199.0 (2)",
        "By week Week Animals",
        "Season 3 199.0 (2)",
        "this table compares nobody",
        f"page {len(pages)} of {len(pages)}",
    ):
        assert said in text, said


def test_an_empty_season_says_so_in_both_forms(owner_client: Client, scenario: Scenario) -> None:
    scenario.deer()
    (page,) = pages_of(owner_client.get(PATH).content)
    assert "No animal was finished in this season." in page
    assert "Not in these sums: 1 not packed yet." in page
    assert "By species" not in page
    (only,) = file_of(owner_client)
    assert (only["By"], only["Animals"], only["Hung (lb)"], only["Flags"]) == ("Season", "0", "", "0")


def test_another_season_is_asked_for_by_its_number(owner_client: Client, scenario: Scenario) -> None:
    today = timezone.localdate()
    old = Season.objects.create(
        name="Old season",
        short="20",
        starts_on=today - timedelta(days=900),
        ends_on=today - timedelta(days=800),
    )
    scenario.stored(scenario.deer())
    (page,) = pages_of(owner_client.get(PATH, {"season": old.pk}).content)
    assert "Old season" in page
    assert "No animal was finished" in page
    assert owner_client.get(PATH, {"season": old.pk, "format": "csv"})["Content-Disposition"].endswith(
        '"season-20.csv"'
    )


@pytest.mark.parametrize(
    "asked",
    [
        {"season": "x"},
        {"season": "0"},
        {"season": "9" * 40},
        {"season": "²"},
        {"season": "-1"},
        {"format": "xls"},
    ],
)
def test_what_is_not_there_gets_a_sentence(
    owner_client: Client, season: Season, asked: dict[str, str]
) -> None:
    response = owner_client.get(PATH, asked)
    assert response.status_code == 422
    assert "Nothing was printed" in response.content.decode()


def test_before_there_is_a_season_there_is_a_sentence(owner_client: Client, db: None) -> None:
    assert owner_client.get(PATH).status_code == 422


def test_the_file_has_numbers_units_in_its_head_and_iso_days(
    owner_client: Client, scenario: Scenario, by: Stations
) -> None:
    packed_season(scenario, by)
    rows = file_of(owner_client)
    assert [row["By"] for row in rows] == ["Season", "Species", "Cutter", "Week"]
    total, week = rows[0], rows[-1]
    assert (total["Hung (lb)"], total["Hung, of animals"]) == ("199.0", "2")
    assert (total["Packed, own meat (lb)"], total["Packed, of animals"]) == ("64.1", "2")
    assert (total["Yield (%)"], total["Hung and packed, of animals"]) == ("47.3", "1")
    monday = timezone.localdate() - timedelta(days=timezone.localdate().weekday())
    assert date.fromisoformat(week["Week begins"]) == monday
    assert total["Week begins"] == ""
    words = {"By", "Group", "Week begins"}
    for row in rows:
        for name, cell in row.items():
            assert name in words or cell == "" or Decimal(cell) is not None


def test_the_file_is_in_the_shops_unit(owner_client: Client, scenario: Scenario) -> None:
    ShopSettings.objects.filter(pk=1).update(unit="kg")
    scenario.stored(scenario.deer())
    total = file_of(owner_client)[0]
    # 99.5 lb is 45.13 kg.
    assert total["Hung (kg)"] == "45.1"
    assert not [name for name in total if "(lb)" in name]


def test_what_was_not_weighed_is_an_empty_cell_and_no_zero(
    owner_client: Client, scenario: Scenario, by: Stations
) -> None:
    cut_and_packed(scenario, by, scenario.hung(scenario.deer(), weight=""), weighed=False)
    total = file_of(owner_client)[0]
    for name in ("Hung (lb)", "Packed, own meat (lb)", "Yield (%)", "Likely (lb)", "Lost: waste (lb)"):
        assert total[name] == "", name
    text = " ".join(pages_of(owner_client.get(PATH).content))
    assert "White-tailed deer 1 not weighed not weighed not weighed cannot be said" in text


@pytest.mark.parametrize("name", ["=1+1", "+1+1", "-1+1", "@SUM(1)", "\t=1+1", "\r=1+1"])
def test_no_name_is_a_formula_in_a_spreadsheet(owner_client: Client, scenario: Scenario, name: str) -> None:
    """OWASP, CSV Injection: a cell that starts with = + - @, a tab or a return is kept as text by an apostrophe."""
    scenario.stored(scenario.deer())
    season_figures(scenario.season)
    cutter = Person.objects.create(username=name, role="floor")
    YieldRecord.objects.update(cutter=cutter)
    Species.objects.filter(code="white-tailed-deer").update(name=name)
    groups = {row["By"]: row["Group"] for row in file_of(owner_client)}
    assert groups["Cutter"] == groups["Species"] == f"'{name}"


def test_printed_parts_add_up_to_the_printed_season(
    owner_client: Client, scenario: Scenario, by: Stations
) -> None:
    """In kilograms, where nothing comes out even: every column, and the season's row across."""
    ShopSettings.objects.filter(pk=1).update(unit="kg")
    for n, species in enumerate(("white-tailed-deer", "mule-deer", "white-tailed-deer", "pronghorn", "elk")):
        scenario.stored(scenario.deer(tag=f"T-{n}", species=species))
    cut_and_packed(scenario, by, scenario.deer(tag="T-9"))
    rows = file_of(owner_client)
    total, groups = rows[0], [row for row in rows if row["By"] == "Species"]
    assert len(groups) == 4
    for name in (name for name in total if name.endswith("(kg)")):
        assert sum(Decimal(row[name] or 0) for row in groups) == Decimal(total[name] or 0), name
    lost = [name for name in total if name.startswith("Lost: ")] + ["Not weighed (kg)"]
    across = sum(Decimal(total[name] or 0) for name in lost) + Decimal(total["Hung and packed: packed (kg)"])
    assert across == Decimal(total["Hung and packed: hung (kg)"])
    # And each is what it is to a step.
    figures = season_figures(scenario.season)
    for row, group in zip(groups, figures.species, strict=True):
        assert abs(Decimal(row["Hung (kg)"]) - Decimal(group.hung.mg) / 1_000_000) < Decimal("0.1")


def test_pictures_and_their_tables_have_their_place(scenario: Scenario) -> None:
    scenario.stored(scenario.deer())
    drawing = Drawing(400, 100)
    drawing.add(String(10, 50, "Dummy picture", fontName="Helvetica"))
    more = {"title": "Numbers of it", "columns": ["Point", "Value"], "rows": [["one", "1.0"]]}
    values = season_report(season_figures(scenario.season), timezone.now(), charts=[drawing], more=[more])
    text = " ".join(pages_of(render("season_report", values)))
    assert (
        text.index("By week") < text.index("Numbers of it Point Value one 1.0") < text.index("Dummy picture")
    )
