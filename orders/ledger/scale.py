"""What was on the scale, checked before it is believed."""

from __future__ import annotations

from dataclasses import dataclass

from orders.ledger.refusal import Refusal
from shop.models import Species
from shop.weights import MAX_READING, Reading, format_mg


@dataclass(frozen=True, slots=True)
class OnScale:
    """One weighing as read: gross, tare in the same unit, and whether a doubtful weight was confirmed."""

    gross: Reading
    tare: Reading | None = None
    captured: bool = False
    nominal: bool = False
    confirmed: bool = False

    def net(self) -> tuple[Reading, Reading, Reading]:
        """Gross, tare and net with the same number of decimals.

        Raises Refusal `tare_unit`, `tare_above_gross`, `weight_zero`, `weight_negative` or `weight_impossible`.
        """
        tare = self.tare or Reading(0, self.gross.unit, self.gross.decimals)
        if tare.unit != self.gross.unit:
            raise Refusal("tare_unit", "Weigh the tare in the same unit as the gross weight.", "weight")
        if self.gross.value < 0 or tare.value < 0:
            raise Refusal(
                "weight_negative", "A weight cannot be negative. Zero the scale, weigh again.", "weight"
            )
        decimals = max(self.gross.decimals, tare.decimals)
        gross, tare = _rescale(self.gross, decimals), _rescale(tare, decimals)
        if tare.value > gross.value:
            raise Refusal(
                "tare_above_gross", f"The tare ({tare}) is more than the gross weight ({gross}).", "weight"
            )
        if gross.value == tare.value:
            raise Refusal(
                "weight_zero", "Nothing is on the scale. Weigh again, or tap “not weighed”.", "weight"
            )
        return gross, tare, Reading(gross.value - tare.value, gross.unit, decimals)


def _rescale(reading: Reading, decimals: int) -> Reading:
    value = reading.value * 10 ** (decimals - reading.decimals)
    if value > MAX_READING:
        raise Refusal("weight_impossible", "That is more than any scale here can show.", "weight")
    return Reading(reading.value * 10 ** (decimals - reading.decimals), reading.unit, decimals)


def check_species_limit(species: Species, mg: int, *, unit: str = "lb") -> None:
    """Refuse more than the species can weigh (`weight_impossible`)."""
    if mg > species.max_mg:
        said, limit = format_mg(mg, unit), format_mg(species.max_mg, unit, 0)
        raise Refusal(
            "weight_impossible", f"{said} cannot be: a {species.name.lower()} stays under {limit}.", "weight"
        )


def check_pool_limit(limit_mg: int, mg: int) -> None:
    """Refuse more than all animals that are ground together can weigh (`weight_impossible`)."""
    if mg > limit_mg:
        said, limit = format_mg(mg, "lb"), format_mg(limit_mg, "lb", 0)
        raise Refusal(
            "weight_impossible",
            f"{said} cannot be: all that is ground together stays under {limit}.",
            "weight",
        )


def one_division_mg(*readings: Reading) -> int:
    """The coarsest last digit among readings, in milligrams: two scales may differ by that much and both be right."""
    return max(Reading(1, reading.unit, reading.decimals).mg for reading in readings)


def check_species_weight(species: Species, mg: int, *, confirmed: bool, unit: str = "lb") -> None:
    """Refuse what the species cannot weigh (`weight_impossible`), and ask once about what it hardly weighs.

    `weight_doubtful` goes away when the same weight comes again with `confirmed`.
    """
    check_species_limit(species, mg, unit=unit)
    said = format_mg(mg, unit)
    if mg > species.doubt_mg and not confirmed:
        raise Refusal(
            "weight_doubtful",
            f"{said} is a lot for a {species.name.lower()}. Confirm it if it is right.",
            "weight",
        )
