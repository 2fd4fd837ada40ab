"""On the floor: one animal from the skinning station to the lugs, and the lugs through grinder and wrap."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random
from typing import Any

from orders.cutsheets.actions import answer_change, ask_change, save_cut_sheet
from orders.cutsheets.models import CutLine, CutRequest
from orders.demo.hands import Hands, minutes, scale, scale_at
from orders.demo.plan import OrderPlan
from orders.demo.pounds import Pounds, packs, share
from orders.floor.block import fill_lug, finish_breakdown, open_animal, record_waste, weigh_at_block
from orders.floor.grind import add_fat, finish_grind, start_grind, take_from_grinder
from orders.floor.skin import (
    cut_off_bloodshot,
    finish_skinning,
    hang_up,
    pull_tenderloins,
    start_skinning,
    take_off,
    tenderloins_to_pull,
    wanted,
)
from orders.intake.actions import file_tag, weigh_received
from orders.intake.models import Animal
from orders.ledger.models import Piece, Run
from orders.ledger.refusal import Refusal
from orders.ledger.scale import OnScale
from orders.ledger.voids import void_event, void_lug
from orders.packing.actions import bring_to_wrap, finish_wrap, pack, void_package
from orders.packing.leftover import record_wrap_waste
from orders.packing.models import Package
from orders.packing.table import table_sum
from shop.models import Choice, Part, PlaceKind, Step

# Shares of the whole cuts by part: common practice, no source.
CUTS = {
    "backstrap": 28,
    "top-round": 22,
    "bottom-round": 18,
    "sirloin-tip": 14,
    "sirloin-butt": 10,
    "eye-of-round": 6,
    "brisket": 5,
    "tri-tip": 3,
    "flank": 3,
}


@dataclass(frozen=True, slots=True)
class Packing:
    """Packs of one cut: a weight in hundredths of a pound for each, or as many that are `counted` only."""

    part: Part
    choice: Choice
    weights: list[int]
    pieces: int | None = None
    counted: bool = False


class FloorWork:
    """One animal's way over the floor; `ready` is when its last step was done."""

    def __init__(self, hands: Hands, plan: OrderPlan, rng: Random, animal: Animal, pounds: Pounds) -> None:
        self.hands, self.plan, self.rng = hands, plan, rng
        self.animal, self.pounds = animal, pounds
        self.ready = plan.arrives + minutes(20)
        self.lugs: dict[str, Piece] = {}
        self.lines: list[CutLine] | None = None
        self.ground = 0

    # --- skinning and the cooler --------------------------------------------------------------------------------

    def skin(self) -> None:
        """Skinned and hung, or hung as it came."""
        if self.animal.arrived_as == "whole":
            self._skin_whole()
            return
        station, at = "Cooler door", self.ready
        rail = self.hands.place(PlaceKind.RAIL, self.rng)
        for piece in self.animal.pieces.exclude(kind="kept").order_by("n"):
            self.hands.do(hang_up, piece, station, at, self.rng, place=rail)
            at += minutes(1)
        if self.animal.arrived_as == "skinned":
            self._pull_tenderloins(station, at)
        self.ready = at

    def _skin_whole(self) -> None:
        station, at = self.hands.book(Step.SKIN, self.ready, minutes(22))
        do, rng = self.hands.do, self.rng
        if self.plan.case == "wrong_station":
            self.hands.try_in_vain(open_animal, self.animal, "Wrap 1", at - minutes(1), rng)
        run = do(start_skinning, self.animal.pieces.get(), station, at, rng).fetch(Run)
        if self.pounds.bloodshot and rng.random() < 0.6:
            weight = scale(self.pounds.bloodshot) if rng.random() < 0.7 else None
            region = self.animal.regions_hit[0]
            do(cut_off_bloodshot, run, station, at + minutes(6), rng, region=region, weight=weight)
        kept = wanted(self.animal)
        for offset, what in enumerate(kept):
            place = self.hands.place(PlaceKind.HOOK, rng)
            do(take_off, run, station, at + minutes(8 + offset), rng, what=what, keep=True, place=place)
        if not kept:
            do(take_off, run, station, at + minutes(12), rng, what="hide", keep=False)
        self._pull_tenderloins(station, at + minutes(14))
        rail = self.hands.place(PlaceKind.RAIL, rng)
        weight = scale(self.pounds.hanging) if rng.random() < 0.9 else None
        do(finish_skinning, run, station, at + minutes(20), rng, place=rail, weight=weight)
        self.ready = at + minutes(22)

    def _pull_tenderloins(self, station: str, at: datetime) -> None:
        sides = tenderloins_to_pull(self.animal)
        if not sides:
            return
        weight = scale(self.pounds.tenderloins * len(sides) // 2)
        self.hands.do(
            pull_tenderloins,
            self.animal,
            station,
            at,
            self.rng,
            left="left" in sides,
            right="right" in sides,
            weight=weight,
            place=self.hands.place(PlaceKind.RACK, self.rng),
        )

    # --- the block ----------------------------------------------------------------------------------------------

    def cut(self) -> None:
        """Broken down into lugs once it has hung."""
        hung = timedelta(0 if self.plan.rush else self.animal.species.hang_days)
        station, at = self.hands.book(Step.BLOCK, self.ready + hung, minutes(50))
        do, rng = self.hands.do, self.rng
        run = self._open(station, at)
        if self.animal.arrived_as in ("whole", "skinned") and rng.random() < 0.3:
            body, weight = self.animal.pieces.get(state="table"), scale_at(station, self.pounds.at_block)
            do(weigh_at_block, body, station, at + minutes(2), rng, weight=weight)
        if self.plan.case == "asked_change":
            self._change(station, at)
        if self.plan.case == "lug_twice":
            lug = do(fill_lug, run, station, at + minutes(9), rng, contents="whole_cuts").fetch(Piece)
            do(void_lug, lug, station, at + minutes(10), rng, reason="Pressed twice")
        self._fill_lugs(run, station, at + minutes(15))
        boned = self.animal.arrived_as not in ("boneless", "trim")
        bone = scale_at(station, self.pounds.bone) if boned and rng.random() < 0.65 else None
        self._finish_cut(run, station, at + minutes(44), bone, f"tag box, row {self.plan.n % 12 + 1}")
        self.ready = at + minutes(50)

    def _open(self, station: str, at: datetime) -> Run:
        """Open at the block; the counter presses “house cut” half an hour before where nobody has said anything."""
        if not self.animal.cut_sheets.exists():
            self.hands.do(save_cut_sheet, self.animal, "Counter", at - minutes(30), self.rng)
        return self.hands.do(open_animal, self.animal, station, at, self.rng).fetch(Run)

    def _fill_lugs(self, run: Run, station: str, at: datetime) -> None:
        for contents, hundredths in self._contents():
            weight = scale_at(station, hundredths)
            answer = self.hands.do(fill_lug, run, station, at, self.rng, contents=contents, weight=weight)
            self.lugs[contents] = answer.fetch(Piece)
            at += minutes(10)

    def _finish_cut(self, run: Run, station: str, at: datetime, bone: OnScale | None, where: str) -> None:
        """Bone, fat and waste answered for, the tag put where it stays, the animal broken down: four minutes."""
        do, rng = self.hands.do, self.rng
        do(record_waste, run, station, at, rng, what="bone_fat", weight=bone)
        do(record_waste, run, station, at + minutes(1), rng, what="waste")
        if self.animal.tag_no:
            do(file_tag, self.animal, station, at + minutes(2), rng, where=where)
        do(finish_breakdown, run, station, at + minutes(4), rng)

    def _change(self, station: str, at: datetime) -> None:
        do, rng = self.hands.do, self.rng
        text = "Leave one backstrap whole, please"
        asked = do(ask_change, self.animal, "Counter", at + minutes(5), rng, text=text).fetch(CutRequest)
        do(answer_change, asked, station, at + minutes(8), rng, accepted=True, answer="Left side, in time")

    def _contents(self) -> list[tuple[str, int]]:
        """What goes into lugs: all of it grind trim where the cut sheet keeps nothing whole."""
        pounds = self.pounds
        if self.animal.arrived_as in ("boneless", "trim"):
            return [("grind_trim", pounds.trim * 101 // 100)]
        whole = pounds.whole if self._whole_cuts() else 0
        found = [("whole_cuts", whole), ("grind_trim", pounds.trim + pounds.whole - whole)]
        if self.animal.arrived_as == "pieces":
            found.append(("tenderloins", pounds.tenderloins))
        return [(contents, weight) for contents, weight in found if weight > 0]

    def _lines(self) -> list[CutLine]:
        """What the cut sheet wants, as it stood when the animal was opened."""
        if self.lines is None:
            current = CutLine.objects.filter(sheet__animal=self.animal, sheet__current=True)
            self.lines = list(current.exclude(choice__is_discard=True).select_related("part", "choice"))
        return self.lines

    def _whole_cuts(self) -> list[CutLine]:
        return [line for line in self._lines() if line.part.code in CUTS and not line.choice.is_grind]

    # --- the grinder --------------------------------------------------------------------------------------------

    def grind(self, others: list[FloorWork]) -> None:
        """Ground alone, or together with the `others` of the order."""
        together = [self, *others]
        station, at = self.hands.book(Step.GRIND, max(each.ready for each in together), minutes(20))
        do, rng = self.hands.do, self.rng
        run = None
        for each in together:
            run = do(start_grind, each.lugs.pop("grind_trim"), station, at, rng).fetch(Run)
        assert run is not None
        trim = sum(dict(each._contents())["grind_trim"] for each in together)
        fat = self._add_fat(run, station, at + minutes(3), trim)
        out = trim + fat - share(trim, rng, 50, 160)
        answer = do(take_from_grinder, run, station, at + minutes(15), rng, weight=scale(out))
        self.lugs["ground"] = answer.fetch(Piece)
        self.ground = out
        do(finish_grind, run, station, at + minutes(18), rng)
        for each in together:
            each.ready = at + minutes(20)

    def _add_fat(self, run: Run, station: str, at: datetime, trim: int) -> int:
        line = next((each for each in self._lines() if each.fat_bp), None)
        if line is None:
            return 0
        fat = trim * line.fat_bp // 10_000
        lot = f"lot {self.plan.arrives:%m%d}-{line.fat_kind[0].upper()}"
        self.hands.do(add_fat, run, station, at, self.rng, kind=line.fat_kind, weight=scale(fat), lot=lot)
        return fat

    # --- wrap ---------------------------------------------------------------------------------------------------

    def wrap(self) -> None:
        """Everything of this animal that is not ground with another's, packed."""
        station, at = self.hands.book(Step.WRAP, self.ready, minutes(38))
        do, rng = self.hands.do, self.rng
        on_table = list(self.lugs.values())
        on_table += self.animal.pieces.filter(kind="tenderloin", state="waiting")
        answers = [do(bring_to_wrap, lug, station, at, rng) for lug in on_table]
        if not answers:
            return
        run = answers[-1].fetch(Run)
        at += minutes(4)
        for packing in self._packs():
            answer = do(pack, run, station, at, rng, **self._as_weighed(station, packing))
            at += minutes(3)
            if self.plan.case == "pack_twice" and packing.part.code == "grind-trim":
                self._pack_twice(answer.refs["packages"][-1], run, station, at)
        self._finish_wrap(run, station, at)

    def _as_weighed(self, station: str, packing: Packing) -> dict[str, Any]:
        """What is typed for these packs; in one case the scale is away, and packs are only counted."""
        count = packing.pieces if packing.counted or self.rng.random() < 0.8 else None
        facts = {"part": packing.part, "choice": packing.choice, "count": count}
        if packing.counted or self.plan.case == "count_only":
            return {**facts, "unweighed": len(packing.weights)}
        return {**facts, "weights": tuple(scale_at(station, weight) for weight in packing.weights)}

    def _pack_twice(self, package: int, run: Run, station: str, at: datetime) -> None:
        """A label that tore: the pack is void and packed anew."""
        old = Package.objects.select_related("piece", "weighing", "part", "choice").get(pk=package)
        self.hands.do(void_package, old, station, at, self.rng, reason="The seal did not hold")
        assert old.weighing is not None
        again = {"part": old.part, "choice": old.choice, "weights": (OnScale(old.weighing.reading),)}
        self.hands.do(pack, run, station, at + minutes(1), self.rng, **again)

    def _finish_wrap(self, run: Run, station: str, at: datetime) -> None:
        do, rng = self.hands.do, self.rng
        table = table_sum(run)
        if table.is_left:
            # Sinew and dry edges: more than drip and the knife's last touch leave.
            waste = scale_at(station, (table.left_mg or 0) * 10**4 // 45_359_237)
            do(record_wrap_waste, run, station, at + minutes(1), rng, weight=waste)
        try:
            do(finish_wrap, run, station, at + minutes(2), rng)
        except Refusal as refusal:
            if refusal.code != "tenderloin_missing":
                raise
            reason = "The hunter took them in the field"
            do(finish_wrap, run, station, at + minutes(3), rng, reason=reason)
        self.ready = at + minutes(4)

    def _packs(self) -> list[Packing]:
        contents = dict(self._contents())
        found: list[Packing] = []
        tenderloins = self._tenderloins_on_table(contents)
        cuts = self._whole_cuts()
        shares = sum(CUTS[line.part.code] * line.share_bp for line in cuts)
        for line in self._lines():
            if line.part.code == "tenderloin" and tenderloins:
                found.append(Packing(line.part, line.choice, [tenderloins * 98 // 100]))
            elif line.part.code == "grind-trim" and "ground" in self.lugs:
                found.append(self._ground_packing(line))
            elif line in cuts and "whole_cuts" in self.lugs:
                part = contents["whole_cuts"] * CUTS[line.part.code] * line.share_bp // shares
                weights = packs(self.rng, part, 90, 240)
                if weights:
                    found.append(Packing(line.part, line.choice, weights, line.pieces_per_pack))
        return found

    def _ground_packing(self, line: CutLine) -> Packing:
        weights = packs(self.rng, self.ground, *self._ground_pack(line), 190)
        return Packing(line.part, line.choice, weights)

    def _ground_pack(self, line: CutLine) -> tuple[int, int]:
        """The lightest and heaviest pack of ground meat of a stated size."""
        stated = (line.pack_oz or 16) * 100 // 16
        return stated * 96 // 100, stated * 106 // 100

    def _tenderloins_on_table(self, contents: dict[str, int]) -> int:
        if "tenderloins" in contents:
            return contents["tenderloins"]
        bag = self.animal.pieces.filter(kind="tenderloin").exclude(state="void").first()
        if bag is None:
            return 0
        return self.pounds.tenderloins * (2 if " and " in bag.name else 1) // 2

    def take_back_weight(self, station: str) -> None:
        """A weight that was typed wrong: taken back, and the piece weighed again."""
        event = self.animal.events.filter(verb="add_animal").get()
        do, at, rng = self.hands.do, self.plan.arrives + minutes(9), self.rng
        do(void_event, event, station, at, rng, reason="Another deer was still on the scale")
        carcass = self.animal.pieces.get(kind="carcass")
        do(weigh_received, carcass, station, at + minutes(1), rng, weight=scale(self.pounds.received))
