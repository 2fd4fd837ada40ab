"""The cooler: what hangs where and since when, what has to be hung, and which tenderloins are due to be pulled."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Prefetch
from django.utils import timezone

from orders.floor.left_in import LATER, day_words, pull_by
from orders.floor.queries import animals_at_rest, days_since_hung, hanging_age, why_stopped
from orders.floor.skin import GONE, SIDES, WITH_TENDERLOINS
from orders.intake.models import Animal, ArrivedAs
from orders.ledger.models import Event, Outcome, Piece, PieceState
from shop.models import Place


@dataclass(frozen=True, slots=True)
class Hanging:
    """A piece in the cooler with its age in words."""

    piece: Piece
    age: str
    late: bool
    stopped: str


@dataclass(frozen=True, slots=True)
class Pull:
    """Tenderloins still in a hanging carcass: which sides, by when they are to be out, and whether that is past."""

    animal: Animal
    sides: str
    by: date
    past: bool

    @property
    def words(self) -> str:
        return f"{'past: was due' if self.past else 'pull by'} {day_words(self.by)}"


@dataclass(slots=True)
class Cooler:
    """The cooler by place; what has still to be hung, apart from it hides still on; tenderloins still to pull."""

    places: list[tuple[Place, list[Hanging]]]
    to_hang: list[Hanging]
    hide_on: list[Hanging]
    to_pull: list[Pull]
    late: int = 0


def cooler() -> Cooler:
    """What hangs where. Tenderloins are on the list from the first full day of hanging: left in, they dry.

    Those that were left in on purpose, for the hunter or until the block, are not.
    """
    day = timezone.localdate()
    found = Cooler([], [], [], [])
    places: dict[int, tuple[Place, list[Hanging]]] = {}
    hung = Event.objects.filter(verb="finish_skinning", outcome=Outcome.OK).order_by("id")
    at_rest = animals_at_rest().prefetch_related(Prefetch("events", hung, to_attr="hung_events"))
    for animal in at_rest.order_by("hung_at", "pk"):
        age, late = hanging_age(animal, day)
        found.late += int(late)
        for piece in animal.body:  # type: ignore[attr-defined]
            piece.animal = animal
            row = Hanging(piece, age, late, why_stopped(animal))
            if piece.state == PieceState.HANGING and piece.place is not None:
                places.setdefault(piece.place_id, (piece.place, []))[1].append(row)
            elif animal.arrived_as == ArrivedAs.WHOLE:
                found.hide_on.append(row)
            else:
                found.to_hang.append(row)
        if pull := _to_pull(animal, day):
            found.to_pull.append(pull)
    found.places = sorted(places.values(), key=lambda entry: (entry[0].sort, entry[0].pk))
    return found


def _to_pull(animal: Animal, day: date) -> Pull | None:
    sides = _sides_left(animal)
    if not sides or animal.hung_at is None or days_since_hung(animal, day) < 1:
        return None
    hung: list[Event] = animal.hung_events  # type: ignore[attr-defined]
    said = hung[-1].data.get("left_in", {}) if hung else {}
    if said.get("why", LATER) != LATER:
        return None
    by = pull_by(timezone.localdate(animal.hung_at))
    return Pull(animal, " and ".join(sides), by, day > by)


def _sides_left(animal: Animal) -> list[str]:
    if animal.arrived_as not in WITH_TENDERLOINS:
        return []
    bags = " ".join(bag.name for bag in animal.tenderloin_bags)  # type: ignore[attr-defined]
    return [side for side in SIDES if getattr(animal, f"tenderloin_{side}") not in GONE and side not in bags]
