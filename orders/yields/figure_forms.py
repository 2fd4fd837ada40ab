"""The shop's own value of a yield figure, typed in percent, and what the list of figures is narrowed by."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from orders.cutsheets.words import percent_figure
from shop.figures import REASON_LENGTH, Own
from shop.forms import HouseForm
from shop.models import FigureChange, Species, YieldFigure

_PERCENT = re.compile(r"^([0-9]{1,3})(?:[.,]([0-9]{1,2}))?\s*%?$")
PERCENT_WANTED = "Type a percentage like 57 or 57.29."
WHY_WANTED = "Say why, in a few words; the reason is kept."
USED = {"": "All", "own": "The shop’s own", "lent": "Borrowed"}


def basis_points(typed: str) -> int:
    """Basis points of a percentage as typed: `57`, `57.29`, `57.3 %`. Raises ValidationError with a sentence."""
    match = _PERCENT.match(typed.strip())
    if match is None:
        raise ValidationError(PERCENT_WANTED, code="percent_wrong")
    return int(Decimal(f"{match[1]}.{match[2] or '0'}") * 100)


class PercentField(forms.CharField):
    """A percentage with up to two decimals; what is cleaned is basis points."""

    def __init__(self, **kwargs: Any) -> None:
        widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
        super().__init__(max_length=12, widget=widget, error_messages={"required": PERCENT_WANTED}, **kwargs)

    def clean(self, value: Any) -> int:
        return basis_points(super().clean(value))


class _ReasonForm(HouseForm):
    """`seen` is the change that this page showed as the last one: nobody undoes what they have not read."""

    reason = forms.CharField(label="Why", max_length=REASON_LENGTH, error_messages={"required": WHY_WANTED})
    seen = forms.IntegerField(required=False, min_value=0, widget=forms.HiddenInput)

    def __init__(self, *args: Any, last: FigureChange | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["seen"].initial = last.pk if last else None


class OwnForm(_ReasonForm):
    low = PercentField(label="Low, percent", help_text="One animal in twenty is below it.")
    likely = PercentField(label="Likely, percent")
    high = PercentField(label="High, percent", help_text="One animal in twenty is above it.")

    field_order = ("low", "likely", "high", "reason", "seen")

    def __init__(self, *args: Any, figure: YieldFigure, used: tuple[int, int, int], **kwargs: Any) -> None:
        shown = dict(zip(("low", "likely", "high"), map(percent_figure, used), strict=True))
        super().__init__(*args, initial=shown, **kwargs)

    def own(self) -> Own:
        """What was typed, once the form is valid."""
        return Own(*(self.cleaned_data[name] for name in ("low", "likely", "high")))


class BackForm(_ReasonForm):
    """Puts the published value back. It stands on the page of `OwnForm`, so its fields have ids of their own."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, auto_id="back_%s", **kwargs)


class FigureFilter(HouseForm):
    species = forms.ModelChoiceField(
        label="Species",
        queryset=Species.objects.filter(is_bird=False),
        required=False,
        empty_label="All species",
        error_messages={"invalid_choice": "Choose one of the list."},
    )
    used = forms.ChoiceField(
        label="Show",
        choices=list(USED.items()),
        required=False,
        error_messages={"invalid_choice": "Choose one of the list."},
    )
