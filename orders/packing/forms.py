"""Forms of wrap and freezer."""

from __future__ import annotations

import re
from typing import Any

from django import forms
from django.core.validators import MaxLengthValidator, ProhibitNullCharactersValidator

from orders.floor.forms import NUMBER, FloorForm, ReasonForm, WeightForm, WithReason, read_weight
from orders.ledger.scale import OnScale
from orders.packing.actions import MAX_PACKS_AT_ONCE
from orders.packing.models import Package
from shop.weights import Reading

BETWEEN = re.compile(r"[;\n]")


class PackForm(WeightForm):
    """Packs of one cut: one weight, several with a semicolon between them, or so many that are only counted."""

    count = forms.IntegerField(
        label="Pieces in each pack",
        required=False,
        min_value=1,
        max_value=500,
        widget=forms.TextInput(attrs={**NUMBER, "inputmode": "numeric"}),
    )
    packs = forms.IntegerField(
        label="How many packs, if they are only counted",
        required=False,
        min_value=1,
        max_value=MAX_PACKS_AT_ONCE,
        widget=forms.TextInput(attrs={**NUMBER, "inputmode": "numeric"}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        weight = self.fields["weight"]
        assert isinstance(weight, forms.CharField)
        weight.max_length = None
        weight.validators = [MaxLengthValidator(2000), ProhibitNullCharactersValidator()]
        weight.widget.attrs["maxlength"] = "2000"
        weight.help_text = "Several packs: put a semicolon between them."
        self.fields["tare"].label = "Tare of each, if there is one"

    def clean_weight(self) -> Any:
        typed: str = self.cleaned_data["weight"]
        if self.not_weighed or not typed:
            return super().clean_weight()
        readings = [read_weight(part) for part in BETWEEN.split(typed) if part.strip()]
        if len(readings) > MAX_PACKS_AT_ONCE:
            raise forms.ValidationError(f"At most {MAX_PACKS_AT_ONCE} packs at a time.", code="how_many")
        return readings

    @property
    def scales(self) -> tuple[OnScale, ...]:
        """One weighing for each pack; none when they are only counted."""
        readings: list[Reading] | None = self.cleaned_data["weight"]
        tare, confirmed = self.cleaned_data["tare"], self.cleaned_data["confirmed"]
        return tuple(OnScale(reading, tare, confirmed=confirmed) for reading in readings or [])

    @property
    def only_counted(self) -> int:
        """How many packs are made without a weight."""
        return (self.cleaned_data["packs"] or 1) if self.not_weighed else 0


class FinishWrapForm(WithReason):
    """Everything is packed; a reason is asked for where pounds, a lug or a tenderloin are in no pack."""

    reasons = (
        "Tenderloins packed with other cuts",
        "Spoiled, thrown away",
        "The hunter took it along",
        "A lug was weighed wrong",
        "More comes to this table later",
    )


class OffTableForm(WeightForm):
    """What goes off the table without being packed; weighed wherever all that came to the table was."""

    def __init__(self, *args: Any, must_weigh: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.may_skip = not must_weigh


class DestroyForm(ReasonForm):
    """Why a label is destroyed; of a finished wrap it is confirmed that it is, or is lost with its pack."""

    confirmed = forms.BooleanField(label="The label is destroyed, or lost with its pack", required=False)

    def __init__(self, *args: Any, ask_confirm: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.ask_confirm = ask_confirm


class FillForm(FloorForm):
    """Which packs go into the box; “all” is a button of its own."""

    def __init__(self, *args: Any, packs: list[Package], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.packs = {package.pk: package for package in packs}
        self.fields["packages"] = forms.TypedMultipleChoiceField(
            label="Packs in no box",
            choices=[(pk, str(package)) for pk, package in self.packs.items()],
            coerce=int,
            required=False,
            widget=forms.CheckboxSelectMultiple,
            error_messages={"invalid_choice": "One of these packs is in a box by now. Look again."},
        )

    @property
    def chosen(self) -> tuple[Package, ...]:
        """The packs that were ticked, or all of them."""
        if self.data.get("all"):
            return tuple(self.packs.values())
        return tuple(self.packs[pk] for pk in self.cleaned_data["packages"])
