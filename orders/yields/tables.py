"""Expected and packed, animal by animal. Weights sort by milligrams and are shown in the shop's unit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from orders.yields.queries import Yield
from shop.tables import HouseTable
from shop.weights import format_mg, mg_in

NUMBER = {"th": {"class": "number"}, "td": {"class": "number"}}


@dataclass(frozen=True, slots=True)
class YieldRow:
    """One line of the table. Weights in milligrams; None is not weighed, or not finished."""

    pk: int
    number: str
    hunter: str
    species: str
    weighed: int | None
    likely: int | None
    packed: int | None
    difference: int | None
    share: int | None
    points: str
    flags: tuple[str, ...]
    finished: bool


def row_of(found: Yield) -> YieldRow:
    """A yield as a line; animals put together are one line."""
    first = found.animals[0]
    numbers = first.label if not found.together else f"{found.order.number}, {len(found.animals)} together"
    own, weighed = found.own_mg, found.estimate.weighed_mg if found.estimate else None
    return YieldRow(
        pk=first.pk,
        number=numbers,
        hunter=str(found.order.hunter or ""),
        species=" and ".join(dict.fromkeys(animal.species.name for animal in found.animals)),
        weighed=weighed,
        likely=found.estimate.likely_mg if found.estimate else None,
        packed=own,
        difference=found.difference_mg,
        share=own * 1000 // weighed if own is not None and weighed else None,
        points=found.points_weighed.removesuffix(" points weighed"),
        flags=tuple(found.flags),
        finished=found.finished,
    )


def signed(mg: int, unit: str) -> str:
    """A difference of weights with its sign: `+2.1 lb`; none where it rounds to nothing."""
    shown = mg_in(mg, unit)
    return f"{shown:+} {unit}" if shown else f"{abs(shown)} {unit}"


class WeightColumn(tables.Column):
    """Milligrams in the shop's unit; a weight that is not there says so and sorts first."""

    def __init__(self, *args: Any, missing: str = "not weighed", **kwargs: Any) -> None:
        super().__init__(*args, empty_values=(), attrs=NUMBER, **kwargs)
        self.missing = missing

    def render(self, value: int | None, table: YieldTable) -> str:
        return self.missing if value is None else format_mg(value, table.unit)

    def value(self, value: int | None, table: YieldTable) -> str | Decimal:
        return "" if value is None else mg_in(value, table.unit)


class YieldTable(HouseTable):
    number = tables.Column(verbose_name="Order", order_by=("pk",))
    hunter = tables.Column(verbose_name="Hunter")
    species = tables.Column(verbose_name="Species")
    weighed = WeightColumn(verbose_name="Weighed")
    likely = WeightColumn(verbose_name="Expected", missing="cannot be said")
    packed = WeightColumn(verbose_name="Packed, own meat", missing="not weighed")
    difference = WeightColumn(verbose_name="Difference", missing="")
    share = tables.Column(verbose_name="Of the weight", attrs=NUMBER)
    points = tables.Column(verbose_name="Points", orderable=False)
    flags = tables.Column(verbose_name="To look at", order_by=("flag_count",), orderable=False)

    class Meta:
        empty_text = "No animal is weighed in this season yet."

    exportable = True
    caption = "Expected and packed"

    def __init__(self, rows: Sequence[YieldRow], *, unit: str, **kwargs: Any) -> None:
        self.unit = unit
        super().__init__(rows, **kwargs)

    def render_number(self, value: str, record: YieldRow) -> SafeString:
        return format_html('<a href="{}">{}</a>', reverse("yield-detail", args=[record.pk]), value)

    def value_number(self, value: str) -> str:
        return value

    def render_packed(self, value: int | None, record: YieldRow) -> str:
        if value is None:
            return "not weighed" if record.finished else "not packed yet"
        return format_mg(value, self.unit)

    def value_packed(self, value: int | None) -> str | Decimal:
        return "" if value is None else mg_in(value, self.unit)

    def render_difference(self, value: int | None) -> str:
        return "" if value is None else signed(value, self.unit)

    def value_difference(self, value: int | None) -> str | Decimal:
        return "" if value is None else mg_in(value, self.unit)

    def render_share(self, value: int | None) -> str:
        return "" if value is None else f"{Decimal(value) / 10} %"

    def value_share(self, value: int | None) -> str | Decimal:
        return "" if value is None else Decimal(value) / 10

    def render_flags(self, value: tuple[str, ...]) -> SafeString:
        return format_html_join(" ", '<span class="state hold">{}</span>', ((flag,) for flag in value))

    def value_flags(self, value: tuple[str, ...]) -> str:
        return "; ".join(value)
