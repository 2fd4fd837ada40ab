"""What the cut sheet says about the grind: whether there is one, with which fat, in which packs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from orders.cutsheets.models import CutLine
from orders.cutsheets.words import details
from orders.intake.models import Animal, Order
from orders.ledger.models import Run

TRIM = "grind-trim"


def lines_of(owner: Animal | Order) -> list[CutLine]:
    """The lines of the current cut sheets of an animal, or of all animals of an order together."""
    lines = CutLine.objects.filter(sheet__current=True).select_related("part", "choice")
    if isinstance(owner, Animal):
        return list(lines.filter(sheet__animal=owner))
    return list(lines.filter(sheet__animal__order=owner, sheet__animal__ended=""))


def trim_is_ground(lines: Iterable[CutLine]) -> bool:
    """Whether grind trim goes to the grinder; some is packed as it is, as stew or in chunks."""
    trim = [line for line in lines if line.part.code == TRIM]
    return not trim or any(line.choice.is_grind for line in trim)


def is_ground(animal: Animal | None) -> bool:
    """Whether this animal's grind trim goes to the grinder; meat of a whole order always does."""
    return animal is None or trim_is_ground(lines_of(animal))


def grind_lines(lines: Iterable[CutLine]) -> list[CutLine]:
    """The lines that say how the grind is made: the trim's own, else those of other parts that are ground."""
    ground = [line for line in lines if line.choice.is_grind]
    return [line for line in ground if line.part.code == TRIM] or [line for line in ground if line.fat_bp]


def plan_words(lines: Sequence[CutLine]) -> str:
    """How the grind is made, in words: `grind, 10 % pork fat, 1 lb packs`."""
    found = []
    for line in grind_lines(lines):
        more = details(line)
        said = line.choice.name.lower() + (f", {more}" if more else "")
        if not line.fat_bp:
            said += ", no fat"
        if said not in found:
            found.append(said)
    return "; or ".join(found) or "grind, no fat asked for"


def planned_fat(run: Run) -> list[tuple[int, str]]:
    """The fat that the cut sheets ask of this grind: (basis points, kind), each once."""
    owner = run.animal or run.order
    assert owner is not None
    asked = {(line.fat_bp, line.fat_kind) for line in grind_lines(lines_of(owner)) if line.fat_bp}
    return sorted(asked, reverse=True)
