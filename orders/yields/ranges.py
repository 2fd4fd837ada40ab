"""How a kept range follows what the shop has learned, without going through its steps again.

A chain gives `meat` = what it likely comes to by the published figures, times exp(learned), and `fixed` = what no
learning moves: tenderloins that were bagged before, meat that came boneless. `down` and `up` are how far, as
logarithms, what lies before the skinned carcass may be off; they add to the learned spread in quadrature, as in
`expected`. Where nobody said in which state an animal was weighed there are several states, from the least meat to the
most, and the range spans them all. Weights are whole milligrams.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from orders.yields.flags import Range
from orders.yields.learning import COVERAGE, Predictive

# What is learned of a species and a class; None where nothing is.
LearnedOf = Callable[[int, str], Predictive | None]


@dataclass(frozen=True, slots=True)
class State:
    """One state that an animal may have been weighed in."""

    meat_mg: int
    down: float = 0.0
    up: float = 0.0


@dataclass(frozen=True, slots=True)
class Chain:
    """The range of one animal: by the published figures, and what it takes to move it. ValueError without a state."""

    species: int
    animal_class: str
    published: Range
    states: tuple[State, ...]
    fixed: tuple[int, int, int] = (0, 0, 0)

    def __post_init__(self) -> None:
        if not self.states:
            raise ValueError("A range needs at least one state that the animal was weighed in.")

    @property
    def middle(self) -> State:
        """The state that the likely weight is taken from."""
        return self.states[len(self.states) // 2]

    def moved(self, learned: Predictive | None) -> Range:
        """The range with what is learned; the published one without."""
        if learned is None or not self.middle.meat_mg:
            return self.published
        low, high = learned.interval(COVERAGE)
        down, up = learned.location - low, high - learned.location
        bounds = [(_bound(each, learned, -down), _bound(each, learned, up)) for each in self.states]
        likely = round(self.middle.meat_mg * math.exp(learned.location)) + self.fixed[1]
        return Range(
            max(0, min(likely, min(low for low, _ in bounds) + self.fixed[0])),
            likely,
            max(likely, max(high for _, high in bounds) + self.fixed[2]),
        )

    def plain(self) -> dict[str, Any]:
        """As kept in a record."""
        return {
            "species": self.species,
            "class": self.animal_class,
            "published": [self.published.low_mg, self.published.likely_mg, self.published.high_mg],
            "states": [[each.meat_mg, each.down, each.up] for each in self.states],
            "fixed": list(self.fixed),
        }

    @classmethod
    def read(cls, kept: Mapping[str, Any]) -> Chain:
        """From what `plain` gave."""
        low, likely, high = kept["fixed"]
        return cls(
            kept["species"],
            kept["class"],
            Range(*kept["published"]),
            tuple(State(*each) for each in kept["states"]),
            (low, likely, high),
        )


def _bound(state: State, learned: Predictive, away: float) -> int:
    before = state.down if away < 0 else state.up
    return round(state.meat_mg * math.exp(learned.location + math.copysign(math.hypot(away, before), away)))


def together(chains: Iterable[Chain], learned: LearnedOf) -> tuple[Range, float] | None:
    """The range of these animals, bound to bound, and its degrees of freedom (infinite where nothing is learned).

    None without a chain.
    """
    found = [(chain, learned(chain.species, chain.animal_class)) for chain in chains]
    if not found:
        return None
    moved = [chain.moved(known) for chain, known in found]
    frees = [known.df for chain, known in found if known is not None and chain.middle.meat_mg]
    total = Range(
        sum(each.low_mg for each in moved),
        sum(each.likely_mg for each in moved),
        sum(each.high_mg for each in moved),
    )
    return total, min(frees, default=math.inf)
