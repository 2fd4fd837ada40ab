"""The owner's table of yields, and the page of one animal."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.test import Client
from django.utils import timezone

from orders.intake.models import Animal, Season
from tests.scenario import Scenario


def test_only_the_owner_sees_yields(
    clerk_client: Client, cutter_client: Client, owner_client: Client, scenario: Scenario
) -> None:
    deer = scenario.deer()
    for path in ("/yields/", f"/yields/{deer.pk}/"):
        assert clerk_client.get(path).status_code == 403
        assert cutter_client.get(path).status_code == 403
        assert "131.5 lb" in owner_client.get(path).content.decode()


def test_a_packed_deer_has_a_line_with_everything(owner_client: Client, scenario: Scenario) -> None:
    deer = scenario.deer()
    scenario.stored(deer)
    text = owner_client.get("/yields/").content.decode()
    assert f'<a href="/yields/{deer.pk}/">26-0001</a>' in text
    for said in ("98.4 lb", "47.0 lb", "5 of 6", "Rowan Sedgewick", "White-tailed deer"):
        assert said in text, said


def test_the_csv_has_numbers_and_no_words_in_their_place(owner_client: Client, scenario: Scenario) -> None:
    scenario.stored(scenario.deer())
    scenario.deer(tag="WT-2")
    rows = list(
        csv.DictReader(io.StringIO(owner_client.get("/yields/", {"save": "csv"}).content.decode("utf-8-sig")))
    )
    by_number = {row["Order"]: row for row in rows}
    packed, waiting = by_number["26-0001"], by_number["26-0002"]
    # 1.05 + 6 x 1.1 + 10 x 1.4 + 28 x 1 lb in packs, less 2.6 lb of fat.
    assert packed["Packed, own meat"] == "47.0"
    assert (waiting["Packed, own meat"], waiting["Difference"]) == ("", "")
    assert waiting["Weighed"] == "131.5"


def test_the_table_is_filtered_by_season_species_and_what_to_look_at(
    owner_client: Client, scenario: Scenario
) -> None:
    scenario.stored(scenario.deer())
    elk = scenario.elk()
    old = Season.objects.create(
        name="Old",
        short="20",
        starts_on=timezone.localdate() - timedelta(days=900),
        ends_on=timezone.localdate() - timedelta(days=800),
    )

    def numbers(**asked: Any) -> set[str]:
        text = owner_client.get("/yields/", asked).content.decode()
        return {number for number in ("26-0001", "26-0002") if f">{number}</a>" in text}

    assert numbers() == {"26-0001", "26-0002"}
    assert numbers(season=old.pk) == set()
    assert numbers(species=elk.species_id) == {"26-0002"}
    assert numbers(show="finished") == {"26-0001"}
    assert numbers(show="above") == set()


def test_a_filter_that_cannot_be_shows_nothing(owner_client: Client, scenario: Scenario) -> None:
    scenario.deer()
    for asked in ({"season": "999"}, {"species": "abc"}, {"show": "everything"}, {"season": "9" * 40}):
        response = owner_client.get("/yields/", asked)
        assert response.status_code == 422
        assert ">26-0001</a>" not in response.content.decode()


def test_the_table_sorts_by_weight_not_by_its_words(owner_client: Client, scenario: Scenario) -> None:
    for n, weight in enumerate(("99.5", "131.5", "201"), start=1):
        scenario.deer(tag=f"WT-{n}", weight=weight)
    text = owner_client.get("/yields/", {"sort": "-weighed"}).content.decode()
    assert text.index("26-0003") < text.index("26-0002") < text.index("26-0001")


def test_sorting_by_difference_copes_with_what_is_not_there(owner_client: Client, scenario: Scenario) -> None:
    scenario.stored(scenario.deer())
    scenario.deer(tag="WT-2", weight="")
    for sort in ("difference", "-difference", "packed", "-likely", "share", "weighed", "-nonsense"):
        text = owner_client.get("/yields/", {"sort": sort}).content.decode()
        assert "26-0001" in text
        assert "26-0002" in text


def test_one_and_three_rows_take_the_same_queries(
    owner_client: Client, scenario: Scenario, queries_of: Callable[[Any], int]
) -> None:
    def show() -> None:
        assert owner_client.get("/yields/").status_code == 200

    scenario.stored(scenario.deer(tag="WT-1"))
    show()
    one = queries_of(show)
    for tag in ("WT-2", "WT-3"):
        scenario.stored(scenario.deer(tag=tag))
    # What changed is reckoned once, by whoever looks first.
    show()
    assert queries_of(show) == one


def test_the_page_of_one_animal_says_how_it_was_reached(owner_client: Client, scenario: Scenario) -> None:
    deer = scenario.deer()
    scenario.stored(deer)
    text = owner_client.get(f"/yields/{deer.pk}/").content.decode()
    for said in (
        "shot loss, shoulder",
        "Mule Deer Carcass",
        "5 of 6 points weighed.",
        "not the hunter’s own",
        "Not told apart, because something between was not weighed",
        "within what the work takes and the scales can tell",
        f"/print/yield/{deer.pk}/",
    ):
        assert said in text, said
    assert "At the block: not weighed" in text


def test_an_animal_with_nothing_weighed_says_so(owner_client: Client, scenario: Scenario) -> None:
    deer = scenario.deer(weight="")
    text = owner_client.get(f"/yields/{deer.pk}/").content.decode()
    assert "Nothing was weighed that a range could start from" in text
    assert "Fewer than two points were weighed" in text


def test_an_unknown_animal_is_not_found(owner_client: Client, db: None) -> None:
    for pk in ("0", "999999", "9" * 40):
        assert owner_client.get(f"/yields/{pk}/").status_code == 404
    assert not Animal.objects.exists()
