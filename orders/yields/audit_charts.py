"""Control charts of a season: by species, and by the table at the block. Each picture with its numbers."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from reportlab.graphics.shapes import Drawing

from orders.yields.audit import Audited, SeasonAudit
from orders.yields.charts import control_drawing
from orders.yields.control import Chart, chart

COLUMNS = ("Order", "Of what was expected", "Difference from the one before", "To look at")
LIMIT_COLUMNS = ("", "Animals", "Center", "Lower", "Upper", "Difference, center", "Difference, upper")


@dataclass(frozen=True)
class ControlChart:
    """One chart: what it is of, its animals in the order they were finished, and the chart of their yields.

    Values are percent of what was to be expected of each animal.
    """

    title: str
    animals: tuple[Audited, ...]

    @cached_property
    def chart(self) -> Chart:
        return chart([each.of_likely or 0.0 for each in self.animals])

    @property
    def drawing(self) -> Drawing:
        """The picture, for the page and for the paper."""
        return control_drawing(self.title, self.chart, [each.label for each in self.animals])

    @property
    def limits(self) -> tuple[str, ...]:
        """The lines as a row of a table; dashes where there are none."""
        limits, many = self.chart.limits, str(len(self.animals))
        if limits is None:
            return (self.title, many, "-", "-", "-", "-", "-")
        lines = (limits.center, limits.lower, limits.upper, limits.range_center, limits.range_upper)
        return (self.title, many, *(percent(value) for value in lines))

    @property
    def rows(self) -> list[tuple[Audited, str, str, str]]:
        """Each point in numbers: the animal, its value, its difference from the one before, and what it signals."""
        return [
            (
                each,
                percent(point.value),
                "-" if point.moving_range is None else percent(point.moving_range),
                "; ".join(point.signals),
            )
            for each, point in zip(self.animals, self.chart.points, strict=True)
        ]

    @property
    def signaling(self) -> list[tuple[Audited, str, str, str]]:
        """The points that ask to be looked at."""
        return [row for row in self.rows if row[3]]

    @property
    def words(self) -> str:
        """What the picture shows, for whoever does not see it."""
        found = f"{len(self.signaling)} of {len(self.animals)} to look at"
        return f"{self.title}. {self.chart.note} {found}; the numbers are in the table."


def percent(value: float) -> str:
    """`98.4 %`."""
    return f"{value:.1f} %"


def charts_by_species(found: SeasonAudit) -> list[ControlChart]:
    """One chart for each species, in the catalog's order."""
    return _charts(
        found.compared, lambda each: (each.record.species.sort, each.record.species.pk), _species_name
    )


def charts_by_block(found: SeasonAudit) -> list[ControlChart]:
    """One chart for each table at the block; what several tables worked on is in none."""
    animals = [each for each in found.compared if each.record.block is not None]
    return _charts(animals, lambda each: each.record.block_id, lambda each: str(each.record.block))


def _species_name(each: Audited) -> str:
    return each.record.species.name


def _charts(
    animals: Iterable[Audited], key_of: Callable[[Audited], Any], name_of: Callable[[Audited], str]
) -> list[ControlChart]:
    groups: dict[Hashable, list[Audited]] = {}
    for each in animals:
        groups.setdefault(key_of(each), []).append(each)
    return [ControlChart(name_of(groups[key][0]), tuple(groups[key])) for key in sorted(groups)]  # type: ignore[type-var]


def drawings(found: SeasonAudit) -> list[Drawing]:
    """The pictures of a season for its report: each species, then each table."""
    return [each.drawing for each in (*charts_by_species(found), *charts_by_block(found))]


def tables(found: SeasonAudit) -> list[dict[str, Any]]:
    """Their numbers, as `ReportTable` takes them: the limits, and every point that asks to be looked at."""
    species, blocks = charts_by_species(found), charts_by_block(found)
    limits = [each.limits for each in (*species, *blocks)]
    signaling = _signaling_rows(species)
    made: list[dict[str, Any]] = []
    if limits:
        made.append(
            _table("Control charts: percent of what was expected", ("Chart", *LIMIT_COLUMNS[1:]), limits)
        )
    if signaling:
        made.append(_table("Points of the charts to look at", ("Order", "Species", *COLUMNS[1:]), signaling))
    return made


def _signaling_rows(found: Sequence[ControlChart]) -> list[tuple[str, ...]]:
    return [(each.label, chart.title, *rest) for chart in found for each, *rest in chart.signaling]


def _table(title: str, columns: tuple[str, ...], rows: list[tuple[str, ...]]) -> dict[str, Any]:
    return {"title": title, "columns": columns, "rows": tuple(rows)}
