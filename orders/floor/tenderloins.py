"""What the floor finds of the tenderloins of an animal, against what was said of them at the counter."""

from __future__ import annotations

from orders.floor.left_in import sides_words
from orders.floor.skin import GONE, SIDES, WITH_TENDERLOINS, pulled_sides
from orders.intake.models import Animal, Tenderloin
from orders.ledger.action import action
from orders.ledger.entry import Answer, Entry
from orders.ledger.refusal import Refusal
from shop.models import Step


@action("find_tenderloins")
def find_tenderloins(entry: Entry, animal: Animal, *, sides: tuple[str, ...], found: str) -> Answer:
    """Tenderloins are not there, for a reason, or are there after all; what was said before stays in the event."""
    entry.about(animal)
    entry.need_station(Step.SKIN, Step.COOLER, Step.BLOCK)
    if animal.ended:
        raise Refusal("animal_ended", f"{animal.label} is {animal.get_state_display().lower()}.")
    known = [side for side in SIDES if side in sides]
    _refuse_not_to_find(animal, known, found)
    names = [f"tenderloin_{side}" for side in known]
    entry.data["before"] = {name: getattr(animal, name) for name in names}
    Animal.objects.filter(pk=animal.pk).update(**dict.fromkeys(names, found))
    words = f"not there, {Tenderloin(found).label.lower()}" if found in GONE else "there after all"
    return Answer(f"{animal.label}: {sides_words(known)} {words}.")


def _refuse_not_to_find(animal: Animal, sides: list[str], found: str) -> None:
    """An answer that is none, no side said, and a tenderloin that is bagged: that one is there."""
    if animal.arrived_as not in WITH_TENDERLOINS or found not in (Tenderloin.PRESENT, *GONE):
        raise Refusal("tenderloin_unknown", "Say what was found: there, or not there and why.", "found")
    if not sides:
        raise Refusal("side_missing", "Say which tenderloin: left, right or both.", "side")
    for side in sides:
        if side in pulled_sides(animal):
            said = f"The {side} tenderloin of {animal.label} is bagged here."
            raise Refusal("pulled_already", said, "side")
