"""What happened to an animal that its yield cannot be held against it, or learned from: said by the owner, and kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from orders.intake.models import Animal
from orders.ledger.action import action
from orders.ledger.entry import Answer, Entry
from orders.ledger.models import Event, Outcome
from orders.ledger.refusal import Refusal

VERB = "record_cause"
CAUSES = {
    "spoiled": "part of it was spoiled",
    "part_missing": "part of it is missing",
    "mixed": "other meat was mixed in",
    "weighed_wrong": "a weighing was wrong and cannot be repeated",
}


@action(VERB)
def record_cause(entry: Entry, animal: Animal, *, cause: str, note: str = "") -> Answer:
    """Say why an animal's yield tells nothing about the shop's; an empty cause takes it back.

    Raises Refusal `cause_unknown`, `note_needed` where nothing says what happened, or `no_cause` to take back.
    """
    entry.about(animal)
    if cause and cause not in CAUSES:
        raise Refusal("cause_unknown", "Choose what happened.", "cause")
    if cause and not note.strip():
        raise Refusal("note_needed", "Say in a few words what happened.", "note")
    if not cause and cause_now(animal) is None:
        raise Refusal("no_cause", f"Nothing is on record for {animal.label} that could be taken back.")
    entry.data["note"] = note.strip()
    said = f"counts no longer: {CAUSES[cause]}" if cause else "counts again"
    return Answer(f"{animal.label} {said}.")


@dataclass(frozen=True, slots=True)
class Said:
    """One time that a cause was recorded, or taken back (`cause` empty)."""

    cause: str
    note: str
    person: str
    at: datetime

    @property
    def words(self) -> str:
        return CAUSES[self.cause] if self.cause else "counts again"


def said_of(animal: Animal) -> list[Said]:
    """Every cause that was recorded or taken back, the newest first."""
    events = Event.objects.filter(animal=animal, verb=VERB, outcome=Outcome.OK, voided_by=None)
    return [
        Said(event.data["payload"]["cause"], event.data["note"], str(event.person), event.at)
        for event in events.select_related("person").order_by("-id")
    ]


def cause_now(animal: Animal) -> Said | None:
    """What stands on record, if anything does and it was not taken back."""
    said = said_of(animal)
    return said[0] if said and said[0].cause else None


def causes_of(animals: Sequence[Animal]) -> dict[int, str]:
    """The cause in words by animal, for those that have one: what was recorded last, or meat that had to go."""
    keys = [animal.pk for animal in animals]
    spoiled = {animal.pk: CAUSES["spoiled"] for animal in animals if animal.ended == "spoiled"}
    found = dict(spoiled)
    said = Event.objects.filter(animal__in=keys, verb=VERB, outcome=Outcome.OK, voided_by=None)
    for key, data in said.order_by("id").values_list("animal_id", "data"):
        cause = data["payload"]["cause"]
        found[key] = CAUSES[cause] if cause else spoiled.get(key, "")
    return {key: cause for key, cause in found.items() if cause}
