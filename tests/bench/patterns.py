"""A few orders played through the shop's own actions, whose rows the filler then repeats by the thousand.

Each brings 40 standing packs per animal. Together they have what the reading of yields has to cope with: points that
were not weighed, pieces, two animals ground together, units mixed, packs not weighed, and things taken back.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from types import SimpleNamespace
from unittest import mock

from orders.cutsheets.actions import save_cut_sheet
from orders.floor.block import fill_lug, finish_breakdown, open_animal, record_waste, weigh_at_block
from orders.floor.grind import add_fat, finish_grind, start_grind, take_from_grinder
from orders.floor.skin import finish_skinning, hang_up, pull_tenderloins, start_skinning, take_off
from orders.intake.actions import file_tag, record_order
from orders.intake.models import Animal, Order, Season
from orders.ledger.entry import By
from orders.ledger.models import BODY_KINDS, Event, Piece, Run
from orders.ledger.voids import void_event
from orders.packing.actions import bring_to_wrap, finish_wrap, new_box, pack, put_in_box, store, void_package
from orders.packing.leftover import record_wrap_waste
from orders.packing.models import Package
from orders.pickup.actions import close_order, release
from shop.models import Choice, Part, Person, Place, PlaceKind, Role, Station
from shop.places import add_place
from shop.setup import set_up
from tests.scenario import Scenario, lb

PACKS_PER_ANIMAL = 40
HUNG_DAYS = 6
CUT_AFTER = timedelta(days=HUNG_DAYS)
COLLECTED_AFTER = timedelta(days=HUNG_DAYS + 5)
# How often each is repeated in a cycle: half of the animals are weighed everywhere, a fifth at the ends alone.
SHARES = {
    "weighed": 10,
    "door_and_packs": 4,
    "pieces": 1,
    "taken_back": 1,
    "mixed_units": 1,
    "packs_unweighed": 1,
    "together": 1,
}
ANIMALS_IN = {name: 2 if name == "together" else 1 for name in SHARES}
CYCLE = sum(count * ANIMALS_IN[name] for name, count in SHARES.items())


@dataclass(frozen=True)
class Weights:
    """What the scales showed; empty is not weighed."""

    received: str = "131.5"
    hanging: str = "98.4"
    block: str = "95.2"
    whole: str = "22.4"
    trim: str = "26.0"
    bone: str = "24"
    fat: str = "2.6"
    ground: str = "28.2"
    wrap_waste: str = "1.2"


ALL = Weights()
ENDS = Weights(hanging="", block="", whole="", trim="", bone="", ground="", wrap_waste="")
MIXED = Weights("59.7 kg", "44.6 kg", "43.2 kg", "10.15 kg", "11.8 kg", "11 kg", "1.2 kg", "28.2", "19 oz")
WHOLE_CUTS = (("tenderloin", "whole", 1, "1.05"), ("backstrap", "steaks", 6, "1.1"))
ROUNDS = (("top-round", "steaks", 10, "1.4"),)
GRIND = ("grind-trim", "ground")


def open_bench_shop(season: Season) -> Scenario:
    """The shop's people, stations and places, and the one who plays animals through them."""
    set_up()
    clerk = Person.objects.create(username="clem", first_name="Clem", last_name="Tansy", role=Role.COUNTER)
    cutter = Person.objects.create(username="kit", first_name="Kit", last_name="Barlow", role=Role.FLOOR)
    stations = {station.step: station for station in Station.objects.all()}
    places = SimpleNamespace(
        door=Place.objects.get(station=stations["counter"]),
        rail=add_place("Rail A", PlaceKind.RAIL),
        rack=add_place("Rack 1", PlaceKind.RACK),
        shelf=add_place("Shelf 1", PlaceKind.FREEZER),
        hook=add_place("Hook 1", PlaceKind.HOOK),
    )

    def by(step: str) -> By:
        return By(clerk if step == "counter" else cutter, None, stations[step])

    return Scenario(by, places, season)


@contextmanager
def _clock(moment: datetime) -> Iterator[None]:
    with mock.patch("django.utils.timezone.now", return_value=moment):
        yield


