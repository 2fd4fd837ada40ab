"""The counter's forms: season, hunter, order, weights, pieces, tag, holds, endings."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q, QuerySet

from orders.intake.arrival import IN_PIECES, last_place
from orders.intake.asked import has_antlers
from orders.intake.facts import HunterFacts, phone_e164, phone_shown
from orders.intake.models import Animal, ArrivedAs, Contact, Order, State
from orders.intake.queries import NEEDS
from orders.ledger.models import HoldKind
from orders.ledger.refusal import Refusal
from orders.ledger.scale import OnScale
from orders.widgets import Radios
from shop.forms import HouseForm
from shop.models import NoTagReason, PieceForm, Place, PlaceKind
from shop.places import shop_settings
from shop.weights import Reading, WeightError, parse_reading

DATE = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
MAX_NUMBER = 12


def receiving_places() -> QuerySet[Place]:
    """Where something that has just come in can be put: the counter, cold places, hooks."""
    kinds = [PlaceKind.COUNTER, PlaceKind.RAIL, PlaceKind.RACK, PlaceKind.FREEZER, PlaceKind.HOOK]
    return Place.objects.filter(kind__in=kinds)


def usual_place() -> Place | None:
    """The counter's own place, where a thing is when nothing else is said."""
    counter = Place.objects.filter(kind=PlaceKind.COUNTER).order_by("id")
    return counter.first() or receiving_places().first()


class SeasonForm(HouseForm):
    name = forms.CharField(label="Name", max_length=40, help_text="Say: 2026-27.")
    short = forms.CharField(
        label="Leads the order numbers",
        max_length=4,
        help_text="Up to four letters or digits: 26 makes 26-0001.",
    )
    starts_on = forms.DateField(label="First day", widget=DATE)
    ends_on = forms.DateField(label="Last day", widget=DATE, help_text="It may lie in the next year.")


class SearchForm(HouseForm):
    q = forms.CharField(label="Number, name, phone or tag", max_length=60, required=False)
    state = forms.ChoiceField(label="State", required=False, choices=[("", "Any"), *State.choices])
    needs = forms.ChoiceField(label="Needs", required=False, choices=[("", "Anything"), *NEEDS.items()])


class FindHunterForm(HouseForm):
    hunter = forms.CharField(
        label="Phone number or name",
        max_length=80,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )


class HunterForm(HouseForm):
    """A new hunter, or the corrected facts of `known`."""

    name = forms.CharField(
        label="Name", max_length=80, error_messages={"required": "Write down the hunter's name."}
    )
    phone = forms.CharField(
        label="Phone",
        max_length=40,
        required=False,
        help_text="Read it back digit by digit.",
        widget=forms.TextInput(attrs={"type": "tel", "autocomplete": "off"}),
    )
    email = forms.EmailField(label="Email", max_length=254, required=False)
    address = forms.CharField(
        label="Address", max_length=200, required=False, help_text="The register asks for it."
    )
    license_no = forms.CharField(label="License number", max_length=40, required=False)
    another = forms.BooleanField(label="This is another person with the same number", required=False)

    def __init__(self, *args: Any, known: Contact | None = None, **kwargs: Any) -> None:
        if known is not None:
            kwargs.setdefault("initial", {})
            for name in ("name", "email", "address", "license_no"):
                kwargs["initial"].setdefault(name, getattr(known, name))
            kwargs["initial"].setdefault("phone", phone_shown(known.phone))
        super().__init__(*args, **kwargs)
        self.known = known
        self.twins: list[Contact] = []

    def clean_phone(self) -> str:
        typed: str = self.cleaned_data["phone"]
        try:
            phone_e164(typed, shop_settings().region)
        except Refusal as refusal:
            raise ValidationError(refusal.sentence, code=refusal.code) from None
        return typed

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        phone = phone_e164(facts.get("phone") or "", shop_settings().region)
        if phone and self.known is None and not facts.get("another"):
            self.twins = list(Contact.objects.filter(phone=phone).order_by("-id")[:5])
        if self.twins:
            names = " and ".join(twin.name for twin in self.twins)
            said = f"This is {names}'s number already: pick them below, or say that it is another person."
            self.add_error("phone", ValidationError(said, code="phone_known"))
        return facts

    def facts(self) -> HunterFacts:
        """What was typed, once the form is valid."""
        return HunterFacts(
            **{name: value for name, value in self.cleaned_data.items() if name in HunterFacts.__slots__}
        )


class OrderForm(HouseForm):
    dropped_off_by = forms.CharField(
        label="Dropped off by", max_length=80, required=False, help_text="Empty: the hunter."
    )
    may_collect = forms.CharField(
        label="May collect",
        max_length=160,
        required=False,
        help_text="Besides the hunter: full names, with commas between them.",
    )
    note = forms.CharField(label="Note", max_length=80, required=False, help_text="Shown loud on the floor.")
    promised_on = forms.DateField(label="Promised for", required=False, widget=DATE)
    rush = forms.BooleanField(label="Rush", required=False)
    grind_together = forms.BooleanField(label="Grind the animals of this order together", required=False)

    def __init__(self, *args: Any, order: Order | None = None, **kwargs: Any) -> None:
        if order is not None:
            kwargs["initial"] = {name: getattr(order, name) for name in self.base_fields}
        super().__init__(*args, **kwargs)


