"""The range of days that the register shows."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from orders.custody.queries import MOST_DAYS
from shop.forms import HouseForm


class RangeForm(HouseForm):
    """`from` and `to`, both included. The names are those of the address, so the fields are made by name."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, label in (("from", "From"), ("to", "To")):
            self.fields[name] = forms.DateField(
                label=label,
                widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
                error_messages={
                    "required": "Choose a day.",
                    "invalid": "This is not a day. Write it like 2026-11-14.",
                },
            )

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        first, last = facts.get("from"), facts.get("to")
        if first and last and last < first:
            raise ValidationError("The last day is before the first.", code="range_reversed")
        if first and last and (last - first).days > MOST_DAYS:
            raise ValidationError(f"Ask for {MOST_DAYS} days at most at a time.", code="range_long")
        return facts
