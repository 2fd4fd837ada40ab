"""Cautions shown where they belong. Every list of them ends with: local rules and licensed practice decide."""

from __future__ import annotations

from collections.abc import Iterable

from orders.intake.models import Animal, ArrivedAs, DiseaseTest, Tenderloin
from orders.ledger.models import PieceKind, PieceState

DECIDE = "Local rules and licensed practice decide."

# Common practice, no source.
TENDERLOINS = (
    "Pull the tenderloins early and bag them with a tag of their own: left in an open carcass they dry "
    "within a day."
)
# United States Centers for Disease Control and Prevention, as passed on by a county health department in
# November 2024: “If your animal tests positive for CWD, do not eat meat from that animal.”
DISEASE_TEST = "Nobody eats of this animal until its result is back, and nobody at all if it is positive."
# Common practice, no source.
WARM = "It came in warm: skin and chill it before the others, and smell it before it is cut."
# Common practice, no source.
GUT_SHOT = "Gut-shot: keep it apart, cut well around what is soiled, and throw away what smells."


def cautions(animal: Animal, kinds: Iterable[tuple[str, str]]) -> list[str]:
    """Sentences for an animal; `kinds` are kind and state of its pieces."""
    if animal.ended:
        return []
    found = []
    if animal.warm:
        found.append(WARM)
    if animal.gut_shot:
        found.append(GUT_SHOT)
    present = Tenderloin.PRESENT in (animal.tenderloin_left, animal.tenderloin_right)
    standing = {kind for kind, state in kinds if state not in (PieceState.VOID, PieceState.USED)}
    whole = animal.arrived_as in (ArrivedAs.WHOLE, ArrivedAs.SKINNED)
    if whole and present and PieceKind.CARCASS in standing and PieceKind.TENDERLOIN not in standing:
        found.append(TENDERLOINS)
    if animal.disease_test != DiseaseTest.NONE:
        found.append(DISEASE_TEST)
    if animal.species.caution:
        found.append(animal.species.caution)
    return found
