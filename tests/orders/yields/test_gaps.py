"""When a difference is a gap: JCGM 100 worked by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.yields.gaps import Readings, allowed_mg, is_gap, uncertainty_mg


def test_one_reading_is_its_division_as_a_uniform_distribution() -> None:
    """JCGM 100:2008, F.2.2.1: u = 0.29 d for a division d; expanded with k = 2: 0.577 d."""
    assert uncertainty_mg([Readings(1_000_000, 1)]) == 577_351  # 2 / sqrt(12) = 0.57735, rounded up


def test_independent_readings_add_in_quadrature() -> None:
    """JCGM 100:2008, 5.1.2: four equal readings are twice as uncertain as one, not four times."""
    one, four = (uncertainty_mg([Readings(1_000_000, count)]) for count in (1, 4))
    assert four == 1_154_701
    assert abs(four - 2 * one) <= 1


def test_one_wrong_tare_is_in_every_pack_and_adds_linearly() -> None:
    """JCGM 100:2008, 5.2.2: fully correlated inputs add linearly: 28 packs, 28 times the tare's."""
    apart = uncertainty_mg([Readings(1_000, 28)])
    same = uncertainty_mg([Readings(1_000, 28, same_tare=True)])
    assert apart == 3_056  # 2 x 1000 x sqrt(28 / 12)
    assert same == 16_452  # 2 x 1000 x sqrt((28 + 28 x 28) / 12)


def test_the_allowance_is_the_work_s_loss_and_the_scales() -> None:
    assert allowed_mg(10_000_000, 150, []) == 150_000
    assert allowed_mg(10_000_000, 150, [Readings(1_000_000, 1)]) == 150_000 + 577_351


@pytest.mark.parametrize(
    ("unexplained", "gap"), [(100, False), (101, True), (0, False), (-40, False), (-41, True)]
)
def test_more_gone_than_the_work_takes_or_more_come_than_the_scales_err(unexplained: int, gap: bool) -> None:
    assert is_gap(unexplained, 100, 40) is gap


@given(st.lists(st.tuples(st.integers(0, 10**9), st.integers(0, 500), st.booleans()), max_size=8))
def test_more_readings_are_never_less_uncertain(found: list[tuple[int, int, bool]]) -> None:
    readings = [Readings(*each) for each in found]
    assert uncertainty_mg(readings) <= uncertainty_mg([*readings, Readings(453_592, 1)])
