"""The amount as it is typed, and how it was paid."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from shop.forms import HouseForm

_AMOUNT = re.compile(r"^\$?\s*(\d{1,3}(?:,\d{3})+|\d{1,9})(?:\.(\d{1,2}))?$")
HOW_PAID = (("cash", "Cash"), ("card", "Card"), ("check", "Check"))


def cents(typed: str) -> int:
    """Cents of an amount as typed: `85`, `85.5`, `$1,012.50`. Raises ValidationError with a sentence."""
    match = _AMOUNT.match(typed.strip())
    if match is None:
        raise ValidationError("Type dollars and cents, like 85 or 112.50.", code="amount_wrong")
    whole = Decimal(match[1].replace(",", ""))
    return int(whole * 100) + int((match[2] or "0").ljust(2, "0"))


class AmountForm(HouseForm):
    """Dollars as typed; what is cleaned is what `set_amount` takes."""

    amount = forms.CharField(
        label="Amount",
        max_length=20,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        error_messages={"required": "Type dollars and cents, like 85 or 112.50."},
    )

    def clean_amount(self) -> int:
        return cents(self.cleaned_data["amount"])

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        return {"cents": typed["amount"]} if "amount" in typed else typed


class UnpaidForm(HouseForm):
    reason = forms.CharField(
        label="Why not",
        max_length=160,
        help_text="The check came back, say, or it was another order's.",
        error_messages={"required": "Say why; the reason is kept."},
    )


class PaidForm(HouseForm):
    how = forms.ChoiceField(
        label="How", choices=HOW_PAID, error_messages={"invalid_choice": "Choose how it was paid."}
    )
