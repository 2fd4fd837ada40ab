"""The audit's pages: who may see them, what they say against the pure functions, and every edge they may meet."""

from __future__ import annotations

import csv
import io
import re
from base64 import b64decode
from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from orders.intake.actions import end_animal
from orders.intake.models import Contact, Season
from orders.models import YieldRecord
from orders.yields.audit import audit_season, percentile_words
from orders.yields.audit_tables import week_of, week_words
from orders.yields.causes import record_cause
from shop.models import ShopSettings, Species
from shop.weights import format_mg, mg_in, pounds
from tests.conftest import People, Stations
from tests.orders.yields.records import LIKELY, make_records
from tests.scenario import Scenario

Make = Callable[..., list[YieldRecord]]
PAGES = ("audit", "yield-charts", "yield-crew", "learned", "scale-checks")


@pytest.fixture
def make(catalog: None, season: Season, people: People) -> Make:
    def records(*shares: float | None, **more: Any) -> list[YieldRecord]:
        return make_records(season, people.owner, shares, **more)

    return records


def text_of(client: Client, name: str, *, status: int = 200, **asked: Any) -> str:
    response = client.get(reverse(name), asked)
    assert response.status_code == status
    return unescape(response.content.decode())


def saved(client: Client, **asked: Any) -> list[dict[str, str]]:
    text = client.get(reverse("audit"), {"save": "csv", **asked}).content.decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


# --- who -----------------------------------------------------------------------------------------------------------


def test_only_the_owner_sees_the_audit(
    owner_client: Client, clerk_client: Client, cutter_client: Client, scenario: Scenario
) -> None:
    deer = scenario.deer()
    addresses = [reverse(name) for name in PAGES] + [reverse("yield-cause", args=[deer.pk])]
    for address in addresses:
        assert owner_client.get(address).status_code == 200, address
        for client in (clerk_client, cutter_client):
            assert client.get(address).status_code == 403, address
            assert client.post(address).status_code == 403, address
        assert Client().get(address).status_code == 302, address
    back = reverse("yield-cause-back", args=[deer.pk])
    for client in (clerk_client, cutter_client):
        assert client.post(back).status_code == 403


def test_the_pages_lead_to_each_other(owner_client: Client, season: Season, catalog: None) -> None:
    names = (*PAGES, "yields", "yield-figures")
    for name in names:
        text = text_of(owner_client, name)
        for other in names:
            assert f'href="{reverse(other)}"' in text, (name, other)
        assert text.count(f'<a href="{reverse(name)}" aria-current="page">') >= 1


# --- what the page says --------------------------------------------------------------------------------------------


def test_the_page_says_what_the_rules_say(owner_client: Client, make: Make, season: Season) -> None:
    make(*[1.0] * 8, 0.4, 1.8)
    found = audit_season(season)
    text = text_of(owner_client, "audit")
    assert len(found.to_look_at) == 2
    places = []
    for each in found.to_look_at:
        for said in (each.label, each.hunter, each.flag.likely_reason, each.flag.look_next, each.sentence):
            assert said in text, said
        assert format_mg(each.flag.pounds_mg, "lb") in text
        places.append(text.index(f'<a href="{reverse("yield-detail", args=[each.pk])}">{each.label}</a>'))
    assert places == sorted(places)
    assert f"{format_mg(found.at_stake_mg, 'lb')} at stake" in text
    assert f"<strong>{found.within} of {len(found.compared)}</strong>" in text
    compared = found.compared
    assert format_mg(sum(each.own_mg or 0 for each in compared), "lb") in text
    assert format_mg(sum(each.expected.likely_mg for each in compared if each.expected), "lb") in text


def test_every_closed_animal_stands_in_the_file_with_its_percentile(
    owner_client: Client, make: Make, season: Season
) -> None:
    make(0.9, 1.0, 1.1, None)
    by_label = {each.label: each for each in audit_season(season).animals}
    rows = saved(owner_client)
    assert len(rows) == 4
    for row in rows:
        each = by_label[row["Order"]]
        if each.percentile is None:
            assert (row["Packed"], row["Of 100, less"]) == ("", "")
            continue
        assert each.expected is not None
        assert row["Of 100, less"] == f"{each.percentile:.1f}"
        assert row["Expected"] == str(mg_in(each.expected.likely_mg, "lb"))
        assert (row["Low"], row["High"]) == (
            str(mg_in(each.expected.low_mg, "lb")),
            str(mg_in(each.expected.high_mg, "lb")),
        )
        assert row["Packed"] == str(mg_in(each.own_mg or 0, "lb"))


def test_no_cell_of_the_file_is_a_formula(owner_client: Client, make: Make) -> None:
    """Characters that spreadsheets take for a formula: OWASP, CSV Injection."""
    make(1.0)
    for name in ("=HYPERLINK(1)", "+1", "@SUM(A1)", "-2+3"):
        Contact.objects.update(name=name)
        (row,) = saved(owner_client)
        assert row["Hunter"] == f"'{name}"


