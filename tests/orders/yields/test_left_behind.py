"""Lugs that were left behind: named while their order is open, and counted against it once it closes without them."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from orders.intake.models import Animal, Season
from orders.ledger.models import Piece, PieceState, Run, RunKind
from orders.ledger.voids import reopen_job
from orders.packing.actions import bring_to_wrap, finish_wrap, new_box, put_in_box, store
from orders.packing.models import Package
from orders.pickup.actions import close_order
from orders.yields.audit import audit_season
from orders.yields.flags import Kind
from shop.models import Species
from shop.weights import pounds
from tests.scenario import Scenario


def short_of_a_lug(scenario: Scenario) -> tuple[Animal, Piece]:
    """A deer whose whole cuts are packed and stored, while the lug of ground meat was never brought to the table."""

    deer = scenario.deer()
    lugs, by = scenario.ground(deer), scenario.by("wrap")
    for lug in (lugs["whole_cuts"], deer.pieces.get(kind="tenderloin")):
        run = bring_to_wrap(lug, by=by).fetch(Run)
    scenario.pack(run, "tenderloin", "whole", "1.05")
    scenario.pack(run, "backstrap", "steaks", *["1.1"] * 20, count=4)
    finish_wrap(run, by=by, reason="The lug of ground meat is nowhere.")
    box = new_box(deer.order, by=by).fetch(Piece)
    put_in_box(box, by=by, packages=tuple(Package.objects.filter(animal=deer)))
    store(box, by=scenario.by("freezer"), place=scenario.places.shelf)
    deer.refresh_from_db()
    return deer, lugs["ground"]


def test_a_lug_that_waits_too_long_is_named_with_what_it_held(scenario: Scenario) -> None:
    deer, lug = short_of_a_lug(scenario)
    assert audit_season(scenario.season).to_look_at == ()
    with _days_later(4):
        (ranked,) = audit_season(scenario.season).to_look_at
    assert (ranked.flag.kind, ranked.flag.pounds_mg, ranked.pk) == (Kind.LUG, pounds("28.2"), deer.pk)
    assert ranked.flag.likely_reason.startswith("Lug ")
    assert "held 28.2 lb" in ranked.flag.likely_reason
    assert ranked.sentence == "All else is packed; this lug has waited 4 days."
    assert f"It was last at {lug.place.name}" in ranked.flag.look_next


class _days_later:  # noqa: N801
    """The audit as it reads so many days from now."""

    def __init__(self, days: int) -> None:
        self.patch = pytest.MonkeyPatch()
        later = timezone.now() + timedelta(days=days, minutes=1)
        self.patch.setattr("orders.yields.left_behind.timezone.now", lambda: later)

    def __enter__(self) -> None:
        return None

    def __exit__(self, *_: object) -> None:
        self.patch.undo()


def test_a_lug_waits_with_reason_while_a_job_of_its_animal_is_open(scenario: Scenario) -> None:
    deer, lug = short_of_a_lug(scenario)
    wrap, by = deer.runs.get(kind=RunKind.WRAP), scenario.by("wrap")
    reopen_job(wrap, reason="One pack has no label.", by=by)
    lug.refresh_from_db()
    assert lug.state == PieceState.WAITING
    with _days_later(4):
        assert audit_season(scenario.season).left == ()
    wrap.refresh_from_db()
    finish_wrap(wrap, reason="Still nowhere.", by=by)
    with _days_later(4):
        assert [each.pk for each in audit_season(scenario.season).left] == [deer.pk]


def test_while_nothing_of_it_is_packed_a_lug_only_waits(scenario: Scenario) -> None:
    scenario.cut(scenario.deer())
    with _days_later(30):
        assert audit_season(scenario.season).left == ()


def test_a_species_and_a_season_keep_their_own_lugs(scenario: Scenario) -> None:
    short_of_a_lug(scenario)
    starts = scenario.season.starts_on - timedelta(days=500)
    other = Season.objects.create(
        name="Old", short="20", starts_on=starts, ends_on=starts + timedelta(days=90)
    )
    with _days_later(4):
        assert len(audit_season(scenario.season).left) == 1
        assert audit_season(scenario.season, Species.objects.get(code="elk")).left == ()
        assert audit_season(other).left == ()


def test_an_order_that_closes_without_a_lug_is_closed_and_short_of_it(scenario: Scenario) -> None:
    deer, _ = short_of_a_lug(scenario)
    close_order(deer.order, reason="The lug is lost; the hunter was paid for it.", by=scenario.by("counter"))
    (each,) = audit_season(scenario.season).animals
    lug = next(flag for flag in each.found.flags if flag.kind is Kind.LUG)
    # 28.2 lb were in it; the grind's own loss, 1.5 % of the 49.5 lb that left the block, is none of its pounds.
    assert lug.pounds_mg == pounds("28.2") - (pounds("49.5") * 150 // 10_000 - pounds("0.4"))
    record = each.record
    assert (record.own_mg, record.teaches, record.why_not) == (
        pounds("1.05") + 20 * pounds("1.1") - pounds("2.6"),
        False,
        "a lug of it is missing",
    )
    with _days_later(9):
        assert audit_season(scenario.season).left == ()
