"""The bench measures what it says: its seasons are sound, and both sides of its comparison give the same numbers."""

from __future__ import annotations

import pytest

from orders.intake.models import Animal, State
from orders.ledger.check import problems
from orders.yields.queries import animals_for_table, yields_of
from orders.yields.refresh import refresh
from tests.bench import raw_sql
from tests.bench.filler import packs_in, start
from tests.bench.patterns import CYCLE, PACKS_PER_ANIMAL


@pytest.mark.django_db
def test_a_filled_season_is_one_that_the_ledger_could_have_written() -> None:
    season = start().season(years_ago=0, animals=2 * CYCLE)
    assert problems() == []
    assert Animal.objects.filter(order__season=season, state=State.COLLECTED).count() == 2 * CYCLE
    assert packs_in(season) == 2 * CYCLE * PACKS_PER_ANIMAL


@pytest.mark.django_db
def test_hand_written_sql_says_what_the_program_says() -> None:
    filler = start()
    season = filler.season(years_ago=0, animals=CYCLE)
    filler.season(years_ago=1, animals=CYCLE)
    by_hand = raw_sql.from_ledger(season.pk)
    # Nineteen lines of twenty animals: two of them were ground together.
    assert len(by_hand) == CYCLE - 1
    assert by_hand == raw_sql.of_yields(yields_of(animals_for_table(season.pk, None)))
    assert any(numbers.hung is None for numbers in by_hand.values())
    assert any(numbers.own is None for numbers in by_hand.values())
    refresh()
    assert by_hand == raw_sql.from_records(season.pk) == raw_sql.through_models(season.pk)