@dataclass
class Player:
    """Plays one order from the door to the pickup, on three days."""

    scenario: Scenario
    starts: datetime
    tags: int = 0

    def play(self, name: str) -> Order:
        """The order of a pattern, closed, everything of it collected."""
        make: Callable[[], list[Animal]] = getattr(self, f"_{name}")
        with _clock(self.starts):
            animals = make()
        with _clock(self.starts + CUT_AFTER):
            getattr(self, f"_work_{name}", self._work)(animals)
        with _clock(self.starts + COLLECTED_AFTER):
            return self._leave(animals[0].order)

    # --- how they came --------------------------------------------------------------------------------------

    def _weighed(self, weights: Weights = ALL, order: Order | None = None) -> list[Animal]:
        self.tags += 1
        animal = self.scenario.deer(order, tag=f"B-{self.tags}", weight=weights.received)
        self._skin(animal, weights)
        return [animal]

    def _door_and_packs(self) -> list[Animal]:
        return self._weighed(ENDS)

    def _taken_back(self) -> list[Animal]:
        return self._weighed()

    def _mixed_units(self) -> list[Animal]:
        return self._weighed(MIXED)

    def _packs_unweighed(self) -> list[Animal]:
        return self._weighed()

    def _pieces(self) -> list[Animal]:
        animal = self.scenario.elk(head=False)
        for piece in animal.pieces.filter(kind__in=BODY_KINDS):
            hang_up(piece, by=self.scenario.by("cooler"), place=self._place_for(piece))
        return [animal]

    def _place_for(self, piece: Piece) -> Place:
        return self.scenario.places.rack if piece.kind == "bag" else self.scenario.places.rail

    def _together(self) -> list[Animal]:
        order = self.scenario.order()
        record_order(order, by=self.scenario.by("counter"), grind_together=True)
        return [animal for _ in range(2) for animal in self._weighed(ALL, order)]

    def _skin(self, animal: Animal, weights: Weights) -> None:
        by, places = self.scenario.by("skin"), self.scenario.places
        run = start_skinning(animal.pieces.get(kind="carcass"), by=by).fetch(Run)
        take_off(run, by=by, what="antlers", keep=True, place=places.hook)
        pull_tenderloins(animal, by=by, left=True, right=True, weight=lb("1.1"), place=places.rack)
        finish_skinning(
            run, by=by, place=places.rail, weight=lb(weights.hanging) if weights.hanging else None
        )

    # --- the work -------------------------------------------------------------------------------------------

    def _work(self, animals: list[Animal], weights: Weights = ALL, unweighed: int = 0) -> None:
        (animal,) = animals
        lugs = self._cut(animal, weights)
        lugs["ground"] = self._grind([lugs.pop("grind_trim")], weights)
        run = self._to_wrap([*animal.pieces.filter(kind="tenderloin"), *lugs.values()])
        self._pack(run, (*WHOLE_CUTS, *ROUNDS))
        self._pack_ground(run, 23 - unweighed, "1.2", unweighed)
        self._finish(run, weights)

    def _work_door_and_packs(self, animals: list[Animal]) -> None:
        self._work(animals, ENDS)

    def _work_mixed_units(self, animals: list[Animal]) -> None:
        self._work(animals, MIXED)

    def _work_packs_unweighed(self, animals: list[Animal]) -> None:
        self._work(animals, ALL, unweighed=2)

    def _work_taken_back(self, animals: list[Animal]) -> None:
        """Bone weighed twice, the first reading taken back; and a pack whose label was destroyed."""
        (animal,) = animals
        lugs = self._cut(animal, ALL, bone_again=True)
        lugs["ground"] = self._grind([lugs.pop("grind_trim")], ALL)
        run = self._to_wrap([*animal.pieces.filter(kind="tenderloin"), *lugs.values()])
        self._pack(run, (*WHOLE_CUTS, *ROUNDS))
        ids = self._pack_ground(run, 24, "1.15")
        by = self.scenario.by("wrap")
        void_package(Package.objects.get(pk=ids[0]), by=by, reason="torn")
        self._finish(run, ALL)

    def _work_pieces(self, animals: list[Animal]) -> None:
        (animal,) = animals
        weights = replace(ALL, whole="70", trim="81", bone="72", fat="8", ground="88", block="")
        lugs = self._cut(animal, weights)
        lugs["ground"] = self._grind([lugs.pop("grind_trim")], weights)
        run = self._to_wrap(list(lugs.values()))
        self._pack(run, (("tenderloin", "whole", 1, "4"), ("backstrap", "steaks", 6, "3"), *ROUNDS))
        self._pack(run, (("top-round", "steaks", 10, "3.2"),))
        self._pack_ground(run, 13, "6.7")
        self._finish(run, weights)

    def _work_together(self, animals: list[Animal]) -> None:
        """Fifteen packs of whole cuts each, and fifty of what was ground together."""
        trims = []
        for animal in animals:
            lugs = self._cut(animal, ALL)
            trims.append(lugs["grind_trim"])
            run = self._to_wrap([*animal.pieces.filter(kind="tenderloin"), lugs["whole_cuts"]])
            self._pack(run, (*WHOLE_CUTS, ("top-round", "steaks", 8, "1.7")))
            self._finish(run, replace(ALL, wrap_waste="0.8"))
        lug = self._grind(trims, replace(ALL, fat="5.2", ground="56.4"))
        run = self._to_wrap([lug])
        self._pack_ground(run, 50, "1.1")
        self._finish(run, replace(ALL, wrap_waste="0.6"))

    def _cut(self, animal: Animal, weights: Weights, bone_again: bool = False) -> dict[str, Piece]:
        by = self.scenario.by("block")
        save_cut_sheet(animal, by=self.scenario.by("counter"))
        run = open_animal(animal, by=by).fetch(Run)
        if weights.block:
            carcass = animal.pieces.get(kind="carcass")
            weigh_at_block(carcass, by=by, weight=lb(weights.block))
        lugs = {}
        for contents, weight in (("whole_cuts", weights.whole), ("grind_trim", weights.trim)):
            scale = lb(weight) if weight else None
            lugs[contents] = fill_lug(run, by=by, contents=contents, weight=scale).fetch(Piece)
        if bone_again:
            wrong = record_waste(run, by=by, what="bone_fat", weight=lb("2.4"))
            void_event(Event.objects.get(uid=wrong.uid), by=by, reason="one digit short")
        record_waste(run, by=by, what="bone_fat", weight=lb(weights.bone) if weights.bone else None)
        record_waste(run, by=by, what="waste")
        file_tag(animal, by=by, where="tag box, row 3")
        finish_breakdown(run, by=by)
        return lugs

    def _grind(self, trims: list[Piece], weights: Weights) -> Piece:
        by = self.scenario.by("grind")
        for trim in trims:
            run = start_grind(trim, by=by).fetch(Run)
        add_fat(run, by=by, kind="pork", weight=lb(weights.fat), lot="lot 7741")
        ground = lb(weights.ground) if weights.ground else None
        lug = take_from_grinder(run, by=by, weight=ground).fetch(Piece)
        finish_grind(run, by=by)
        return lug

    def _to_wrap(self, lugs: list[Piece]) -> Run:
        for lug in lugs:
            run = bring_to_wrap(lug, by=self.scenario.by("wrap")).fetch(Run)
        return run

    def _pack(self, run: Run, cuts: tuple[tuple[str, str, int, str], ...]) -> None:
        for part, choice, many, weight in cuts:
            self.scenario.pack(run, part, choice, *[weight] * many, count=4)

    def _pack_ground(self, run: Run, many: int, weight: str, unweighed: int = 0) -> list[int]:
        part, choice = Part.objects.get(code=GRIND[0]), Choice.objects.get(code=GRIND[1])
        weights = tuple(lb(weight) for _ in range(many))
        answer = pack(
            run, by=self.scenario.by("wrap"), part=part, choice=choice, weights=weights, unweighed=unweighed
        )
        return list(answer.refs["packages"])

    def _finish(self, run: Run, weights: Weights) -> None:
        by = self.scenario.by("wrap")
        if weights.wrap_waste:
            record_wrap_waste(run, by=by, weight=lb(weights.wrap_waste))
        finish_wrap(run, by=by, reason="lean table")

    # --- out of the door ------------------------------------------------------------------------------------

    def _leave(self, order: Order) -> Order:
        freezer, counter = self.scenario.by("freezer"), self.scenario.by("counter")
        packs = Package.objects.exclude(piece__state="void").order_by("id")
        mine = [*packs.filter(order=order), *packs.filter(animal__order=order)]
        box = new_box(order, by=freezer).fetch(Piece)
        put_in_box(box, by=freezer, packages=tuple(mine))
        store(box, by=freezer, place=self.scenario.places.shelf)
        kept = Piece.objects.filter(animal__order=order, kind="kept", state="waiting")
        leaves = tuple(Piece.objects.filter(pk__in=[box.pk, *kept.values_list("pk", flat=True)]))
        order.refresh_from_db()
        release(order, by=counter, pieces=leaves, collector=str(order.hunter), initials="RS")
        order.refresh_from_db()
        if order.closed_at is None:
            close_order(order, by=counter)
        return order
