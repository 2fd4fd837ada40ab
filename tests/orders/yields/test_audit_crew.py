"""The crew's page: only whole animals of one person are compared, few are not shown apart, and nobody is accused."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from orders.intake.models import Season
from orders.models import YieldRecord
from orders.yields.audit import audit_season
from orders.yields.audit_crew import CANNOT, DRAWN, crew_of
from orders.yields.crew import FEWEST_ANIMALS, compare
from shop.models import Person, Role
from tests.conftest import People
from tests.orders.yields.records import make_records

Make = Callable[..., list[YieldRecord]]
EVEN = [1.0, 1.02, 0.98, 1.01, 0.99, 1.03]
LOW = [0.7, 0.72, 0.69, 0.71, 0.7, 0.73]
HARSH = (
    "bad",
    "worse",
    "worst",
    "fault",
    "blame",
    "steal",
    "theft",
    "cheat",
    "lazy",
    "poor",
    "guilt",
    "suspect",
)


@pytest.fixture
def make(catalog: None, season: Season, people: People) -> Make:
    def records(*shares: float | None, **more: Any) -> list[YieldRecord]:
        return make_records(season, people.owner, shares, **more)

    return records


@pytest.fixture
def bea(db: None) -> Person:
    return Person.objects.create_user("bea", first_name="Bea", last_name="Hollow", role=Role.FLOOR)


@pytest.fixture
def ada(db: None) -> Person:
    return Person.objects.create_user("ada", first_name="Ada", last_name="Reed", role=Role.FLOOR)


def page_of(client: Client) -> str:
    response = client.get(reverse("yield-crew"))
    assert response.status_code == 200
    return unescape(response.content.decode())


def test_the_page_is_the_comparison_of_what_each_did_whole(
    owner_client: Client, make: Make, people: People, bea: Person, ada: Person, season: Season
) -> None:
    """Against `compare` of the same animals' logarithms; what several worked on is not in it."""
    make(*EVEN, alone=people.cutter)
    make(*LOW, alone=bea)
    make(*[1.0, 1.04, 0.97, 1.01, 1.02], alone=ada)
    make(*[0.4] * 4)
    found = audit_season(season)
    by_person: dict[str, list[float]] = {}
    for each in found.compared:
        if each.record.alone is not None:
            assert each.expected is not None
            value = math.log((each.own_mg or 0) / each.expected.likely_mg)
            by_person.setdefault(str(each.record.alone), []).append(value)
    crew = compare({name: by_person[name] for name in sorted(by_person)})
    page = crew_of(found)
    assert (page.whole, page.of) == (17, 21)
    text = page_of(owner_client)
    for person in crew.people:
        (row,) = (row for row in page.rows if row.name == person.person)
        assert person.pooled is not None
        assert person.low is not None
        assert person.high is not None
        assert row.n == person.n
        assert row.mean == f"{100 * math.exp(person.mean):.1f} %"
        assert row.pooled == f"{100 * math.exp(person.pooled):.1f} %"
        assert row.between == f"{100 * math.exp(person.low):.1f} to {100 * math.exp(person.high):.1f} %"
        assert ("apart from the others: look at these animals" in row.words) is person.apart
        for said in (row.name, row.pooled, row.between, row.words):
            assert said in text
    assert "Bea Hollow" in [row.name for row in page.rows if row.words.startswith("apart")]
    assert "17 of 21 animals were done whole by one person" in text


def test_below_five_animals_nobody_is_shown_apart(
    owner_client: Client, make: Make, people: People, bea: Person, season: Season
) -> None:
    make(*EVEN, alone=people.cutter)
    make(*LOW[: FEWEST_ANIMALS - 1], alone=bea)
    page = crew_of(audit_season(season))
    assert [row.name for row in page.rows] == ["Kit Barlow"]
    text = page_of(owner_client)
    assert "Bea Hollow" not in text
    assert "With fewer than 5 animals, and so not shown apart: 1 person." in text
    make(LOW[-1], alone=bea)
    assert "Bea Hollow" in page_of(owner_client)


def test_the_page_says_what_it_can_and_cannot_show(owner_client: Client, make: Make, people: People) -> None:
    make(*EVEN, alone=people.cutter)
    text = page_of(owner_client)
    assert CANNOT in text
    assert DRAWN in text
    assert "One person only: there is nobody to compare with." in text


@pytest.mark.parametrize("name", ["audit", "yield-crew", "yield-charts", "learned", "scale-checks"])
def test_no_page_accuses_anybody(
    owner_client: Client, make: Make, people: People, bea: Person, name: str
) -> None:
    make(*EVEN, alone=people.cutter, cutter=people.cutter)
    make(*LOW, 0.2, 2.0, alone=bea, cutter=bea)
    text = unescape(owner_client.get(reverse(name), {"all": "1"}).content.decode()).lower()
    text = re.sub(r"base64,[^\"]+", "", text)
    # "who gets the badly shot ones" is about the animals.
    text = text.replace(CANNOT.lower(), "")
    found = [word for word in HARSH if re.search(rf"\b{word}", text)]
    assert found == []


def test_an_animal_that_counts_for_nothing_is_nobody_s(make: Make, people: People, season: Season) -> None:
    make(*EVEN, alone=people.cutter)
    make(0.3, alone=people.cutter, facts={"cause": "part of it was spoiled"}, teach=False)
    make(None, alone=people.cutter)
    page = crew_of(audit_season(season))
    assert (page.whole, page.of) == (6, 6)
