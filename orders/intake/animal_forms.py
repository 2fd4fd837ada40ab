"""What is asked about an animal, when it comes in and when it is corrected."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms import BoundField

from orders.intake.actions import facts_of
from orders.intake.arrival import IN_PIECES
from orders.intake.asked import arrivals, came_as, has_antlers, is_asked
from orders.intake.cautions import DECIDE, DISEASE_TEST, TENDERLOINS
from orders.intake.facts import AnimalFacts
from orders.intake.forms import DATE, TagFields, WeightForm, receiving_places, usual_place
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
from orders.intake.receiving import UNTAGGED_BIRDS
from orders.ledger.payload import plain
from orders.widgets import Radios, Ticks
from shop.forms import HouseForm
from shop.models import Place, Species

FIRST_YEAR = 1980
LATER = "Later"
KEEP = [(Keep.UNANSWERED.value, LATER), (Keep.KEEP.value, "Keep")]
ANTLERS_ONLY = (Keep.ANTLERS.value, "Antlers only")
NOT_KEPT = [(Keep.DISCARD.value, "Discard"), (Keep.ABSENT.value, "Not brought")]
TENDERLOIN = [(value, label if value else LATER) for value, label in Tenderloin.choices]


def radio(label: str, choices: list[tuple[str, str]], **more: Any) -> forms.ChoiceField:
    """A question with all its answers in sight; an empty answer is a valid one."""
    return forms.ChoiceField(label=label, choices=choices, widget=Radios, required=False, **more)


@dataclass(frozen=True, slots=True)
class Group:
    """Questions that stand together. `folded`: asked of few, so behind its heading until somebody opens it."""

    title: str
    rows: tuple[tuple[str, ...], ...]
    folded: bool = False
    of_birds_folded: bool = False
    under_the_scale: bool = False
    caution: str = ""
    said: str = ""


GROUPS = (
    Group("The kill", (("license_no", "killed_on"), ("kill_place",)), under_the_scale=True),
    Group("Sex and age", (("sex",), ("age_class",)), of_birds_folded=True, under_the_scale=True),
    Group("Tenderloins", (("tenderloin_left",), ("tenderloin_right",)), caution=f"{TENDERLOINS} {DECIDE}"),
    Group(
        "What is kept",
        (("keep_head",), ("keep_cape",), ("keep_hide",), ("keep_organs",)),
        said="Asked before it is skinned. What is not answered is kept whole.",
    ),
    Group("Condition", (("dirty", "gut_shot", "warm"), ("regions_hit",)), of_birds_folded=True),
    Group("Condition in words", (("condition_note",),), folded=True),
    Group(
        "Disease test", (("disease_test",), ("sample_no",)), folded=True, caution=f"{DISEASE_TEST} {DECIDE}"
    ),
)


@dataclass(frozen=True, slots=True)
class Asked:
    """A group as it is shown: its fields, the arrivals it is for (empty: all), and whether it begins open."""

    group: Group
    rows: list[list[tuple[BoundField, str]]]
    came: str
    folded: bool
    is_open: bool


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
        label="Where it was hit", choices=Region.choices, required=False, widget=Ticks
    )
    tenderloin_left = radio("Left tenderloin", TENDERLOIN, initial="", help_text="The small one, inside.")
    tenderloin_right = radio("Right tenderloin", TENDERLOIN, initial="")
    keep_head = radio("Head", [*KEEP, ANTLERS_ONLY, *NOT_KEPT], initial="")
    keep_cape = radio("Cape", [*KEEP, *NOT_KEPT], initial="")
    keep_hide = radio("Hide", [*KEEP, *NOT_KEPT], initial="")
    keep_organs = radio("Organs", [*KEEP, *NOT_KEPT], initial="")
    disease_test = radio("Disease test", list(DiseaseTest.choices), initial=DiseaseTest.NONE)
    sample_no = forms.CharField(label="Sample number", max_length=40, required=False)

    # What is written already, or what is when nothing is answered.
    known = AnimalFacts(weight_basis="")

    def ask_of(self, species: Species, ways: list[str]) -> None:
        """Leave out what a species that came in one of these ways is not asked."""
        for fact in AnimalFacts.__slots__:
            if fact in self.fields and not is_asked(fact, species, ways):
                del self.fields[fact]
        head = self.fields.get("keep_head")
        if isinstance(head, forms.ChoiceField) and not has_antlers(species):
            head.choices = [*KEEP, *NOT_KEPT]
        self.of_birds = species.is_bird

    of_birds = False

    def clean_killed_on(self) -> date | None:
        killed_on: date | None = self.cleaned_data["killed_on"]
        if killed_on is not None and killed_on.year < FIRST_YEAR:
            raise ValidationError(
                "That is too long ago. Write the year with four digits.", code="killed_long_ago"
            )
        return killed_on

    def columns(self) -> tuple[list[Asked], list[Asked]]:
        """The questions for beside each other: those about the kill, and those about the animal."""
        asked = list(self.groups())
        first = [each for each in asked if each.group.under_the_scale and not self.of_birds]
        return first, asked[len(first) :]

    def groups(self) -> Iterator[Asked]:
        """The questions in the order they are asked, those of this form only."""
        for group in GROUPS:
            names = [[name for name in row if name in self.fields] for row in group.rows]
            rows = [[(self[name], came_as(name)) for name in row] for row in names if row]
            if rows:
                flat = [each for row in rows for each in row]
                came = "" if any(not of for _, of in flat) else " ".join(dict.fromkeys(_words(flat)))
                folded = group.folded or (self.of_birds and group.of_birds_folded)
                yield Asked(group, rows, came, folded, any(_is_answered(field) for field, _ in flat))

    def facts(self) -> AnimalFacts:
        """The facts as typed, once the form is valid; what was not asked stays as it is known."""
        typed = {name: self.cleaned_data[name] for name in AnimalFacts.__slots__ if name in self.fields}
        if "regions_hit" in typed:
            typed["regions_hit"] = tuple(typed["regions_hit"])
        for name, unanswered in (("sex", Sex.UNKNOWN), ("age_class", AgeClass.UNKNOWN)):
            typed[name] = typed[name] or unanswered
        typed["disease_test"] = typed["disease_test"] or DiseaseTest.NONE
        return replace(self.known, **typed)


def _words(fields: list[tuple[BoundField, str]]) -> list[str]:
    return [way for _, came in fields for way in came.split()]


def _is_answered(field: BoundField) -> bool:
    """Whether a field holds an error, or something other than what it begins with."""
    return bool(field.errors) or (field.value() or "") not in ("", field.field.initial or "", [])


class AnimalEditForm(FactsForm):
    """The facts of an animal that is here. `shown` carries them as they were when the page was opened."""

    shown = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, animal: Animal, **kwargs: Any) -> None:
        self.known = facts_of(animal)
        written = {name: getattr(self.known, name) for name in AnimalFacts.__slots__}
        super().__init__(*args, initial={**written, "shown": _carried(self.known)}, **kwargs)
        self.ask_of(animal.species, [animal.arrived_as])
        if "bird_count" in self.fields:
            self.fields["bird_count"].required = True
            self.fields["bird_count"].error_messages["required"] = "Count the birds."

    def shown_facts(self) -> AnimalFacts | None:
        """The facts as the page showed them; None where it did not say."""
        return _as_shown(self.known, self.cleaned_data.get("shown", ""))

    def for_action(self) -> dict[str, Any]:
        """What `correct_animal` takes, once the form is valid."""
        return {"facts": self.facts(), "shown": self.shown_facts()}

    def look_again(self, name: str, animal: Animal) -> None:
        """Carry what is written now of a fact that somebody else has changed: sent once more, it was seen."""
        shown = _as_shown(self.known, self.data.get("shown", ""))
        if shown is not None and name in AnimalFacts.__slots__:
            seen = replace(shown, **{name: getattr(facts_of(animal), name)})
            self.data = {**self.data.dict(), "shown": _carried(seen)}  # type: ignore[attr-defined]


def _carried(facts: AnimalFacts) -> str:
    """Facts as text that a form carries; the taker is not asked here."""
    return json.dumps(plain(replace(facts, taker=None)), sort_keys=True)


def _as_shown(known: AnimalFacts, carried: str) -> AnimalFacts | None:
    try:
        found = {name: value for name, value in json.loads(carried).items() if name in AnimalFacts.__slots__}
        killed, regions = found.get("killed_on"), found.get("regions_hit", ())
        found |= {
            "taker": known.taker,
            "killed_on": date.fromisoformat(killed) if killed else None,
            "regions_hit": tuple(regions),
        }
    except (ValueError, TypeError, AttributeError):
        return None
    return replace(known, **found)


class AnimalAddForm(FactsForm, WeightForm, TagFields):
    """An animal coming in, of a species that was chosen before: how it arrived, its tag, its weight and place."""

    species = forms.ModelChoiceField(
        label="Species",
        queryset=Species.objects.all(),
        empty_label=None,
        widget=Radios,
        error_messages={"required": "Choose the species.", "invalid_choice": "Choose the species."},
    )
    arrived_as = forms.ChoiceField(
        label="It came as",
        choices=ArrivedAs.choices,
        widget=Radios,
        error_messages={"required": "Choose how it came in."},
    )
    place = forms.ModelChoiceField(
        label="Where it is put", queryset=Place.objects.none(), empty_label=None, required=False
    )
    field_order = (
        "species",
        "arrived_as",
        "bird_count",
        "tag_no",
        "no_tag_reason",
        "weight",
        "tare",
        "place",
    )

    def __init__(self, *args: Any, order: Order, chosen: Species | None, **kwargs: Any) -> None:
        initial: dict[str, Any] = {"place": usual_place(), "species": chosen}
        if order.hunter is not None:
            initial["license_no"] = order.hunter.license_no
        super().__init__(*args, initial=initial, **kwargs)
        place = self.fields["place"]
        assert isinstance(place, forms.ModelChoiceField)
        place.queryset = receiving_places()
        self.fields["no_tag_reason"].help_text = "With neither it is written down, but not received."
        self.chosen = chosen
        if chosen is not None:
            self._ask_about(chosen)

    def _ask_about(self, chosen: Species) -> None:
        ways = arrivals(chosen)
        self.ask_of(chosen, [way for way, _ in ways])
        self.fields["species"].widget = forms.HiddenInput()
        came = self.fields["arrived_as"]
        assert isinstance(came, forms.ChoiceField)
        came.choices = ways
        if chosen.is_bird:
            # There is one way, and no reason makes up for the tag.
            del self.fields["arrived_as"], self.fields["no_tag_reason"]
            self.fields["tag_no"].help_text = "Birds need it to come in."

    @property
    def arrived(self) -> str:
        """How it came in, as far as that is known."""
        way = ArrivedAs.BIRDS if self.of_birds else self.cleaned_data.get("arrived_as", "")
        return str(way)

    @property
    def untagged_birds(self) -> bool:
        """Birds that cannot be taken in as they are: nothing else about them matters."""
        return self.of_birds and not self.cleaned_data.get("tag_no")

    def wants_weight(self) -> bool:
        """A whole animal is weighed here; pieces are weighed one by one afterwards."""
        return bool(self.arrived) and self.arrived not in IN_PIECES and not self.untagged_birds

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        if self.untagged_birds:
            if self.errors and "tag_no" not in self.errors:
                # Said here, as the action that says it otherwise is not asked; and above everything else.
                self.add_error("tag_no", ValidationError(UNTAGGED_BIRDS, code="untagged_birds"))
            return facts
        if self.arrived in IN_PIECES and facts.get("weight"):
            said = "Each piece is weighed by itself, on the next page. Leave this empty."
            self.add_error("weight", ValidationError(said, code="weight_of_pieces"))
        if self.wants_weight() and not facts.get("place") and "place" not in self.errors:
            self.add_error("place", ValidationError("Say where it is put.", code="place_missing"))
        if self.of_birds and not facts.get("bird_count") and "bird_count" not in self.errors:
            self.add_error("bird_count", ValidationError("Count the birds.", code="bird_count_missing"))
        return facts

    def facts(self) -> AnimalFacts:
        """As typed, without what an animal that came in this way is not asked."""
        found = super().facts()
        assert self.chosen is not None
        others = [name for name in AnimalFacts.__slots__ if not is_asked(name, self.chosen, [self.arrived])]
        return replace(found, **{name: getattr(self.known, name) for name in others})

    def for_action(self) -> dict[str, Any]:
        """What `add_animal` takes, once the form is valid."""
        typed = self.cleaned_data
        return {
            "species": typed["species"],
            "arrived_as": self.arrived,
            "facts": self.facts(),
            "place": typed["place"],
            "tag_no": typed["tag_no"],
            "no_tag_reason": typed.get("no_tag_reason"),
            "weight": self.on_scale,
        }
