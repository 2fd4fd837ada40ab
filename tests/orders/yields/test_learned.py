"""What the shop has learned, from the kept sums and the published figures; and that every page says the same of it."""

from __future__ import annotations

import math
from collections.abc import Callable
from statistics import NormalDist
from typing import Any

import pytest
from django.test import Client

from orders.intake.models import Animal, Season
from orders.models import ShopFigure, YieldRecord
from orders.papers.statement import yield_statement
from orders.yields.audit import audit_of
from orders.yields.constants import COVERAGE, Basis, Share
from orders.yields.expected import expected_boneless
from orders.yields.figures import load_figures
from orders.yields.learned import BONELESS, DRYING, PART, Lesson, ShopLearned, load_learned, prior_of
from orders.yields.learning import Prior, Summary, learn, update
from orders.yields.queries import yield_of, yields_of
from orders.yields.refresh import refresh
from shop.models import Species
from shop.weights import format_mg, pounds
from tests.conftest import People
from tests.orders.yields.records import make_records
from tests.scenario import Scenario

PRIOR = Prior(0.0, 8.0, 0.1, 8.0)
BUCKS, DOES = [0.05, -0.02, 0.11, 0.02], [-0.09]


def lesson(**by_class: list[float]) -> Lesson:
    return Lesson(PRIOR, learn(PRIOR, {name: Summary.of(values) for name, values in by_class.items()}))


def test_leaving_an_animal_out_is_as_if_it_had_never_come() -> None:
    """Against learning anew from the others; the only one of its class leaves the species to go by."""
    all_of_them = lesson(buck=BUCKS, doe=DOES)
    without = all_of_them.posterior("buck", BUCKS[2])
    anew = lesson(buck=[value for value in BUCKS if value != BUCKS[2]], doe=DOES).posterior("buck")
    for name in ("mean", "weight", "spread", "df", "n"):
        assert getattr(without, name) == pytest.approx(getattr(anew, name)), name
    only = all_of_them.posterior("doe", DOES[0])
    anew = lesson(buck=BUCKS).posterior("doe")
    for name in ("mean", "weight", "spread", "df", "n"):
        assert getattr(only, name) == pytest.approx(getattr(anew, name)), name


def test_a_shop_with_one_animal_has_learned_nothing_for_it() -> None:
    alone = lesson(doe=DOES)
    assert alone.predictive("doe", DOES[0]) is None
    assert alone.predictive("doe") is not None
    assert alone.predictive("buck") == update(PRIOR, DOES).predictive()


def test_nothing_is_learned_of_what_nobody_published_or_brought() -> None:
    assert ShopLearned().predictive(BONELESS, 1) is None
    found = ShopLearned({(1, BONELESS): lesson(doe=DOES)})
    assert found.predictive(BONELESS, 2) is None
    assert found.predictive(DRYING, 1) is None
    assert found.quantities(1) == [BONELESS]


def test_the_start_is_the_range_of_a_hanging_carcass(catalog: None) -> None:
    """Half its width on logarithms, over the normal quantile of its coverage (Python's statistics.NormalDist)."""
    figures, deer = load_figures(), Species.objects.get(code="white-tailed-deer")
    prior = prior_of(BONELESS, deer.pk, figures, deer.hang_days)
    constants = figures.of(deer.pk)
    assert constants is not None
    found = expected_boneless(pounds(100), Basis.HANGING, constants, hung_days=deer.hang_days)
    half = math.log(found.high_mg / found.low_mg) / 2
    assert prior is not None
    assert (prior.mean, prior.weight, prior.df) == (0.0, 8.0, 8.0)
    assert prior.spread == pytest.approx(half / NormalDist().inv_cdf((1 + COVERAGE) / 2), rel=1e-6)


