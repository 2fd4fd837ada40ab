"""What a record keeps for the flags: each fact against the chain it is taken from, or the scale it was read on."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from orders.intake.models import Animal
from orders.ledger.models import Direction, PieceKind, Run, RunKind
from orders.ledger.scale import OnScale
from orders.models import YieldRecord
from orders.packing.actions import bring_to_wrap, pack
from orders.yields.constants import Basis, Constants
from orders.yields.expected import Expected, expected_boneless
from orders.yields.figures import load_figures
from orders.yields.flags import Range
from orders.yields.kept import Besides, _ranges, _to_trim, _usual_waste_mg, _waste_mg, facts_of, read_besides
from orders.yields.queries import Yield, yields_of
from orders.yields.ranges import Chain
from orders.yields.refresh import refresh
from orders.yields.rows import LineSum
from orders.yields.spans import FlowKind
from shop.models import Choice, Part, Species
from shop.weights import Reading, pounds
from tests.conftest import Stations
from tests.scenario import DEER, Scenario, lb

BAGGED = pounds("1.1")


def constants() -> Constants:
    found = load_figures().of(Species.objects.get(code="white-tailed-deer").pk)
    assert found is not None
    return found


def expected(**more: Any) -> Expected:
    """A carcass of 98.4 lb of which both tenderloins were bagged before."""
    return expected_boneless(
        pounds("98.4"),
        Basis.HANGING,
        constants(),
        tenderloins_in=0,
        tenderloins_said=True,
        tenderloins_bagged_mg=BAGGED,
        **more,
    )


def published(kept: list[dict[str, Any]]) -> Range:
    (chain,) = (Chain.read(each) for each in kept)
    return chain.published


def range_of(found: Expected) -> Range:
    return Range(found.low_mg, found.likely_mg, found.high_mg)


def stored(scenario: Scenario, **facts: Any) -> Yield:
    deer = scenario.deer(facts=replace(DEER, **facts))
    scenario.stored(deer)
    return fresh(deer)


def fresh(deer: Animal) -> Yield:
    return yields_of([Animal.objects.select_related("species", "order").get(pk=deer.pk)])[0]


def hung_for(found: Yield, days: int) -> Yield:
    """The same yield as though it had been cut so many days after it was hung."""
    (part,) = found.parts
    since = part.weighed_at("hanging")
    assert since is not None
    return replace(
        found, parts=(replace(part, facts=replace(part.facts, cut_at=since + timedelta(days=days))),)
    )


def test_an_ordinary_animal_has_an_average_shot_and_the_usual_days(scenario: Scenario) -> None:
    kept = _ranges(hung_for(stored(scenario), 11), load_figures())
    own = expected(shot_regions=["shoulder"], hung_days=11)
    assert published(kept["ranges"]) == range_of(own)
    assert published(kept["as_hung"]) == range_of(expected(hung_days=11))
    assert published(kept["ordinary"]) == range_of(expected(hung_days=5))
    assert published(kept["ranges"]).likely_mg < published(kept["as_hung"]).likely_mg
    assert published(kept["as_hung"]).likely_mg < published(kept["ordinary"]).likely_mg


def test_bloodshot_that_was_weighed_is_of_this_animal_and_not_of_an_ordinary_one(scenario: Scenario) -> None:
    """3 lb cut off at skinning, before it hung: an ordinary one lost there what is usual, and nobody weighed it."""
    found = hung_for(stored(scenario, regions_hit=()), 5)
    (part,) = found.parts
    bloodshot = replace(
        _line(part.facts.lines[0], RunKind.SKIN, "bloodshot", "3.0"),
        direction=Direction.WASTE.value,
        piece_kind="",
    )
    facts = replace(part.facts, lines=[*part.facts.lines, bloodshot])
    kept = _ranges(replace(found, parts=(replace(part, facts=facts),)), load_figures())
    off = {"bloodshot_removed_before_weighing": True, "hung_days": 5}
    assert published(kept["ranges"]) == range_of(expected(bloodshot_off_weighed_mg=pounds("3.0"), **off))
    assert published(kept["ordinary"]) == range_of(expected(**off))
    assert kept["ordinary"] == kept["as_hung"]


def test_of_an_ordinary_animal_nothing_more_is_kept(scenario: Scenario) -> None:
    found = stored(scenario, regions_hit=())
    kept = _ranges(hung_for(found, 5), load_figures())
    assert (kept["ordinary"], kept["as_hung"]) == ([], [])
    assert published(kept["ranges"]) == range_of(expected(hung_days=5))
    assert _ranges(hung_for(found, 6), load_figures())["ordinary"] != []


def test_the_worst_shot_is_kept_where_nobody_noted_one_and_it_gave_little(scenario: Scenario) -> None:
    """A shoulder costs the most of the regions: 1.6 times the average of all shots."""
    short = hung_for(stored(scenario, regions_hit=()), 5)
    assert short.own_mg is not None
    average, shoulder = expected(hung_days=5), expected(hung_days=5, shot_regions=["shoulder"])
    assert short.estimate is not None
    low = replace(short, estimate=replace(short.estimate, likely_mg=short.own_mg + 1))
    assert _ranges(low, load_figures())["worst_shot_mg"] == average.likely_mg - shoulder.likely_mg
    enough = replace(short, estimate=replace(short.estimate, likely_mg=short.own_mg))
    assert _ranges(enough, load_figures())["worst_shot_mg"] == 0


def test_the_worst_shot_is_none_where_one_was_noted(scenario: Scenario) -> None:
    found = stored(scenario)
    assert found.estimate is not None
    assert found.own_mg is not None
    low = replace(found, estimate=replace(found.estimate, likely_mg=found.own_mg + 1))
    assert _ranges(low, load_figures())["worst_shot_mg"] == 0


def weighed(found: Yield, mg: int) -> Yield:
    """The same yield as though all waste that was not weighed had weighed so much."""
    flows = tuple(
        tuple(
            replace(flow, mg=mg) if flow.mg is None and flow.kind is FlowKind.WASTE else flow
            for flow in between
        )
        for between in found.account.flows
    )
    return replace(found, account=replace(found.account, flows=flows))


def test_waste_is_known_only_when_all_of_it_was_weighed(scenario: Scenario) -> None:
    """24 lb of bone and fat at the block and 1.2 lb of silverskin at wrap were; the feet never count."""
    found = stored(scenario)
    assert _waste_mg(found) is None
    assert _waste_mg(weighed(found, pounds("2.5"))) == pounds("24") + pounds("1.2") + pounds("2.5")


def test_usual_waste_is_what_the_chain_takes_off_at_boning(scenario: Scenario) -> None:
    found = stored(scenario)
    assert found.estimate is not None
    before, boned = found.estimate.steps[-2:]
    if boned.name != "bone, fat and silverskin off":
        before, boned = found.estimate.steps[-3:-1]
    assert boned.name == "bone, fat and silverskin off"
    assert _usual_waste_mg(found) == before.likely_mg - boned.likely_mg
    points = tuple(
        replace(point, mg=before.likely_mg // 2) if point.key == "at_block" else point
        for point in found.account.points
    )
    half = replace(found, account=replace(found.account, points=points))
    assert _usual_waste_mg(half) == pytest.approx((before.likely_mg - boned.likely_mg) / 2, abs=1)
    assert _usual_waste_mg(replace(found, estimate=None)) is None


@pytest.mark.parametrize(
    ("sent", "packed", "asked"),
    [
        ("2.0", {"backstrap", "top-round"}, True),
        ("2.0", {"backstrap"}, False),
        ("4.4", {"backstrap", "top-round"}, True),
        ("4.6", {"backstrap", "top-round"}, False),
    ],
)
def test_whole_cuts_sent_to_the_grinder_are_as_asked_while_they_are_trimmings(
    scenario: Scenario, sent: str, packed: set[str], asked: bool
) -> None:
    """22.4 lb of whole cuts lay on the table, of which a fifth is 4.48; the cut sheet wants backstrap and top round."""
    found = stored(scenario)
    (part,) = found.parts
    back = _line(part.facts.lines[0], RunKind.WRAP, "grind_trim", sent)
    lines = [line for line in found.account.packs if line.is_grind or line.part in packed]
    found = replace(
        found,
        parts=(replace(part, facts=replace(part.facts, lines=[*part.facts.lines, back])),),
        account=replace(found.account, packs=tuple(lines)),
    )
    besides = Besides(wanted={found.animals[0].pk: {"backstrap", "top-round"}})
    assert _to_trim(found, besides) == {"to_trim_mg": pounds(sent), "to_trim_asked": asked}


def _line(like: LineSum, kind: str, what: str, weight: str) -> LineSum:
    return replace(
        like,
        run_kind=kind,
        direction=Direction.OUT.value,
        what=what,
        piece_kind=PieceKind.LUG.value,
        part="",
        count=1,
        weighed=1,
        mg=pounds(weight),
    )


def test_readings_are_kept_with_the_scale_they_were_read_on(scenario: Scenario, stations: Stations) -> None:
    deer = scenario.deer()
    scenario.stored(deer)
    refresh()
    readings = YieldRecord.objects.get().facts["readings"]
    assert {(point, station, count) for point, station, count, *_ in readings} == {
        ("received", stations.counter.pk, 1),
        ("hanging", stations.skin.pk, 1),
        ("packed", stations.wrap.pk, 45),
    }


def test_a_nominal_weight_was_read_on_no_scale(scenario: Scenario) -> None:
    deer = scenario.deer()
    lugs, by = scenario.ground(deer), scenario.by("wrap")
    run = bring_to_wrap(lugs["ground"], by=by).fetch(Run)
    weights = (lb("1.0"), OnScale(Reading(100), nominal=True), OnScale(Reading(100), nominal=True))
    part, choice = Part.objects.get(code="grind-trim"), Choice.objects.get(code="ground")
    pack(run, by=by, part=part, choice=choice, weights=weights)
    readings = read_besides([deer]).readings[deer.pk, None]
    assert [count for point, _, count, *_ in readings if point == "packed"] == [1]


def test_the_cut_sheet_says_which_parts_are_wanted_whole(scenario: Scenario) -> None:
    deer = scenario.deer()
    scenario.stored(deer)
    wanted = read_besides([deer]).wanted[deer.pk]
    assert {"backstrap", "top-round"} <= wanted
    assert "grind-trim" not in wanted


def test_the_record_s_facts_are_plain_values(scenario: Scenario) -> None:
    """They come back from the database as they were written: nothing in them is of a kind that JSON changes."""
    deer = scenario.deer()
    scenario.stored(deer)
    refresh()
    written = facts_of(fresh(deer), "", load_figures(), read_besides([deer]))
    assert YieldRecord.objects.get().facts == written
