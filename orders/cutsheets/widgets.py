"""One part's answers on the page, and the radio buttons that say which details they ask for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from orders.cutsheets.rules import Offer
from shop.models import Choice


def wants(choice: Choice) -> str:
    """The details that a choice asks for, as words for the page's script. Ground meat is asked about once for all."""
    asked = {
        "thickness": choice.wants_thickness,
        "pieces": choice.wants_pieces,
        "pack": choice.wants_pack and not choice.is_grind,
        "grind": choice.is_grind,
    }
    return " ".join(word for word, asks in asked.items() if asks)


class ChoiceTiles(forms.RadioSelect):
    """Radio buttons that say which details they ask for."""

    wanted: dict[str, str]

    def create_option(self, name: str, value: Any, *args: Any, **kwargs: Any) -> dict[str, Any]:
        option = super().create_option(name, value, *args, **kwargs)
        option["attrs"]["data-wants"] = self.wanted.get(str(value), "")
        return option


class ChoiceList(forms.Select):
    """The same as a list, for the second half of a split."""

    wanted: dict[str, str]

    def create_option(self, name: str, value: Any, *args: Any, **kwargs: Any) -> dict[str, Any]:
        option = super().create_option(name, value, *args, **kwargs)
        option["attrs"]["data-wants"] = self.wanted.get(str(value), "")
        return option


@dataclass(frozen=True, slots=True)
class Row:
    """One part on the page."""

    offer: Offer
    choice: BoundField
    thickness: BoundField
    pieces: BoundField
    pack: BoundField
    note: BoundField
    house: BoundField
    second: BoundField
    share: BoundField
    second_thickness: BoundField
    second_pieces: BoundField
    second_pack: BoundField
    is_house: bool
    is_split: bool
