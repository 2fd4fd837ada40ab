"""Forms of the floor: a weight on the keypad or “not weighed”, tiles to choose from, a reason."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from orders.cutsheets.rules import brought_parts
from orders.floor.plan import TRIM
from orders.intake.models import Animal
from orders.ledger.models import Contents
from orders.ledger.refusal import Refusal
from orders.ledger.scale import OnScale
from shop.context import shop_settings
from shop.forms import HouseForm
from shop.models import Part, Place, Station, Step
from shop.weights import Reading, WeightError, parse_reading

FLOOR_STEPS = (Step.SKIN, Step.COOLER, Step.BLOCK, Step.GRIND, Step.WRAP, Step.FREEZER)
NUMBER = {"inputmode": "decimal", "autocomplete": "off", "data-number": "", "maxlength": "40"}
ON_THE_SCALE = ("weight", "tare")
REASON = ("reason_tile", "reason")
OTHER = "other"


def number_field(label: str, **options: Any) -> forms.CharField:
    """A field for a weight as it is typed or tapped."""
    options.setdefault("required", False)
    return forms.CharField(label=label, max_length=40, widget=forms.TextInput(attrs=dict(NUMBER)), **options)


def read_weight(typed: str) -> Reading:
    """A typed weight in the shop's unit unless one was typed; ValidationError with the sentence."""
    try:
        return parse_reading(typed, shop_settings().unit)
    except WeightError as error:
        raise forms.ValidationError(str(error), code="weight_unreadable") from error


def _tiles(field: forms.Field) -> str:
    """How a field is tapped: one tile, several, or none at all. Checkboxes are a kind of radio to Django."""
    if isinstance(field.widget, forms.CheckboxSelectMultiple):
        return "several"
    return "one" if isinstance(field.widget, forms.RadioSelect) else ""


class FloorForm(HouseForm):
    """A form of one floor screen. `hear` lets a refusal ask for what it needs."""

    def hear(self, refusal: Refusal | None) -> None:
        """Called after a refusal, before the form is shown again."""

    @property
    def carried(self) -> dict[str, str]:
        """Answers of an earlier screen that this one takes along."""
        return {}

    @property
    def tile_fields(self) -> list[forms.BoundField]:
        """Fields that are shown as tiles, to tap one."""
        return [self[name] for name, field in self.fields.items() if _tiles(field) == "one"]

    @property
    def extra_fields(self) -> list[forms.BoundField]:
        """Tiles of which any number may be tapped, below the rest and folded up."""
        return [self[name] for name, field in self.fields.items() if _tiles(field) == "several"]

    @property
    def line_fields(self) -> list[forms.BoundField]:
        """Fields that are typed or tapped."""
        return [
            self[name] for name, field in self.fields.items() if not _tiles(field) and name != "confirmed"
        ]

    @property
    def scale_fields(self) -> list[forms.BoundField]:
        """The weight and its tare, which stand beside the keypad."""
        return [field for field in self.line_fields if field.name in ON_THE_SCALE]

    @property
    def answer_fields(self) -> list[forms.BoundField]:
        """Tiles without those of a reason, which stand together with the line for another one."""
        return [field for field in self.tile_fields if field.name not in REASON]

    @property
    def other_fields(self) -> list[forms.BoundField]:
        """What is typed that has no place of its own."""
        return [field for field in self.line_fields if field.name not in (*ON_THE_SCALE, *REASON)]


class WeightForm(FloorForm):
    """A weight with its tare, or the “not weighed” button; a doubtful weight is asked about once."""

    may_skip = True
    weight = number_field("Weight")
    tare = number_field("Tare, if it stands in something")
    confirmed = forms.BooleanField(label="Yes, this weight is right", required=False)

    ask_confirm = False

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["weight"].label = f"Weight in {shop_settings().unit}"

    @property
    def not_weighed(self) -> bool:
        return self.may_skip and bool(self.data.get("not_weighed"))

    def clean_weight(self) -> Reading | None:
        typed: str = self.cleaned_data["weight"]
        if self.not_weighed:
            if typed:
                raise forms.ValidationError(
                    "A weight is typed and “not weighed” was tapped. Clear it, or save it.", code="both"
                )
            return None
        return read_weight(typed)

    def clean_tare(self) -> Reading | None:
        typed: str = self.cleaned_data["tare"]
        return None if self.not_weighed or not typed else read_weight(typed)

    def hear(self, refusal: Refusal | None) -> None:
        super().hear(refusal)
        self.ask_confirm = refusal is not None and refusal.code == "weight_doubtful"

    @property
    def on_scale(self) -> OnScale | None:
        """What was weighed; None when it was said to be not weighed. Only of a valid form."""
        gross: Reading | None = self.cleaned_data["weight"]
        if gross is None:
            return None
        return OnScale(gross, self.cleaned_data["tare"], confirmed=self.cleaned_data["confirmed"])


class MustWeighForm(WeightForm):
    """A weight that is the point of the screen: there is no “not weighed” here."""

    may_skip = False


class PlaceChoice(forms.ModelChoiceField):
    def label_from_instance(self, place: Any) -> str:
        here = getattr(place, "here", None)
        return f"{place.name} · {here} there" if here else f"{place.name}" + (" · empty" if here == 0 else "")


def place_field(label: str, places: Any, *, required: bool = True) -> PlaceChoice:
    """Places as tiles with how much is there."""
    return PlaceChoice(
        places,
        label=label,
        widget=forms.RadioSelect,
        empty_label=None if required else "Leave it on the table",
        required=required,
        error_messages={"required": "Tap the place.", "invalid_choice": "That place is not here."},
    )


