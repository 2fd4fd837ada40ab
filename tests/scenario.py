"""Driving an animal through the job, for tests that need it at a certain stage. Everything goes through actions."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from django.utils import timezone

from orders.cutsheets.actions import save_cut_sheet
from orders.floor.block import fill_lug, finish_breakdown, open_animal, record_waste
from orders.floor.grind import add_fat, finish_grind, start_grind, take_from_grinder
from orders.floor.skin import finish_skinning, hang_up, pull_tenderloins, start_skinning, take_off
from orders.intake.actions import add_animal, bring_piece, file_tag, name_hunter, new_order
from orders.intake.facts import AnimalFacts, HunterFacts
from orders.intake.models import Animal, Order, Season
from orders.ledger.entry import By
from orders.ledger.models import Piece, Run
from orders.ledger.scale import OnScale
from orders.packing.actions import bring_to_wrap, finish_wrap, new_box, pack, put_in_box, store
from orders.packing.leftover import record_wrap_waste
from orders.packing.models import Package
from shop.models import Choice, Part, PieceForm, Species
from shop.weights import parse_reading

DEER = AnimalFacts(
    sex="male",
    age_class="adult",
    license_no="L-2041",
    kill_place="Tamarack County, unit 4",
    regions_hit=("shoulder",),
    tenderloin_left="present",
    tenderloin_right="present",
    keep_head="antlers",
    keep_cape="discard",
    keep_hide="discard",
    keep_organs="discard",
)
ELK_PIECES = (
    ("hind-quarter-left", "58.5"),
    ("hind-quarter-right", "57.0"),
    ("front-quarter-left", "41.0"),
    ("front-quarter-right", "42.5"),
    ("bag-backstrap", "19.5"),
    ("bag-tenderloin", "4.5"),
    ("bag-neck", "17.0"),
)


def lb(typed: str, *, tare: str = "", confirmed: bool = False) -> OnScale:
    """What a person types at the scale, in pounds unless a unit is typed."""
    return OnScale(parse_reading(typed), parse_reading(tare) if tare else None, confirmed=confirmed)


@dataclass
class Scenario:
    """One shop with its people and places; each method brings an animal one stage further."""

    by: Callable[[str], By]
    places: Any
    season: Season
    last_run: dict[str, Run] = field(default_factory=dict)

    def order(self, hunter: str = "Rowan Sedgewick", phone: str = "406-555-0117", **facts: Any) -> Order:
        order = new_order(self.season, by=self.by("counter"), **facts).fetch(Order)
        name_hunter(order, by=self.by("counter"), facts=HunterFacts(hunter, phone, address="3 Quarry Road"))
        order.refresh_from_db()
        return order

    def deer(
        self,
        order: Order | None = None,
        *,
        tag: str = "WT-10021",
        weight: str = "131.5",
        facts: AnimalFacts = DEER,
        species: str = "white-tailed-deer",
        **more: Any,
    ) -> Animal:
        """A whole deer, hide on, at the door."""
        answer = add_animal(
            order or self.order(),
            by=self.by("counter"),
            species=Species.objects.get(code=species),
            arrived_as="whole",
            facts=facts,
            place=self.places.door,
            tag_no=tag,
            weight=lb(weight) if weight else None,
            **more,
        )
        return answer.fetch(Animal)

    def elk(self, order: Order | None = None, *, tag: str = "EK-30077", head: bool = True) -> Animal:
        """An elk as four quarters and three bags, and its head."""
        facts = AnimalFacts(
            sex="male", age_class="adult", keep_head="keep", kill_place="Lantern Ridge, unit 9"
        )
        animal = add_animal(
            order or self.order("Marit Quillfeather", "406-555-0123"),
            by=self.by("counter"),
            species=Species.objects.get(code="elk"),
            arrived_as="pieces",
            facts=facts,
            place=self.places.door,
            tag_no=tag,
        ).fetch(Animal)
        for form, weight in ELK_PIECES:
            self.bring(animal, form, weight)
        if head:
            self.bring(animal, "head", "38")
        return animal

    def bring(self, animal: Animal, form: str, weight: str = "") -> Piece:
        return bring_piece(
            animal,
            by=self.by("counter"),
            form=PieceForm.objects.get(code=form),
            place=self.places.door,
            weight=lb(weight) if weight else None,
        ).fetch(Piece)

    def hung(self, animal: Animal, weight: str = "98.4") -> Animal:
        """Skinned with its antlers off and both tenderloins bagged, hanging; or its pieces racked as they came."""
        by = self.by("skin")
        if animal.arrived_as == "whole":
            run = start_skinning(animal.pieces.get(kind="carcass"), by=by).fetch(Run)
            take_off(run, by=by, what="antlers", keep=True, place=self.places.hook)
            take_off(run, by=by, what="feet", keep=False)
            pull_tenderloins(animal, by=by, left=True, right=True, weight=lb("1.1"), place=self.places.rack)
            finish_skinning(run, by=by, place=self.places.rail, weight=lb(weight) if weight else None)
        else:
            for piece in animal.pieces.filter(kind__in=["carcass", "quarter", "bag"]):
                hang_up(piece, by=self.by("cooler"), place=self.places.rail)
        animal.refresh_from_db()
        return animal

    def opened(self, animal: Animal) -> Run:
        """Hanging, with the house cut, and open at the block."""
        if animal.state != "hanging":
            self.hung(animal)
        save_cut_sheet(animal, by=self.by("counter"))
        return open_animal(animal, by=self.by("block")).fetch(Run)

    def cut(self, animal: Animal, *, whole: str = "22.4", trim: str = "26.0") -> dict[str, Piece]:
        """Broken down into a lug of whole cuts and a lug of grind trim."""
        run, by = self.opened(animal), self.by("block")
        lugs = {}
        for contents, weight in (("whole_cuts", whole), ("grind_trim", trim)):
            answer = fill_lug(run, by=by, contents=contents, weight=lb(weight, tare="0.0"))
            lugs[contents] = answer.fetch(Piece)
        record_waste(run, by=by, what="bone_fat", weight=lb("24"))
        record_waste(run, by=by, what="waste")
        file_tag(animal, by=by, where="tag box, row 3")
        finish_breakdown(run, by=by)
        animal.refresh_from_db()
        return lugs

    def ground(self, animal: Animal, *, fat: str = "2.6", out: str = "28.2") -> dict[str, Piece]:
        """Ground with pork fat; the lugs for wrap come back."""
        lugs, by = self.cut(animal), self.by("grind")
        run = start_grind(lugs.pop("grind_trim"), by=by).fetch(Run)
        add_fat(run, by=by, kind="pork", weight=lb(fat), lot="lot 7741")
        lugs["ground"] = take_from_grinder(run, by=by, weight=lb(out)).fetch(Piece)
        finish_grind(run, by=by)
        animal.refresh_from_db()
        return lugs

    def packed(self, animal: Animal) -> list[Package]:
        """Wrapped: tenderloins, backstrap steaks and ground meat, each pack weighed; the silverskin is waste."""
        lugs, by = self.ground(animal), self.by("wrap")
        lugs.update({"tenderloins": animal.pieces.filter(kind="tenderloin").first()})
        for lug in lugs.values():
            if lug is not None:
                run = bring_to_wrap(lug, by=by).fetch(Run)
        self.pack(run, "tenderloin", "whole", "1.05")
        self.pack(run, "backstrap", "steaks", *["1.1"] * 6, count=4)
        self.pack(run, "top-round", "steaks", *["1.4"] * 10, count=4)
        self.pack(run, "grind-trim", "ground", *["1.0"] * 28)
        record_wrap_waste(run, by=by, weight=lb("1.2"))
        finish_wrap(run, by=by)
        animal.refresh_from_db()
        return list(Package.objects.filter(animal=animal).order_by("n"))

    def pack(self, run: Run, part: str, choice: str, *weights: str, count: int | None = None) -> list[int]:
        answer = pack(
            run,
            by=self.by("wrap"),
            part=Part.objects.get(code=part),
            choice=Choice.objects.get(code=choice),
            weights=tuple(lb(weight) for weight in weights),
            count=count,
        )
        return list(answer.refs["packages"])

    def stored(self, animal: Animal) -> Piece:
        """In one box on a freezer shelf."""
        packages, by = self.packed(animal), self.by("freezer")
        box = new_box(animal.order, by=by).fetch(Piece)
        put_in_box(box, by=by, packages=tuple(packages))
        store(box, by=by, place=self.places.shelf)
        animal.refresh_from_db()
        box.refresh_from_db()
        return box


def yesterday() -> Any:
    """Yesterday, in the shop's zone."""
    return timezone.localdate() - timedelta(days=1)
