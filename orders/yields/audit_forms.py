"""What the audit is narrowed by, why an animal's yield does not count, and a scale's check."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from orders.intake.models import Season
from orders.yields.audit import Audited
from orders.yields.audit_tables import SEVERAL, week_of, week_words
from orders.yields.causes import CAUSES
from shop.forms import HouseForm
from shop.models import Species, Station, Step
from shop.weights import Reading, WeightError, parse_reading

LIST = "Choose one of the list."


class SeasonFilter(HouseForm):
    season = forms.ModelChoiceField(
        label="Season", queryset=Season.objects.all(), required=False, empty_label=None
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["season"].error_messages["invalid_choice"] = LIST


class AuditFilter(SeasonFilter):
    """Crew, table and week are those that the season's closed animals have."""

    species = forms.ModelChoiceField(
        label="Species",
        queryset=Species.objects.filter(is_bird=False),
        required=False,
        empty_label="All species",
        error_messages={"invalid_choice": LIST},
    )
    crew = forms.ChoiceField(label="Opened at the block by", required=False)
    table = forms.ChoiceField(label="Table", required=False)
    week = forms.ChoiceField(label="Week", required=False)

    def narrow_by(self, animals: Sequence[Audited]) -> None:
        """Offer what these animals have."""
        cutters = {
            str(each.record.cutter_id): str(each.record.cutter) for each in animals if each.record.cutter
        }
        tables = {str(each.record.block_id): str(each.record.block) for each in animals if each.record.block}
        weeks = {week_of(each.record.finished_at) for each in animals if each.record.finished_at}
        self._offer("crew", "Everybody", sorted(cutters.items(), key=lambda pair: pair[1]))
        self._offer("table", "Every table", sorted(tables.items(), key=lambda pair: pair[1]))
        self._offer("week", "Every week", [(week, week_words(week)) for week in sorted(weeks, reverse=True)])

    def _offer(self, name: str, everything: str, choices: list[tuple[str, str]]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        more = [(SEVERAL, "Several, or not on record")] if name != "week" else []
        field.choices = [("", everything), *choices, *more]
        field.error_messages["invalid_choice"] = LIST

    def lets_through(self, each: Audited) -> bool:
        """Whether an animal is among what was asked for, once the form is valid."""
        record, asked = each.record, self.cleaned_data
        assert record.finished_at is not None
        return (
            (asked["species"] is None or record.species_id == asked["species"].pk)
            and asked["crew"] in ("", str(record.cutter_id or SEVERAL))
            and asked["table"] in ("", str(record.block_id or SEVERAL))
            and asked["week"] in ("", week_of(record.finished_at))
        )


class CauseForm(HouseForm):
    cause = forms.ChoiceField(
        label="What happened",
        choices=[(key, words[:1].upper() + words[1:]) for key, words in CAUSES.items()],
        widget=forms.RadioSelect,
        error_messages={"required": "Choose what happened.", "invalid_choice": LIST},
    )
    note = forms.CharField(
        label="In a few words",
        max_length=200,
        help_text="It is kept with your name, and stays when this is taken back.",
        error_messages={"required": "Say in a few words what happened."},
    )


class BackForm(HouseForm):
    note = forms.CharField(
        label="Why it counts again",
        max_length=200,
        error_messages={"required": "Say in a few words why."},
    )


class WeightField(forms.CharField):
    """A weight as a scale shows it; what is cleaned is a Reading."""

    def __init__(self, **kwargs: Any) -> None:
        widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
        super().__init__(max_length=20, widget=widget, **kwargs)

    def clean(self, value: Any) -> Reading:
        typed = super().clean(value)
        try:
            return parse_reading(typed)
        except WeightError as error:
            raise ValidationError(str(error), code="weight_wrong") from error


class ScaleForm(HouseForm):
    station = forms.ModelChoiceField(
        label="Which scale",
        queryset=Station.objects.exclude(step=Step.OFFICE),
        empty_label="Choose the station it stands at",
        error_messages={"required": "Choose the station it stands at.", "invalid_choice": LIST},
    )
    test = WeightField(
        label="Test weight",
        help_text="Like 25 lb or 10 kg.",
        error_messages={"required": "Say what the test weight weighs."},
    )
    shown = WeightField(
        label="What the scale showed",
        help_text="With every digit that it shows.",
        error_messages={"required": "Type what the scale showed."},
    )
