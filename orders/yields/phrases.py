"""The sentences of the flags, as somebody in the trade would say them. Weights are whole milligrams."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from orders.yields.flags import AT_BLOCK, HANGING, LUGS, PACKED, GapFacts, Range
from orders.yields.spans import round_parts
from shop.weights import MG_PER_UNIT, mg_in

TO_WRAP = "to_wrap"
REGION_WORDS = {"hind": "hind leg", "gut": "paunch"}


@dataclass(frozen=True, slots=True)
class GapWords:
    """How a gap is said: `{}` stands for the weight. `loss` is what the work itself takes."""

    more_in: str
    more_out: str
    loss: str
    look: str


_GAPS = {
    (HANGING, AT_BLOCK): GapWords(
        "{} more hung than lay on the block",
        "{} more lay on the block than hung",
        "the usual drying",
        "Look at the cooler's fan and humidity, and check the rail scale.",
    ),
    (AT_BLOCK, LUGS): GapWords(
        "{} more lay on the block than came off it",
        "{} more came off the block than lay on it",
        "the usual drip",
        "Look for waste or a lug of this order that was not weighed at the block.",
    ),
    (LUGS, TO_WRAP): GapWords(
        "{} more left the block in lugs than came to the wrap table",
        "{} more came to the wrap table than left the block in lugs",
        "what stays in the lugs",
        "Look for meat of this order that is still in the cooler or on the grind rack.",
    ),
    (TO_WRAP, PACKED): GapWords(
        "{} more lay on the wrap table than went into packs",
        "{} more went into packs than lay on the wrap table",
        "what stays on the table",
        "Look for packs of this order without a weight, and check the tare of the wrap scale.",
    ),
}
_GRINDER = GapWords(
    "{} more went into the grinder than came out",
    "{} more came out of the grinder than went in",
    "the usual hang-up",
    "Look in the throat and hopper of the grinder, and at what was ground next: what hung up came out with it.",
)
_MORE_OUT = "Look for a tare that was not taken, and for another order's lug at the same table."


def amount(mg: int, unit: str) -> str:
    """A weight for a sentence: one decimal, two where one would show nothing."""
    return f"{number(mg, unit)} {unit}"


def number(mg: int, unit: str) -> str:
    """The same without its unit."""
    decimals = 2 if mg and abs(mg) < MG_PER_UNIT[unit] / 10 else 1
    return f"{mg_in(mg, unit, decimals)}"


def days(count: int) -> str:
    """“1 day”, “9 days”."""
    return f"{count} day" if count == 1 else f"{count} days"


def joined(words: Sequence[str]) -> str:
    """“the neck”, “the neck and the loin”, “the neck, the loin and the ribs”."""
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)


def hit_words(regions: Sequence[str]) -> str:
    """Where it was hit: “the shoulder and the ribs”."""
    return joined([f"the {REGION_WORDS.get(region, region)}" for region in regions])


def range_words(expected: Range, unit: str) -> str:
    """“41.0 to 55.3 lb, most likely 48.2”."""
    low, likely, high = (number(mg, unit) for mg in (expected.low_mg, expected.likely_mg, expected.high_mg))
    return f"{low} to {high} {unit}, most likely {likely}"


def gap_words(gap: GapFacts) -> GapWords:
    """The words of a gap between two points; plain ones for points that have none of their own."""
    if gap.ground:
        return _GRINDER
    start, end = gap.start_name.lower(), gap.end_name.lower()
    return _GAPS.get((gap.start, gap.end)) or GapWords(
        f"{{}} more was weighed at “{start}” than at “{end}”",
        f"{{}} more was weighed at “{end}” than at “{start}”",
        "the work itself",
        f"Look at both weighings, “{start}” and “{end}”, as they were typed.",
    )


def gap_reason(gap: GapFacts, missing_mg: int, besides: Sequence[str], unit: str) -> tuple[str, str]:
    """Why, and where to look next. The printed difference is what its printed parts and the flag's pounds add up to.

    `besides` names what is flagged on its own and was taken out of `missing_mg`.
    """
    words = gap_words(gap)
    if missing_mg < 0:
        total, scales, _ = _printed(-missing_mg, gap.scales_mg, 0, unit)
        said = f"{words.more_out.format(f'{total} {unit}')}; the scales explain {scales}."
        return _besides(said, besides), _MORE_OUT
    total, scales, loss = _printed(missing_mg, gap.scales_mg, gap.loss_mg, unit)
    said = f"{words.more_in.format(f'{total} {unit}')}; the scales explain {scales}, {words.loss} {loss}."
    return _besides(said, besides), words.look


def _printed(total_mg: int, scales_mg: int, loss_mg: int, unit: str) -> tuple[Decimal, Decimal, Decimal]:
    """Total, scales and loss to one decimal, so that what is left over is printed as it is on its own."""
    total, left = (mg_in(mg, unit) for mg in (total_mg, total_mg - scales_mg - loss_mg))
    scales, loss = round_parts([scales_mg, loss_mg], unit)
    over = total - left - scales - loss
    return (total, scales, loss + over) if loss_mg and loss >= scales else (total, scales + over, loss)


def _besides(sentence: str, besides: Sequence[str]) -> str:
    return f"Besides {joined(besides)}, {sentence}" if besides else sentence