def test_the_page_of_an_animal_tells_its_standing_and_of_100_like_it(
    owner_client: Client, clerk_client: Client, scenario: Scenario
) -> None:
    deer = scenario.deer(weight="230")
    scenario.hung(deer, weight="190")
    scenario.stored(deer)
    (each,) = audit_season(scenario.season).animals
    assert each.percentile is not None
    text = text_of_animal(owner_client, deer.pk)
    assert each.found.sentence in text
    assert percentile_words(each.percentile) in text
    assert each.open_flags
    for flag in each.found.flags:
        assert flag.likely_reason in text
        assert flag.look_next in text
    for address in (f"/animals/{deer.pk}/", f"/orders/{deer.order.number}/"):
        assert "Of 100" not in clerk_client.get(address).content.decode()


def text_of_animal(client: Client, pk: int) -> str:
    response = client.get(reverse("yield-detail", args=[pk]))
    assert response.status_code == 200
    return unescape(response.content.decode())


def test_an_animal_that_is_not_closed_has_no_standing(owner_client: Client, scenario: Scenario) -> None:
    deer = scenario.hung(scenario.deer())
    text = text_of_animal(owner_client, deer.pk)
    assert "Where it stands" not in text
    assert "Of 100" not in text


def test_with_a_cause_on_record_nobody_says_of_100(owner_client: Client, scenario: Scenario) -> None:
    deer = scenario.deer()
    scenario.stored(deer)
    assert "Of 100 animals like this one" in text_of_animal(owner_client, deer.pk)
    record_cause(deer, cause="mixed", note="A neighbor's trim.", by=scenario.by("counter"))
    text = text_of_animal(owner_client, deer.pk)
    assert "Of 100 animals" not in text
    assert "Other meat was mixed in, as was put on record" in text


def test_nobody_is_named_where_something_is_to_be_looked_at(
    owner_client: Client, make: Make, people: People, stations: Stations, season: Season
) -> None:
    """A flag is about an animal: its cutter stands in no flag, on no chart and in no row that is shown."""
    make(*[1.0] * 6, 0.3, cutter=people.cutter, block=stations.block)
    for name in ("audit", "yield-charts"):
        text = re.sub(r"<select.*?</select>", "", text_of(owner_client, name), flags=re.DOTALL)
        assert str(people.cutter) not in text, name
    assert str(people.cutter) in saved(owner_client)[0].values()


# --- filters -------------------------------------------------------------------------------------------------------


def test_the_table_is_filtered_and_what_to_look_at_is_not(
    owner_client: Client, make: Make, people: People, stations: Stations, season: Season
) -> None:
    (deer,) = make(1.0, cutter=people.cutter, block=stations.block)
    (elk,) = make(0.2, species="elk", cutter=people.clerk)
    week = week_of(deer.finished_at)

    def numbers(**asked: Any) -> set[str]:
        return {row["Order"] for row in saved(owner_client, **asked)}

    both = {deer.order.number, elk.order.number}
    assert numbers() == both
    assert numbers(species=elk.species_id) == {elk.order.number}
    assert numbers(crew=people.cutter.pk) == {deer.order.number}
    assert numbers(table=stations.block.pk) == {deer.order.number}
    assert numbers(table="several") == {elk.order.number}
    assert numbers(week=week) == both
    assert numbers(crew=people.cutter.pk, table="several") == set()
    text = text_of(owner_client, "audit", species=deer.species_id)
    # The elk is none of the species asked for, and is to be looked at all the same.
    assert text.count(f">{elk.order.number}</a>") == 1
    assert week_words(week) in text


@pytest.mark.parametrize(
    "asked",
    [
        {"season": "999"},
        {"species": "abc"},
        {"crew": "77"},
        {"table": "77"},
        {"week": "2020-W01"},
        {"week": "x"},
    ],
)
def test_a_filter_that_cannot_be_shows_nothing(
    owner_client: Client, make: Make, asked: dict[str, str]
) -> None:
    (record,) = make(1.0)
    text = text_of(owner_client, "audit", status=422, **asked)
    assert f">{record.order.number}</a>" not in text
    assert "Choose one of the list." in text
    assert "No animal is closed here yet." in text


def test_the_table_sorts_by_numbers(owner_client: Client, make: Make) -> None:
    """9 % sorts before 10 %: as numbers, not as words; what has none comes first or last."""
    make(0.95, 1.3, 0.6, None)
    for column, key in (("percentile", "Of 100, less"), ("packed", "Packed"), ("expected", "Expected")):
        up = [row[key] for row in saved(owner_client, sort=column)]
        down = [row[key] for row in saved(owner_client, sort=f"-{column}")]
        numbers = [float(value) for value in up if value]
        assert numbers == sorted(numbers), column
        assert up == down[::-1], column


