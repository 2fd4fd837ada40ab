"""Where the state tag is kept: the shop's usual places as buttons, or elsewhere in words."""

from __future__ import annotations

from typing import Any

import pytest

from orders.floor.tags import AT_FIRST, SHOWN, usual_tag_places
from orders.intake.actions import file_tag
from orders.intake.models import Animal
from orders.ledger.models import Run
from tests.orders.floor.tablet import Tablet, last_event, words
from tests.scenario import Scenario


@pytest.fixture
def cutting(scenario: Scenario, tablet: Tablet) -> tuple[Tablet, Run]:
    run = scenario.opened(scenario.deer())
    return tablet.at("block"), run


def test_a_new_shop_starts_with_common_places(scenario: Scenario) -> None:
    assert usual_tag_places() == sorted(AT_FIRST)


def test_the_places_used_most_in_an_order_that_stays(scenario: Scenario) -> None:
    for n in range(20):
        deer = scenario.deer(scenario.order(), tag=f"WT-{n}")
        Animal.objects.filter(pk=deer.pk).update(tag_filed_at=f"row {n % 12 + 1}")
    assert usual_tag_places() == [f"row {n}" for n in range(1, 13)]


def test_no_more_than_fit_on_the_screen(scenario: Scenario) -> None:
    for n in range(SHOWN + 3):
        deer = scenario.deer(scenario.order(), tag=f"WT-{n}")
        Animal.objects.filter(pk=deer.pk).update(tag_filed_at=f"row {n}" if n > 1 else "the box")
    shown = usual_tag_places()
    assert len(shown) == SHOWN
    assert shown[-1] == "the box"


def test_what_was_used_long_ago_is_not_usual(scenario: Scenario, days_ago: Any) -> None:
    deer = scenario.deer()
    Animal.objects.filter(pk=deer.pk).update(tag_filed_at="the old cellar", arrived_on=days_ago(500))
    assert "the old cellar" not in usual_tag_places()


def test_one_tap_files_it(cutting: tuple[Tablet, Run], by: Any) -> None:
    tablet, run = cutting
    file_tag(run.animal, by=by("block"), where="tag box, row 3")
    text = tablet.get("floor-tag", run.pk).content.decode()
    assert '<button class="tile keep" type="submit" name="usual" value="tag box, row 3">' in text
    page = tablet.post("floor-tag", run.pk, usual="tag box")
    assert tablet.landed(page) == f"/floor/block/{run.pk}/"
    run.animal.refresh_from_db()
    assert run.animal.tag_filed_at == "tag box"


def test_elsewhere_is_typed(cutting: tuple[Tablet, Run]) -> None:
    tablet, run = cutting
    tablet.post("floor-tag", run.pk, where="the warden took it")
    run.animal.refresh_from_db()
    assert run.animal.tag_filed_at == "the warden took it"


def test_nothing_said_is_said_beside_the_line(cutting: tuple[Tablet, Run]) -> None:
    tablet, run = cutting
    before = last_event().pk
    for data in ({}, {"usual": "  "}, {"where": ""}):
        page = tablet.post("floor-tag", run.pk, **data)
        assert page.status_code == 422
        assert 'id="id_where_error">Say where the tag is kept.' in page.content.decode()
    long = tablet.post("floor-tag", run.pk, where="x" * 61)
    assert "at most 60 characters" in words(long)
    assert f'value="{"x" * 61}"' in long.content.decode()
    assert last_event().pk == before
