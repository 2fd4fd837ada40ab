"""Handing over, telling the hunter, closing."""

from __future__ import annotations

import json
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from orders.ledger.refusal import Refusal
from orders.pickup.actions import check_mark
from orders.pickup.queries import SHOW, Leaving
from orders.pickup.who import MayCollect
from orders.widgets import Radios
from shop.forms import HouseForm

HOW_TOLD = (
    ("by phone", "By phone"),
    ("by text message", "By text message"),
    ("by email", "By email"),
    ("left a message", "Left a message"),
    ("in person", "In person"),
)
VOUCHED_BY = (
    "the hunter said so on the phone",
    "a note from the hunter",
    "has the claim slip, ID seen",
)
SOMEBODY_ELSE = "somebody-else"
LONGEST_MARK = 200_000


class PickupFilter(HouseForm):
    show = forms.ChoiceField(
        label="Show",
        choices=[(code, words) for code, (words, _) in SHOW.items()],
        error_messages={"invalid_choice": "Choose one of the list."},
    )


class CollectorForm(HouseForm):
    """Who takes it: one of the names that were given to the shop, or somebody else, whom somebody vouches for.

    What is cleaned is `collector` and `vouched`, as the actions take them.
    """

    who = forms.ChoiceField(label="Who collects", required=False, widget=Radios)
    collector = forms.CharField(
        label="Name of somebody else",
        max_length=80,
        required=False,
        help_text="Of the person who stands here.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    vouched_by = forms.ChoiceField(
        label="How you know they may",
        required=False,
        choices=[(words, words) for words in VOUCHED_BY],
        widget=Radios,
        error_messages={"invalid_choice": "Choose one of these, or say it in words."},
    )
    vouched_note = forms.CharField(
        label="In words",
        max_length=80,
        required=False,
        help_text="Which ID was seen, say. It is kept, and printed on the receipt.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, *args: Any, may: MayCollect, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.may = may
        who = self.fields["who"]
        assert isinstance(who, forms.ChoiceField)
        who.choices = [*((name, name) for name in may.names), (SOMEBODY_ELSE, "Somebody else")]
        who.error_messages["invalid_choice"] = "Choose who collects it."
        if not may.names:
            who.initial = SOMEBODY_ELSE

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        who = typed.pop("who", "")
        said = [typed.pop("vouched_by", ""), typed.pop("vouched_note", "")]
        typed["vouched"] = "; ".join(part for part in said if part)
        if who == SOMEBODY_ELSE and not typed.get("collector") and "collector" not in self.errors:
            self.add_error("collector", ValidationError("Write down the name.", code="required"))
        elif who and who != SOMEBODY_ELSE:
            typed["collector"] = who
        return typed


class ReleaseForm(CollectorForm):
    """What leaves, with whom, and the mark; cleaned, they are the facts of `release`. The ticks are the pieces' ids."""

    pieces = forms.TypedMultipleChoiceField(label="What leaves now", coerce=int, required=False)
    scan = forms.CharField(
        label="Scan each box",
        required=False,
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "off", "inputmode": "numeric"}),
    )
    mark = forms.CharField(required=False, widget=forms.HiddenInput, max_length=LONGEST_MARK)
    initials = forms.CharField(
        label="Initials",
        max_length=12,
        required=False,
        help_text="Typed by the collector, where nothing is drawn.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    owed_confirmed = forms.BooleanField(label="Hand over though money is owed", required=False)

    def __init__(self, *args: Any, offered: list[Leaving], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offered = offered
        field = self.fields["pieces"]
        assert isinstance(field, forms.TypedMultipleChoiceField)
        field.choices = [(each.piece.pk, each.words) for each in offered]
        field.error_messages["invalid_choice"] = "Something that was ticked has left already. Look again."

    @property
    def ticked(self) -> set[int]:
        """Ids that are ticked, as they were posted."""
        if not self.is_bound:
            return set()
        return {int(each) for each in self.data.getlist("pieces") if each.isascii() and each.isdigit()}  # type: ignore[attr-defined]

    def clean_mark(self) -> list[Any]:
        typed = self.cleaned_data["mark"]
        if not typed:
            return []
        try:
            strokes = json.loads(typed)
        except (ValueError, RecursionError):
            strokes = None
        try:
            return check_mark(strokes if isinstance(strokes, list) else [None])
        except Refusal as refusal:
            raise ValidationError(refusal.sentence, code=refusal.code) from refusal

    def clean(self) -> dict[str, Any]:
        typed = super().clean()
        typed.pop("scan", "")
        if "pieces" in typed:
            keys = set(typed["pieces"])
            typed["pieces"] = tuple(each.piece for each in self.offered if each.piece.pk in keys)
        return typed


class NotifyForm(HouseForm):
    how = forms.ChoiceField(
        label="How", choices=HOW_TOLD, error_messages={"invalid_choice": "Choose how the hunter was told."}
    )


class HaulForm(HouseForm):
    where = forms.CharField(
        label="Who hauls it, or the ticket's number",
        max_length=120,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Say who hauls it, or the ticket's number."},
    )


class HandBackForm(CollectorForm):
    """What is left of an animal that was refused or spoiled goes back to somebody."""

    initials = forms.CharField(
        label="Initials",
        max_length=12,
        help_text="Typed by the person who takes it.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Whoever takes it back types initials."},
    )


class ReopenForm(HouseForm):
    reason = forms.CharField(
        label="Why it is opened again",
        max_length=160,
        error_messages={"required": "Say why; the reason is kept."},
    )


class CloseForm(HouseForm):
    reason = forms.CharField(
        label="Reason",
        max_length=200,
        required=False,
        help_text="Needed while anything is here or owed: unclaimed and given away, say. It is kept.",
    )
