"""Holds: opened and released by people, and stopping every step in between."""

from __future__ import annotations

from orders.intake.models import Animal
from orders.ledger.action import action
from orders.ledger.entry import Answer, Entry
from orders.ledger.models import Hold, HoldKind
from orders.ledger.refusal import Refusal


def put_hold(entry: Entry, animal: Animal, kind: HoldKind, note: str = "") -> Hold:
    """Open a hold as part of another action."""
    if Hold.objects.filter(animal=animal, kind=kind, released_at=None).exists():
        raise Refusal("held_already", f"{animal.label} is on hold for that already.", "kind")
    return Hold.objects.create(
        animal=animal, kind=kind, note=note[:160], opened_at=entry.at, opened_by=entry.by.person
    )


@action("open_hold")
def open_hold(entry: Entry, animal: Animal, *, kind: str, note: str = "") -> Answer:
    """Put an animal on hold: nothing of it is opened, ground, packed or handed over until it is released."""
    entry.about(animal)
    if kind not in HoldKind.values:
        raise Refusal("hold_unknown", "Choose what it is held for.", "kind")
    hold = put_hold(entry, animal, HoldKind(kind), note.strip())
    return Answer(f"{animal.label} is on hold: {hold.get_kind_display().lower()}.", {"hold": hold.pk})


@action("release_hold")
def release_hold(entry: Entry, hold: Hold, *, note: str) -> Answer:
    """Release a hold with the reason, such as the test's result."""
    entry.about(hold.animal)
    if not note.strip():
        raise Refusal("reason_missing", "Say why it is released; the reason is kept.", "note")
    changed = Hold.objects.filter(pk=hold.pk, released_at=None).update(
        released_at=entry.at, released_by=entry.by.person, release_note=note.strip()[:160]
    )
    if changed != 1:
        raise Refusal("released_already", "This hold is released already.")
    return Answer(f"{hold.animal.label} is released: {note.strip()}")
