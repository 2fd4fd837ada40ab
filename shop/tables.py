"""Lists in the house look: ordered, paged with a cap, and saved as CSV."""

from __future__ import annotations

import csv
from typing import Any, ClassVar

from django.core.paginator import EmptyPage, PageNotAnInteger
from django.http import HttpRequest, HttpResponse
from django_tables2 import Table

PER_PAGE = 50
MAX_PER_PAGE = 200
# What spreadsheets take for a formula: https://owasp.org/www-community/attacks/CSV_Injection
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


class HouseTable(Table):
    """Base of every list. `caption` is read out before the table; `exportable` offers the CSV."""

    caption: ClassVar[str] = ""
    exportable: ClassVar[bool] = False


def shown(request: HttpRequest, table: HouseTable, *, per_page: int = PER_PAGE) -> HouseTable:
    """Order and page a table as the address asks; nobody gets more than 200 rows at once."""
    order = request.GET.getlist(table.prefixed_order_by_field)
    if order:
        table.order_by = order
    asked = _whole(request.GET.get(table.prefixed_per_page_field), per_page)
    page = _whole(request.GET.get(table.prefixed_page_field), 1)
    try:
        table.paginate(page=page, per_page=min(asked, MAX_PER_PAGE))
    except (EmptyPage, PageNotAnInteger):
        table.paginate(page=1, per_page=min(asked, MAX_PER_PAGE))
    return table


def wants_csv(request: HttpRequest) -> bool:
    """Whether the address asks for the list as a file."""
    return request.GET.get("save") == "csv"


def csv_file(request: HttpRequest, table: HouseTable, name: str) -> HttpResponse:
    """The whole list, all pages, as `name`.csv (UTF-8 with a mark, so that spreadsheets read accents)."""
    order = request.GET.getlist(table.prefixed_order_by_field)
    if order:
        table.order_by = order
    response = HttpResponse(
        "\ufeff",
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}.csv"'},
    )
    csv.writer(response).writerows([_harmless(cell) for cell in row] for row in table.as_values())
    return response


def _harmless(cell: Any) -> str:
    text = "" if cell is None else str(cell)
    is_number = isinstance(cell, int) or text.lstrip("-").replace(".", "", 1).isdigit()
    return f"'{text}" if text.startswith(FORMULA_STARTS) and not is_number else text


def _whole(text: str | None, otherwise: int) -> int:
    return int(text[:9]) if text and text.isdecimal() and int(text[:9]) > 0 else otherwise
