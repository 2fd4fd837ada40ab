"""The published tables as rows, and the catalog's constants, read from the files without a database."""

from __future__ import annotations

import csv
import json
from functools import cache
from pathlib import Path

from orders.yields.constants import Constants, Share

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"


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
def figures() -> list[dict[str, object]]:
    """The rows of the catalog's yield figures."""
    rows: list[dict[str, object]] = json.loads((FIXTURES / "yield_figures.json").read_text(encoding="utf-8"))
    return rows


def _share(row: dict[str, object]) -> Share:
    low, likely, high = (int(str(row[key])) for key in ("low_bp", "likely_bp", "high_bp"))
    return Share(low, likely, high, str(row["source"]))


def part_split() -> dict[str, Share]:
    """Part -> share of the boneless lean."""
    return {str(row["part"]): _share(row) for row in figures() if row["quantity"] == "part_share"}


def constants(species: str) -> Constants:
    """The catalog's constants of a species, its own rows before those of any species."""
    rows = [row for row in figures() if row["species"] in (species, None) and row["part"] is None]
    rows.sort(key=lambda row: row["species"] is not None)
    found = {str(row["quantity"]): (_share(row), str(row["basis"])) for row in rows}
    return Constants.from_figures(found, part_split()["tenderloin"])
