"""The audit of a season against direct calls of the pure functions, and how many queries it takes."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

from orders.intake.actions import end_animal
from orders.intake.models import Animal, Season
from orders.ledger.models import Piece, Run
from orders.models import ShopFigure, YieldRecord
from orders.packing.actions import bring_to_wrap, finish_wrap, new_box, put_in_box, store
from orders.packing.models import Package
from orders.yields import audit_math
from orders.yields.audit import (
    BONE_IN,
    Judge,
    SeasonAudit,
    audit_of,
    audit_season,
    closed_records,
)
from orders.yields.causes import record_cause
from orders.yields.constants import COVERAGE
from orders.yields.figures import load_figures
from orders.yields.flags import AnimalFacts, Kind, LugFacts, Range, Standing
from orders.yields.learned import BONELESS, load_learned, prior_of
from orders.yields.learning import update
from orders.yields.scales import load_checks
from shop.models import Species
from shop.weights import pounds
from tests.conftest import People
from tests.orders.pools import grind_together, pool_in_box, two_deer
from tests.orders.yields.records import LIKELY, make_records
from tests.scenario import Scenario

Make = Callable[..., list[YieldRecord]]


@pytest.fixture
def make(catalog: None, season: Season, people: People) -> Make:
    def records(*shares: float | None, **more: Any) -> list[YieldRecord]:
        return make_records(season, people.owner, shares, **more)

    return records


def others_range(shares: list[float], leave_out: int) -> tuple[Range, float]:
    """The range of an animal of which 48 lb were likely, from the published start and the other animals alone."""
    deer = Species.objects.get(code="white-tailed-deer")
    prior = prior_of(BONELESS, deer.pk, load_figures(), deer.hang_days)
    assert prior is not None
    others = [math.log(round(LIKELY * share) / LIKELY) for n, share in enumerate(shares) if n != leave_out]
    predictive = update(prior, others).predictive()
    low, high = predictive.interval(COVERAGE)
    bounds = (round(LIKELY * math.exp(value)) for value in (low, predictive.location, high))
    return Range(*bounds), predictive.df


def test_each_animal_is_a_percentile_of_the_range_that_the_others_make(make: Make, season: Season) -> None:
    shares = [0.8, 0.9, 1.0, 1.0, 1.1, 1.3]
    make(*shares)
    found = {each.record.order.seq: each for each in audit_season(season).animals}
    assert len(found) == len(shares)
    for n, (_, each) in enumerate(sorted(found.items())):
        expected, df = others_range(shares, n)
        assert each.expected == expected
        assert each.percentile == pytest.approx(
            audit_math.percentile(round(LIKELY * shares[n]), expected, df)
        )


def test_the_percentile_is_that_of_the_predictive_itself(make: Make, season: Season) -> None:
    """Against `Predictive.percentile` of the same animal's logarithm: no range in between."""
    shares = [0.8, 0.9, 1.0, 1.2]
    make(*shares)
    deer = Species.objects.get(code="white-tailed-deer")
    prior = prior_of(BONELESS, deer.pk, load_figures(), deer.hang_days)
    assert prior is not None
    logs = [math.log(round(LIKELY * share) / LIKELY) for share in shares]
    for n, each in enumerate(reversed(audit_season(season).animals)):
        others = update(prior, [log for m, log in enumerate(logs) if m != n])
        assert each.percentile == pytest.approx(others.predictive().percentile(logs[n]), abs=1e-3)


def test_flags_are_ranked_over_all_animals_by_the_pounds_at_stake(make: Make, season: Season) -> None:
    make(*[1.0] * 12)
    (short, far_short, much) = make(0.45, 0.3, 1.9)
    found = audit_season(season)
    pounds_of = [each.flag.pounds_mg for each in found.to_look_at]
    assert pounds_of == sorted(pounds_of, reverse=True)
    assert {each.label for each in found.to_look_at} == {
        record.order.number for record in (short, far_short, much)
    }
    assert found.at_stake_mg == sum(pounds_of)
    by_label = {each.label: each for each in found.animals}
    for ranked in found.to_look_at:
        each = by_label[ranked.label]
        assert ranked.flag in each.found.flags
        assert ranked.flag.look_next
        assert ranked.sentence == each.found.sentence
    assert by_label[far_short.order.number].found.standing is Standing.BELOW
    assert by_label[much.order.number].found.standing is Standing.ABOVE


