"""What is to happen in the demo's season: who comes when, at which hours, with what weights."""

from __future__ import annotations

import re
from collections import Counter
from datetime import datetime, time, timedelta
from itertools import pairwise
from random import Random
from zoneinfo import ZoneInfo

import pytest

from orders.demo import build
from orders.demo.bench import Bench, first_free
from orders.demo.hands import scale, scale_at
from orders.demo.hours import AT_WORK, DROP_OFF, HAND_OVER, Hours
from orders.demo.hunters import hunter, prices
from orders.demo.plan import BIRDS, CASES, NEEDS_BIRDS, plan_season
from orders.demo.pounds import BIRD, DRESSED, OF_BIRD_BP, of_animal, of_birds, packs
from shop.models import Choice, Part, Species

ZONE = ZoneInfo("America/Denver")
NOON = datetime(2026, 11, 18, 12, 0, tzinfo=ZONE)


@pytest.mark.parametrize("days", range(14))
def test_any_day_has_a_season_of_four_hundred_orders_and_every_case(days: int) -> None:
    now = AT_WORK.last(NOON + timedelta(days=days, hours=3 * days), ZONE)
    plans = plan_season(Random(build.SEED), now, ZONE)
    assert len(plans) >= 404
    assert plans[-1].arrives <= now
    assert 40 <= (now - plans[0].arrives).days <= 42
    assert [plan.arrives for plan in plans] == sorted(plan.arrives for plan in plans)
    assert Counter(plan.case for plan in plans if plan.case) == {case: many for case, many, *_ in CASES}
    assert {species for plan in plans for species in plan.species} == {*DRESSED, *BIRD}
    assert all((plan.species[0] in BIRDS) == (plan.case in NEEDS_BIRDS) for plan in plans if plan.case)
    assert all(DROP_OFF.hold(plan.arrives, ZONE) for plan in plans)


# --- the hours -------------------------------------------------------------------------------------------------

# A Wednesday; a Saturday, and the Sunday after it.
WEDNESDAY, SATURDAY, SUNDAY = (datetime(2026, 11, day, tzinfo=ZONE) for day in (18, 21, 22))


def clock(day: datetime, hour: int, minute: int = 0) -> datetime:
    return day + timedelta(hours=hour, minutes=minute)


@pytest.mark.parametrize(
    ("asked", "first"),
    [
        (clock(WEDNESDAY, 3), clock(WEDNESDAY, 8)),
        (clock(WEDNESDAY, 12), clock(WEDNESDAY, 12)),
        (clock(WEDNESDAY, 18, 20), clock(WEDNESDAY, 18, 20)),
        (clock(WEDNESDAY, 18, 21), clock(WEDNESDAY, 32)),
        (clock(WEDNESDAY, 22, 43), clock(WEDNESDAY, 32)),
        (clock(SATURDAY, 18, 29), clock(SUNDAY, 32)),
        (clock(SUNDAY, 11), clock(SUNDAY, 32)),
    ],
)
def test_a_pickup_of_ten_minutes_waits_for_the_counter(asked: datetime, first: datetime) -> None:
    assert HAND_OVER.first(asked, ZONE, timedelta(minutes=10)) == first


@pytest.mark.parametrize(
    ("now", "last"),
    [
        (clock(WEDNESDAY, 12), clock(WEDNESDAY, 12)),
        (clock(WEDNESDAY, 23), clock(WEDNESDAY, 19, 45)),
        (clock(WEDNESDAY, 3), clock(WEDNESDAY, -4, -15)),
        (clock(WEDNESDAY, 8), clock(WEDNESDAY, 8)),
    ],
)
def test_at_night_the_shop_stands_as_it_was_left(now: datetime, last: datetime) -> None:
    assert AT_WORK.last(now, ZONE) == last


def test_a_day_off_is_gone_back_over() -> None:
    assert HAND_OVER.last(clock(SUNDAY, 12), ZONE) == clock(SATURDAY, 18, 30)


def test_hours_are_the_shop_s_whatever_the_machine_s() -> None:
    utc = ZoneInfo("UTC")
    assert DROP_OFF.hold(datetime(2026, 11, 18, 14, 0, tzinfo=utc), ZONE)
    assert not DROP_OFF.hold(datetime(2026, 11, 18, 13, 59, tzinfo=utc), ZONE)
    # The night in which the clocks go back has an hour more; the shop opens by the clock on its wall.
    assert Hours(time(7), time(9)).first(datetime(2026, 11, 1, 6, 0, tzinfo=utc), ZONE) == datetime(
        2026, 11, 1, 14, 0, tzinfo=utc
    )


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


@pytest.mark.parametrize("species", sorted(BIRD))
def test_birds_never_become_more(species: str) -> None:
    for seed in range(50):
        bag = of_birds(Random(seed), species, 4)
        assert bag.received == bag.hanging >= 4 * BIRD[species][0] - 10
    most = {code: high for code, (low, high) in OF_BIRD_BP.items()}
    assert all(low < high for low, high in OF_BIRD_BP.values())
    breasted = ("breast-fillets", "breast-on-bone", "jerky-strips", "ground")
    assert max(most[code] for code in breasted) + most["loose-legs"] < most["plucked-whole"]


@pytest.mark.django_db
def test_what_the_demo_names_is_in_the_catalog(catalog: None) -> None:
    assert set(OF_BIRD_BP) - {"loose-legs"} == set(
        Choice.objects.filter(parts__code="bird").values_list("code", flat=True)
    )
    assert Part.objects.filter(code="loose-legs").exists()
    assert set(BIRDS) == set(BIRD) == set(Species.objects.filter(is_bird=True).values_list("code", flat=True))
    assert set(prices()["fee"]) == set(Species.objects.values_list("code", flat=True))


def test_packs_are_never_more_than_the_lug() -> None:
    for whole in range(90, 4_000, 37):
        found = packs(Random(whole), whole, 90, 240)
        assert sum(found) <= whole
        assert all(90 <= each <= 330 for each in found)


@pytest.mark.parametrize("whole", range(30, 90, 7))
def test_less_than_a_pack_is_still_packed(whole: int) -> None:
    assert [0.9 * whole < each <= whole for each in packs(Random(whole), whole, 90, 240)] == [True]


@pytest.mark.parametrize(("hundredths", "shown"), [(12_340, "123.4 lb"), (105, "1.05 lb"), (100, "1.0 lb")])
def test_the_scale_shows_what_was_weighed(hundredths: int, shown: str) -> None:
    assert str(scale(hundredths).gross) == shown


@pytest.mark.parametrize(
    ("station", "hundredths", "shown"),
    [("Block 2", 2205, "10.00 kg"), ("Block 1", 2205, "22.05 lb"), ("Wrap 2", 125, "20.0 oz")],
)
def test_scales_have_their_own_units(station: str, hundredths: int, shown: str) -> None:
    """22.046 lb are 10 kg, 16 oz are a pound: NIST Handbook 44, appendix C (from memory)."""
    assert str(scale_at(station, hundredths).gross) == shown


def test_hunters_have_numbers_that_belong_to_nobody() -> None:
    """555-0100 to 555-0199 are kept for fiction: NANPA, 555 line numbers (from memory)."""
    for n in range(1, 400):
        assert re.fullmatch(r"\d{3}-555-01\d\d", hunter(n).facts.phone)
        assert hunter(n) == hunter(n)
    assert len({hunter(n).facts.name for n in range(1, 400)}) > 390
