"""What is asked about an animal, when it comes in and when it is corrected."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from orders.intake.facts import AnimalFacts
from orders.intake.forms import DATE, WeightForm, receiving_places, usual_place
from orders.intake.models import (
    AgeClass,
    Animal,
    ArrivedAs,
    DiseaseTest,
    Keep,
    Order,
    Region,
    Sex,
    Tenderloin,
    WeightBasis,
)
from shop.forms import HouseForm
from shop.models import NoTagReason, Place, Species

FIRST_YEAR = 1980
WHOLE = (ArrivedAs.WHOLE, ArrivedAs.SKINNED, ArrivedAs.BIRDS)
KEEP = [(Keep.UNANSWERED.value, "Not answered"), (Keep.KEEP.value, "Keep")]
NOT_KEPT = [(Keep.DISCARD.value, "Discard"), (Keep.ABSENT.value, "Not brought")]
TENDERLOIN = [(value, label) for value, label in Tenderloin.choices]


def radio(label: str, choices: list[tuple[str, str]], **more: Any) -> forms.ChoiceField:
    """A question with all its answers in sight; an empty answer is a valid one."""
    return forms.ChoiceField(label=label, choices=choices, widget=forms.RadioSelect, required=False, **more)


class FactsForm(HouseForm):
    """The facts of an animal. Nothing here is required: what is not answered stays owed."""

    license_no = forms.CharField(label="License number", max_length=40, required=False)
    sex = radio("Sex", list(Sex.choices), initial=Sex.UNKNOWN)
    age_class = radio("Age", list(AgeClass.choices), initial=AgeClass.UNKNOWN)
    killed_on = forms.DateField(label="Date of kill", required=False, widget=DATE)
    kill_place = forms.CharField(
        label="Place of kill", max_length=120, required=False, help_text="County, unit or zone, property."
    )
    weight_basis = radio("As weighed it was", list(WeightBasis.choices), initial=WeightBasis.DRESSED_FEET_ON)
    bird_count = forms.IntegerField(label="How many birds", required=False, min_value=1, max_value=500)
    dirty = forms.BooleanField(label="Dirty: hair, mud or leaves", required=False)
    gut_shot = forms.BooleanField(label="Gut-shot", required=False)
    warm = forms.BooleanField(label="Warm to the touch", required=False)
    condition_note = forms.CharField(label="Condition, in words", max_length=160, required=False)
    regions_hit = forms.MultipleChoiceField(
        label="Where it was hit", choices=Region.choices, required=False, widget=forms.CheckboxSelectMultiple
    )
    tenderloin_left = radio("Left tenderloin", TENDERLOIN, initial="", help_text="The small one, inside.")
    tenderloin_right = radio("Right tenderloin", TENDERLOIN, initial="")
    keep_head = radio("Head", [*KEEP, (Keep.ANTLERS.value, "Antlers only"), *NOT_KEPT], initial="")
    keep_cape = radio("Cape", [*KEEP, *NOT_KEPT], initial="")
    keep_hide = radio("Hide", [*KEEP, *NOT_KEPT], initial="")
    keep_organs = radio("Organs", [*KEEP, *NOT_KEPT], initial="")
    disease_test = radio("Disease test", list(DiseaseTest.choices), initial=DiseaseTest.NONE)
    sample_no = forms.CharField(label="Sample number", max_length=40, required=False)

    came_as = ""

    @classmethod
    def initial_of(cls, animal: Animal) -> dict[str, Any]:
        """What is written about an animal, as the form shows it."""
        return {name: getattr(animal, name) for name in cls.base_fields if hasattr(animal, name)}

    def clean_killed_on(self) -> date | None:
        killed_on: date | None = self.cleaned_data["killed_on"]
        if killed_on is not None and killed_on.year < FIRST_YEAR:
            raise ValidationError(
                "That is too long ago. Write the year with four digits.", code="killed_long_ago"
            )
        return killed_on

    def facts(self) -> AnimalFacts:
        """The facts as typed, once the form is valid. What an animal that came otherwise cannot have is left out."""
        typed = self.cleaned_data
        values = {name: typed[name] for name in AnimalFacts.__slots__ if name in typed}
        values["regions_hit"] = tuple(typed["regions_hit"])
        values["sex"] = typed["sex"] or Sex.UNKNOWN
        values["age_class"] = typed["age_class"] or AgeClass.UNKNOWN
        values["disease_test"] = typed["disease_test"] or DiseaseTest.NONE
        arrived_as = str(typed.get("arrived_as") or self.came_as)
        if arrived_as != ArrivedAs.WHOLE:
            values["weight_basis"] = ""
        if arrived_as != ArrivedAs.BIRDS:
            values["bird_count"] = None
        return AnimalFacts(**values)


class AnimalEditForm(FactsForm):
    """The facts of an animal that is here."""

    def __init__(self, *args: Any, animal: Animal, **kwargs: Any) -> None:
        kwargs["initial"] = self.initial_of(animal)
        super().__init__(*args, **kwargs)
        self.came_as = animal.arrived_as


class AnimalAddForm(FactsForm, WeightForm):
    """An animal coming in: species, how it arrived, its tag, and for a whole one its weight and place."""

    species = forms.ModelChoiceField(
        label="Species",
        queryset=Species.objects.all(),
        empty_label=None,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose the species."},
    )
    arrived_as = forms.ChoiceField(
        label="It came as",
        choices=ArrivedAs.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose how it came in."},
    )
    place = forms.ModelChoiceField(
        label="Where it is put", queryset=Place.objects.none(), empty_label=None, required=False
    )
    tag_no = forms.CharField(
        label="Tag or confirmation number",
        max_length=40,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    no_tag_reason = forms.ModelChoiceField(
        label="Or why there is none",
        required=False,
        queryset=NoTagReason.objects.filter(active=True),
        empty_label="-",
        help_text="With neither it is written down, but not received.",
    )

    def __init__(self, *args: Any, order: Order, **kwargs: Any) -> None:
        initial: dict[str, Any] = {"place": usual_place()}
        if order.hunter is not None:
            initial["license_no"] = order.hunter.license_no
        kwargs["initial"] = initial
        super().__init__(*args, **kwargs)
        place = self.fields["place"]
        assert isinstance(place, forms.ModelChoiceField)
        place.queryset = receiving_places()

    def wants_weight(self) -> bool:
        """A whole animal is weighed here; pieces are weighed one by one afterwards."""
        return self.cleaned_data.get("arrived_as") in WHOLE

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        arrived_as = facts.get("arrived_as")
        if arrived_as in WHOLE and not facts.get("place") and "place" not in self.errors:
            self.add_error("place", ValidationError("Say where it is put.", code="place_missing"))
        if arrived_as == ArrivedAs.BIRDS and not facts.get("bird_count") and "bird_count" not in self.errors:
            self.add_error("bird_count", ValidationError("Count the birds.", code="bird_count_missing"))
        if arrived_as and arrived_as not in WHOLE and facts.get("weight"):
            said = "Each piece is weighed by itself, on the next page. Leave this empty."
            self.add_error("weight", ValidationError(said, code="weight_of_pieces"))
        return facts
