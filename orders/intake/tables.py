"""The tables of the counter: orders and holds."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from orders.intake.facts import phone_shown
from orders.intake.models import Order
from orders.ledger.models import Hold
from orders.templatetags.counter import look
from shop.tables import HouseTable

ONE_LINE = {"td": {"class": "when"}}


class OrderTable(HouseTable):
    number = tables.Column(verbose_name="Order", order_by="id")
    hunter = tables.Column(verbose_name="Hunter", order_by="hunter__search", empty_values=())
    phone = tables.Column(verbose_name="Phone", orderable=False, empty_values=(), attrs=ONE_LINE)
    animals = tables.Column(verbose_name="Animals", orderable=False, empty_values=())
    state = tables.Column(verbose_name="State")
    created_at = tables.Column(verbose_name="Came in", attrs=ONE_LINE)
    promised_on = tables.Column(verbose_name="Promised for", default="", attrs=ONE_LINE)

    exportable = True
    caption = "Orders"

    class Meta:
        attrs = {"class": "list orders"}
        empty_text = "No order like that."
        order_by = "-number"

    def render_number(self, record: Order) -> SafeString:
        rush = SafeString(' <span class="state hold">Rush</span>') if record.rush else ""
        url = reverse("order", args=[record.number])
        return format_html('<a class="code" href="{}">{}</a>{}', url, record.number, rush)

    def value_number(self, record: Order) -> str:
        return record.number

    def render_hunter(self, record: Order) -> str:
        return record.hunter.name if record.hunter else "not named yet"

    def value_hunter(self, record: Order) -> str:
        return record.hunter.name if record.hunter else ""

    def render_phone(self, record: Order) -> str:
        return phone_shown(record.hunter.phone) if record.hunter else ""

    def render_animals(self, record: Order) -> str:
        return ", ".join(animal.species.name for animal in record.animals.all())

    def render_state(self, record: Order) -> SafeString:
        return format_html('<span class="state {}">{}</span>', look(record.state), record.get_state_display())

    def value_state(self, record: Order) -> str:
        return record.get_state_display()

    def render_created_at(self, value: Any) -> str:
        return timezone.localtime(value).strftime("%b %d, %Y")

    def value_created_at(self, value: Any) -> str:
        return timezone.localtime(value).isoformat(timespec="minutes")

    def render_promised_on(self, value: Any) -> str:
        return f"{value:%b %d, %Y}"

    def value_promised_on(self, value: Any) -> str:
        return value.isoformat() if value else ""


class HoldTable(HouseTable):
    animal = tables.Column(verbose_name="Animal", order_by="animal_id")
    hunter = tables.Column(verbose_name="Hunter", orderable=False, empty_values=())
    kind = tables.Column(verbose_name="Held for")
    note = tables.Column(verbose_name="Note", default="")
    opened_at = tables.Column(verbose_name="Since", attrs=ONE_LINE)
    opened_by = tables.Column(verbose_name="By", orderable=False)
    released_at = tables.Column(verbose_name="Released", default="")

    exportable = True
    caption = "Holds"

    class Meta:
        attrs = {"class": "list holds"}
        empty_text = "Nothing is on hold."

    def render_animal(self, record: Hold) -> SafeString:
        url = reverse("animal", args=[record.animal_id])
        return format_html(
            '<a class="code" href="{}#holds">{}</a> {}', url, record.animal.label, record.animal.species.name
        )

    def value_animal(self, record: Hold) -> str:
        return record.animal.label

    def render_hunter(self, record: Hold) -> str:
        hunter = record.animal.order.hunter
        return hunter.name if hunter else "not named yet"

    def render_opened_at(self, record: Hold) -> str:
        days = (timezone.localdate() - timezone.localdate(record.opened_at)).days
        age = "today" if days == 0 else f"{days} day{'s' if days > 1 else ''}"
        return f"{timezone.localtime(record.opened_at):%b %d, %Y} ({age})"

    def value_opened_at(self, value: Any) -> str:
        return timezone.localtime(value).isoformat(timespec="minutes")

    def render_released_at(self, record: Hold) -> str:
        return f"{timezone.localtime(record.released_at):%b %d, %Y}: {record.release_note}"

    def value_released_at(self, value: Any) -> str:
        return timezone.localtime(value).isoformat(timespec="minutes") if value else ""
