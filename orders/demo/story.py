"""One order from the tailgate to the last box handed over, as far as its time has come."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from random import Random

from django.db.models import Q

from orders.billing.actions import mark_paid, set_amount
from orders.demo.arrive import COUNTER, Arrival
from orders.demo.birds import BirdWork
from orders.demo.floor import FloorWork
from orders.demo.hands import Hands, LaterError, minutes, scale_at
from orders.demo.hours import HAND_OVER
from orders.demo.hunters import prices
from orders.demo.plan import STAGES, OrderPlan
from orders.demo.pounds import packs
from orders.floor.skin import hang_up
from orders.intake.actions import end_animal
from orders.intake.models import Animal, Contact, Order
from orders.ledger.holds import open_hold, release_hold
from orders.ledger.models import Hold, Piece, Run
from orders.packing.actions import bring_to_wrap, finish_wrap, new_box, pack, put_in_box, store
from orders.packing.models import Package
from orders.pickup.actions import close_order, notify, release
from orders.pickup.queries import pieces_to_hand_over
from shop.models import Place, PlaceKind, Step

PACKS_IN_A_BOX = 64
IN_TWO_BOXES = ("partly", "box_missing")
BOX_MISSING = "Box 2 is on no shelf, looked for twice; the hunter was told and has half of the money back"
ENDINGS = {
    "refused": "Sour at the hams, and warm",
    "spoiled": "Green along the spine when it was opened",
    "void": "Written down twice",
}
HOLDS = {
    "held_instructions": ("instructions", "Wants to ring about sausage first"),
    "held_deposit": ("deposit", "No deposit yet"),
}


class Story:
    """Plays one order; `play` ends quietly where the next thing lies in the future or is not to come."""

    def __init__(self, hands: Hands, plan: OrderPlan, seed: int, known: dict[int, Contact]) -> None:
        self.hands, self.plan = hands, plan
        self.rng = Random(f"{seed} order {plan.n}")  # noqa: S311 - an invented season, no secret
        self.arrival = Arrival(hands, plan, self.rng, known)
        self.works: list[FloorWork] = []
        self.at = plan.arrives

    def play(self) -> Order:
        """Play the order and return it."""
        order = self.arrival.write_order()
        try:
            self._at_the_counter(order)
            self._on_the_floor()
            self._into_the_freezer(order)
            self._back_to_the_hunter(order)
        except LaterError:
            pass
        return order

    def _reach(self, stage: str) -> None:
        if STAGES.index(stage) > STAGES.index(self.plan.last_stage):
            raise LaterError

    def _at_the_counter(self, order: Order) -> None:
        self._reach("received")
        for n, species in enumerate(self.plan.species):
            animal, pounds = self.arrival.take_in(order, species, n)
            if self.plan.case in ("refused", "void"):
                self._end(animal)
            said = self.plan.case == "split" or self.rng.random() < 0.97
            if said and self.plan.case not in ("no_tag", "unanswered"):
                self.arrival.write_cut_sheet(animal)
            work = BirdWork if animal.arrived_as == "birds" else FloorWork
            self.works.append(work(self.hands, self.plan, self.rng, animal, pounds))
        if self.plan.case == "weighed_twice":
            self.works[0].take_back_weight(COUNTER)
        if self.plan.case in ("held_test", "released_hold"):
            self._wait_for_test(self.works[0])

    def _end(self, animal: Animal) -> None:
        ending, at = self.plan.case, self.works[0].ready if self.works else self.plan.arrives + minutes(9)
        self.hands.do(end_animal, animal, COUNTER, at, self.rng, ending=ending, reason=ENDINGS[ending])
        raise LaterError

    def _wait_for_test(self, work: FloorWork) -> None:
        """Hung with the hide on, apart, until the result of the disease test is here."""
        carcass, rail = work.animal.pieces.get(kind="carcass"), Place.objects.get(name="Hold rail")
        self.hands.do(hang_up, carcass, "Cooler door", work.ready, self.rng, place=rail)
        self._reach("cut")
        result = self.plan.arrives + timedelta(days=self.rng.randint(4, 8))
        at = HAND_OVER.first(result, self.hands.zone)
        hold = work.animal.holds.get()
        self.hands.do(release_hold, hold, COUNTER, at, self.rng, note="Result is here: not detected")
        work.ready = at

    def _on_the_floor(self) -> None:
        works, together = self.works, self.plan.together and len(self.works) > 1
        self._each(works, "skinned", lambda work: work.skin())
        self._hold_or_end(works[0])
        self._each(works, "cut", lambda work: work.cut())
        self._reach("ground")
        if together:
            works[0].grind(works[1:])
        else:
            self._each(works, "ground", lambda work: work.grind([]))
        shared = works[0].lugs.pop("ground") if together else None
        self._each(works, "packed", lambda work: work.wrap())
        if shared is not None:
            self._wrap_together(shared)

    def _each(self, works: list[FloorWork], stage: str, do: Callable[[FloorWork], None]) -> None:
        """The stage for every animal of the order; the others go on although one of them waits."""
        self._reach(stage)
        waits = False
        for work in works:
            try:
                do(work)
            except LaterError:
                waits = True
        if waits:
            raise LaterError

    def _hold_or_end(self, work: FloorWork) -> None:
        at = work.ready + minutes(30)
        if self.plan.case == "spoiled":
            self._end(work.animal)
        if self.plan.case in HOLDS:
            kind, note = HOLDS[self.plan.case]
            made = self.hands.do(open_hold, work.animal, COUNTER, at, self.rng, kind=kind, note=note)
            made.fetch(Hold)

    def _wrap_together(self, lug: Piece) -> None:
        """The ground meat of two animals of one order, which belongs to the order."""
        work = self.works[0]
        station, at = self.hands.book(Step.WRAP, max(each.ready for each in self.works), minutes(25))
        do, rng = self.hands.do, self.rng
        run = do(bring_to_wrap, lug, station, at, rng).fetch(Run)
        part = self.hands.shop.parts["grind-trim"]
        choice = next(each for each in part.choices.all() if each.code == "ground")
        weights = packs(rng, work.ground, 192, 210, 190)
        scales = tuple(scale_at(station, weight) for weight in weights)
        do(pack, run, station, at + minutes(5), rng, part=part, choice=choice, weights=scales)
        do(finish_wrap, run, station, at + minutes(22), rng)
        work.ready = at + minutes(25)

    def _into_the_freezer(self, order: Order) -> None:
        """Frozen on the racks, then boxed; the boxes of one order may lie on several shelves."""
        self._reach("stored")
        whose = Q(animal__in=[work.animal.pk for work in self.works]) | Q(order=order)
        made = Package.objects.filter(whose, piece__state="packed").select_related("piece")
        mine = list(made.order_by("id"))
        size = len(mine) // 2 + 1 if self.plan.case in IN_TWO_BOXES else PACKS_IN_A_BOX
        boxes = [tuple(mine[first : first + size]) for first in range(0, len(mine), size)]
        frozen = max(work.ready for work in self.works) + timedelta(hours=self.rng.randint(2, 15))
        station, self.at = self.hands.book(Step.FREEZER, frozen, minutes(4 * len(boxes)))
        for packages in boxes:
            box = self.hands.do(new_box, order, station, self.at, self.rng).fetch(Piece)
            self.hands.do(put_in_box, box, station, self.at + minutes(1), self.rng, packages=packages)
            shelf = self.hands.place(PlaceKind.FREEZER, self.rng)
            self.hands.do(store, box, station, self.at + minutes(2), self.rng, place=shelf)
            self.at += minutes(4)

    def _back_to_the_hunter(self, order: Order) -> None:
        self._reach("told")
        do, rng, zone = self.hands.do, self.rng, self.hands.zone
        at = HAND_OVER.first(self.at + timedelta(hours=rng.randint(1, 20)), zone, minutes(5))
        do(set_amount, order, COUNTER, at, rng, cents=self._price())
        how = rng.choice(("called", "left a message", "texted"))
        do(notify, order, COUNTER, at + minutes(4), rng, how=how)
        self._reach("collected")
        if self.plan.case == "given_up":
            reason = "Not collected and not reached in a month; local rules followed"
            at = HAND_OVER.first(at + timedelta(days=22), zone)
            do(close_order, order, COUNTER, at, rng, reason=reason)
            return
        wait = timedelta(days=rng.choice((0, 1, 1, 2, 2, 3, 4, 6, 9)), hours=rng.randint(1, 8))
        at = HAND_OVER.first(at + wait, zone, minutes(10))
        do(mark_paid, order, COUNTER, at, rng, how=rng.choice(("cash", "card", "check")))
        self._hand_over(order, at + minutes(3))

    def _hand_over(self, order: Order, at: datetime) -> None:
        do, rng, name = self.hands.do, self.rng, self._name(order)
        pieces = pieces_to_hand_over(order)
        boxes = [piece for piece in pieces if piece.kind == "box"]
        part = boxes[:1] if self.plan.case in IN_TWO_BOXES and len(pieces) > 1 else pieces
        initials = "".join(word[0] for word in name.split())[:4]
        do(release, order, COUNTER, at, rng, pieces=tuple(part), collector=name, initials=initials)
        if self.plan.case == "box_missing":
            do(close_order, order, COUNTER, at + minutes(6), rng, reason=BOX_MISSING)
        elif part is pieces and rng.random() < 0.5:
            do(close_order, order, COUNTER, at + minutes(5), rng)

    def _name(self, order: Order) -> str:
        order.refresh_from_db(fields=["hunter"])
        assert order.hunter is not None
        return order.hunter.name

    def _price(self) -> int:
        """Cents, rounded to the dollar: a fee, skinning, capes, added fat."""
        book, total = prices(), 0
        for work in self.works:
            species = work.animal.species.code
            total += book["fee"][species] * (work.animal.bird_count or 1)
            total += book["skinning"] if work.animal.arrived_as == "whole" else 0
            total += book["kept_cape"] if work.animal.keep_cape == "keep" else 0
        return total // 100 * 100
