"""What the table of yields is narrowed by."""

from __future__ import annotations

from typing import Any

from django import forms

from orders.intake.models import Season
from shop.forms import HouseForm
from shop.models import Species

SHOW = {
    "": "All",
    "finished": "Packed",
    "flagged": "To look at",
    "below": "Below the range",
    "above": "Above the range",
}


class YieldFilter(HouseForm):
    season = forms.ModelChoiceField(
        label="Season", queryset=Season.objects.all(), required=False, empty_label=None
    )
    species = forms.ModelChoiceField(
        label="Species",
        queryset=Species.objects.filter(is_bird=False),
        required=False,
        empty_label="All species",
    )
    show = forms.ChoiceField(label="Show", choices=list(SHOW.items()), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("season", "species", "show"):
            self.fields[name].error_messages["invalid_choice"] = "Choose one of the list."
