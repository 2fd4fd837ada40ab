"""The cut sheet as a form: one row for each part that the animal brought."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from orders.cutsheets.actions import WHOLE_BP, WRAPS, check_lines
from orders.cutsheets.rules import LineFacts, Offer, house_line
from orders.cutsheets.widgets import ChoiceList, ChoiceTiles, Row, wants
from orders.cutsheets.words import (
    COMMON_16THS,
    pack_words,
    percent_figure,
    read_pack,
    thickness_words,
)
from orders.ledger.refusal import Refusal
from shop.forms import HouseForm
from shop.models import Choice
from shop.weights import WeightError

WRAP_WORDS = {"vacuum": "Vacuum", "paper": "Freezer paper"}
FATS = [("pork", "Pork fat"), ("beef", "Beef fat")]
HALF = "50"
TRIM = "grind-trim"
SHARE_ERRORS = ("invalid", "max_digits", "max_decimal_places", "max_whole_digits")
THICKNESSES = [(str(each), thickness_words(each)) for each in COMMON_16THS]


@dataclass(frozen=True, slots=True)
class Grind:
    """What concerns all ground meat of an animal: fat in basis points, its kind, pack size in ounces."""

    fat_bp: int = 0
    fat_kind: str = ""
    pack_oz: int | None = None


PLAIN = Grind(pack_oz=16)


def grind_of(lines: Iterable[LineFacts]) -> Grind:
    """The grind as lines say it: the line of the grind trim before that of any other part."""
    ground = [line for line in lines if line.choice.is_grind]
    ground.sort(key=lambda line: (line.part.code != TRIM, not line.fat_bp))
    if not ground:
        return Grind()
    return Grind(ground[0].fat_bp, ground[0].fat_kind if ground[0].fat_bp else "", ground[0].pack_oz)


class CutSheetForm(HouseForm):
    """`start` are the lines that it begins with; `lines` are the chosen ones once the form is valid."""

    wrap = forms.ChoiceField(
        label="Wrap",
        choices=[(code, WRAP_WORDS[code]) for code in WRAPS],
        widget=forms.RadioSelect,
        initial="vacuum",
    )
    note = forms.CharField(
        label="Note for the block", max_length=80, required=False, help_text="Shown loud to the cutter."
    )
    grind_fat = forms.DecimalField(
        label="Fat added, %",
        required=False,
        min_value=0,
        max_value=50,
        max_digits=4,
        decimal_places=2,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        error_messages={
            "invalid": "Fat is a percentage: 10, or 12.5.",
            "max_value": "Added fat is half of the grind at most.",
            "min_value": "Added fat is a percentage from 0 up.",
            "max_digits": "Fat is a percentage: 10, or 12.5.",
            "max_decimal_places": "Fat is a percentage with two decimals at most.",
            "max_whole_digits": "Added fat is half of the grind at most.",
        },
    )
    grind_fat_kind = forms.ChoiceField(label="Which fat", required=False, choices=[("", "-"), *FATS])
    grind_pack = forms.CharField(
        label="Pack size",
        max_length=20,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        help_text="1 lb, 12 oz, 1 lb 8 oz.",
    )
    based_on = forms.IntegerField(required=False, min_value=0, max_value=32_000, widget=forms.HiddenInput)

    def __init__(
        self,
        data: Any = None,
        *,
        offers: list[Offer],
        start: list[LineFacts],
        wrap: str = "vacuum",
        note: str = "",
        based_on: int = 0,
    ) -> None:
        grind = grind_of(start)
        initial: dict[str, Any] = {"wrap": wrap, "note": note, "based_on": based_on}
        initial["grind_fat"] = percent_figure(grind.fat_bp)
        initial["grind_fat_kind"] = grind.fat_kind
        initial["grind_pack"] = pack_words(grind.pack_oz) if grind.pack_oz else "1 lb"
        super().__init__(data, initial=initial)
        self.offers = {offer.part.code: offer for offer in offers}
        self.lines: tuple[LineFacts, ...] = ()
        by_part: dict[str, list[LineFacts]] = {}
        for line in start:
            by_part.setdefault(line.part.code, []).append(line)
        for code, offer in self.offers.items():
            self._add_fields(code, offer)
            self._start_with(code, by_part.get(code) or [house_line(offer)])

    # --- what is asked ----------------------------------------------------------------------------------------

    def _add_fields(self, code: str, offer: Offer) -> None:
        name = offer.part.name
        listed = [(str(choice.pk), choice.name) for choice in offer.choices]
        wanted = {str(choice.pk): wants(choice) for choice in offer.choices}
        tiles, second = ChoiceTiles(), ChoiceList()
        tiles.wanted = second.wanted = wanted
        self.fields[code] = forms.ChoiceField(
            label=name,
            choices=listed,
            widget=tiles,
            error_messages={
                "required": f"{name}: choose what is made of it.",
                "invalid_choice": f"{name} cannot be made into that here.",
            },
        )
        self.fields[f"{code}__note"] = forms.CharField(label=f"Note, {name}", max_length=80, required=False)
        self.fields[f"{code}__house"] = forms.BooleanField(required=False, widget=forms.HiddenInput)
        self.fields[f"{code}__second"] = forms.ChoiceField(
            label=f"The rest of it, {name}",
            choices=[("", "no split"), *listed],
            widget=second,
            required=False,
            error_messages={"invalid_choice": f"{name} cannot be made into that here."},
        )
        self.fields[f"{code}__share"] = forms.DecimalField(
            label=f"Share of the rest in %, {name}",
            required=False,
            max_digits=5,
            decimal_places=2,
            widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
            error_messages=dict.fromkeys(SHARE_ERRORS, "A share is a percentage between 1 and 99."),
        )
        for prefix in (f"{code}__", f"{code}__second_"):
            self._add_details(prefix, name)

    def _add_details(self, prefix: str, name: str) -> None:
        self.fields[f"{prefix}thickness"] = forms.ChoiceField(
            label=f"Thickness, {name}", choices=[("", "-"), *THICKNESSES], required=False
        )
        self.fields[f"{prefix}pieces"] = forms.IntegerField(
            label=f"In a pack, {name}",
            required=False,
            widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
            error_messages={"invalid": "How many in a pack is a whole number."},
        )
        self.fields[f"{prefix}pack"] = forms.CharField(
            label=f"Pack size, {name}",
            max_length=20,
            required=False,
            widget=forms.TextInput(attrs={"autocomplete": "off"}),
        )

    def _add_thickness(self, prefix: str, uncommon: tuple[str, str]) -> None:
        """Offer a thickness that a ruler does not show but an older sheet has."""
        field = self.fields[f"{prefix}thickness"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [("", "-"), *THICKNESSES, uncommon]

    def _start_with(self, code: str, lines: list[LineFacts]) -> None:
        first, second = lines[0], lines[1] if len(lines) > 1 else None
        self.initial[code] = str(first.choice.pk)
        self.initial[f"{code}__note"] = first.note
        self.initial[f"{code}__house"] = first.from_house and second is None
        self._start_details(f"{code}__", first)
        self.initial[f"{code}__share"] = HALF
        if second is not None:
            self.initial[f"{code}__second"] = str(second.choice.pk)
            self.initial[f"{code}__share"] = percent_figure(WHOLE_BP - first.share_bp)
            self._start_details(f"{code}__second_", second)

    def _start_details(self, prefix: str, line: LineFacts) -> None:
        if line.thickness_16ths:
            value = str(line.thickness_16ths)
            if line.thickness_16ths not in COMMON_16THS:
                self._add_thickness(prefix, (value, thickness_words(line.thickness_16ths)))
            self.initial[f"{prefix}thickness"] = value
        self.initial[f"{prefix}pieces"] = line.pieces_per_pack
        self.initial[f"{prefix}pack"] = pack_words(line.pack_oz) if line.pack_oz else ""

    def rows(self) -> list[Row]:
        """The parts as the page shows them."""
        found = []
        for code, offer in self.offers.items():
            named = {
                name: self[f"{code}__{name}"] for name in Row.__slots__ if f"{code}__{name}" in self.fields
            }
            split = bool(named["second"].value())
            house = str(named["house"].value()) in ("True", "1", "on")
            found.append(Row(offer=offer, choice=self[code], is_house=house, is_split=split, **named))
        return found

    # --- what was answered ------------------------------------------------------------------------------------

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        grind = self._grind(typed)
        found: list[LineFacts] = []
        ground: list[LineFacts] = []
        told_by = self._told_by(typed)
        for code, offer in self.offers.items():
            lines = self._lines(code, offer, typed, grind if code == told_by else PLAIN)
            ground += [line for line in lines if line.choice.is_grind]
            if typed.get(f"{code}__house") and _is_house(lines, offer):
                continue
            self._check(code, offer, lines)
            found += lines
        self._check_grind(grind, ground)
        self.lines = tuple(found)
        return typed

    def _grind(self, typed: dict[str, Any]) -> Grind:
        fat_bp = int((typed.get("grind_fat") or Decimal(0)) * 100)
        pack = self._pack("grind_pack", typed.get("grind_pack") or "")
        return Grind(fat_bp, typed.get("grind_fat_kind", "") if fat_bp else "", pack)

    def _told_by(self, typed: dict[str, Any]) -> str:
        """The part whose line says how the grind is made: grind trim, else the first part that is ground."""
        ground = []
        for code, offer in self.offers.items():
            choices = {str(choice.pk): choice for choice in offer.choices}
            chosen = [choices.get(typed.get(name, "")) for name in (code, f"{code}__second")]
            if any(choice is not None and choice.is_grind for choice in chosen):
                ground.append(code)
        return TRIM if TRIM in ground else next(iter(ground), "")

    def _check_grind(self, grind: Grind, ground: list[LineFacts]) -> None:
        if not ground:
            return
        if grind.fat_bp and not grind.fat_kind:
            said = "Say which fat is added: pork or beef."
            self.add_error("grind_fat_kind", ValidationError(said, code="fat_kind_missing"))
        if not any(line.choice.wants_pack for line in ground) or "grind_pack" in self.errors:
            return
        if not (grind.pack_oz and 4 <= grind.pack_oz <= 400):
            said = "Ground meat: say the pack size, from 1/4 to 25 lb."
            self.add_error("grind_pack", ValidationError(said, code="pack_missing"))

    def _lines(self, code: str, offer: Offer, typed: dict[str, Any], grind: Grind) -> list[LineFacts]:
        choices = {str(choice.pk): choice for choice in offer.choices}
        first = choices.get(typed.get(code, ""))
        if first is None:
            return []
        second = choices.get(typed.get(f"{code}__second", ""))
        share = self._share(code, typed) if second else 0
        lines = [self._line(f"{code}__", offer, first, WHOLE_BP - share, typed, grind)]
        if second is not None:
            lines.append(self._line(f"{code}__second_", offer, second, share, typed, grind))
        return lines

    def _line(
        self, prefix: str, offer: Offer, choice: Choice, share_bp: int, typed: dict[str, Any], grind: Grind
    ) -> LineFacts:
        pack = grind.pack_oz if choice.is_grind else None
        if choice.wants_pack and not choice.is_grind:
            pack = self._pack(f"{prefix}pack", typed.get(f"{prefix}pack") or "")
        thickness = typed.get(f"{prefix}thickness")
        return LineFacts(
            part=offer.part,
            choice=choice,
            share_bp=share_bp,
            thickness_16ths=int(thickness) if thickness and choice.wants_thickness else None,
            pieces_per_pack=typed.get(f"{prefix}pieces") if choice.wants_pieces else None,
            pack_oz=pack if choice.wants_pack else None,
            fat_bp=grind.fat_bp if choice.is_grind else 0,
            fat_kind=grind.fat_kind if choice.is_grind else "",
            note=(typed.get(f"{prefix}note") or "").strip(),
        )

    def _share(self, code: str, typed: dict[str, Any]) -> int:
        field = f"{code}__share"
        share = typed.get(field)
        if field in self.errors:
            return WHOLE_BP // 2
        if share is None or not 1 <= share <= 99:
            said = "A share is a percentage between 1 and 99."
            self.add_error(field, ValidationError(said, code="share_wrong"))
            return WHOLE_BP // 2
        return int(share * 100)

    def _pack(self, field: str, typed: str) -> int | None:
        if not typed.strip() or field in self.errors:
            return None
        try:
            return read_pack(typed)
        except WeightError as error:
            self.add_error(field, ValidationError(str(error), code="pack_unreadable"))
            return None

    def _check(self, code: str, offer: Offer, lines: list[LineFacts]) -> None:
        """The action's own rules, part by part, so that every wrong part is named at once."""
        if not lines or any(field in self.errors for field in self.fields if field.startswith(f"{code}__")):
            return
        # What concerns the grind is said once, beside the grind.
        whole = [line for line in lines if not line.choice.is_grind]
        try:
            check_lines(
                lines if len(whole) == len(lines) else _with_plain_grind(lines), {offer.part.pk: offer}
            )
        except Refusal as refusal:
            self.add_error(code, ValidationError(refusal.sentence, code=refusal.code))


def _with_plain_grind(lines: list[LineFacts]) -> list[LineFacts]:
    """The lines with a grind that nothing is wrong with."""
    return [
        replace(line, fat_bp=0, fat_kind="", pack_oz=16) if line.choice.is_grind else line for line in lines
    ]


def _is_house(lines: list[LineFacts], offer: Offer) -> bool:
    """Whether a part's answer is what the house does with it anyway."""
    if len(lines) != 1:
        return False
    line, house = lines[0], house_line(offer)
    choice = line.choice
    return (
        choice == house.choice
        and not line.note
        and (line.fat_bp, line.fat_kind) == (house.fat_bp, house.fat_kind if house.fat_bp else "")
        and (not choice.wants_thickness or line.thickness_16ths == house.thickness_16ths)
        and (not choice.wants_pieces or line.pieces_per_pack == house.pieces_per_pack)
        and (not choice.wants_pack or line.pack_oz == house.pack_oz)
    )


class ChangeForm(HouseForm):
    text = forms.CharField(
        label="What the hunter asks for",
        max_length=160,
        error_messages={"required": "Write down what the hunter asks for."},
    )
