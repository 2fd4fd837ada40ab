"""How often a stated range holds, tried on simulated shops whose truth is known.

A simulated shop weighs animals hanging, to the division of its scale, and packs the `true_share` of the hanging
weight, times exp(a normal deviate of `true_spread`), to the division of the wrap scale. It expects `stated_share`,
with `stated_spread`, learns as in `learning`, and states its range for the next animals. Those are then packed too,
and counted: in the range, below it, above it. Shares are of weight; spreads are standard deviations of logarithms.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from orders.yields.learning import COVERAGE, PRIOR_DF, PRIOR_WEIGHT, Prior, conjugate
from shop.weights import pounds

SHOPS = 200
NEXT_ANIMALS = 100
ANIMALS = (0, 5, 10, 20, 30, 50, 100, 200, 500)
# From this many animals on a range of 90 % is to hold between 87 and 93 % of animals, when the prior is right.
ENOUGH_ANIMALS = 30
BAND = (0.87, 0.93)
HANGING_DIVISION_MG = pounds("0.5")
PACK_DIVISION_MG = pounds("0.01")
STATED_SHARE, STATED_SPREAD = 0.50, 0.09
SHARES, SPREADS = (0.40, 0.50, 0.60), (0.05, 0.09, 0.15)
BIASES = (-0.15, -0.10, -0.05, 0.0, 0.05, 0.10, 0.15)
SPREAD_FACTORS = (0.5, 0.7, 1.0, 1.4, 2.0)

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Setting:
    """What the shop is told and what is true. `one_in` > 0: one animal in so many gives a quarter less, uncaused."""

    stated_share: float = STATED_SHARE
    stated_spread: float = STATED_SPREAD
    bias: float = 0.0
    spread_factor: float = 1.0
    one_in: int = 0

    @property
    def true_share(self) -> float:
        """The share of the hanging weight that the middle animal gives."""
        return self.stated_share * (1 + self.bias)

    @property
    def true_spread(self) -> float:
        """The standard deviation of ln(packed)."""
        return self.stated_spread * self.spread_factor

    @property
    def right(self) -> bool:
        """Whether what the shop is told is true."""
        return self.bias == 0 and self.spread_factor == 1 and self.one_in == 0


@dataclass(frozen=True, slots=True)
class Covered:
    """What one setting's ranges held after so many `animals`, as shares of the next ones, over all `shops`.

    `worst` and `best`: the shares that the shop at the 5th, and at the 95th percentile of shops saw held.
    """

    setting: Setting
    animals: int
    shops: int
    held: float
    below: float
    above: float
    worst: float
    best: float

    @property
    def strays(self) -> bool:
        """Whether it lies outside 87 to 93 %."""
        return not BAND[0] <= self.held <= BAND[1]


def simulate(
    setting: Setting,
    random: np.random.Generator,
    *,
    animals: Sequence[int] = ANIMALS,
    shops: int = SHOPS,
    weight: float = PRIOR_WEIGHT,
    df: float = PRIOR_DF,
    coverage: float = COVERAGE,
) -> list[Covered]:
    """Run `shops` shops of one setting; one answer for each number of animals learned from.

    The next animals are the same for every number: the columns of a table differ by what was learned alone.
    """
    prior = Prior(0.0, weight, setting.stated_spread, df)
    taught = _ratios(setting, random, (shops, max(animals)))
    later = _ratios(setting, random, (shops, NEXT_ANIMALS))
    found = []
    for n in animals:
        low, high = _range(prior, taught[:, :n], coverage)
        below = (later < low[:, None]).mean(axis=1)
        above = (later > high[:, None]).mean(axis=1)
        held = 1 - below - above
        worst, best = np.quantile(held, (0.05, 0.95))
        found.append(
            Covered(
                setting,
                n,
                shops,
                held=float(held.mean()),
                below=float(below.mean()),
                above=float(above.mean()),
                worst=float(worst),
                best=float(best),
            )
        )
    return found


def right_settings() -> list[Setting]:
    """Shops that are told the truth, whatever the truth."""
    return [Setting(share, spread) for share in SHARES for spread in SPREADS]


def wrong_settings() -> list[Setting]:
    """Shops that are told a wrong share, a wrong spread, or both; and some where one animal in twenty is odd."""
    found = [Setting(bias=bias, spread_factor=factor) for factor in SPREAD_FACTORS for bias in BIASES]
    return [setting for setting in found if not setting.right] + [Setting(one_in=20)]


def simulate_all(
    settings: Iterable[Setting],
    *,
    seed: int,
    shops: int = SHOPS,
    weight: float = PRIOR_WEIGHT,
    df: float = PRIOR_DF,
) -> list[Covered]:
    """Every setting in turn, repeatable for a seed; `weight` and `df` as the shop has set its prior."""
    random = np.random.default_rng(seed)
    return [row for each in settings for row in simulate(each, random, shops=shops, weight=weight, df=df)]


def as_text(found: Sequence[Covered]) -> str:
    """A table for a person: a line for each setting, a column for each number of animals, in percent held.

    A star stands where it lies outside 87 to 93 %.
    """
    columns = list(dict.fromkeys(row.animals for row in found))
    lines = [
        " told           true              percent of the next animals in the range, after this many taught",
        "share spread   share spread " + "".join(f"{n:>7} " for n in columns),
    ]
    for setting in dict.fromkeys(row.setting for row in found):
        cells = {row.animals: row for row in found if row.setting == setting}
        lines.append(_words(setting) + "".join(_cell(cells[n]) for n in columns).rstrip())
    return "\n".join(lines)


def as_csv(found: Sequence[Covered]) -> str:
    """All numbers, one row for each setting and number of animals; shares with four decimals."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    names = ("stated_share", "stated_spread", "bias", "spread_factor", "one_in")
    writer.writerow([*names, "animals", "shops", "held", "below", "above", "worst_shops", "best_shops"])
    for row in found:
        shares = (row.held, row.below, row.above, row.worst, row.best)
        told = [getattr(row.setting, name) for name in names]
        writer.writerow([*told, row.animals, row.shops, *(f"{share:.4f}" for share in shares)])
    return out.getvalue()


