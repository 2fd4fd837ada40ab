"""What is ready: since when, where it is, and what is owed."""

from __future__ import annotations

from decimal import Decimal

import django_tables2 as tables
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.html import format_html
from django.utils.safestring import SafeString

from orders.intake.facts import phone_shown
from orders.pickup.queries import PickupRow
from shop.tables import HouseTable
from shop.templatetags.gambrel import money

NUMBER = {"th": {"class": "number"}, "td": {"class": "number"}}


def _days(days: int) -> str:
    return {0: "today", 1: "yesterday"}.get(days, f"{days} days")


class PickupTable(HouseTable):
    number = tables.Column(accessor="order__number", verbose_name="Order", order_by=("order__pk",))
    hunter = tables.Column(accessor="order__hunter__name", verbose_name="Hunter", default="not written down")
    phone = tables.Column(accessor="order__hunter__phone", verbose_name="Phone", orderable=False, default="")
    days = tables.Column(verbose_name="Ready for", attrs=NUMBER, default="")
    told = tables.Column(verbose_name="Told", default="not told")
    boxes = tables.Column(verbose_name="Boxes", attrs=NUMBER)
    also = tables.Column(empty_values=(), verbose_name="Also", orderable=False)
    places = tables.Column(empty_values=(), verbose_name="Where", orderable=False)
    collected = tables.Column(verbose_name="Collected", attrs=NUMBER)
    owed = tables.Column(verbose_name="Owed", attrs=NUMBER)
    held = tables.Column(verbose_name="Hold")

    class Meta:
        empty_text = "Nothing like this is here."

    exportable = True
    caption = "Ready for pickup"

    def render_number(self, value: str) -> SafeString:
        return format_html(
            '<a href="{}"><strong>{}</strong></a>', reverse("order-pickup", args=[value]), value
        )

    def value_number(self, value: str) -> str:
        return value

    def render_phone(self, value: str) -> str:
        return phone_shown(value)

    def render_days(self, value: int) -> str:
        return _days(value)

    def value_days(self, value: int) -> int:
        return value

    def render_told(self, record: PickupRow) -> str:
        return date_format(timezone.localtime(record.told), "M j") if record.told else "not told"

    def value_told(self, record: PickupRow) -> str:
        return timezone.localtime(record.told).date().isoformat() if record.told else ""

    def render_also(self, record: PickupRow) -> str:
        loose = [f"{record.loose} loose pack{'' if record.loose == 1 else 's'}"] if record.loose else []
        return ", ".join([*record.kept, *loose])

    def render_places(self, record: PickupRow) -> str:
        return ", ".join(record.places)

    def render_owed(self, value: int, record: PickupRow) -> str:
        return money(value) if record.priced else "no price"

    def value_owed(self, value: int, record: PickupRow) -> str | Decimal:
        return Decimal(value).scaleb(-2) if record.priced else ""

    def render_held(self, value: bool) -> str | SafeString:
        return format_html('<span class="state hold">{}</span>', "on hold") if value else ""

    def value_held(self, value: bool) -> str:
        return "on hold" if value else ""
