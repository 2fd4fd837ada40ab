"""What is said at the block before the knife: by the kind of animal, with the species' own caution first."""

from __future__ import annotations

from shop.models import Species

DECIDE = "Local rules and licensed practice decide."
# A hoofed animal's popliteal node: general anatomy, from memory. Spine, brain and nodes: county health department after
# the CDC, Nov 2024; alliance Q&A on chronic wasting disease. Lead: state agencies' studies of bullet fragments in
# venison, from memory.
HOOFED = (
    "Cut out the gland in the fat between top and bottom round, and every other gland: never into grind trim.",
    "Bloodshot comes out well beyond the wound: lead goes farther than the eye sees.",
    "Do not cut into spine or head.",
)
# Common practice, no source.
FOUR_LEGGED = ("Mind the knives and your partner's hands. A half-stripped carcass jerks.",)
BIRD = ("Mind the knives. Feel for shot and splinters of bone as you go.",)
# Four-legged game without hooves. Whatever a shop adds counts as hoofed until it is put here: a caution too many.
PAWED = frozenset({"black-bear"})


def block_cautions(species: Species) -> list[str]:
    """The sentences for one animal at the block; the last one is always that local rules decide."""
    own = species.caution.removesuffix(DECIDE).strip()
    if species.is_bird:
        kind: tuple[str, ...] = BIRD
    elif species.code in PAWED:
        kind = FOUR_LEGGED
    else:
        kind = (*HOOFED, *FOUR_LEGGED)
    return [*([own] if own else []), *kind, DECIDE]
