"""A kept range moved by what the shop has learned is the range that the whole chain gives."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from django.utils import timezone

from orders.intake.models import Animal
from orders.models import YieldRecord
from orders.yields.estimate import estimate
from orders.yields.figures import load_figures
from orders.yields.flags import Range
from orders.yields.kept import _Asked
from orders.yields.learning import COVERAGE, Predictive
from orders.yields.queries import yields_of
from orders.yields.ranges import Chain, State, together
from orders.yields.refresh import refresh
from shop.weights import pounds
from tests.orders.pools import frozen_trim
from tests.scenario import Scenario

LEARNED = (Predictive(0.0, 0.08, 12.0), Predictive(-0.12, 0.05, 60.0), Predictive(0.2, 0.2, 9.0))
CHAIN = Chain(1, "male-adult", Range(41_000, 48_000, 55_000), (State(48_000),))


def hung(scenario: Scenario) -> Animal:
    return scenario.hung(scenario.deer())


def dressed(scenario: Scenario) -> Animal:
    return scenario.deer()


def not_said(scenario: Scenario) -> Animal:
    animal = scenario.deer()
    Animal.objects.filter(pk=animal.pk).update(weight_basis="")
    return animal


def in_pieces(scenario: Scenario) -> Animal:
    return scenario.elk()


def boneless(scenario: Scenario) -> Animal:
    animal = frozen_trim(scenario).animal
    assert animal is not None
    return animal


@pytest.mark.parametrize("arrive", [hung, dressed, not_said, in_pieces, boneless])
def test_what_is_kept_follows_learning_as_the_chain_does(
    scenario: Scenario, arrive: Callable[[Scenario], Animal]
) -> None:
    """Against `estimate`, which goes through every step: the same low, likely and high, to the rounding of two sums."""
    animal = Animal.objects.select_related("species", "order").get(pk=arrive(scenario).pk)
    figures, now = load_figures(), timezone.now()
    (part,) = yields_of([animal])[0].parts
    kept = Chain.read(_Asked(part, figures, now).chain(part).plain())
    constants = figures.of_animal(animal)
    assert constants is not None
    for learned in (None, *LEARNED):
        whole = estimate(part.animal, part.facts, constants, now, learned=learned)
        assert whole is not None
        moved = kept.moved(learned)
        expected = (whole.low_mg, whole.likely_mg, whole.high_mg)
        assert (moved.low_mg, moved.likely_mg, moved.high_mg) == pytest.approx(expected, abs=6)
        if learned is None:
            assert moved == Range(*expected)


def test_learning_moves_every_animal_but_boneless_meat(scenario: Scenario) -> None:
    """The test above would hold of a chain that learning leaves alone: it must not."""
    figures, now = load_figures(), timezone.now()
    for animal, moves in ((hung(scenario), True), (boneless(scenario), False)):
        fresh = Animal.objects.select_related("species", "order").get(pk=animal.pk)
        (part,) = yields_of([fresh])[0].parts
        kept = _Asked(part, figures, now).chain(part)
        assert (kept.moved(LEARNED[1]) != kept.published) is moves


def test_without_anything_learned_the_published_range_stays() -> None:
    assert CHAIN.moved(None) == CHAIN.published


def test_the_bounds_are_the_quantiles_of_what_is_learned() -> None:
    learned = Predictive(-0.1, 0.07, 20.0)
    low, high = learned.interval(COVERAGE)
    moved = CHAIN.moved(learned)
    assert moved == Range(*(round(48_000 * math.exp(value)) for value in (low, -0.1, high)))


def test_what_lies_before_the_carcass_widens_in_quadrature() -> None:
    """sqrt(0.3^2 + 0.4^2) = 0.5."""
    learned = Predictive(0.0, 0.1, 1e6)
    half = learned.interval(COVERAGE)[1]
    moved = replace(CHAIN, states=(State(48_000, 4 * half / 3, 4 * half / 3),)).moved(learned)
    assert moved.high_mg == pytest.approx(48_000 * math.exp(5 * half / 3), abs=1)
    assert moved.low_mg == pytest.approx(48_000 * math.exp(-5 * half / 3), abs=1)


def test_several_animals_are_added_bound_to_bound() -> None:
    learned = {1: Predictive(0.1, 0.1, 30.0), 2: None}
    other = Chain(2, "", Range(10, 20, 30), (State(20),))
    found = together([CHAIN, other], lambda species, _: learned[species])
    assert found is not None
    total, df = found
    moved = CHAIN.moved(learned[1])
    assert total == Range(moved.low_mg + 10, moved.likely_mg + 20, moved.high_mg + 30)
    assert df == 30.0
    assert together([other], lambda *_: None) == (Range(10, 20, 30), math.inf)
    assert together([], lambda *_: None) is None


def test_a_chain_needs_a_state() -> None:
    with pytest.raises(ValueError, match="at least one state"):
        Chain(1, "", Range(1, 2, 3), ())


@pytest.mark.parametrize("fixed", [(0, 0, 0), (500, 600, 700)])
def test_what_is_kept_survives_being_written_down(fixed: Any) -> None:
    chain = replace(CHAIN, fixed=fixed, states=(State(1, 0.5, 0.25), State(48_000), State(50_000)))
    assert Chain.read(chain.plain()) == chain
    assert chain.middle == State(48_000)


def test_a_low_state_and_a_high_one_span_the_range() -> None:
    spread = Predictive(0.0, 0.01, 1e6)
    states = (State(30_000), State(48_000), State(60_000))
    moved = replace(CHAIN, states=states).moved(spread)
    down, up = spread.interval(COVERAGE)
    assert moved == Range(round(30_000 * math.exp(down)), 48_000, round(60_000 * math.exp(up)))


def test_an_animal_of_100_pounds_keeps_its_pounds(scenario: Scenario) -> None:
    """A kept chain is in the record of a stored deer, and its published range is the record's."""
    scenario.stored(scenario.deer())
    refresh()
    record = YieldRecord.objects.get()
    (kept,) = record.facts["ranges"]
    assert Chain.read(kept).published == Range(record.low_mg, record.likely_mg, record.high_mg)
    # Both tenderloins were bagged before, and are as they were weighed.
    assert Chain.read(kept).fixed == (pounds("1.1"),) * 3
