"""Plausible weights for an invented animal, consistent from the door to the last pack.

All in hundredths of a pound, as integers. Shares are taken around the catalog's yield figures (hanging of dressed,
lean of hanging), so that the demo's yields agree with what its screens expect.
"""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

# Field-dressed weight in pounds, feet on: young, adult female, adult male. From memory.
DRESSED: dict[str, tuple[tuple[int, int], tuple[int, int], tuple[int, int]]] = {
    "white-tailed-deer": ((48, 72), (84, 118), (118, 172)),
    "mule-deer": ((52, 78), (95, 130), (130, 195)),
    "pronghorn": ((44, 60), (66, 82), (74, 96)),
    "elk": ((150, 210), (300, 370), (400, 510)),
    "moose": ((260, 330), (460, 560), (560, 700)),
    "black-bear": ((70, 100), (110, 170), (150, 260)),
    "wild-boar": ((55, 90), (95, 150), (110, 210)),
}
# One bird as it was shot, in hundredths of a pound. From memory.
BIRD: dict[str, tuple[int, int]] = {
    "mallard": (220, 320),
    "canada-goose": (700, 1200),
    "wild-turkey": (950, 2100),
    "ring-necked-pheasant": (200, 320),
}
# What is made of a bird, of its weight as it was shot, in basis points: common practice, no source.
OF_BIRD_BP = {
    "plucked-whole": (6400, 7000),
    "skinned-whole": (5600, 6200),
    "plucked-halved": (6300, 6900),
    "breast-fillets": (2000, 2500),
    "breast-on-bone": (3000, 3400),
    "jerky-strips": (1900, 2300),
    "ground": (1900, 2300),
    "loose-legs": (1000, 1250),
}
HANGING_BP = {"moose": (6300, 7300), "black-bear": (7000, 7900), "wild-boar": (7000, 7900)}
USUAL_HANGING_BP = (7400, 8150)
LEAN_BP = {"elk": (5600, 6300), "moose": (5600, 6400), "black-bear": (4800, 5900), "wild-boar": (5000, 6000)}
USUAL_LEAN_BP = (5300, 6000)
DRYING_PER_DAY_BP = (20, 36)
# Shares of a carcass in quarters, in thousandths: common practice, no source.
QUARTERS = (
    ("hind-quarter-left", 245),
    ("hind-quarter-right", 245),
    ("front-quarter-left", 175),
    ("front-quarter-right", 175),
    ("bag-backstrap", 80),
    ("bag-tenderloin", 15),
    ("bag-neck", 65),
)


@dataclass(frozen=True, slots=True)
class Pounds:
    """One animal, in hundredths of a pound."""

    received: int
    bloodshot: int
    hanging: int
    at_block: int
    tenderloins: int
    whole: int
    trim: int
    bone: int


def tenths(hundredths: int) -> int:
    """Rounded to a tenth, as a hanging scale shows it."""
    return hundredths // 10 * 10


def share(whole: int, rng: Random, low_bp: int, high_bp: int) -> int:
    """A share of `whole` between two limits in basis points."""
    return whole * rng.randint(low_bp, high_bp) // 10_000


def of_animal(
    rng: Random, species: str, *, sex: str, young: bool, days: int, hit_hard: bool, all_ground: bool
) -> Pounds:
    """The weights of one animal that hangs for so many days."""
    ranges = DRESSED[species]
    low, high = ranges[0] if young else ranges[2 if sex == "male" else 1]
    received = rng.randint(low * 10, high * 10) * 10
    bloodshot = tenths(share(received, rng, 150, 400)) if hit_hard else 0
    hanging = tenths(share(received - bloodshot, rng, *HANGING_BP.get(species, USUAL_HANGING_BP)))
    at_block = tenths(hanging - hanging * days * rng.randint(*DRYING_PER_DAY_BP) // 10_000 - 10)
    lean = share(at_block, rng, *LEAN_BP.get(species, USUAL_LEAN_BP))
    lean -= share(lean, rng, 300, 1100)
    tenderloins = max(share(lean, rng, 150, 230), 40)
    whole = 0 if all_ground else share(lean, rng, 4000, 5200)
    trim = lean - tenderloins - whole
    bone = tenths(at_block - lean - share(at_block, rng, 150, 500))
    return Pounds(received, bloodshot, hanging, at_block, tenderloins, whole, trim, bone)


def of_birds(rng: Random, species: str, count: int) -> Pounds:
    """A lot of birds in its bag: what is made of them is known only once they are cut."""
    bag = tenths(sum(rng.randint(*BIRD[species]) for _ in range(count)))
    return Pounds(bag, 0, bag, bag, 0, 0, 0, 0)


def packs(rng: Random, whole: int, low: int, high: int, most: int = 80) -> list[int]:
    """Split a lug into packs between two weights; what is left over below the lower one goes into the last.

    A little less than came is packed: the rest is drip, and what stays on the knife.
    """
    found: list[int] = []
    left = whole - share(whole, rng, 20, 110)
    while left >= low and len(found) < most:
        take = min(rng.randint(low, high), left)
        found.append(take)
        left -= take
    if found:
        found[-1] += left
    return found or ([left] if left > 20 else [])
