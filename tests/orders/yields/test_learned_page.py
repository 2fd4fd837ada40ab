"""“What the shop has learned” against the update itself, in percent as a person reads it."""

from __future__ import annotations

import math
from collections.abc import Callable
from html import unescape
from statistics import NormalDist, fmean, stdev
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from orders.intake.models import Season
from orders.models import ShopFigure, YieldRecord
from orders.yields.constants import COVERAGE
from orders.yields.figures import load_figures
from orders.yields.learned import BONELESS, DRYING, PART, load_learned, prior_of
from orders.yields.learned_page import LearnedSpecies, class_words, learned_page
from orders.yields.learning import update
from shop.figures import Own, set_own
from shop.models import Species, YieldFigure
from tests.conftest import People
from tests.orders.yields.records import LIKELY, make_records

Make = Callable[..., list[YieldRecord]]
SHARES = [0.9, 0.95, 1.0, 1.05, 0.85, 0.98]
# Field, Smith & Hepworth, Mule Deer Carcass, 1973, as the catalog has it: 57.29 % of the skinned carcass.
LEAN = 57.29


@pytest.fixture
def make(catalog: None, season: Season, people: People) -> Make:
    def records(*shares: float | None, **more: Any) -> list[YieldRecord]:
        return make_records(season, people.owner, shares, **more)

    return records


@pytest.fixture
def deer(catalog: None) -> Species:
    return Species.objects.get(code="white-tailed-deer")


def page_of(client: Client) -> str:
    response = client.get(reverse("learned"))
    assert response.status_code == 200
    return unescape(response.content.decode())


def of(species: Species) -> LearnedSpecies:
    return next(each for each in learned_page() if each.species == species)


def test_the_sentence_is_prior_data_and_what_is_used_now(
    owner_client: Client, make: Make, deer: Species
) -> None:
    make(*SHARES)
    prior = prior_of(BONELESS, deer.pk, load_figures(), deer.hang_days)
    assert prior is not None
    logs = [math.log(round(LIKELY * share) / LIKELY) for share in SHARES]
    used = update(prior, logs)
    low, high = used.predictive().interval(COVERAGE)
    assert used.data_mean is not None
    sentence = (
        f"Lean share: {LEAN:.1f} % published, {LEAN * math.exp(used.data_mean):.1f} % yours from 6 animals, "
        f"used now {LEAN * math.exp(used.mean):.1f} %, "
        f"range {LEAN * math.exp(low):.1f} to {LEAN * math.exp(high):.1f} %."
    )
    assert sentence in page_of(owner_client)


def test_classes_follow_with_what_the_others_have_taught(
    owner_client: Client, make: Make, deer: Species
) -> None:
    make(*SHARES)
    make(1.2, 1.1, animal_class="female-adult")
    row_all, does, bucks = of(deer).lean
    assert (row_all.what, does.what, bucks.what) == ("All", "Female, adult", "Male, adult")
    assert (row_all.n, does.n, bucks.n) == (8, 2, 6)
    lesson = load_learned(load_figures()).lessons[deer.pk, BONELESS]
    assert does.used == f"{LEAN * math.exp(lesson.posterior('female-adult').mean):.1f} %"
    for row in (row_all, does, bucks):
        assert row.used in page_of(owner_client)


def test_the_spread_is_the_standard_deviation_of_the_shop_s_animals(make: Make, deer: Species) -> None:
    make(*SHARES)
    logs = [math.log(round(LIKELY * share) / LIKELY) for share in SHARES]
    row = of(deer).lean[0]
    assert row.mean == f"{LEAN * math.exp(fmean(logs)):.1f} %"
    assert float(row.spread.rstrip(" %")) == pytest.approx(
        LEAN * math.exp(fmean(logs)) * stdev(logs), abs=0.06
    )


def test_one_animal_has_a_mean_and_no_spread(make: Make, deer: Species) -> None:
    make(1.0)
    row = of(deer).lean[0]
    assert (row.n, row.mean, row.spread) == (1, f"{LEAN:.1f} %", "")
    assert "yours from 1 animal, used now" in row.sentence


def test_a_species_without_an_animal_is_used_as_published(owner_client: Client, make: Make) -> None:
    make(1.0)
    elk = Species.objects.get(code="elk")
    (row,) = of(elk).lean
    assert (row.n, row.mean, row.used) == (0, "", row.published)
    assert row.used_range == row.published_range
    prior = prior_of(BONELESS, elk.pk, load_figures(), elk.hang_days)
    assert prior is not None
    # The catalog has 59.89 % for elk; 1.645 standard deviations to either side hold 90 of 100.
    ends = (59.89 * math.exp(sign * NormalDist().inv_cdf(0.95) * prior.spread) for sign in (-1, 1))
    assert row.published_range == "{:.1f} to {:.1f} %".format(*ends)
    assert "no animal of yours yet; used as it is" in page_of(owner_client)
    assert of(elk).parts == ()


def test_birds_are_not_on_the_page(owner_client: Client, catalog: None) -> None:
    names = {each.species.name for each in learned_page()}
    assert names
    assert not names & set(Species.objects.filter(is_bird=True).values_list("name", flat=True))


def test_parts_and_drying_are_told_in_percent(owner_client: Client, deer: Species) -> None:
    values = {PART + "backstrap": (math.log(0.09), 10), DRYING: (0.004, 10)}
    for quantity, (mean, n) in values.items():
        ShopFigure.objects.create(
            species=deer, animal_class="male-adult", quantity=quantity, n=n, mean=mean, squares=0.0
        )
    figures = load_figures()
    backstrap, drying = of(deer).parts[0], of(deer).drying[0]
    assert (backstrap.what, backstrap.published, backstrap.mean) == ("Backstrap", "12.0 %", "9.0 %")
    prior = prior_of(PART + "backstrap", deer.pk, figures, deer.hang_days)
    assert prior is not None
    assert backstrap.used == f"{100 * math.exp(update(prior, [math.log(0.09)] * 10).mean):.1f} %"
    assert (drying.published, drying.mean) == ("0.28 %", f"{100 * (1 - math.exp(-0.004)):.2f} %")


def test_what_the_shop_has_set_itself_says_so(owner_client: Client, deer: Species, people: People) -> None:
    figure = YieldFigure.objects.get(species=deer, quantity="lean_of_hanging", sex="", age_class="")
    set_own(
        figure, Own(5000, 5500, 6000), reason="Our cut test.", by=people.owner, seen=None, sender_id=uuid4()
    )
    row = of(deer).lean[0]
    assert row.sentence.startswith("55.0 % set by the shop")


@pytest.mark.parametrize(
    ("animal_class", "said"),
    [
        ("male-adult", "Male, adult"),
        ("female-young", "Female, young of the year"),
        ("unknown-unknown", "Sex not known, age not known"),
        ("unknown-adult", "Sex not known, adult"),
    ],
)
def test_a_class_is_said_in_words(animal_class: str, said: str) -> None:
    assert class_words(animal_class) == said