def test_the_start_of_drying_and_of_a_part_are_their_published_shares(catalog: None) -> None:
    figures, deer = load_figures(), Species.objects.get(code="white-tailed-deer")
    wide = NormalDist().inv_cdf((1 + COVERAGE) / 2)
    drying = prior_of(DRYING, deer.pk, figures, deer.hang_days)
    assert drying is not None
    # 0.28 % of the carcass on each further day, 0.20 to 0.36 %.
    assert drying.mean == pytest.approx(-math.log(1 - 0.0028))
    assert drying.spread == pytest.approx((math.log(1 - 0.0020) - math.log(1 - 0.0036)) / 2 / wide)
    part = prior_of(PART + "backstrap", deer.pk, figures, deer.hang_days)
    assert part is not None
    assert part.mean == pytest.approx(math.log(0.12))
    assert part.spread == pytest.approx(math.log(0.14 / 0.10) / 2 / wide)
    assert prior_of(PART + "organs", deer.pk, figures, deer.hang_days) is None


def test_all_that_was_learned_is_one_query(
    catalog: None, season: Season, people: People, queries_of: Callable[[Any], int]
) -> None:
    make_records(season, people.owner, [0.9, 1.0, 1.1])
    figures = load_figures()
    assert queries_of(lambda: load_learned(figures)) == 1


def test_the_loaded_lesson_is_the_update_of_the_animals(
    catalog: None, season: Season, people: People
) -> None:
    shares = [0.9, 0.95, 1.0, 1.1]
    deer = Species.objects.get(code="white-tailed-deer")
    make_records(season, people.owner, shares)
    figures = load_figures()
    found = load_learned(figures).lessons[deer.pk, BONELESS]
    prior = prior_of(BONELESS, deer.pk, figures, deer.hang_days)
    assert prior is not None
    expected = update(prior, [math.log(round(pounds(48) * share) / pounds(48)) for share in shares])
    for name in ("mean", "weight", "spread", "df", "n", "data_mean", "data_sd"):
        assert getattr(found.learned.species, name) == pytest.approx(getattr(expected, name)), name
    # One class alone starts from the published figure, because no other class has taught.
    assert found.learned.classes["male-adult"].mean == pytest.approx(expected.mean)


def test_whole_cuts_move_their_part_and_grind_trim_takes_up_the_rest() -> None:
    published = {
        "backstrap": Share(1000, 1200, 1400),
        "neck": Share(520, 700, 880),
        "grind-trim": Share(600, 900, 1300),
    }
    values = [math.log(0.08)] * 40
    prior = Prior(math.log(0.12), 8.0, 0.1, 8.0)
    found = ShopLearned(
        {(1, PART + "backstrap"): Lesson(prior, learn(prior, {"": Summary()} and {"a": Summary.of(values)}))}
    )
    shares = found.shares(published, 1, "a", {})
    location = update(prior, values).predictive().location
    assert shares["backstrap"].likely_bp == round(10_000 * math.exp(location))
    assert shares["backstrap"].low_bp < shares["backstrap"].likely_bp < shares["backstrap"].high_bp
    assert shares["neck"] == published["neck"]
    assert sum(share.likely_bp for share in shares.values()) == 1200 + 700 + 900
    assert found.shares(published, 2, "a", {}) == published


def test_drying_that_was_learned_is_the_most_a_day_takes(catalog: None) -> None:
    constants = load_figures().of(Species.objects.get(code="white-tailed-deer").pk)
    assert constants is not None
    published = ShopLearned().drying_bp(constants, 7, 1, "", None)
    # First chill up to 2.00 %, and 0.36 % on each of seven days.
    assert published == 200 + 7 * 36
    prior = Prior(0.0028, 8.0, 0.0005, 8.0)
    values = [0.006, 0.0062, 0.0058, 0.0061]
    found = ShopLearned({(1, DRYING): Lesson(prior, learn(prior, {"a": Summary.of(values)}))})
    most = update(prior, values).predictive().interval(COVERAGE)[1]
    assert found.drying_bp(constants, 7, 1, "a", None) == round(10_000 * (1 - 0.98 * math.exp(-7 * most)))
    assert found.drying_bp(constants, 7, 1, "a", None) > published


# --- the same range everywhere ------------------------------------------------------------------------------------


