"""The season report: the owner's sums as a paper, and as a file for a spreadsheet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.utils.formats import date_format

from orders.papers.common import day, day_time, shop_values
from orders.papers.rounding import Printed
from orders.yields.constants import COVERAGE
from orders.yields.report import Amount, Group, SeasonFigures
from shop.context import shop_settings
from shop.tables import HouseTable

DECIMALS = 1
YIELD_COLUMNS = (
    "Animals",
    "Hung",
    "Packed, own",
    "Yield",
    "Low",
    "Likely",
    "High",
    "Packed of those",
    "Flags",
)
LOST_COLUMNS = (
    "Animals",
    "Hung",
    "Bone and fat",
    "Waste",
    "Bloodshot",
    "Drying",
    "Not weighed",
    "Packed, own",
)
GROUPINGS = (
    ("species", "By species", "Species"),
    ("crews", "By crew", "Cutter"),
    ("weeks", "By week", "Week"),
)
WEIGHTS: dict[str, Callable[[Group], int]] = {
    "hung": lambda group: group.hung.mg,
    "packed": lambda group: group.packed.mg,
    "low": lambda group: group.low,
    "likely": lambda group: group.likely,
    "high": lambda group: group.high,
    "compared": lambda group: group.compared.mg,
    "lost_hung": lambda group: group.losses.hung,
    "bone_fat": lambda group: group.losses.bone_fat.mg,
    "waste": lambda group: group.losses.waste.mg,
    "bloodshot": lambda group: group.losses.bloodshot.mg,
    "drying": lambda group: group.losses.drying.mg,
    "rest": lambda group: group.losses.rest,
    "lost_packed": lambda group: group.losses.packed,
}
LOST_PARTS = ("bone_fat", "waste", "bloodshot", "drying", "rest")
FILE_COLUMNS = {
    "by": "By",
    "group": "Group",
    "starts_on": "Week begins",
    "animals": "Animals",
    "hung": "Hung",
    "hung_animals": "Hung, of animals",
    "packed": "Packed, own meat",
    "packed_animals": "Packed, of animals",
    "percent": "Yield (%)",
    "low": "Low",
    "likely": "Likely",
    "high": "High",
    "compared": "Packed of those with a range",
    "compared_animals": "Range, of animals",
    "flags": "Flags",
    "lost_hung": "Hung and packed: hung",
    "bone_fat": "Lost: bone and fat",
    "bone_fat_animals": "Bone and fat, of animals",
    "waste": "Lost: waste",
    "waste_animals": "Waste, of animals",
    "bloodshot": "Lost: bloodshot",
    "bloodshot_animals": "Bloodshot, of animals",
    "drying": "Lost: drying",
    "drying_animals": "Drying, of animals",
    "rest": "Not weighed",
    "lost_packed": "Hung and packed: packed",
    "lost_animals": "Hung and packed, of animals",
}
NOT_WEIGHED = "not weighed"
NOTES = (
    "Own meat is what was packed less the fat and other meat that was added; organs are not in it.",
    "Weights without a number in brackets are of all the animals of their row; in brackets: of how many.",
    "Yield: own meat of a hundred pounds hung, of the animals that have both weights.",
    f"Low to high: the range of each animal, which {round(COVERAGE * 100)} of 100 like it fall into, added low to "
    "low and high to high. For many animals together that is wider than it need be.",
    "Not weighed: what is left when all that was weighed is taken off what hung. It is no loss of its own, and below "
    "zero where more came out than the weighings show. Bloodshot that came off before hanging never hung.",
    "By crew: who opened the animal at the block. Several people touch one deer; this table compares nobody.",
    "Weeks begin on Monday; an animal counts in the week in which the last of it was packed.",
)


def season_report(
    figures: SeasonFigures,
    printed_at: datetime,
    *,
    charts: Sequence[Any] = (),
    more: Sequence[dict[str, Any]] = (),
) -> dict[str, Any]:
    """The paper. `charts` are reportlab Drawings, `more` the tables of their numbers (see `ReportTable`)."""
    printed = Printed(shop_settings().unit, DECIMALS)
    season = figures.season
    return {
        **shop_values(),
        "season": season.name,
        "period": f"{day(season.starts_on)} to {day(season.ends_on)}",
        "printed": day_time(printed_at),
        "unit": printed.unit,
        "words": _not_counted_words(figures),
        "tables": [*_tables(figures, printed), *more] if figures.total.animals else [],
        "charts": list(charts),
        "notes": list(NOTES) if figures.total.animals else [],
    }


def _not_counted_words(figures: SeasonFigures) -> str:
    out = figures.not_counted
    parts = [
        (out.unfinished, "not packed yet"),
        (out.spoiled, "spoiled"),
        (out.birds, "with birds, which are not in this report"),
    ]
    said = [f"{many} {words}" for many, words in parts if many]
    return f"Not in these sums: {', '.join(said)}." if said else ""


@dataclass(frozen=True, slots=True)
class _Line:
    """One row as printed: its group, and its weights by name, each column adding up to that of the season."""

    group: Group
    weights: dict[str, Decimal]


def _lines(groups: Sequence[Group], total: Group, printed: Printed) -> list[_Line]:
    """The rows of one grouping, and last the season's. Hung is the sum of all that it became, in the season's row."""
    season = _season_weights(total, printed)
    columns = {
        name: printed.share_out(value, [WEIGHTS[name](group) for group in groups])
        for name, value in season.items()
    }
    found = [
        _Line(group, {name: column[index] for name, column in columns.items()})
        for index, group in enumerate(groups)
    ]
    return [*found, _Line(total, season)]


def _season_weights(total: Group, printed: Printed) -> dict[str, Decimal]:
    found = {name: printed.of(of(total)) for name, of in WEIGHTS.items()}
    lost = printed.share_out(
        found["lost_hung"] - found["lost_packed"], [WEIGHTS[name](total) for name in LOST_PARTS]
    )
    return found | dict(zip(LOST_PARTS, lost, strict=True))


# --- as a paper ------------------------------------------------------------------------------------------------


def _tables(figures: SeasonFigures, printed: Printed) -> list[dict[str, Any]]:
    found = []
    for name, title, heading in GROUPINGS:
        lines = _lines(getattr(figures, name), figures.total, printed)
        found.append(_table(title, (heading, *YIELD_COLUMNS), lines, _yield_cells))
        lost = f"{title}: where what hung went"
        found.append(_table(lost, (heading, *LOST_COLUMNS), lines, _lost_cells))
    return found


def _table(
    title: str, columns: tuple[str, ...], lines: list[_Line], cells: Callable[[_Line], list[str]]
) -> dict[str, Any]:
    *rows, total = lines
    return {
        "title": title,
        "columns": list(columns),
        "rows": [[_name(line.group), *cells(line)] for line in rows],
        "total": ["Season", *cells(total)],
    }


def _name(group: Group) -> str:
    if group.starts_on is None:
        return group.name
    first, last = (
        date_format(each, "M j") for each in (group.starts_on, group.starts_on + timedelta(days=6))
    )
    return f"{group.name}, {first} to {last}"


def _yield_cells(line: _Line) -> list[str]:
    group, weights = line.group, line.weights
    percent = NOT_WEIGHED if group.percent is None else _of(f"{group.percent} %", group.losses.animals, group)
    ranges = [_weighed(weights[name], group.compared, group.animals) for name in ("low", "likely", "high")]
    if not group.compared.animals:
        ranges = ["cannot be said"] * 3
    return [
        str(group.animals),
        _weighed(weights["hung"], group.hung, group.animals),
        _weighed(weights["packed"], group.packed, group.animals),
        percent,
        *ranges,
        _weighed(weights["compared"], group.compared, group.animals) if group.compared.animals else "",
        str(group.flags),
    ]


def _lost_cells(line: _Line) -> list[str]:
    losses, weights = line.group.losses, line.weights
    if not losses.animals:
        return ["0", NOT_WEIGHED, *["–"] * (len(LOST_COLUMNS) - 2)]
    names = ("bone_fat", "waste", "bloodshot", "drying")
    causes = [
        _weighed(weights[name], amount, losses.animals)
        for name, amount in zip(names, losses.causes, strict=True)
    ]
    return [
        str(losses.animals),
        f"{weights['lost_hung']:,}",
        *causes,
        f"{weights['rest']:,}",
        f"{weights['lost_packed']:,}",
    ]


def _weighed(value: Decimal, amount: Amount, animals: int) -> str:
    """A sum, with the number of animals it is of where that is not all of them."""
    if not amount.animals and not amount.mg:
        return NOT_WEIGHED
    return f"{value:,}" if amount.animals == animals else f"{value:,} ({amount.animals})"


def _of(text: str, many: int, group: Group) -> str:
    return text if many == group.animals else f"{text} ({many})"


# --- as a file -------------------------------------------------------------------------------------------------


class SeasonTable(HouseTable):
    """Every sum of the report as a line, for the file alone: numbers without words, days as ISO dates."""

    exportable = True


def season_table(figures: SeasonFigures) -> SeasonTable:
    """The lines of the file: the season, then each species, cutter and week."""
    printed = Printed(shop_settings().unit, DECIMALS)
    rows: list[dict[str, Any]] = []
    for name, _, heading in GROUPINGS:
        *lines, total = _lines(getattr(figures, name), figures.total, printed)
        if not rows:
            rows.append(_file_row("Season", total))
        rows += [_file_row(heading, line) for line in lines]
    columns = [(name, tables.Column(verbose_name=head, default="")) for name, head in _heads(printed.unit)]
    return SeasonTable(rows, extra_columns=columns)


def _heads(unit: str) -> list[tuple[str, str]]:
    """The columns of the file by name, with the unit of each weight."""
    return [(name, f"{head} ({unit})" if name in WEIGHTS else head) for name, head in FILE_COLUMNS.items()]


def _file_row(by: str, line: _Line) -> dict[str, Any]:
    group, losses = line.group, line.group.losses
    counts = {
        "hung": group.hung.animals,
        "packed": group.packed.animals,
        **dict.fromkeys(("low", "likely", "high", "compared"), group.compared.animals),
        **dict.fromkeys(("lost_hung", "lost_packed", "rest"), losses.animals),
    }
    # A cause may have been weighed in part of an animal only: its pounds are there, though no animal counts.
    causes = dict(zip(("bone_fat", "waste", "bloodshot", "drying"), losses.causes, strict=True))
    counts |= {name: amount.animals or amount.mg for name, amount in causes.items()}
    return {
        "by": by,
        "group": group.name,
        "starts_on": group.starts_on,
        "animals": group.animals,
        **{name: value if counts[name] else None for name, value in line.weights.items()},
        "hung_animals": group.hung.animals,
        "packed_animals": group.packed.animals,
        "percent": group.percent,
        "compared_animals": group.compared.animals,
        "flags": group.flags,
        "lost_animals": losses.animals,
        **{f"{name}_animals": amount.animals for name, amount in causes.items()},
    }
