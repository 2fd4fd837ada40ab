"""The tables of the audit. Weights sort by milligrams, percentiles by their value; a row is one record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from orders.yields.audit import Audited
from orders.yields.tables import NUMBER, WeightColumn
from shop.tables import HouseTable
from shop.weights import format_mg, mg_in

SEVERAL = "several"


@dataclass(frozen=True, slots=True)
class AuditRow:
    """One line: weights in milligrams, None where not weighed or not to be said; the percentile from 0 to 100."""

    pk: int
    number: str
    hunter: str
    species: str
    finished: datetime
    week: str
    cutter: str
    block: str
    expected: int | None
    low: int | None
    high: int | None
    packed: int | None
    percentile: float | None
    at_stake: int
    flags: tuple[str, ...]
    standing: str


def week_of(moment: datetime) -> str:
    """The ISO 8601 week in the shop's zone: `2026-W47`."""
    year, week, _ = timezone.localdate(moment).isocalendar()
    return f"{year}-W{week:02}"


def week_words(week: str) -> str:
    """A week as it is chosen: `from Nov 16, 2026`."""
    year, number = week.split("-W")
    monday = date.fromisocalendar(int(year), int(number), 1)
    return f"from {monday:%b} {monday.day}, {monday.year}"


def audit_row(each: Audited) -> AuditRow:
    """A judged record as a line."""
    record, expected = each.record, each.expected
    assert record.finished_at is not None
    return AuditRow(
        pk=record.animal_id,
        number=each.label,
        hunter=each.hunter,
        species=record.species.name,
        finished=record.finished_at,
        week=week_of(record.finished_at),
        cutter=str(record.cutter or SEVERAL),
        block=str(record.block or SEVERAL),
        expected=expected.likely_mg if expected else None,
        low=expected.low_mg if expected else None,
        high=expected.high_mg if expected else None,
        packed=each.own_mg,
        percentile=each.percentile,
        at_stake=each.at_stake_mg,
        flags=tuple(dict.fromkeys(flag.kind.value for flag in each.open_flags)),
        standing=each.found.standing.value,
    )


class AuditTable(HouseTable):
    number = tables.Column(verbose_name="Order", order_by=("pk",))
    hunter = tables.Column(verbose_name="Hunter")
    species = tables.Column(verbose_name="Species")
    finished = tables.Column(verbose_name="Packed on")
    cutter = tables.Column(verbose_name="Opened at the block by", visible=False)
    block = tables.Column(verbose_name="Table", visible=False)
    expected = WeightColumn(verbose_name="Expected", missing="cannot be said")
    low = WeightColumn(verbose_name="Low", missing="", visible=False)
    high = WeightColumn(verbose_name="High", missing="", visible=False)
    packed = WeightColumn(verbose_name="Packed")
    percentile = tables.Column(verbose_name="Of 100, less", attrs=NUMBER, empty_values=())
    at_stake = WeightColumn(verbose_name="At stake", missing="")
    flags = tables.Column(verbose_name="To look at", orderable=False)

    class Meta:
        empty_text = "No animal is closed here yet."

    exportable = True
    caption = "Closed animals"

    def __init__(self, rows: Sequence[AuditRow], *, unit: str, **kwargs: Any) -> None:
        self.unit = unit
        super().__init__(rows, **kwargs)

    def render_number(self, value: str, record: AuditRow) -> SafeString:
        return format_html('<a href="{}">{}</a>', reverse("yield-detail", args=[record.pk]), value)

    def value_number(self, value: str) -> str:
        return value

    def render_expected(self, record: AuditRow) -> SafeString | str:
        if record.expected is None or record.low is None or record.high is None:
            return "cannot be said"
        low, likely, high = (mg_in(mg, self.unit) for mg in (record.low, record.expected, record.high))
        return format_html('{} <span class="soft">({} to {})</span>', likely, low, high)

    def value_expected(self, value: int | None) -> str | Decimal:
        return "" if value is None else mg_in(value, self.unit)

    def render_finished(self, value: datetime) -> str:
        return f"{timezone.localdate(value):%Y-%m-%d}"

    def value_finished(self, value: datetime) -> str:
        return f"{timezone.localdate(value):%Y-%m-%d}"

    def render_percentile(self, value: float | None) -> str:
        return "" if value is None else f"{value:.0f}"

    def value_percentile(self, value: float | None) -> str | Decimal:
        return "" if value is None else Decimal(f"{value:.1f}")

    def render_at_stake(self, value: int) -> str:
        return format_mg(value, self.unit) if value else ""

    def value_at_stake(self, value: int) -> Decimal:
        return mg_in(value, self.unit)

    def render_flags(self, value: tuple[str, ...]) -> SafeString:
        return format_html_join(" ", '<span class="state hold">{}</span>', ((flag,) for flag in value))

    def value_flags(self, value: tuple[str, ...]) -> str:
        return "; ".join(value)
