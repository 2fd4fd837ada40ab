"""Any sequence of actions, sensible or not: only refusals, and the ledger agrees with itself after every step.

The actions are the real ones on the real database. Each example is played in a savepoint that is rolled back, which
works the same on SQLite and PostgreSQL. A rule either does what comes next for some animal, or something at random.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from datetime import timedelta
from typing import Any, ClassVar
from uuid import UUID, uuid4

import pytest
from django.db import transaction
from django.db.models import Q
from django.utils import timezone
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from orders.cutsheets.actions import ask_change, save_cut_sheet
from orders.floor.block import fill_lug, finish_breakdown, open_animal, record_waste, weigh_at_block
from orders.floor.grind import add_fat, finish_grind, start_grind, take_from_grinder
from orders.floor.skin import (
    cut_off_bloodshot,
    finish_skinning,
    hang_up,
    move_cold,
    pull_tenderloins,
    start_skinning,
    take_off,
)
from orders.intake.actions import (
    add_animal,
    bring_piece,
    end_animal,
    file_tag,
    name_hunter,
    new_order,
    record_order,
    record_tag,
    weigh_received,
)
from orders.intake.facts import AnimalFacts, HunterFacts
from orders.intake.models import Animal, Order
from orders.ledger.check import problems
from orders.ledger.entry import Answer
from orders.ledger.holds import open_hold, release_hold
from orders.ledger.models import Event, Hold, Piece, Run
from orders.ledger.refusal import Refusal
from orders.ledger.scale import OnScale
from orders.ledger.voids import put_back, reopen_job, void_event, void_lug, void_piece
from orders.ledger.weights import added_mg, most_that_can_be_packed, packed_mg
from orders.packing.actions import (
    bring_to_wrap,
    finish_wrap,
    new_box,
    pack,
    put_in_box,
    store,
    void_package,
)
from orders.packing.leftover import record_wrap_waste, send_to_grind
from orders.packing.models import Package
from orders.pickup.actions import (
    close_order,
    hand_back_ended,
    haul_ended,
    notify,
    release,
    reopen_order,
)
from shop.models import Choice, NoTagReason, Part, PieceForm, Place, Species
from shop.weights import Reading
from tests.scenario import Scenario

# Some 30 s alone on one core; raise both to search deeper.
EXAMPLES, STEP_COUNT = 16, 26
number = st.integers(0, 10_000)
tenths = st.integers(0, 1_500)
STAGES = ("", "hung", "opened", "cut", "ground", "packed", "stored")
STEPS = ("counter", "skin", "cooler", "block", "grind", "wrap", "freezer")


def scale(value: int, tare: int = 0) -> OnScale:
    """Tenths of a pound, confirmed or not by its last digit; nothing on the scale is one of the cases."""
    return OnScale(
        Reading(value, "lb", 1), Reading(tare, "lb", 1) if tare else None, confirmed=value % 2 == 0
    )


def answered(do: Callable[[], Answer]) -> Answer | Refusal:
    """The answer or the refusal; anything else is a fault and goes up."""
    try:
        return do()
    except Refusal as refusal:
        return refusal


class Shop(RuleBasedStateMachine):
    """People of a shop who do what they like; `scenario` is set by the test."""

    scenario: ClassVar[Scenario]

    def __init__(self) -> None:
        super().__init__()
        self.atomic = transaction.atomic()
        self.atomic.__enter__()
        self.sent: list[tuple[Callable[..., Answer], Any, str, dict[str, Any], UUID]] = []
        self.done: set[str] = set()

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.atomic.__exit__(None, None, None)
        type(self).verbs_done |= self.done

    verbs_done: ClassVar[set[str]] = set()

    # --- doing ------------------------------------------------------------------------------------------------

    def act(self, action: Callable[..., Answer], subject: Any, step: str, late: int = 0, **facts: Any) -> Any:
        """Do it; a refusal is an answer, and the last event says the same. Returns the answer, or None."""
        if subject is None:
            return None
        uid = uuid4()
        at = timezone.now() - timedelta(hours=late % 100) if late % 3 == 0 else None
        self.sent.append((action, subject, step, facts, uid))
        said = answered(lambda: action(subject, by=self.scenario.by(step), sender_id=uid, at=at, **facts))
        event = Event.objects.get(uid=uid)
        if isinstance(said, Refusal):
            assert (event.outcome, event.refusal, event.shown) == ("refused", said.code, said.sentence)
            return None
        assert event.outcome == "ok"
        self.done.add(action.__name__)
        return said

    @staticmethod
    def pick(rows: Any, n: int) -> Any:
        found = list(rows.order_by("pk"))
        return found[n % len(found)] if found else None

    def place(self, n: int) -> Place:
        return self.pick(Place.objects.filter(sink=""), n)

    # --- sensible steps ---------------------------------------------------------------------------------------

    @initialize(first=st.sampled_from(STAGES), second=st.sampled_from(STAGES), together=st.booleans())
    def somebody_is_here(self, first: str, second: str, together: bool) -> None:
        """Two deer somewhere in the job, of one order or of two, and one at the door."""
        scenario = self.scenario
        order = scenario.order()
        record_order(order, by=scenario.by("counter"), grind_together=together)
        for n, stage in enumerate((first, second)):
            deer = scenario.deer(order if together or not n else scenario.order(), tag=f"S-{n}")
            if stage:
                with suppress(Refusal):
                    getattr(scenario, stage)(deer)
        self.whole_deer(0, 1_300, 3)

    @rule(late=number)
    def another_order(self, late: int) -> None:
        answer = self.act(new_order, self.scenario.season, "counter", late)
        order = Order.objects.get(pk=answer.refs["order"])
        self.act(name_hunter, order, "counter", facts=HunterFacts("Rowan Sedgewick", "406-555-0117"))

    @rule(n=number, weight=tenths, tag=st.integers(0, 6))
    def whole_deer(self, n: int, weight: int, tag: int) -> None:
        order = self.pick(Order.objects.all(), n)
        facts = AnimalFacts(keep_head="antlers", keep_cape="discard", keep_hide="discard")
        self.act(
            add_animal,
            order,
            "counter",
            n,
            species=Species.objects.get(code="white-tailed-deer"),
            arrived_as="skinned" if n % 4 == 1 else "whole",
            facts=facts,
            place=self.scenario.places.door,
            tag_no=f"T-{tag}" if tag else "",
            weight=scale(weight) if weight else None,
        )

    @rule(n=number, form=number, weight=tenths)
    def animal_in_pieces(self, n: int, form: int, weight: int) -> None:
        animal = self.pick(Animal.objects.filter(arrived_as="pieces"), n)
        if animal is None or n % 3 == 0:
            answer = self.act(
                add_animal,
                self.pick(Order.objects.all(), n),
                "counter",
                n,
                species=Species.objects.get(code="elk"),
                arrived_as="pieces",
                facts=AnimalFacts(),
                place=self.scenario.places.door,
                tag_no=f"E-{n % 50}",
            )
            animal = Animal.objects.get(pk=answer.refs["animal"]) if answer else None
        chosen = self.pick(PieceForm.objects.all(), form)
        weighed = scale(weight // 3) if weight else None
        self.act(bring_piece, animal, "counter", form=chosen, place=self.scenario.places.door, weight=weighed)

    @rule(n=number, weight=tenths)
    def forward(self, n: int, weight: int) -> None:
        """What comes next for some animal, with a weight that may or may not be believed."""
        self._next(n, weight)

    @rule(n=number, weight=st.integers(300, 900), times=st.integers(2, 5))
    def far_forward(self, n: int, weight: int, times: int) -> None:
        """The same animal several steps on."""
        for more in range(times):
            self._next(n, weight - 50 * more)

    def _next(self, n: int, weight: int) -> None:
        animal = self.pick(Animal.objects.filter(ended=""), n)
        if animal is None:
            return
        if not animal.cut_sheets.exists():
            self.act(save_cut_sheet, animal, "counter")
        run = animal.runs.filter(closed_at=None).order_by("pk").first()
        body = animal.pieces.filter(kind__in=("carcass", "quarter", "bag"))
        waiting = animal.pieces.filter(kind__in=("lug", "tenderloin"), state="waiting")
        if run is not None:
            self._work_on(animal, run, n, weight)
        elif body.filter(kind="carcass", state="received").exists() and animal.arrived_as == "whole":
            self.act(start_skinning, body.get(kind="carcass"), "skin", n)
        elif body.filter(state="received").exists():
            piece = self.pick(body.filter(state="received"), n)
            self.act(hang_up, piece, "cooler", n, place=self.scenario.places.rail)
        elif body.filter(state="hanging").exists():
            self.act(open_animal, animal, "block", n)
        elif waiting.filter(contents="grind_trim").exists():
            self.act(start_grind, self.pick(waiting.filter(contents="grind_trim"), n), "grind", n)
        elif waiting.exists():
            self.act(bring_to_wrap, self.pick(waiting, n), "wrap", n)
        else:
            self._send_home(animal.order, n)

    def _work_on(self, animal: Animal, run: Run, n: int, weight: int) -> None:
        lines = {line.what for line in run.lines.all()}
        if run.kind == "skin":
            if "antlers" not in lines:
                self.act(take_off, run, "skin", n, what="antlers", keep=True)
            rail = self.scenario.places.rail
            self.act(
                finish_skinning,
                run,
                "skin",
                n,
                place=rail,
                left_in="later",
                weight=scale(weight) if weight else None,
            )
        elif run.kind == "cut":
            contents = ("grind_trim", "whole_cuts", "tenderloins")[n % 3]
            self.act(fill_lug, run, "block", n, contents=contents, weight=scale(weight // 3))
            self.act(record_waste, run, "block", n, what="bone_fat")
            self.act(record_waste, run, "block", n, what="waste", weight=scale(weight // 9))
            self.act(file_tag, animal, "block", n, where="tag box")
            if n % 2:
                self.act(finish_breakdown, run, "block", n)
        elif run.kind == "grind":
            self.act(add_fat, run, "grind", n, kind="pork", weight=scale(weight // 20))
            self.act(take_from_grinder, run, "grind", n, weight=scale(weight // 3))
            self.act(finish_grind, run, "grind", n)
        else:
            self.some_packs(n, weight // 4, n % 5 + 1)
            self.act(finish_wrap, run, "wrap", n, reason="that is all" if n % 2 else "")

    def _send_home(self, order: Order, n: int) -> None:
        packs = Package.objects.filter(Q(animal__order=order) | Q(order=order), piece__state="packed")
        loose = tuple(packs.filter(piece__container=None))
        box = self.pick(order.pieces.filter(kind="box"), n)
        if loose and (box is None or box.state != "packed"):
            self.act(new_box, order, "wrap", n)
        elif loose:
            self.act(put_in_box, box, "wrap", n, packages=loose)
        if box is not None:
            self.act(store, box, "freezer", n, place=self.scenario.places.shelf)
        self.act(notify, order, "counter", n, how="called")
        if n % 2 and box is not None:
            self.hand_over(n, n)

    # --- anything anywhere ------------------------------------------------------------------------------------

    @rule(n=number, weight=st.integers(0, 400), many=st.integers(0, 12))
    def some_packs(self, n: int, weight: int, many: int) -> None:
        run = self.pick(Run.objects.filter(kind="wrap"), n)
        part = self.pick(Part.objects.filter(code__in=("backstrap", "grind-trim", "tenderloin")), n)
        self.act(
            pack,
            run,
            "wrap",
            n,
            part=part,
            choice=self.pick(Choice.objects.filter(parts=part), n // 3),
            weights=(scale(weight),) * (many - many // 4),
            unweighed=many // 4,
        )

    @rule(n=number, step=st.sampled_from(STEPS), what=number, weight=tenths)
    def piece_anywhere(self, n: int, step: str, what: int, weight: int) -> None:
        """Some piece, any action on pieces, at any station."""
        piece, place = self.pick(Piece.objects.all(), n), self.place(what)
        weighed = scale(weight, tare=what % 5)
        if piece is None:
            return
        tries: tuple[Callable[[], Any], ...] = (
            lambda: self.act(start_skinning, piece, step, n),
            lambda: self.act(hang_up, piece, step, n, place=place, weight=weighed if n % 2 else None),
            lambda: self.act(move_cold, piece, step, n, place=place),
            lambda: self.act(weigh_received, piece, step, n, weight=weighed),
            lambda: self.act(weigh_at_block, piece, step, n, weight=weighed),
            lambda: self.act(start_grind, piece, step, n),
            lambda: self.act(bring_to_wrap, piece, step, n),
            lambda: self.act(store, piece, step, n, place=place),
            lambda: self.act(void_lug, piece, step, n, reason="a mistake"),
            lambda: self.act(void_piece, piece, step, n, reason="a mistake"),
            lambda: self.act(put_in_box, piece, step, n, packages=tuple(Package.objects.all()[: what % 9])),
        )
        tries[what % len(tries)]()

    @rule(n=number, step=st.sampled_from(STEPS), what=number, weight=tenths)
    def run_anywhere(self, n: int, step: str, what: int, weight: int) -> None:
        """Some run, open or not, any action on runs, at any station."""
        run, weighed = self.pick(Run.objects.all(), n), scale(weight)
        if run is None:
            return
        if run.animal is None:
            what = (2, 3, 4, 5, 8, 9, 10, 11)[what % 8]
        tries: tuple[Callable[[], Any], ...] = (
            lambda: self.act(fill_lug, run, step, n, contents="grind_trim", weight=weighed),
            lambda: self.act(cut_off_bloodshot, run, step, n, region="neck", weight=weighed),
            lambda: self.act(add_fat, run, step, n, kind="beef", weight=weighed if n % 2 else None),
            lambda: self.act(take_from_grinder, run, step, n, weight=weighed if n % 2 else None),
            lambda: self.act(finish_grind, run, step, n, reason="done"),
            lambda: self.act(finish_wrap, run, step, n, reason="done"),
            lambda: self.act(finish_breakdown, run, step, n, reason="done"),
            lambda: self.act(take_off, run, step, n, what="feet", keep=False, weight=weighed),
            lambda: self.act(put_back, run, step, n, reason="opened by mistake"),
            lambda: self.act(reopen_job, run, step, n, reason="finished too early"),
            lambda: self.act(record_wrap_waste, run, "wrap", n, weight=weighed if n % 4 else None),
            lambda: self.act(send_to_grind, run, "wrap", n, weight=weighed if n % 4 else None),
        )
        tries[what % len(tries)]()

    @rule(n=number, left=st.booleans(), right=st.booleans(), weight=tenths)
    def tenderloins(self, n: int, left: bool, right: bool, weight: int) -> None:
        animal = self.pick(Animal.objects.all(), n)
        weighed = scale(weight // 50) if weight > 50 else None
        self.act(pull_tenderloins, animal, "cooler", n, left=left, right=right, weight=weighed)

    @rule(n=number, tag=st.integers(0, 6))
    def tag(self, n: int, tag: int) -> None:
        animal, reason = self.pick(Animal.objects.all(), n), NoTagReason.objects.first() if tag < 3 else None
        self.act(record_tag, animal, "counter", n, tag_no=f"T-{tag}" if tag > 2 else "", no_tag_reason=reason)

    @rule(n=number, together=st.booleans())
    def order_facts(self, n: int, together: bool) -> None:
        self.act(record_order, self.pick(Order.objects.all(), n), "counter", n, grind_together=together)

    @rule(n=number, kind=st.sampled_from(["tag", "recall", "deposit"]))
    def hold(self, n: int, kind: str) -> None:
        self.act(open_hold, self.pick(Animal.objects.all(), n), "counter", n, kind=kind)

    @rule(n=number)
    def release_a_hold(self, n: int) -> None:
        self.act(release_hold, self.pick(Hold.objects.all(), n), "counter", n, note="settled")

    @rule(n=number)
    def change_the_cuts(self, n: int) -> None:
        animal = self.pick(Animal.objects.all(), n)
        self.act(save_cut_sheet, animal, "counter", n)
        self.act(ask_change, animal, "counter", n, text="leave it whole")

    @rule(n=number, ending=st.sampled_from(["refused", "spoiled", "void"]))
    def end(self, n: int, ending: str) -> None:
        if n % 4 == 0:
            self.act(end_animal, self.pick(Animal.objects.all(), n), "counter", n, ending=ending, reason="so")

    @rule(n=number)
    def take_back(self, n: int) -> None:
        kept = ("add_animal", "bring_piece", "weigh_received", "weigh_at_block", "record_waste", "add_fat")
        events = Event.objects.filter(verb__in=kept) if n % 4 else Event.objects.all()
        self.act(void_event, self.pick(events, n), "counter", n, reason="typed wrong")

    @rule(n=number)
    def take_back_a_pack(self, n: int) -> None:
        package = self.pick(Package.objects.all(), n)
        self.act(void_package, package, "wrap", n, reason="torn", destroyed=n % 2 == 0)

    @rule(n=number)
    def open_a_job_again(self, n: int) -> None:
        finished = Run.objects.filter(kind__in=("cut", "wrap")).exclude(closed_at=None)
        self.act(reopen_job, self.pick(finished, n), "wrap", n, reason="finished too early")

    @rule(n=number, many=number)
    def hand_over(self, n: int, many: int) -> None:
        order = self.pick(Order.objects.all(), n)
        pieces = Piece.objects.filter(kind__in=("box", "package", "kept"))
        if many % 4:
            pieces = pieces.filter(Q(order=order) | Q(animal__order=order), container=None)
        self.act(
            release,
            order,
            "counter",
            n,
            pieces=tuple(pieces.order_by("pk")[: many % 5]),
            collector="Rowan Sedgewick",
            initials="RS",
        )

    @rule(n=number)
    def close(self, n: int) -> None:
        if n % 5 == 0:
            self.act(
                close_order,
                self.pick(Order.objects.all(), n),
                "counter",
                n,
                reason="settled" if n % 2 else "",
            )

    @rule(n=number)
    def open_again(self, n: int) -> None:
        closed = Order.objects.exclude(closed_at=None)
        self.act(reopen_order, self.pick(closed, n), "counter", n, reason="closed too early")

    @rule(n=number, back=st.booleans())
    def what_ended_leaves(self, n: int, back: bool) -> None:
        animal = self.pick(Animal.objects.exclude(ended=""), n) or self.pick(Animal.objects.all(), n)
        if back:
            self.act(hand_back_ended, animal, "counter", n, collector="Rowan Sedgewick", initials="RS")
        else:
            self.act(haul_ended, animal, "cooler", n, where="the renderer")

    # --- the network ------------------------------------------------------------------------------------------

    @rule(n=number)
    def send_again(self, n: int) -> None:
        """The same id again: the first answer, whatever has become of things since, and no new event."""
        if not self.sent:
            return
        action, subject, step, facts, uid = self.sent[n % len(self.sent)]
        first, events = Event.objects.get(uid=uid), Event.objects.count()
        said = answered(lambda: action(subject, by=self.scenario.by(step), sender_id=uid, **facts))
        if isinstance(said, Refusal):
            assert (first.outcome, first.refusal, first.shown) == ("refused", said.code, said.sentence)
        else:
            assert said.repeated
            assert (first.outcome, first.shown, first.data["refs"]) == ("ok", said.shown, said.refs)
        assert Event.objects.count() == events

    @rule(n=number)
    def send_something_else_under_the_same_id(self, n: int) -> None:
        if not self.sent:
            return
        *_, uid = self.sent[n % len(self.sent)]
        events = Event.objects.count()
        with pytest.raises(Refusal) as refused:
            new_order(self.scenario.season, by=self.scenario.by("counter"), sender_id=uid, rush=True)
        assert refused.value.code == "same_id_other_payload"
        assert Event.objects.count() == events

    # --- what always holds ------------------------------------------------------------------------------------

    @invariant()
    def the_ledger_agrees(self) -> None:
        assert problems() == []

    @invariant()
    def each_piece_is_in_one_place(self) -> None:
        nowhere = Q(place=None, container=None) | (Q(place__isnull=False) & Q(container__isnull=False))
        assert not Piece.objects.filter(nowhere).exists()

    @invariant()
    def no_pound_comes_from_nowhere(self) -> None:
        for animal in Animal.objects.filter(order__grind_together=False).select_related("order"):
            limit = most_that_can_be_packed(animal)
            if limit is not None:
                assert packed_mg(animal) <= limit + added_mg(animal)


@pytest.fixture
def machine(scenario: Scenario) -> type[Shop]:
    Shop.scenario = scenario
    Shop.verbs_done = set()
    return Shop


def test_whatever_people_do_the_ledger_agrees(machine: type[Shop]) -> None:
    """Derandomized: the same examples every time. Most verbs must have been done, or nothing was shown."""
    run_state_machine_as_test(
        machine,
        settings=settings(
            max_examples=EXAMPLES,
            stateful_step_count=STEP_COUNT,
            derandomize=True,
            deadline=None,
            database=None,
            phases=(Phase.generate,),
            suppress_health_check=list(HealthCheck),
        ),
    )
    assert len(machine.verbs_done) >= 15, sorted(machine.verbs_done)
