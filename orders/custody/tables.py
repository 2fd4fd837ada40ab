"""The register as a table on the screen; what is missing says so in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from orders.custody.queries import COLUMNS, MISSING, RegisterRow
from shop.tables import HouseTable


class Cell(tables.Column):
    """A value, or the word MISSING."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        # Nothing counts as empty for the table: an empty value is this column's own business.
        super().__init__(*args, empty_values=(), **kwargs)

    def render(self, value: str) -> str | SafeString:
        return value or format_html('<strong class="missing">{}</strong>', MISSING)

    def value(self, value: str) -> str:
        return value or MISSING


class RegisterTable(HouseTable):
    number = tables.Column(verbose_name=COLUMNS["number"])

    class Meta:
        empty_text = "No animal came in within these days."

    exportable = True
    caption = "Custody register"

    def __init__(self, rows: Sequence[RegisterRow], **kwargs: Any) -> None:
        cells = [(name, Cell(verbose_name=title)) for name, title in COLUMNS.items() if name != "number"]
        super().__init__(rows, extra_columns=cells, **kwargs)

    def render_number(self, value: str) -> SafeString:
        return format_html('<a href="{}">{}</a>', reverse("order", args=[value.partition("/")[0]]), value)

    def value_number(self, value: str) -> str:
        return value