def three_deer(scenario: Scenario) -> list[Animal]:
    """Three deer with the same packs from carcasses of 98, 90 and 84 lb: so they gave unlike shares."""
    made = []
    for n, weight in enumerate(("98.4", "90.0", "84.0"), start=1):
        deer = scenario.deer(tag=f"WT-{n}")
        scenario.hung(deer, weight=weight)
        scenario.stored(deer)
        made.append(deer)
    return made


def test_page_statement_and_audit_say_the_same_range_and_the_record_stays_published(
    owner_client: Client, scenario: Scenario
) -> None:
    first, *_ = three_deer(scenario)
    refresh()
    found, judged = yield_of(first), audit_of(first)
    published = yields_of([first])[0].estimate
    record = YieldRecord.objects.get(animal=first)
    assert found.estimate is not None
    assert judged is not None
    assert judged.expected is not None
    assert published is not None
    assert (record.low_mg, record.likely_mg, record.high_mg) == (
        published.low_mg,
        published.likely_mg,
        published.high_mg,
    )
    # The others gave more of their carcass than was likely, and so more is expected of this one.
    assert found.estimate.likely_mg > published.likely_mg
    for name in ("low_mg", "likely_mg", "high_mg"):
        assert getattr(judged.expected, name) == pytest.approx(getattr(found.estimate, name), abs=6)
    page = owner_client.get(f"/yields/{first.pk}/").content.decode()
    statement = yield_statement(found)
    for mg, name in (
        (found.estimate.low_mg, "expected_low"),
        (found.estimate.likely_mg, "expected_likely"),
        (found.estimate.high_mg, "expected_high"),
    ):
        assert statement[name] == format_mg(mg, "lb")
        assert format_mg(mg, "lb") in page
    assert judged.found.sentence in page


def test_an_animal_is_judged_by_the_others_alone(scenario: Scenario) -> None:
    """What it gave is not in its own range: leaving its lesson in would move the range toward it."""
    first, *_ = three_deer(scenario)
    refresh()
    figures = load_figures()
    learned = load_learned(figures)
    own = YieldRecord.objects.get(animal=first).observed[BONELESS]
    with_it = learned.predictive(BONELESS, first.species_id, "male-adult")
    without = learned.predictive(BONELESS, first.species_id, "male-adult", own)
    assert with_it is not None
    assert without is not None
    others = [record.observed[BONELESS] for record in YieldRecord.objects.exclude(animal=first)]
    prior = prior_of(BONELESS, first.species_id, figures, first.species.hang_days)
    assert prior is not None
    assert without.location == pytest.approx(update(prior, others).predictive().location)
    assert abs(with_it.location - own) < abs(without.location - own)
    estimate, plain = yield_of(first).estimate, yields_of([first])[0].estimate
    assert estimate is not None
    assert plain is not None
    bagged = pounds("1.1")
    expected = (plain.likely_mg - bagged) * math.exp(without.location) + bagged
    assert estimate.likely_mg == pytest.approx(expected, abs=2)


def test_the_next_animal_is_expected_by_all_that_was_learned(scenario: Scenario) -> None:
    three_deer(scenario)
    refresh()
    fourth = scenario.hung(scenario.deer(tag="WT-4"))
    learned = load_learned(load_figures()).predictive(BONELESS, fourth.species_id, "male-adult")
    estimate, plain = yield_of(fourth).estimate, yields_of([fourth])[0].estimate
    assert learned is not None
    assert estimate is not None
    assert plain is not None
    bagged = pounds("1.1")
    expected = (plain.likely_mg - bagged) * math.exp(learned.location) + bagged
    assert estimate.likely_mg == pytest.approx(expected, abs=2)
    assert any("this shop's finished animals" in step.source for step in estimate.steps)


def test_boneless_meat_and_what_nobody_described_teach_nothing_of_the_lean_share(scenario: Scenario) -> None:
    deer = scenario.deer()
    scenario.hung(deer, weight="")
    Animal.objects.filter(pk=deer.pk).update(weight_basis="")
    scenario.stored(deer)
    refresh()
    record = YieldRecord.objects.get()
    assert record.why_not == "nobody said how it was dressed when it was weighed"
    assert not ShopFigure.objects.filter(quantity=BONELESS).exists()
