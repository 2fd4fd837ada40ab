"""The demo: an invented shop whose every row went through the shop's own actions, and that stays out of harm's way."""

from __future__ import annotations

import re
from collections import Counter
from datetime import timedelta
from itertools import pairwise
from typing import Any

from django.db.models import Count, Q, Sum
from django.utils import timezone

from orders.cutsheets.models import CutLine
from orders.demo import tour
from orders.demo.setup import NAME, PASSWORD
from orders.demo.story import BOX_MISSING
from orders.floor.queries import block_queue
from orders.intake.models import Animal, Contact, Order, Season, State
from orders.ledger.check import problems
from orders.ledger.models import Event, Hold, Piece, PieceKind, PieceState, Run, RunKind, RunLine, Weighing
from orders.ledger.weights import added_mg, hung_mg, packed_mg, received_mg
from orders.packing.models import Package
from orders.yields.queries import yields_of
from shop.codes import read_code
from shop.models import Person
from tests.orders.demo.hours import outside_hours


def test_every_state_of_the_job_is_there_and_all_of_it_agrees(demo: Any) -> None:
    assert problems() == []
    states = set(Order.objects.values_list("state", flat=True)) | set(
        Animal.objects.values_list("state", flat=True)
    )
    assert states == set(State.values)
    open_now = Counter(Run.objects.filter(closed_at=None).values_list("kind", flat=True))
    assert set(open_now) == set(RunKind.values)
    refused = set(Event.objects.filter(outcome="refused").values_list("refusal", flat=True))
    assert refused - {"tenderloin_missing"} == {"wrong_station", "untagged_birds"}
    assert Event.objects.filter(at__gt=timezone.now()).count() == 0
    assert Hold.objects.filter(released_at=None).values("kind").distinct().count() == 3
    assert Hold.objects.exclude(released_at=None).exists()
    assert Event.objects.exclude(voids=None).exists()
    assert Piece.objects.filter(kind=PieceKind.PACKAGE, state=PieceState.VOID).exists()
    assert Piece.objects.filter(kind=PieceKind.LUG, state=PieceState.VOID).exists()
    assert Order.objects.filter(grind_together=True, runs__kind="grind", packages__isnull=False).exists()
    assert Animal.objects.filter(species__is_bird=True, bird_count__gte=1).exists()
    assert Animal.objects.filter(tag_no="", no_tag_reason__isnull=False).exists()


def test_what_goes_wrong_in_a_shop_is_there(demo: Any) -> None:
    """A split, pieces, scales of all kinds, packs that were only counted, a box that nobody found."""
    assert CutLine.objects.filter(sheet__current=True, share_bp__lt=10_000, part__code="top-round").exists()
    assert Animal.objects.filter(species__code="elk", arrived_as="pieces", state=State.HANGING).exists()
    assert Animal.objects.filter(state=State.NOT_RECEIVED, tag_no="", no_tag_reason=None).exists()
    assert Order.objects.get(close_reason=BOX_MISSING).releases.count() == 1
    assert Piece.objects.filter(order__close_reason=BOX_MISSING, kind=PieceKind.BOX, state="stored").exists()
    assert Package.objects.filter(weighing=None, count=None, part__code="grind-trim").exists()
    assert set(Weighing.objects.values_list("unit", flat=True)) == {"lb", "oz", "kg"}
    assert Weighing.objects.filter(event__voided_by__isnull=False, point="received").exists()
    cut = Run.objects.filter(kind=RunKind.CUT, closed_at__isnull=False)
    assert RunLine.objects.filter(run__in=cut, what="bone_fat", weighing=None).exists()


def test_birds_are_done_as_promptly_as_the_rest(demo: Any) -> None:
    """None hangs past its limit; those of the last days are in work, the others are packed."""
    birds = Animal.objects.filter(species__is_bird=True).select_related("species")
    assert birds.count() >= 4
    before = timezone.now() - timedelta(days=6)
    done = {State.READY, State.NOTIFIED, State.COLLECTED}
    assert {animal.state for animal in birds if animal.arrived_at < before} <= done
    queue = block_queue()
    assert [
        row.animal for row in (*queue.ready, *queue.not_ready) if row.late and row.animal.species.is_bird
    ] == []


