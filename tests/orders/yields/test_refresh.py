"""The yield records: derived from the ledger alone, old as soon as it moves on, and summed for what the shop learns."""

from __future__ import annotations

import math
from dataclasses import replace
from statistics import fmean, variance

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from orders.intake.actions import weigh_received
from orders.ledger.models import RunKind
from orders.ledger.refusal import Refusal
from orders.ledger.voids import void_event
from orders.models import Event, ShopFigure, YieldRecord
from orders.yields.causes import record_cause
from orders.yields.figures import load_figures
from orders.yields.queries import yield_of
from orders.yields.refresh import BONELESS, DRYING, _why_not, forget, observed, refresh
from shop.models import Species
from shop.weights import pounds
from tests.scenario import Scenario, lb


def test_a_finished_animal_gets_one_record_that_says_what_its_page_says(scenario: Scenario) -> None:
    deer = scenario.deer()
    scenario.stored(deer)
    assert refresh() == 1
    record = YieldRecord.objects.get()
    found = yield_of(deer)
    assert found.estimate is not None
    assert (record.own_mg, record.added_mg, record.packs) == (found.own_mg, found.account.added_mg, 45)
    assert (record.low_mg, record.likely_mg, record.high_mg) == (
        found.estimate.low_mg,
        found.estimate.likely_mg,
        found.estimate.high_mg,
    )
    assert record.teaches
    assert record.observed[BONELESS] == pytest.approx(math.log(record.own_mg / record.likely_mg))
    assert sum(record.facts["parts"].values()) + record.facts["ground_mg"] == record.packed_mg


def test_nothing_is_reckoned_twice_and_a_change_is_seen(scenario: Scenario) -> None:
    deer = scenario.deer()
    scenario.stored(deer)
    assert refresh() == 1
    assert refresh() == 0
    record_cause(deer, cause="spoiled", note="The left shoulder smelled.", by=scenario.by("counter"))
    assert refresh() == 1
    record = YieldRecord.objects.get()
    assert (record.teaches, record.observed) == (False, {})
    assert "spoiled" in record.why_not
    assert not ShopFigure.objects.exists()
    record_cause(deer, cause="", by=scenario.by("counter"))
    refresh()
    assert YieldRecord.objects.get().teaches


def test_an_unfinished_animal_is_no_record_and_teaches_nothing(scenario: Scenario) -> None:
    deer = scenario.deer()
    scenario.hung(deer)
    assert refresh() == 0
    assert not YieldRecord.objects.exists()


def test_the_shop_figures_are_the_plain_mean_and_variance(scenario: Scenario) -> None:
    """Against the standard library's own mean and variance of the same values."""
    for tag in ("WT-1", "WT-2", "WT-3"):
        deer = scenario.deer(tag=tag)
        scenario.stored(deer)
    refresh()
    values = [record.observed[BONELESS] for record in YieldRecord.objects.all()]
    figure = ShopFigure.objects.get(quantity=BONELESS, animal_class="")
    assert (figure.n, figure.mean) == (3, pytest.approx(fmean(values)))
    assert figure.squares / 2 == pytest.approx(variance(values))
    assert ShopFigure.objects.filter(quantity=BONELESS).count() == 2


def test_reckoning_takes_as_many_queries_for_three_as_for_one(scenario: Scenario) -> None:
    scenario.stored(scenario.deer(tag="WT-1"))
    with CaptureQueriesContext(connection) as one:
        refresh()
    for tag in ("WT-2", "WT-3"):
        scenario.stored(scenario.deer(tag=tag))
    forget()
    with CaptureQueriesContext(connection) as three:
        assert refresh() == 3
    assert len(three) == len(one)


def test_who_did_it_all_is_known_only_where_one_did(scenario: Scenario) -> None:
    deer = scenario.deer()
    scenario.stored(deer)
    refresh()
    people = set(Event.objects.filter(order=deer.order, run__isnull=False).values_list("person", flat=True))
    record = YieldRecord.objects.get()
    assert record.alone_id == (next(iter(people)) if len(people) == 1 else None)
    cut = deer.runs.get(kind=RunKind.CUT)
    assert (record.cutter_id, record.block_id) == (cut.opened_by_id, cut.station_id)


@pytest.mark.parametrize(
    ("cause", "note", "code"), [("luck", "x", "cause_unknown"), ("mixed", " ", "note_needed")]
)
def test_a_cause_needs_its_kind_and_its_words(scenario: Scenario, cause: str, note: str, code: str) -> None:
    deer = scenario.deer()
    with pytest.raises(Refusal) as refused:
        record_cause(deer, cause=cause, note=note, by=scenario.by("counter"))
    assert refused.value.code == code


def test_a_voided_weighing_in_the_middle_is_not_in_the_record(scenario: Scenario) -> None:
    deer = scenario.deer()
    carcass = deer.pieces.get()
    wrong = Event.objects.get(verb="add_animal")
    void_event(wrong, reason="The hook was on the scale.", by=scenario.by("counter"))
    weigh_received(carcass, weight=lb("128.0"), by=scenario.by("counter"))
    scenario.stored(deer)
    refresh()
    assert YieldRecord.objects.get().received_mg == pounds("128.0")


def test_only_what_was_weighed_with_its_bone_teaches_the_lean_share(scenario: Scenario) -> None:
    """Against the same yield as though it had come boneless, as quarters and bags, or nobody had said how."""
    deer = scenario.deer()
    scenario.stored(deer)
    found = yield_of(deer)
    assert found.estimate is not None
    told = {
        basis: _why_not(replace(found, estimate=replace(found.estimate, basis=basis)), {"lugs": []})
        for basis in ("hanging", "dressed_feet_on", "quarters", "mixed", "boneless", "unknown")
    }
    assert told == {
        "hanging": "",
        "dressed_feet_on": "",
        "quarters": "",
        "mixed": "",
        "boneless": "came boneless",
        "unknown": "nobody said how it was dressed when it was weighed",
    }
    assert _why_not(found, {"lugs": [{"name": "Lug 1"}]}) == "a lug of it is missing"


def test_what_is_forgotten_is_not_used_until_it_is_reckoned_again(scenario: Scenario) -> None:
    deer = scenario.deer()
    scenario.stored(deer)
    refresh()
    assert ShopFigure.objects.exists()
    forget(Species.objects.get(code="elk").pk)
    assert ShopFigure.objects.exists()
    forget(deer.species_id)
    assert not ShopFigure.objects.exists()
    assert refresh() == 1
    assert ShopFigure.objects.exists()


def test_drying_is_told_per_day_after_the_first_chill(scenario: Scenario) -> None:
    """100 lb hung and 96 lb at the block after 6 days, of which the first chill (1.35 %) is not drying."""
    deer = scenario.deer()
    scenario.stored(deer)
    found = yield_of(deer)
    weights = {"hanging": pounds(100), "at_block": pounds(96)}
    points = tuple(replace(point, mg=weights.get(point.key, point.mg)) for point in found.account.points)
    found = replace(found, account=replace(found.account, points=points), hung_days=6)
    constants = load_figures().of(deer.species_id)
    told = observed(found, constants)[DRYING]
    assert told == pytest.approx(math.log(100 * (1 - 0.0135) / 96) / 6)
    assert DRYING not in observed(replace(found, hung_days=0), constants)
    assert DRYING not in observed(replace(found, animals=(deer, deer)), constants)