def test_what_the_audit_says_of_an_animal_is_what_the_rules_say_of_its_facts(
    make: Make, season: Season
) -> None:
    make(*[1.0] * 8)
    (record,) = make(0.5)
    judged = next(each for each in audit_season(season).animals if each.record.pk == record.pk)
    shares = [*[1.0] * 8, 0.5]
    expected, _ = others_range(shares, 8)
    facts = AnimalFacts(
        own_mg=record.own_mg,
        expected=expected,
        ordinary=expected,
        likely_as_hung_mg=expected.likely_mg,
        weighed_mg=pounds(100),
        basis_point="hanging",
        bloodshot_known=True,
        hung_days=5,
        usual_days=5,
        waste_mg=pounds(39),
        usual_waste_mg=pounds(39),
    )
    assert judged.found == audit_math.audit(facts)


def test_every_fact_of_a_record_reaches_the_rules(make: Make, season: Season) -> None:
    lugs = [{"name": "Lug 2", "mg": pounds(8), "place": "Rack 1"}]
    told = {
        "regions": ["neck"],
        "bloodshot_known": False,
        "worst_shot_mg": pounds(3),
        "lugs": lugs,
        "waste_mg": pounds(40),
        "usual_waste_mg": pounds(37),
        "to_trim_mg": pounds(2),
        "to_trim_asked": False,
    }
    make(1.0, facts=told, hung_days=9, weighed_mg=pounds(101))
    figures = load_figures()
    judge = Judge(figures, load_learned(figures), load_checks(), "lb")
    facts, df = judge.facts_of(closed_records().get())
    published = Range(pounds(41), pounds(48), pounds(55))
    assert facts == AnimalFacts(
        own_mg=LIKELY,
        expected=published,
        ordinary=published,
        likely_as_hung_mg=LIKELY,
        weighed_mg=pounds(101),
        basis_point="hanging",
        shot_regions=("neck",),
        bloodshot_known=False,
        worst_shot_mg=pounds(3),
        hung_days=9,
        usual_days=5,
        lugs=(LugFacts("Lug 2", pounds(8), "Rack 1"),),
        waste_mg=pounds(40),
        usual_waste_mg=pounds(37),
        to_trim_mg=pounds(2),
        to_trim_asked=False,
    )
    assert df == math.inf


def test_an_animal_that_is_not_packed_is_not_judged(scenario: Scenario) -> None:
    order = scenario.order()
    first, second = scenario.deer(order, tag="WT-1"), scenario.deer(order, tag="WT-2")
    scenario.stored(first)
    scenario.hung(second)
    assert [each.record.animal for each in audit_season(scenario.season).animals] == [first]
    assert YieldRecord.objects.filter(animal=second, finished_at=None).exists()
    assert audit_of(second) is None


def gap(**more: Any) -> dict[str, Any]:
    kept = {
        "from": "Lugs",
        "to": "On the wrap table",
        "start": "lugs",
        "end": "to_wrap",
        "start_mg": pounds(50),
        "mg": pounds("3.0"),
        "allowed_mg": 0,
        "uncertainty_mg": pounds("0.3"),
        "loss_bp": 150,
        "drying": False,
        "ground": True,
        "flagged": True,
    }
    return {**kept, **more}


def test_a_gap_of_a_record_is_told_with_its_loss_and_its_scales(make: Make, season: Season) -> None:
    """50 lb into the grinder, 1.5 % hang-up is 0.75 lb, the scales 0.3: of 3.0 lb missing, 1.95 are at stake."""
    make(1.0, facts={"gaps": [gap()]})
    (ranked,) = audit_season(season).to_look_at
    assert ranked.flag.kind is Kind.GAP
    assert ranked.flag.pounds_mg == pounds("3.0") - pounds("0.3") - pounds(50) * 150 // 10_000
    assert ranked.flag.likely_reason.startswith("3.0 lb more went into the grinder than came out")


def test_drying_that_the_shop_has_learned_explains_a_gap(make: Make, season: Season) -> None:
    """Seven days and 6 lb of 100: more than is published (2.0 + 7 x 0.36 %), and what this cooler always takes."""
    dried = gap(start="hanging", end="at_block", start_mg=pounds(100), mg=pounds(6), loss_bp=0, drying=True)
    dried |= {"from": "Hanging", "to": "At the block", "ground": False, "uncertainty_mg": 0}
    make(1.0, facts={"gaps": [dried]}, hung_days=7)
    (ranked,) = audit_season(season).to_look_at
    assert ranked.flag.kind is Kind.DRIED
    assert ranked.flag.pounds_mg == pounds(6) - pounds(100) * (200 + 7 * 36) // 10_000
    deer = Species.objects.get(code="white-tailed-deer")
    ShopFigure.objects.create(
        species=deer, animal_class="male-adult", quantity="drying", n=60, mean=0.0075, squares=60 * 0.0008**2
    )
    assert audit_season(season).to_look_at == ()