def test_birds_are_packed_as_birds(demo: Any) -> None:
    packs = Package.objects.filter(animal__species__is_bird=True)
    assert packs.exists()
    assert set(packs.values_list("part__code", flat=True)) <= {"bird", "loose-legs", "giblets"}
    assert not Package.objects.filter(animal__species__is_bird=False, part__code="bird").exists()
    for animal in Animal.objects.filter(packages__part__code="bird").distinct():
        assert packed_mg(animal) < (received_mg(animal) or 0)


def test_everything_happens_while_the_shop_is_open(demo: Any) -> None:
    assert outside_hours() == []


def test_the_yields_are_plausible(demo: Any) -> None:
    """Own meat packed of a skinned carcass: 35 to 66 %, the widest the catalog's lean and shot loss figures allow."""
    packed = Animal.objects.filter(order__grind_together=False, state=State.COLLECTED, arrived_as="whole")
    packed = packed.exclude(packages__in=Package.objects.filter(weighing=None))
    shares = []
    for animal in packed.select_related("order"):
        hung = hung_mg(animal)
        if hung:
            shares.append((packed_mg(animal) - added_mg(animal)) * 100 // hung)
    assert len(shares) >= 5
    assert min(shares) >= 35
    assert max(shares) <= 66


def test_hides_that_went_off_unweighed_are_no_gap(demo: Any) -> None:
    """What is thrown away at skinning is on record, so that nobody looks for its pounds."""
    skinned = Animal.objects.filter(
        arrived_as="whole", runs__kind=RunKind.SKIN, runs__closed_at__isnull=False
    )
    found = yields_of(list(skinned.select_related("species", "order__hunter").distinct()))
    assert len(found) >= 10
    assert [
        gap for each in found for gap in each.gaps if gap.flagged and gap.span.start.key == "received"
    ] == []


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


def test_nobody_has_two_animals_open_at_two_blocks(demo: Any) -> None:
    for kind in (RunKind.CUT, RunKind.WRAP):
        people = Run.objects.filter(kind=kind).order_by().values_list("station", "opened_by").distinct()
        assert Counter(person for _, person in people).most_common(1)[0][1] == 1


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
    assert len(codes) >= 4
    for code in codes:
        assert Piece.objects.filter(code=read_code(code)[1]).exists()
    numbers = re.findall(r"/orders/([\w-]+)/", said)
    assert len(numbers) >= 8
    assert Order.objects.filter(number__in=numbers).count() == len(set(numbers))
    for person in Person.objects.all():
        assert f"  {person.username} " in said
    lines = [line for line in said.splitlines() if line.startswith("  ")]
    assert max(len(line) for line in lines) <= 120


def test_every_address_of_the_tour_opens(demo: Any, client: Any) -> None:
    client.force_login(Person.objects.get(username="olive"))
    addresses = re.findall(r"^  (/\S*)", tour.text(), re.MULTILINE)
    assert len(addresses) >= 18
    assert {address: client.get(address).status_code for address in addresses} == dict.fromkeys(
        addresses, 200
    )


def test_the_tour_says_how_the_shop_stands(demo: Any) -> None:
    said = tour.text()
    assert "The shop stands as it did at its last work: " in said
    assert f"{Order.objects.count()} orders: " in said


def test_money_is_whole_dollars_and_paid_where_it_went_home(demo: Any) -> None:
    home = Order.objects.filter(state=State.COLLECTED, close_reason="")
    assert home.filter(Q(amount_cents=None) | Q(paid_at=None)).count() == 0
    assert (home.aggregate(total=Sum("amount_cents"))["total"] or 0) % 100 == 0
    assert Weighing.objects.filter(nominal=True).count() == 0