# --- edges ---------------------------------------------------------------------------------------------------------


def test_no_season_no_animal_and_one(owner_client: Client, catalog: None, people: People) -> None:
    for name in PAGES:
        text_of(owner_client, name)
    assert "no animal is closed in this season yet" in text_of(owner_client, "audit")
    assert "No animal of this season can be compared yet." in text_of(owner_client, "yield-charts")
    assert "No animal was done whole by one person." in text_of(owner_client, "yield-crew")
    today = timezone.localdate()
    season = Season.objects.create(
        name="One", short="31", starts_on=today, ends_on=today.replace(year=today.year + 1)
    )
    for name in PAGES:
        text_of(owner_client, name)
    make_records(season, people.owner, [1.0], alone=people.cutter)
    text = text_of(owner_client, "audit")
    assert "Nothing asks to be looked at." in text
    assert "<strong>1</strong><span>animals closed" in text
    assert "One animal only: there are no limits yet." in text_of(owner_client, "yield-charts")
    assert "One person only" in text_of(owner_client, "yield-crew")


def test_animals_that_are_all_equal(owner_client: Client, make: Make) -> None:
    make(*[1.0] * 9)
    text = text_of(owner_client, "yield-charts")
    assert "All animals are equal: the limits have no width." in text
    assert "Nothing here asks to be looked at." in text


def test_400_animals_are_paged_and_saved_whole(
    owner_client: Client, make: Make, season: Season, queries_of: Callable[[Any], int]
) -> None:
    shares = [0.7 + 0.6 * (n * 37 % 101) / 100 for n in range(400)]
    make(*shares)
    text = text_of(owner_client, "audit")
    assert "Page 1 of 8, 400 rows" in text
    assert len(saved(owner_client)) == 400
    charts = text_of(owner_client, "yield-charts")
    assert "All 400 in numbers" in charts
    assert "The newest 80 are drawn." in picture_text(charts)
    assert "400 animals" in text_of(owner_client, "learned")


def picture_text(page: str) -> str:
    return b64decode(re.findall(r'src="data:image/svg\+xml;base64,([^"]+)"', page)[0]).decode()


def test_kilograms_where_the_shop_weighs_in_them(owner_client: Client, make: Make, season: Season) -> None:
    make(*[1.0] * 5, 0.3)
    ShopSettings.objects.update(unit="kg")
    (each,) = audit_season(season).to_look_at
    assert " kg" in each.sentence
    assert each.sentence in text_of(owner_client, "audit")
    assert saved(owner_client)[-1]["Packed"] == str(mg_in(LIKELY, "kg"))


@pytest.mark.parametrize("name", ["audit", "yield-charts", "yield-crew", "learned"])
def test_three_animals_and_thirty_take_the_same_queries(
    owner_client: Client,
    make: Make,
    people: People,
    stations: Stations,
    queries_of: Callable[[Any], int],
    name: str,
) -> None:
    more = {"cutter": people.cutter, "block": stations.block, "alone": people.cutter}
    make(0.4, 1.0, 1.1, **more)
    text_of(owner_client, name)
    three = queries_of(lambda: text_of(owner_client, name))
    make(*[0.9] * 27, **more)
    assert queries_of(lambda: text_of(owner_client, name)) == three


def test_a_void_order_stands_on_no_page(owner_client: Client, scenario: Scenario) -> None:
    deer = scenario.deer()
    end_animal(deer, ending="void", reason="Written down twice.", by=scenario.by("counter"))
    assert deer.order.number not in text_of(owner_client, "audit")


def test_what_to_look_at_is_cut_short_and_can_be_shown_whole(
    owner_client: Client, make: Make, season: Season
) -> None:
    make(*[1.0] * 30)
    # A gap each, so that nothing of it is learned away.
    gaps = [
        {
            "from": "Lugs",
            "to": "On the wrap table",
            "start": "lugs",
            "end": "to_wrap",
            "start_mg": pounds(50),
            "mg": pounds(3),
            "allowed_mg": 0,
            "uncertainty_mg": 0,
            "loss_bp": 150,
            "drying": False,
            "ground": True,
            "flagged": True,
        }
    ]
    make(*[1.0] * 15, facts={"gaps": gaps})
    assert len(audit_season(season).to_look_at) == 15
    short, whole = text_of(owner_client, "audit"), text_of(owner_client, "audit", all="1")
    assert short.count('class="look-head"') == 12
    assert "All 15" in short
    assert whole.count('class="look-head"') == 15


def test_elk_and_deer_have_charts_of_their_own(owner_client: Client, make: Make) -> None:
    make(1.0, 1.1)
    make(1.0, 1.1, species="elk")
    text = text_of(owner_client, "yield-charts")
    for species in Species.objects.filter(code__in=["elk", "white-tailed-deer"]):
        assert f">{species.name}</h3>" in text