def test_a_cause_on_record_puts_flags_apart_and_counts_for_nothing(scenario: Scenario) -> None:
    deer = scenario.deer(weight="230")
    scenario.hung(deer, weight="190")
    scenario.stored(deer)
    before = audit_season(scenario.season)
    assert [each.flag.explained for each in before.to_look_at] == [False]
    assert len(before.compared) == 1
    record_cause(deer, cause="part_missing", note="A shoulder went to the dog.", by=scenario.by("counter"))
    after = audit_season(scenario.season)
    assert after.to_look_at == ()
    told = [each.flag.pounds_mg for each in (*before.to_look_at, *before.explained)]
    assert [each.flag.pounds_mg for each in after.explained] == sorted(told, reverse=True)
    assert "part of it is missing, as was put on record" in after.explained[0].sentence.lower()
    assert after.compared == ()
    record_cause(deer, cause="", by=scenario.by("counter"))
    assert len(audit_season(scenario.season).to_look_at) == 1


def test_bone_in_cuts_and_unweighed_packs_have_no_percentile(make: Make, season: Season) -> None:
    make(1.0, facts={"bone_in": True}, teach=False)
    make(None)
    boned, unweighed = reversed(audit_season(season).animals)
    assert (boned.percentile, boned.found.sentence, boned.found.standing) == (None, BONE_IN, Standing.UNKNOWN)
    assert (unweighed.percentile, unweighed.found.standing) == (None, Standing.UNKNOWN)
    assert audit_season(season).compared == ()


def test_a_species_without_figures_has_no_range_and_says_so(make: Make, season: Season) -> None:
    nothing = {"low_mg": None, "likely_mg": None, "high_mg": None}
    make(1.0, teach=False, facts={"ranges": []}, **nothing)
    (each,) = audit_season(season).animals
    assert (each.expected, each.percentile) == (None, None)
    assert "no range could be reckoned" in each.found.sentence


def test_no_animal_one_animal_and_animals_that_are_all_equal(make: Make, season: Season) -> None:
    assert audit_season(None) == SeasonAudit(None, ())
    assert audit_season(season).animals == ()
    make(1.0)
    (only,) = audit_season(season).animals
    # Nobody else has taught: the published range stands.
    assert only.expected == Range(pounds(41), pounds(48), pounds(55))
    assert only.percentile == 50.0
    make(*[1.0] * 5)
    for each in audit_season(season).animals:
        assert each.percentile == pytest.approx(50.0, abs=1e-6)
        assert each.open_flags == ()


def test_a_pool_is_one_animal_with_the_sum_of_its_ranges(scenario: Scenario) -> None:
    order, first, second = two_deer(scenario)
    grind_together(scenario, first, second)
    for animal in (first, second):
        table = scenario.by("wrap")
        lugs = [
            *animal.pieces.filter(kind="lug", contents="whole_cuts"),
            *animal.pieces.filter(kind="tenderloin"),
        ]

        for lug in lugs:
            run = bring_to_wrap(lug, by=table).fetch(Run)
        scenario.pack(run, "backstrap", "steaks", "10.0", "11.5", count=4)
        finish_wrap(run, by=table, reason="The rest is in the pool.")
    pool_in_box(scenario, order)

    box = new_box(order, by=scenario.by("freezer")).fetch(Piece)
    put_in_box(box, by=scenario.by("freezer"), packages=tuple(Package.objects.filter(animal__order=order)))
    store(box, by=scenario.by("freezer"), place=scenario.places.shelf)
    (each,) = audit_season(scenario.season).animals
    record = each.record
    assert sorted(record.members) == [first.pk, second.pk]
    assert each.label == f"{order.number}, 2 together"
    assert each.expected == Range(record.low_mg, record.likely_mg, record.high_mg)
    assert each.percentile == audit_math.percentile(record.own_mg, each.expected)
    assert audit_of(second) == each


def test_an_order_that_was_voided_leaves_no_record(scenario: Scenario) -> None:
    order = scenario.order()
    first, second = scenario.deer(order, tag="WT-1"), scenario.deer(order, tag="WT-2")
    scenario.stored(first)
    assert len(audit_season(scenario.season).animals) == 1
    end_animal(second, ending="void", reason="Written down twice.", by=scenario.by("counter"))
    assert [each.label for each in audit_season(scenario.season).animals] == [first.label]
    Animal.objects.filter(pk=first.pk).update(ended="void", state="void")
    refresh_order(first)
    assert audit_season(scenario.season).animals == ()
    assert not ShopFigure.objects.exists()
    Animal.objects.filter(pk=first.pk).update(ended="", state="ready")


def refresh_order(animal: Animal) -> None:
    order = animal.order
    type(order).objects.filter(pk=order.pk).update(version=order.version + 99)
