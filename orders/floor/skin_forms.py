"""Forms of the skinning: what comes off, the tenderloins, bloodshot, and where the carcass hangs."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms

from orders.floor.forms import FloorForm, WeightForm, WithReason, place_field
from orders.floor.left_in import LATER, LEFT_IN, day_words, pull_by
from orders.intake.models import Region, Tenderloin
from orders.ledger.refusal import Refusal


class HangForm(WithReason, WeightForm):
    """The rail for a skinned carcass, its hanging weight, and why tenderloins stay in.

    That answer is tapped before this screen and carried along; it is asked here once hanging was refused without it.
    """

    reasons = ("The hunter changed their mind", "Left on the carcass on purpose", "It was spoiled")

    def __init__(self, *args: Any, places: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"] = place_field("Where does it hang?", places)
        self.today = today

    @property
    def left_in(self) -> str:
        """Why tenderloins stay in, of LEFT_IN; nothing while nobody has said so."""
        answer = str(self.data.get("left_in", "") or self.initial.get("left_in", ""))
        return answer if answer in LEFT_IN else ""

    @property
    def carried(self) -> dict[str, str]:
        return {"left_in": self.left_in} if self.left_in else {}

    def hear(self, refusal: Refusal | None) -> None:
        super().hear(refusal)
        if refusal is not None and refusal.field == "left_in":
            self.fields["left_in"] = forms.ChoiceField(
                label="Tenderloins still in", choices=left_in_choices(self.today), widget=forms.RadioSelect
            )
            self.order_fields(["left_in"])


def left_in_choices(today: date) -> list[tuple[str, str]]:
    """The ways to leave tenderloins in, as they are tapped: `Leave them in; pull them by Sat, Nov 28`."""
    return [
        (
            code,
            f"Leave them in; pull them by {day_words(pull_by(today))}"
            if code == LATER
            else f"Leave them in: {why}",
        )
        for code, why in LEFT_IN.items()
    ]


class TakeOffForm(WeightForm):
    """Something that comes off: kept with a tag of its own, or to waste."""

    keep = forms.ChoiceField(
        label="What happens to it?",
        choices=[("keep", "Keep it: tag it"), ("waste", "To waste")],
        widget=forms.RadioSelect,
        error_messages={"required": "Tap keep or waste."},
    )

    def __init__(self, *args: Any, can_keep: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not can_keep:
            keep = self.fields["keep"]
            assert isinstance(keep, forms.ChoiceField)
            keep.choices = [("waste", "To waste")]


class TenderloinForm(WeightForm):
    """Which tenderloins are pulled and bagged."""

    side = forms.ChoiceField(
        label="Which tenderloin is in this bag?",
        widget=forms.RadioSelect,
        error_messages={"required": "Tap left, right or both."},
    )

    def __init__(self, *args: Any, sides: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        side = self.fields["side"]
        assert isinstance(side, forms.ChoiceField)
        side.choices = side_choices(sides)


def side_choices(sides: list[str]) -> list[tuple[str, str]]:
    """Which of two sides, both first."""
    choices = [(side, side.capitalize()) for side in sides]
    return [("both", "Both, left and right"), *choices] if len(sides) == 2 else choices


def sides_of(answer: str) -> tuple[str, ...]:
    """The sides that a tapped answer means."""
    return ("left", "right") if answer == "both" else (answer,)


class FoundForm(FloorForm):
    """What is found of the tenderloins where they should be."""

    side = forms.ChoiceField(
        label="Which tenderloin?",
        widget=forms.RadioSelect,
        error_messages={"required": "Tap left, right or both."},
    )
    found = forms.ChoiceField(
        label="What is found there?",
        choices=[
            (Tenderloin.FIELD.value, "Not there: taken in the field"),
            (Tenderloin.DAMAGED.value, "Not there: shot or spoiled"),
            (Tenderloin.PRESENT.value, "There after all"),
        ],
        widget=forms.RadioSelect,
        error_messages={"required": "Tap what is found."},
    )

    def __init__(self, *args: Any, sides: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        side = self.fields["side"]
        assert isinstance(side, forms.ChoiceField)
        side.choices = side_choices(sides)


class BloodshotForm(WeightForm):
    """Where bloodshot meat was cut off."""

    region = forms.ChoiceField(
        label="Where was it cut off?",
        choices=Region.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Tap the region."},
    )
