"""Faults that a second reader found: each went wrong before it was mended."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from orders.floor.block import finish_breakdown, record_waste, weigh_at_block
from orders.intake.actions import file_tag, record_tag
from orders.intake.models import Animal
from orders.intake.receiving import TAG_KEY_LENGTH, tag_key
from orders.ledger.entry import By
from orders.ledger.refusal import Refusal
from orders.ledger.voids import void_event
from orders.models import Event, ShopFigure, YieldRecord
from orders.pickup.actions import close_order
from orders.yields import refresh as refreshing
from orders.yields.causes import CAUSES, causes_of, record_cause
from orders.yields.refresh import refresh
from tests.scenario import Scenario, lb

Stations = Callable[[str], By]


def code_of(refused: pytest.ExceptionInfo[Refusal]) -> str:
    return refused.value.code


@pytest.mark.parametrize("written", ["-", "--", "· ·", "🦌"])
def test_a_tag_without_a_letter_or_digit_is_no_tag(scenario: Scenario, by: Stations, written: str) -> None:
    deer = scenario.deer(tag="")
    with pytest.raises(Refusal) as refused:
        record_tag(deer, tag_no=written, by=by("counter"))
    assert code_of(refused) == "tag_wrong"
    assert not Animal.objects.get(pk=deer.pk).has_tag


def test_a_tag_whose_capitals_are_longer_fits_its_column(scenario: Scenario, by: Stations) -> None:
    """The capital of ß is SS (Unicode, SpecialCasing.txt)."""
    assert len(tag_key("ß" * 40)) == TAG_KEY_LENGTH == Animal._meta.get_field("tag_key").max_length
    deer = scenario.deer(tag="")
    record_tag(deer, tag_no="ß" * 40, by=by("counter"))
    assert Animal.objects.get(pk=deer.pk).has_tag


def test_an_order_does_not_close_over_an_open_job(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    scenario.opened(deer)
    with pytest.raises(Refusal) as refused:
        close_order(deer.order, reason="He gave it away.", by=by("counter"))
    assert code_of(refused) == "job_open"
    assert "Block 1" in refused.value.sentence


def test_a_weight_at_the_block_stays_once_the_breakdown_is_finished(scenario: Scenario, by: Stations) -> None:
    deer = scenario.deer()
    run, cutter = scenario.opened(deer), by("block")
    weigh_at_block(deer.pieces.get(kind="carcass"), weight=lb("96.0"), by=cutter)
    weighed = Event.objects.get(verb="weigh_at_block")
    for what in ("bone_fat", "waste"):
        record_waste(run, what=what, by=cutter)
    file_tag(deer, where="tag box, row 3", by=cutter)
    finish_breakdown(run, reason="It all went to the dogs.", by=cutter)
    with pytest.raises(Refusal) as refused:
        void_event(weighed, reason="It was wrong.", by=by("counter"))
    assert code_of(refused) == "cut_already"


def test_records_and_what_they_teach_are_written_together(
    scenario: Scenario, monkeypatch: pytest.MonkeyPatch
) -> None:
    scenario.stored(scenario.deer())

    def fails(species: set[int]) -> None:
        raise RuntimeError("the power went")

    with monkeypatch.context() as patched:
        patched.setattr(refreshing, "sum_up", fails)
        with pytest.raises(RuntimeError, match="power"):
            refresh()
    assert not YieldRecord.objects.exists()
    assert refresh() == 1
    assert ShopFigure.objects.exists()


def test_a_spoiled_animal_stays_spoiled_when_another_cause_is_taken_back(
    scenario: Scenario, by: Stations
) -> None:
    deer = scenario.deer()
    record_cause(deer, cause="mixed", note="Another deer's lug.", by=by("counter"))
    record_cause(deer, cause="", by=by("counter"))
    deer.ended = "spoiled"
    assert causes_of([deer]) == {deer.pk: CAUSES["spoiled"]}
