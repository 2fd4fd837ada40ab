"""Birds over the floor: racked in their bag, plucked or breasted out, packed."""

from __future__ import annotations

from dataclasses import dataclass

from orders.cutsheets.models import CutLine
from orders.demo.floor import FloorWork, Packing
from orders.demo.hands import minutes
from orders.demo.pounds import OF_BIRD_BP, share
from orders.floor.skin import hang_up
from shop.models import PlaceKind, Step

WHOLE = ("plucked-whole", "skinned-whole", "plucked-halved")


@dataclass(frozen=True, slots=True)
class Made:
    """What one line of the cut sheet makes of the lot, in hundredths of a pound."""

    line: CutLine
    birds: int
    weight: int


class BirdWork(FloorWork):
    """One hunter's lot of birds; it is ground only where the cut sheet says so."""

    made: list[Made] | None = None

    @property
    def count(self) -> int:
        return self.animal.bird_count or 1

    def skin(self) -> None:
        """Racked in the bag that they came in."""
        rack = self.hands.place(PlaceKind.RACK, self.rng)
        self.hands.do(hang_up, self.animal.pieces.get(), "Cooler door", self.ready, self.rng, place=rack)

    def cut(self) -> None:
        """Plucked or breasted out on the day after; the tag stays with the birds."""
        hung = minutes(24 * 60 * (0 if self.plan.rush else self.animal.species.hang_days))
        station, at = self.hands.book(Step.BLOCK, self.ready + hung, minutes(26))
        run = self._open(station, at)
        self._fill_lugs(run, station, at + minutes(8))
        self._finish_cut(run, station, at + minutes(21), None, "the bag with the birds")
        self.ready = at + minutes(26)

    def grind(self, others: list[FloorWork]) -> None:
        """Ground, where anything of them is."""
        if "grind_trim" in self.lugs:
            super().grind(others)

    def _made(self) -> list[Made]:
        """What the cut sheet makes of the lot, settled once; giblets are counted only."""
        if self.made is None:
            lines = [line for line in self._lines() if line.part.code == "bird"]
            shot = {line.pk: self.pounds.received * line.share_bp // 10_000 for line in lines}
            found = [
                Made(
                    line,
                    max(1, self.count * line.share_bp // 10_000),
                    share(shot[line.pk], self.rng, *OF_BIRD_BP[line.choice.code]),
                )
                for line in lines
            ]
            breasted = [each for each in found if each.line.choice.code not in WHOLE]
            legs = next((line for line in self._lines() if line.part.code == "loose-legs"), None)
            if legs is not None and breasted:
                whole = sum(shot[each.line.pk] for each in breasted)
                weight = share(whole, self.rng, *OF_BIRD_BP["loose-legs"])
                found.append(Made(legs, sum(each.birds for each in breasted), weight))
            self.made = found
        return self.made

    def _contents(self) -> list[tuple[str, int]]:
        ground = sum(each.weight for each in self._made() if each.line.choice.is_grind)
        whole = sum(each.weight for each in self._made() if not each.line.choice.is_grind)
        return [
            (contents, weight)
            for contents, weight in (("whole_cuts", whole), ("grind_trim", ground))
            if weight
        ]

    def _packs(self) -> list[Packing]:
        made = self._made()
        found = [self._packing(each) for each in made if not each.line.choice.is_grind]
        if "ground" in self.lugs:
            found.append(self._ground_packing(next(each.line for each in made if each.line.choice.is_grind)))
        for line in self._lines():
            if line.part.code == "giblets":
                found.append(Packing(line.part, line.choice, [0], self.count, counted=True))
        return found

    def _packing(self, made: Made) -> Packing:
        """Whole birds one by one, fillets as many in a pack as the line says, all legs together."""
        pieces = made.birds * (1 if made.line.choice.code in WHOLE else 2)
        in_a_pack = made.line.pieces_per_pack or pieces
        many = -(-pieces // in_a_pack)
        even = made.weight * 99 // (100 * many)
        weights = [even * self.rng.randint(97, 101) // 100 for _ in range(many)]
        return Packing(made.line.part, made.line.choice, weights, in_a_pack)
