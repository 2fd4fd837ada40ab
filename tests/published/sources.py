"""The published tables as rows, and the catalog's constants, read from the files without a database."""

from __future__ import annotations

import csv
import json
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

from orders.yields.constants import Constants, Share
from orders.yields.figures import Figures, Key, figure_of, figures_from, share_of
from shop.models import YieldFigure

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
Row = dict[str, Any]


@cache
def table(name: str) -> dict[str, dict[str, str]]:
    """The rows of a published table by id."""
    with (FIXTURES / name).open(newline="", encoding="utf-8") as file:
        return {row["id"]: row for row in csv.DictReader(file)}


def published(number: str) -> dict[str, str]:
    """One row of the published yield figures, e.g. `Y030`, with its source."""
    return table("published_yields.csv")[number]


def example(number: str) -> dict[str, str]:
    """One worked example, e.g. `S072`, with its source."""
    return table("worked_examples.csv")[number]


@cache
def figures() -> list[Row]:
    """The rows of the catalog's yield figures."""
    rows: list[Row] = json.loads((FIXTURES / "yield_figures.json").read_text(encoding="utf-8"))
    return rows


@cache
def species_ids() -> dict[str, int]:
    """A number for each species of the catalog; no species beyond it has one."""
    rows = json.loads((FIXTURES / "species.json").read_text(encoding="utf-8"))
    return {row["code"]: number for number, row in enumerate(rows, start=1)}


def catalog(rows: Sequence[Row]) -> Figures:
    """Rows of the file as the program has them once they are loaded."""
    by_key: dict[Key, dict[str, Any]] = {}
    parts: dict[int | None, dict[str, Share]] = {}
    for row in rows:
        loaded = YieldFigure(**{name: row[name] for name in row if name not in ("species", "part")})
        species = species_ids()[row["species"]] if row["species"] else None
        if row["part"]:
            parts.setdefault(species, {})[row["part"]] = share_of(loaded)
        else:
            key = (species, loaded.sex, loaded.age_class)
            by_key.setdefault(key, {})[loaded.quantity] = figure_of(loaded)
    return figures_from(by_key, parts)


@cache
def _shipped() -> Figures:
    return catalog(figures())


def constants_of(found: Figures, species: str, animal_class: str = "") -> Constants:
    """The constants of a species and class; the widened general ones for a species that the catalog does not have."""
    number = species_ids().get(species)
    constants = found.general if number is None else found.of(number, animal_class)
    assert constants is not None
    return constants


def constants(species: str, animal_class: str = "") -> Constants:
    """The catalog's constants of a species, as shipped."""
    return constants_of(_shipped(), species, animal_class)


def part_split() -> dict[str, Share]:
    """Part -> share of the boneless lean."""
    return _shipped().parts_of(0)
