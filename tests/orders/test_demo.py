"""The demo: an invented shop whose every row went through the shop's own actions, and that stays out of harm's way."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from datetime import datetime, time, timedelta
from itertools import pairwise
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import transaction
from django.db.models import Count, Q, Sum
from django.test import override_settings
from django.utils import timezone

from orders.demo import build, tour
from orders.demo.bench import Bench, first_free
from orders.demo.hands import scale
from orders.demo.hunters import hunter
from orders.demo.plan import CASES, OrderPlan, plan_season
from orders.demo.pounds import DRESSED, of_animal, packs
from orders.demo.setup import NAME, PASSWORD
from orders.intake.models import Animal, Contact, Order, Season, State
from orders.ledger.check import problems
from orders.ledger.models import Event, Hold, Piece, PieceKind, PieceState, Run, RunKind, Weighing
from orders.ledger.weights import added_mg, hung_mg, packed_mg
from shop.codes import read_code
from shop.models import Person

ZONE = ZoneInfo("America/Denver")
NOON = datetime(2026, 11, 18, 12, 0, tzinfo=ZONE)


def of_every_kind(plans: list[OrderPlan]) -> list[OrderPlan]:
    """An order of each case, each species and each way, deer that still hang and the newest, not the whole season."""
    taken: dict[Any, OrderPlan] = {}
    for plan in plans:
        for key in (plan.case, plan.species, plan.together):
            taken.setdefault(key, plan)
    newest = plans[-1].arrives
    hanging = [
        plan
        for plan in plans
        if not plan.case and not plan.rush and plan.species == ("white-tailed-deer",)
        if timedelta(days=2) < newest - plan.arrives < timedelta(days=4)
    ]
    found = {plan.n: plan for plan in [*taken.values(), *hanging[:9], *plans[-4:]]}
    return [found[n] for n in sorted(found)]


@pytest.fixture(scope="module")
def built(django_db_setup: None, django_db_blocker: Any) -> Iterator[Any]:
    """The demo of these orders, built once for this file and undone after it."""
    # The hasher that the tests log in with.
    fast = override_settings(PASSWORD_HASHERS=["django.contrib.auth.hashers.MD5PasswordHasher"])
    with django_db_blocker.unblock(), transaction.atomic(), fast:
        yield build.build(lambda done, of: None, pick=of_every_kind)
        transaction.set_rollback(True)


@pytest.fixture
def demo(built: Any, db: None) -> Any:
    return built


# --- the season as planned -------------------------------------------------------------------------------------


@pytest.mark.parametrize("days", range(14))
def test_any_day_has_a_season_of_four_hundred_orders_and_every_case(days: int) -> None:
    now = NOON + timedelta(days=days, hours=days)
    plans = plan_season(Random(build.SEED), now, ZONE)
    assert len(plans) >= 400
    assert plans[-1].arrives <= now
    assert 40 <= (now - plans[0].arrives).days <= 42
    assert [plan.arrives for plan in plans] == sorted(plan.arrives for plan in plans)
    assert Counter(plan.case for plan in plans if plan.case) == {case: many for case, many, *_ in CASES}
    assert {species for plan in plans for species in plan.species} >= set(DRESSED)


def test_the_same_day_gives_the_same_season() -> None:
    first, second = (plan_season(Random(build.SEED), NOON, ZONE) for _ in range(2))
    assert first == second
    assert plan_season(Random(build.SEED + 1), NOON, ZONE) != first


def test_a_bench_does_one_job_after_another_in_working_hours() -> None:
    bench, length = Bench(ZONE), timedelta(minutes=50)
    rng = Random(1)
    for _ in range(200):
        bench.take(NOON + timedelta(minutes=rng.randint(-4000, 4000)), length)
    assert len(bench.booked) == 200
    for (begins, ends), (next_begins, _) in pairwise(bench.booked):
        assert ends <= next_begins
        assert begins.astimezone(ZONE).time() >= time(7, 30)
        assert ends.astimezone(ZONE).time() <= time(19)


def test_a_gap_is_filled_before_the_end() -> None:
    bench, hour = Bench(ZONE), timedelta(hours=1)
    bench.take(NOON, hour)
    bench.take(NOON + timedelta(hours=2), hour)
    assert bench.take(NOON, hour) == NOON + hour
    assert bench.take(NOON, hour) == NOON + timedelta(hours=3)


def test_the_bench_that_is_free_first_gets_the_job() -> None:
    benches, hour = {"one": Bench(ZONE), "two": Bench(ZONE)}, timedelta(hours=1)
    assert first_free(benches, NOON, hour) == ("one", NOON)
    assert first_free(benches, NOON, hour) == ("two", NOON)
    assert first_free(benches, NOON, hour) == ("one", NOON + hour)


@pytest.mark.parametrize("species", sorted(DRESSED))
def test_weights_only_ever_become_less(species: str) -> None:
    for seed in range(200):
        rng = Random(seed)
        young, sex = rng.random() < 0.3, rng.choice(("male", "female"))
        pounds = of_animal(rng, species, sex=sex, young=young, days=7, hit_hard=True, all_ground=False)
        assert pounds.received - pounds.bloodshot > pounds.hanging > pounds.at_block
        parts = pounds.tenderloins + pounds.whole + pounds.trim
        assert parts + pounds.bone < pounds.at_block
        assert min(pounds.tenderloins, pounds.whole, pounds.trim, pounds.bone) > 0


def test_packs_are_never_more_than_the_lug() -> None:
    for whole in range(90, 4_000, 37):
        found = packs(Random(whole), whole, 90, 240)
        assert sum(found) <= whole
        assert all(90 <= each <= 330 for each in found)


@pytest.mark.parametrize(("hundredths", "shown"), [(12_340, "123.4 lb"), (105, "1.05 lb"), (100, "1.0 lb")])
def test_the_scale_shows_what_was_weighed(hundredths: int, shown: str) -> None:
    assert str(scale(hundredths).gross) == shown


def test_hunters_have_numbers_that_belong_to_nobody() -> None:
    """555-0100 to 555-0199 are kept for fiction: NANPA, 555 line numbers (from memory)."""
    for n in range(1, 400):
        assert re.fullmatch(r"\d{3}-555-01\d\d", hunter(n).facts.phone)
        assert hunter(n) == hunter(n)
    assert len({hunter(n).facts.name for n in range(1, 400)}) > 390


# --- the shop as built -----------------------------------------------------------------------------------------


def test_every_state_of_the_job_is_there_and_all_of_it_agrees(demo: Any) -> None:
    assert problems() == []
    states = set(Order.objects.values_list("state", flat=True)) | set(
        Animal.objects.values_list("state", flat=True)
    )
    assert states == set(State.values)
    open_now = Counter(Run.objects.filter(closed_at=None).values_list("kind", flat=True))
    assert set(open_now) == set(RunKind.values)
    assert set(Event.objects.filter(outcome="refused").values_list("refusal", flat=True)) == {"wrong_station"}
    assert Event.objects.filter(at__gt=timezone.now()).count() == 0
    assert Hold.objects.filter(released_at=None).values("kind").distinct().count() == 3
    assert Hold.objects.exclude(released_at=None).exists()
    assert Event.objects.exclude(voids=None).exists()
    assert Piece.objects.filter(kind=PieceKind.PACKAGE, state=PieceState.VOID).exists()
    assert Piece.objects.filter(kind=PieceKind.LUG, state=PieceState.VOID).exists()
    assert Order.objects.filter(grind_together=True, runs__kind="grind", packages__isnull=False).exists()
    assert Animal.objects.filter(species__is_bird=True, bird_count__gte=1).exists()
    assert Animal.objects.filter(tag_no="", no_tag_reason__isnull=False).exists()


def test_the_yields_are_plausible(demo: Any) -> None:
    """Own meat packed of a skinned carcass: 35 to 66 %, the widest the catalog's lean and shot loss figures allow."""
    packed = Animal.objects.filter(order__grind_together=False, state=State.COLLECTED, arrived_as="whole")
    shares = []
    for animal in packed.select_related("order"):
        hung = hung_mg(animal)
        if hung:
            shares.append((packed_mg(animal) - added_mg(animal)) * 100 // hung)
    assert len(shares) >= 5
    assert min(shares) >= 35
    assert max(shares) <= 66


def test_the_animals_are_in_one_order_of_arrival(demo: Any) -> None:
    orders = list(Order.objects.order_by("seq").values_list("created_at", "number"))
    assert orders == sorted(orders)
    assert Season.objects.get().starts_on < timezone.localdate() < Season.objects.get().ends_on


def test_nobody_works_at_two_places_on_one_job(demo: Any) -> None:
    """Runs at one station never overlap: each is closed before the next is opened, the open ones are last."""
    runs: dict[int, list[Run]] = {}
    for run in Run.objects.order_by("opened_at"):
        runs.setdefault(run.station_id, []).append(run)
    overlapping = [
        (run.code, later.code)
        for each in runs.values()
        for run, later in pairwise(each)
        if run.closed_at is None or run.closed_at > later.opened_at
    ]
    assert overlapping == []


def test_hunters_come_back_as_the_same_contact(demo: Any) -> None:
    names = Contact.objects.values("name").annotate(many=Count("pk")).filter(many__gt=1)
    assert list(names) == []


def test_everybody_can_log_in(demo: Any, client: Any) -> None:
    people = Person.objects.all()
    assert Counter(people.values_list("role", flat=True)) == {"owner": 1, "counter": 2, "floor": 6}
    for person in people:
        assert client.login(username=person.username, password=PASSWORD)
        assert person.pin
        assert re.fullmatch(r"\d{12}", person.badge or "")


def test_the_tour_names_things_that_are_there(demo: Any) -> None:
    said = tour.text()
    assert said.startswith(NAME)
    codes = ["".join(found) for found in re.findall(r"^  (\d) (\d{4}) (\d{4}) (\d) ", said, re.MULTILINE)]
    assert len(codes) == 4
    for code in codes:
        assert Piece.objects.filter(code=read_code(code)[1]).exists()
    numbers = re.findall(r"/orders/([\w-]+)/", said)
    assert len(numbers) >= 7
    assert Order.objects.filter(number__in=numbers).count() == len(set(numbers))
    for person in Person.objects.all():
        assert f"  {person.username} " in said
    assert f"{Order.objects.count()} orders: " in said


def test_money_is_whole_dollars_and_paid_where_it_went_home(demo: Any) -> None:
    home = Order.objects.filter(state=State.COLLECTED, close_reason="")
    assert home.filter(Q(amount_cents=None) | Q(paid_at=None)).count() == 0
    assert (home.aggregate(total=Sum("amount_cents"))["total"] or 0) % 100 == 0
    assert Weighing.objects.filter(nominal=True).count() == 0
