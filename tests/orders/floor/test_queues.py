"""What is next: the order of each queue, and that a longer queue asks no more questions of the database."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from orders.cutsheets.actions import save_cut_sheet
from orders.floor.queries import SHOWN, Queue, Waiting, block_queue, hanging_age, skin_queue
from orders.floor.skin import finish_skinning, start_skinning, take_off
from orders.intake.actions import record_order
from orders.intake.facts import AnimalFacts
from orders.intake.models import Animal, ArrivedAs
from orders.ledger.models import Run
from shop.models import Species
from tests.orders.floor.tablet import Tablet, words
from tests.scenario import DEER


def facts(**more: Any) -> AnimalFacts:
    return AnimalFacts(keep_head="discard", keep_cape="discard", keep_hide="discard", **more)


def hang(scenario: Any, deer: Animal, moment: datetime) -> None:
    """Skinned and hung at a moment, with a cut sheet."""
    run = start_skinning(deer.pieces.get(kind="carcass"), by=scenario.by("skin"), at=moment).fetch(Run)
    if deer.keep_head == "antlers":
        take_off(run, by=scenario.by("skin"), what="antlers", keep=True, at=moment)
    finish_skinning(run, by=scenario.by("skin"), place=scenario.places.rail, left_in="later", at=moment)
    save_cut_sheet(deer, by=scenario.by("counter"), at=moment)
    deer.refresh_from_db()


def test_skinning_takes_warm_then_gut_shot_then_rush_then_oldest(scenario: Any) -> None:
    oldest = scenario.deer(tag="WT-1", facts=facts(), at=timezone.now() - timedelta(days=2))
    newest = scenario.deer(tag="WT-2", facts=facts())
    rush = scenario.deer(scenario.order(rush=True), tag="WT-3", facts=facts())
    gut_shot = scenario.deer(tag="WT-4", facts=facts(gut_shot=True))
    warm = scenario.deer(tag="WT-5", facts=facts(warm=True))
    expected = [warm, gut_shot, rush, oldest, newest]
    assert [row.animal.label for row in skin_queue().ready] == [animal.label for animal in expected]
    assert skin_queue().ready[0].marks == ("warm",)
    assert [row.age for row in skin_queue().ready][3:] == ["came 2 days ago", "came today"]


def test_the_block_takes_what_has_the_least_time_left(
    scenario: Any, at: Callable[[float], datetime], by: Any
) -> None:
    fresh, warm = scenario.deer(tag="WT-1"), scenario.deer(tag="WT-2", facts=facts(warm=True))
    rush = scenario.deer(scenario.order(rush=True), tag="WT-3")
    order = scenario.order()
    record_order(order, by=by("counter"), promised_on=timezone.localdate())
    promised = scenario.deer(order, tag="WT-4")
    long = scenario.deer(tag="WT-5", species="mule-deer")
    for animal in (fresh, warm, rush, promised):
        hang(scenario, animal, at(0.1))
    hang(scenario, long, at(24 * 5))
    labels = [row.animal.label for row in block_queue().ready]
    assert labels == [animal.label for animal in (long, rush, promised, warm, fresh)]


@pytest.mark.parametrize(
    ("days", "said", "late"),
    [(0, "aging: 0 of 3 days", False), (1, "aging: 1 of 3 days", False), (3, "hangs 3 days, limit 7", False),
     (7, "hangs 7 days, limit 7", False), (8, "LATE: hangs 8 days, limit 7", True)],
)  # fmt: skip
def test_the_age_in_words(days: int, said: str, late: bool) -> None:
    day = timezone.localdate()
    noon = timezone.make_aware(datetime.combine(day - timedelta(days=days), datetime.min.time())) + timedelta(
        hours=12
    )
    animal = Animal(species=Species(hang_days=3, hang_limit_days=7), hung_at=noon, arrived_as=ArrivedAs.WHOLE)
    assert hanging_age(animal, day) == (said, late)


def test_a_long_queue_is_counted_rather_than_shown() -> None:
    queue = Queue()
    for n in range(SHOWN + 3):
        queue.add(Waiting(Animal(n=n), n))
        queue.add(Waiting(Animal(n=n), n, why_not="on hold"))
    assert (len(queue.shown), queue.more) == (SHOWN, 3)
    assert (len(queue.stopped), queue.more_stopped) == (SHOWN, 3)


def stage(scenario: Any, step: str, n: int) -> None:
    """One more animal that waits at a station."""
    deer = scenario.deer(scenario.order(f"Hunter {n}"), tag=f"WT-{step}-{n}", facts=DEER)
    if step == "cooler":
        scenario.hung(deer)
    elif step == "block":
        scenario.hung(deer)
        save_cut_sheet(deer, by=scenario.by("counter"))
    elif step == "grind":
        scenario.cut(deer)
    elif step == "wrap":
        scenario.ground(deer)
    elif step == "freezer":
        scenario.stored(deer)


@pytest.mark.parametrize("step", ["skin", "cooler", "block", "grind", "wrap", "freezer"])
def test_three_waiting_ask_no_more_than_one(scenario: Any, tablet: Tablet, step: str) -> None:
    tablet.at(step)
    counts = []
    for n in range(3):
        stage(scenario, step, n)
        if n in (0, 2):
            with CaptureQueriesContext(connection) as asked:
                page = tablet.client.get(reverse("floor"))
            counts.append(len(asked))
    assert counts[0] == counts[1]
    assert counts[0] <= 26
    labels = {f"26-{n:04d}" for n in (1, 2, 3)}
    assert all(label in words(page) for label in labels)


@pytest.mark.parametrize("name", ["floor-wrap", "floor-packs"])
def test_more_packs_ask_no_more(scenario: Any, tablet: Tablet, by: Any, name: str) -> None:
    from orders.packing.actions import bring_to_wrap

    deer = scenario.deer()
    for lug in scenario.ground(deer).values():
        run = bring_to_wrap(lug, by=by("wrap")).fetch(Run)
    tablet.at("wrap")
    counts = []
    for _ in (1, 3):
        scenario.pack(run, "backstrap", "steaks", "1.1", count=4)
        if len(counts) == 1:
            scenario.pack(run, "top-round", "steaks", "1.1", "1.2", count=4)
        with CaptureQueriesContext(connection) as asked:
            tablet.get(name, run.pk)
        counts.append(len(asked))
    assert counts[0] == counts[1]