class WeightForm(HouseForm):
    """A weight as typed, or the word that it was not weighed. `on_scale` has it once the form is valid."""

    weight = forms.CharField(
        label="Weight",
        max_length=24,
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    tare = forms.CharField(
        label="Tare",
        max_length=24,
        required=False,
        help_text="Hook, tub or bag.",
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    not_weighed = forms.BooleanField(label="Not weighed", required=False)
    confirmed = forms.BooleanField(label="Yes, that weight is right", required=False)

    on_scale: OnScale | None = None

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        unit = shop_settings().unit
        self.fields["weight"].help_text = f"In {unit}, or with its unit: 12 lb 4 oz, 48.2 kg."

    @property
    def asks_to_confirm(self) -> bool:
        """Whether a doubtful weight has to be confirmed: the box is shown after the refusal only."""
        errors = self.errors.as_data().get("weight", []) if self.is_bound else []
        return any(error.code == "weight_doubtful" for error in errors) or bool(self.data.get("confirmed"))

    def wants_weight(self) -> bool:
        """Whether the weight has to be answered here."""
        return True

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        typed, tare = facts.get("weight") or "", facts.get("tare") or ""
        if not self.wants_weight():
            return facts
        if facts.get("not_weighed"):
            if typed:
                said = "A weight is typed and “not weighed” is ticked: leave one of the two."
                self.add_error("weight", ValidationError(said, code="weight_twice"))
            return facts
        gross = self._reading("weight", typed) if "weight" not in self.errors else None
        empty = self._reading("tare", tare) if tare else None
        if gross is not None:
            self.on_scale = OnScale(gross, empty, confirmed=bool(facts.get("confirmed")))
        return facts

    def _reading(self, field: str, typed: str) -> Reading | None:
        try:
            return parse_reading(typed, shop_settings().unit)
        except WeightError as error:
            self.add_error(field, ValidationError(str(error), code="weight_unreadable"))
            return None


class WeighOnlyForm(WeightForm):
    """The weight of a piece that is here already: there is nothing to say but the weight."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["not_weighed"]

    def for_action(self) -> dict[str, Any]:
        """What `weigh_received` takes, once the form is valid."""
        return {"weight": self.on_scale}


class PieceAddForm(WeightForm):
    form = forms.ModelChoiceField(
        label="What it is",
        queryset=PieceForm.objects.none(),
        empty_label=None,
        widget=Radios,
        error_messages={"required": "Choose what it is."},
    )
    place = forms.ModelChoiceField(label="Where it is put", queryset=Place.objects.none(), empty_label=None)

    def __init__(self, *args: Any, animal: Animal, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offered = PieceForm.objects.filter(bring_in=True, is_whole=False)
        if animal.arrived_as not in IN_PIECES:
            offered = offered.filter(is_kept_part=True)
        elif animal.arrived_as != ArrivedAs.PIECES:
            offered = offered.filter(Q(is_boneless=True) | Q(is_kept_part=True))
        if not has_antlers(animal.species):
            offered = offered.exclude(code="antlers")
        choice = self.fields["form"]
        place = self.fields["place"]
        assert isinstance(choice, forms.ModelChoiceField)
        assert isinstance(place, forms.ModelChoiceField)
        choice.queryset = offered
        place.queryset = receiving_places()
        # An elk's quarters go to one rail: the next piece begins where the last one was put.
        self.initial.setdefault("place", last_place(animal) or usual_place())

    def for_action(self) -> dict[str, Any]:
        """What `bring_piece` takes, once the form is valid."""
        return {
            "form": self.cleaned_data["form"],
            "place": self.cleaned_data["place"],
            "weight": self.on_scale,
        }


class TagFields(HouseForm):
    """The tag, or a reason that the shop allows where there is none."""

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
    )


class TagForm(TagFields):
    """The tag of an animal that is here."""

    def __init__(self, *args: Any, animal: Animal, **kwargs: Any) -> None:
        kwargs["initial"] = {"tag_no": animal.tag_no, "no_tag_reason": animal.no_tag_reason_id}
        super().__init__(*args, **kwargs)
        if animal.species.is_bird:
            # No reason makes up for the tag.
            del self.fields["no_tag_reason"]
        elif animal.no_tag_reason_id:
            # A reason that the shop has given up since stays readable where it was used.
            field = self.fields["no_tag_reason"]
            assert isinstance(field, forms.ModelChoiceField)
            field.queryset = NoTagReason.objects.filter(Q(active=True) | Q(pk=animal.no_tag_reason_id))


class HoldForm(HouseForm):
    kind = forms.ChoiceField(label="Held for", choices=HoldKind.choices)
    note = forms.CharField(label="Note", max_length=160, required=False)


class ReleaseForm(HouseForm):
    note = forms.CharField(
        label="Why it is released",
        max_length=160,
        help_text="Say: test came back, not detected.",
        error_messages={"required": "Say why it is released; the reason is kept."},
    )


class ReasonForm(HouseForm):
    reason = forms.CharField(
        label="Why", max_length=160, error_messages={"required": "Say why; the reason is kept."}
    )


class EndForm(ReasonForm):
    ending = forms.ChoiceField(
        label="How it ends",
        choices=[
            ("refused", "Refused at the door"),
            ("spoiled", "Spoiled"),
            ("void", "Written down by mistake"),
        ],
        widget=Radios,
        error_messages={"required": "Choose how it ends."},
    )
    field_order = ("ending", "reason")


class PickForm(HouseForm):
    contact = forms.ModelChoiceField(
        queryset=Contact.objects.all(),
        widget=forms.HiddenInput,
        error_messages={
            "required": "Pick the hunter.",
            "invalid_choice": "This hunter is not known any more.",
        },
    )


class FiledForm(HouseForm):
    where = forms.CharField(
        label="Where the tag is kept",
        max_length=60,
        help_text="Once it is off the animal: say, envelope 12.",
        error_messages={"required": "Say where the tag is kept."},
    )