def _words(setting: Setting) -> str:
    odd = "+" if setting.one_in else " "
    told = f"{setting.stated_share:.3f}  {setting.stated_spread:.3f}"
    return f"{told}   {setting.true_share:.3f}  {setting.true_spread:.3f}{odd}"


def _cell(row: Covered) -> str:
    return f"{100 * row.held:7.1f}{'*' if row.strays else ' '}"


def _ratios(setting: Setting, random: np.random.Generator, shape: tuple[int, int]) -> Floats:
    """ln(packed / likely) of simulated animals, through the readings of two scales."""
    hanging = _read(pounds(75) * np.exp(0.3 * random.standard_normal(shape)), HANGING_DIVISION_MG)
    meat = hanging * setting.true_share * np.exp(setting.true_spread * random.standard_normal(shape))
    if setting.one_in:
        meat = np.where(random.random(shape) < 1 / setting.one_in, 0.75 * meat, meat)
    packed: Floats = _read(meat, PACK_DIVISION_MG)
    ratios: Floats = np.log(packed / (hanging * setting.stated_share))
    return ratios


def _read(mg: Floats, division_mg: int) -> Floats:
    read: Floats = np.maximum(np.round(mg / division_mg), 1) * division_mg
    return read


def _range(prior: Prior, taught: Floats, coverage: float) -> tuple[Floats, Floats]:
    """Low and high of every shop, a row of `taught` each, through the same update that one shop's animals take."""
    shops, n = taught.shape
    average = taught.mean(axis=1) if n else np.zeros(shops)
    squares = ((taught - average[:, None]) ** 2).sum(axis=1)
    mean, spread_squared = conjugate(prior, np.full(shops, float(n)), average, squares)
    scale = np.sqrt(spread_squared * (1 + 1 / (prior.weight + n)))
    half = scale * float(stdtrit(prior.df + n, (1 + coverage) / 2))
    return mean - half, mean + half