def reason_fields(reasons: tuple[str, ...]) -> dict[str, forms.Field]:
    """Common reasons as tiles, and a line for another one."""
    choices = [(words, words) for words in reasons] + [(OTHER, "Another reason, typed below")]
    return {
        "reason_tile": forms.ChoiceField(
            label="Why", choices=choices, widget=forms.RadioSelect, required=False
        ),
        "reason": forms.CharField(label="Another reason", max_length=200, required=False),
    }


class ReasonForm(FloorForm):
    """Why something is taken back or left out."""

    reasons: tuple[str, ...] = ("Wrong weight", "Wrong animal", "Tapped by mistake")

    def __init__(self, *args: Any, reasons: tuple[str, ...] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields.update(reason_fields(reasons or self.reasons))

    @property
    def why(self) -> str:
        """The tapped reason, or the typed one."""
        return _why(self.cleaned_data)


def _why(cleaned: dict[str, Any]) -> str:
    typed: str = cleaned.get("reason", "")
    tile: str = cleaned.get("reason_tile", "")
    return typed.strip() or ("" if tile == OTHER else tile)


class WithReason(FloorForm):
    """A form that asks for a reason only once the step was refused without one."""

    reasons: tuple[str, ...] = ()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.is_bound and ("reason" in self.data or "reason_tile" in self.data):
            self.fields.update(reason_fields(self.reasons))

    def hear(self, refusal: Refusal | None) -> None:
        super().hear(refusal)
        if refusal is not None and refusal.field == "reason" and "reason" not in self.fields:
            self.fields.update(reason_fields(self.reasons))

    @property
    def why(self) -> str:
        return _why(self.cleaned_data)


class HangUpForm(WeightForm):
    """A cold place for a piece as it came; weighed only where it has no hide on."""

    def __init__(self, *args: Any, places: Any, weighs: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"] = place_field("Where does it go?", places)
        if not weighs:
            for name in ("weight", "tare", "confirmed"):
                del self.fields[name]

    @property
    def on_scale(self) -> OnScale | None:
        return super().on_scale if "weight" in self.fields else None


class PlaceForm(FloorForm):
    """A place for something."""

    def __init__(self, *args: Any, places: Any, label: str = "Where does it go?", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"] = place_field(label, places)


class LugForm(WeightForm):
    """What is in a lug, of the parts that this animal has; which parts, if somebody wants to say so."""

    contents = forms.ChoiceField(
        label="What is in the lug?",
        widget=forms.RadioSelect,
        error_messages={"required": "Tap what is in the lug."},
    )

    def __init__(self, *args: Any, animal: Animal, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        parts = [row.part for row in brought_parts(animal)]
        contents = self.fields["contents"]
        assert isinstance(contents, forms.ChoiceField)
        contents.choices = lug_choices(parts)
        whole = [part.pk for part in parts if part.code != TRIM]
        if whole:
            self.fields["parts"] = forms.ModelMultipleChoiceField(
                Part.objects.filter(pk__in=whole),
                label="Which parts? Only if it helps",
                widget=forms.CheckboxSelectMultiple,
                required=False,
            )


def lug_choices(parts: Sequence[Part]) -> list[tuple[str, str]]:
    """What may be in a lug: grind trim where there is something to grind, tenderloins where the animal has them."""
    ground = any(part.code == TRIM or any(c.is_grind for c in part.choices.all()) for part in parts)
    tenderloins = any(part.code == "tenderloin" for part in parts)
    offered = [
        (True, Contents.WHOLE_CUTS, "Whole cuts"),
        (ground, Contents.GRIND_TRIM, "Grind trim"),
        (tenderloins, Contents.TENDERLOINS, "Tenderloins"),
    ]
    return [(contents.value, words) for there, contents, words in offered if there]


class TagFiledForm(FloorForm):
    """Where the state tag is kept once the hock is off: one of the usual places, or elsewhere."""

    where = forms.CharField(
        label="Elsewhere: where?",
        max_length=60,
        required=False,
    )

    def clean_where(self) -> str:
        """What was typed, or else the place whose button was tapped."""
        where: str = self.cleaned_data["where"] or self.data.get("usual", "").strip()[:60]
        if not where:
            raise forms.ValidationError("Say where the tag is kept.", code="where_missing")
        return where


class FinishForm(WithReason):
    """Done; a reason is asked for where something is missing."""

    reasons = ("It was spoiled", "It was lost", "The hunter took it along", "It was recorded elsewhere")


class RequestForm(FloorForm):
    """The answer to a change that the hunter asked for."""

    answer = forms.CharField(label="A word to the hunter", max_length=160, required=False)


class FatForm(WeightForm):
    """Fat into the grinder."""

    kind = forms.ChoiceField(
        label="Which fat?",
        choices=[("pork", "Pork fat"), ("beef", "Beef fat")],
        widget=forms.RadioSelect,
        error_messages={"required": "Tap pork or beef."},
    )
    lot = forms.CharField(label="The supplier's lot", max_length=80, required=False)


class StationForm(FloorForm):
    """Which station this is, where the device does not say so."""

    station = forms.ModelChoiceField(Station.objects.filter(step__in=FLOOR_STEPS))


def first_place(places: Any, pk: str) -> Place | None:
    """The place of a posted id, if it is one of these."""
    return places.filter(pk=pk).first() if pk.isdecimal() and len(pk) < 10 else None
