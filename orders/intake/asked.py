"""What is asked about an animal: what its species, or one that came in that way, cannot have is left out."""

from __future__ import annotations

from collections.abc import Iterable

from orders.intake.models import ArrivedAs
from shop.models import Species

CARCASS = (ArrivedAs.WHOLE, ArrivedAs.SKINNED)
# What only an animal that came in these ways can have; everything else is asked of all.
ONLY_OF = {
    "weight_basis": (ArrivedAs.WHOLE,),
    "tenderloin_left": CARCASS,
    "tenderloin_right": CARCASS,
    "keep_head": (ArrivedAs.WHOLE,),
    "keep_cape": (ArrivedAs.WHOLE,),
    "keep_hide": (ArrivedAs.WHOLE,),
    "keep_organs": CARCASS,
    "bird_count": (ArrivedAs.BIRDS,),
}
# A lot of birds is not asked about one by one.
NOT_OF_BIRDS = ("gut_shot", "regions_hit")
# Genera of the catalog in which neither sex has antlers or horns: bears and swine.
BARE_HEADED = ("Ursus", "Sus")


def arrivals(species: Species) -> list[tuple[str, str]]:
    """The ways a species comes in, with their words: birds as birds, everything else as anything else."""
    return [
        (value, label) for value, label in ArrivedAs.choices if (value == ArrivedAs.BIRDS) == species.is_bird
    ]


def has_antlers(species: Species) -> bool:
    """Whether antlers, or a pronghorn's horns, can come off this species' head."""
    return not species.is_bird and species.latin.partition(" ")[0] not in BARE_HEADED


def came_as(fact: str) -> str:
    """The arrivals of which a fact is asked, as one text with spaces; empty for all of them."""
    return " ".join(ONLY_OF.get(fact, ()))


def is_asked(fact: str, species: Species, arrived_as: Iterable[str]) -> bool:
    """Whether a fact is asked of a species that came in one of these ways."""
    if species.is_bird and fact in NOT_OF_BIRDS:
        return False
    return fact not in ONLY_OF or bool(set(ONLY_OF[fact]) & set(arrived_as))
