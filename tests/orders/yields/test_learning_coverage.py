"""Whether the stated 90 % holds: simulated shops, when the published figure is true of them and when it is not."""

from __future__ import annotations

import csv
import io
import time

import numpy as np
import pytest
from django.core.management import CommandError, call_command

from orders.yields import coverage
from orders.yields.coverage import (
    ANIMALS,
    ENOUGH_ANIMALS,
    Covered,
    Setting,
    as_csv,
    as_text,
    right_settings,
    simulate,
    simulate_all,
    wrong_settings,
)
from orders.yields.learning import PRIOR_DF, PRIOR_WEIGHT, Prior, update

SHOPS = 200


@pytest.fixture(scope="module")
def right() -> list[Covered]:
    return simulate_all(right_settings(), seed=1, shops=SHOPS)


@pytest.fixture(scope="module")
def wrong() -> list[Covered]:
    return simulate_all(wrong_settings(), seed=2, shops=SHOPS)


def _one(rows: list[Covered], animals: int, **setting: float) -> Covered:
    wanted = Setting(**setting)  # type: ignore[arg-type]
    return next(row for row in rows if row.animals == animals and row.setting == wanted)


def test_every_setting_has_its_200_shops_and_5_to_500_animals(right: list[Covered]) -> None:
    assert {row.shops for row in right} == {SHOPS}
    assert {5, 10, 20, 30, 50, 100, 200, 500} <= {row.animals for row in right}
    assert len({row.setting for row in right}) == 9
    assert len({(row.setting.true_share, row.setting.true_spread) for row in right}) == 9


def test_90_percent_holds_from_30_animals_on_when_the_shop_is_told_the_truth(right: list[Covered]) -> None:
    """87 to 93 %, for every true share and spread, over 200 shops and 100 more animals of each."""
    enough = [row for row in right if row.animals >= ENOUGH_ANIMALS]
    assert len(enough) == 9 * 5
    assert [row for row in enough if not 0.87 <= row.held <= 0.93] == []
    assert all(row.below == pytest.approx(row.above, abs=0.02) for row in enough)


def test_with_no_or_few_animals_the_range_is_rather_too_wide(right: list[Covered]) -> None:
    assert all(0.90 <= row.held <= 0.97 for row in right if row.animals <= 5)


def test_the_report_shows_how_far_it_strays_when_the_shop_is_told_wrong(wrong: list[Covered]) -> None:
    """Each way of being wrong is seen in its own way, and most of it wears off as animals teach."""
    assert _one(wrong, 0, bias=-0.15).held < 0.70
    assert _one(wrong, 0, bias=-0.15).below > 10 * _one(wrong, 0, bias=-0.15).above
    assert _one(wrong, 0, bias=0.15).above > 10 * _one(wrong, 0, bias=0.15).below
    assert _one(wrong, 5, spread_factor=2.0).held < 0.85
    assert _one(wrong, 30, spread_factor=0.5).held > 0.93
    assert _one(wrong, 500, spread_factor=0.5).held < _one(wrong, 30, spread_factor=0.5).held
    late = [row for row in wrong if row.animals == 500 and row.setting.spread_factor >= 0.7]
    assert all(0.87 <= row.held <= 0.93 for row in late)


def test_settings_cover_bias_and_spread_on_both_sides() -> None:
    found = wrong_settings()
    assert not any(setting.right for setting in found)
    assert all(setting.right for setting in right_settings())
    assert {setting.bias for setting in found} == {-0.15, -0.10, -0.05, 0.0, 0.05, 0.10, 0.15}
    assert {setting.spread_factor for setting in found} == {0.5, 0.7, 1.0, 1.4, 2.0}
    assert Setting(bias=-0.1).true_share == pytest.approx(0.45)
    assert Setting(spread_factor=2).true_spread == pytest.approx(0.18)


def test_many_shops_at_once_are_each_what_one_shop_learns() -> None:
    """The arrays give every shop the very range that the update of its animals gives."""
    prior = Prior(0.0, PRIOR_WEIGHT, 0.09, PRIOR_DF)
    taught = np.random.default_rng(3).normal(0.02, 0.1, (4, 17))
    low, high = coverage._range(prior, taught, 0.90)
    for shop, animals in enumerate(taught.tolist()):
        assert (low[shop], high[shop]) == pytest.approx(update(prior, animals).predictive().interval(0.90))


def test_the_same_seed_gives_the_same_table() -> None:
    tables = [
        as_csv(simulate(Setting(), np.random.default_rng(seed), animals=(5, 30), shops=20))
        for seed in (1, 1, 2)
    ]
    assert tables[0] == tables[1] != tables[2]


def test_all_of_it_takes_seconds() -> None:
    started = time.process_time()
    simulate_all([*right_settings(), *wrong_settings()], seed=4, shops=SHOPS)
    assert time.process_time() - started < 10


def test_the_table_stars_what_strays() -> None:
    held = Covered(Setting(), 30, 200, held=0.9, below=0.05, above=0.05, worst=0.8, best=0.95)
    strays = Covered(Setting(), 500, 200, held=0.931, below=0.03, above=0.039, worst=0.8, best=0.95)
    lines = as_text([held, strays]).splitlines()
    assert lines[1].split() == ["share", "spread", "share", "spread", "30", "500"]
    assert lines[2].split() == ["0.500", "0.090", "0.500", "0.090", "90.0", "93.1*"]


def test_the_command_prints_both_tables(capsys: pytest.CaptureFixture[str]) -> None:
    call_command("yield_coverage", seed=5)
    told = capsys.readouterr().out
    assert "The shop is told the truth" in told
    assert "The shop is told a wrong share, a wrong spread, or both" in told
    assert len([line for line in told.splitlines() if line.startswith("0.")]) == 9 + 35
    assert "*" in told


def test_the_command_s_csv_has_every_number(capsys: pytest.CaptureFixture[str]) -> None:
    call_command("yield_coverage", "--csv", seed=5)
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert len(rows) == (9 + 35) * len(ANIMALS)
    for row in rows:
        total = sum(float(row[name]) for name in ("held", "below", "above"))
        assert total == pytest.approx(1, abs=0.0002)
        assert float(row["worst_shops"]) <= float(row["best_shops"])


@pytest.mark.parametrize(
    ("wrong", "said"), [({"shops": 199}, "Fewer than 200"), ({"weight": 0.0}, "weight"), ({"df": -1.0}, "df")]
)
def test_the_command_refuses_what_says_too_little(wrong: dict[str, float], said: str) -> None:
    with pytest.raises(CommandError, match=said):
        call_command("yield_coverage", **wrong)
