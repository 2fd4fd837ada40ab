"""Flags of any animal: ranked, in whole sentences that accuse nobody, adding up; and percentiles of a range."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from decimal import Decimal
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from orders.yields.audit_math import audit, percentile
from orders.yields.flags import (
    AnimalFacts,
    Flag,
    GapFacts,
    Kind,
    LugFacts,
    Range,
    ScaleFacts,
    Standing,
    rank,
)
from shop.weights import mg_in, pounds
from tests.orders.yields.deer import EXPECTED, GOOD, SHORT

# --- rank and percentile --------------------------------------------------------------------------------------------


def test_flags_are_ranked_by_pounds_whatever_the_order_they_were_found_in() -> None:
    flags = [
        Flag(Kind.SHOT, 900, "a", "", explained=True),
        Flag(Kind.GAP, 300, "b", ""),
        Flag(Kind.LUG, 700, "c", ""),
        Flag(Kind.SCALE, 300, "d", ""),
    ]
    for order in permutations(flags):
        assert [flag.likely_reason for flag in rank(order)] == ["c", "b", "d", "a"]


def test_the_ends_and_the_middle_of_a_range_are_its_percentiles() -> None:
    for df in (5, 38, math.inf):
        found = [percentile(mg, EXPECTED, df) for mg in (pounds(41), pounds(48), pounds(55))]
        assert found == pytest.approx([5, 50, 95])


def test_percentiles_are_scipy_s_student_t_on_logarithms() -> None:
    width = math.log(48 / 41) / stats.t.ppf(0.95, 20)
    assert percentile(pounds("43.5"), EXPECTED, 20) == pytest.approx(
        100 * stats.t.cdf(math.log(43.5 / 48) / width, 20), rel=1e-6
    )
    wide = math.log(55 / 48) / stats.norm.ppf(0.95)
    assert percentile(pounds(60), EXPECTED) == pytest.approx(
        100 * stats.norm.cdf(math.log(60 / 48) / wide), rel=1e-6
    )


def test_percentiles_at_the_edge() -> None:
    assert percentile(0, EXPECTED) == 0
    assert percentile(10**12, EXPECTED) == pytest.approx(100)
    assert percentile(5, Range(0, 5, 9)) is None
    assert [percentile(mg, Range(5, 5, 5)) for mg in (4, 5, 6)] == [0, 50, 100]
    with pytest.raises(ValueError, match="negative"):
        percentile(-1, EXPECTED)


# --- any animal -----------------------------------------------------------------------------------------------------

ACCUSING = ("stole", "steal", "theft", "thief", "fault", "blame", "careless", "lazy", "took home", "who did")
mg = st.integers(0, 10**8)
points = st.sampled_from(["received", "hanging", "at_block", "lugs", "to_wrap", "packed"])
gap_facts = st.builds(
    GapFacts,
    start=points,
    end=points,
    start_name=st.just("Here"),
    end_name=st.just("There"),
    missing_mg=st.integers(-(10**7), 10**7),
    scales_mg=st.integers(0, 10**6),
    loss_mg=st.integers(0, 10**6),
    ground=st.booleans(),
)
facts_of = st.builds(
    AnimalFacts,
    own_mg=st.none() | mg,
    expected=st.none() | st.lists(mg, min_size=3, max_size=3).map(sorted).map(lambda three: Range(*three)),
    ordinary=st.none() | st.just(EXPECTED),
    likely_as_hung_mg=st.none() | mg,
    weighed_mg=mg,
    basis_point=points,
    shot_regions=st.sampled_from([(), ("hind",), ("shoulder", "gut", "loin")]),
    bloodshot_known=st.booleans(),
    worst_shot_mg=st.integers(0, 10**7),
    hung_days=st.integers(0, 40),
    usual_days=st.integers(0, 14),
    gaps=st.lists(gap_facts, max_size=4).map(tuple),
    scales=st.lists(
        st.builds(
            ScaleFacts,
            name=st.just("The rail scale"),
            point=points,
            error_mg=st.integers(-(10**6), 10**6),
            tolerance_mg=st.integers(0, 10**5),
            readings=st.integers(0, 60),
        ),
        max_size=2,
    ).map(tuple),
    lugs=st.lists(
        st.builds(LugFacts, st.sampled_from(["Lug 1", "Lug 2"]), st.none() | st.integers(0, 10**7)),
        max_size=3,
    ).map(tuple),
    waste_mg=st.none() | mg,
    usual_waste_mg=st.none() | mg,
    to_trim_mg=st.integers(0, 10**7),
    to_trim_asked=st.booleans(),
    unit=st.sampled_from(["lb", "kg"]),
)


@given(facts_of)
def test_any_animal_has_ranked_flags_in_whole_sentences(facts: AnimalFacts) -> None:
    found = audit(facts)
    assert found.flags == rank(found.flags)
    for flag in found.flags:
        assert type(flag.pounds_mg) is int
        assert flag.pounds_mg >= 0
        for sentence in (flag.likely_reason, flag.look_next, found.sentence):
            assert sentence.endswith(".")
            assert sentence[0].isupper() or sentence[0].isdigit()
            assert not any(word in sentence.lower() for word in ACCUSING)


@given(gap_facts, st.sampled_from(["lb", "kg"]))
def test_a_gap_s_printed_parts_and_pounds_always_add_up(found: GapFacts, unit: str) -> None:
    for flag in audit(replace(GOOD, gaps=(found,), unit=unit)).flags:
        total, *parts = (Decimal(each) for each in re.findall(r"\d+\.\d", flag.likely_reason))
        assert total == sum(parts) + mg_in(flag.pounds_mg, unit)
        assert all(part >= 0 for part in parts)


@given(facts_of)
def test_outside_its_range_no_animal_is_without_a_flag(facts: AnimalFacts) -> None:
    found = audit(facts)
    if found.standing in (Standing.BELOW, Standing.ABOVE):
        assert any(not flag.explained for flag in found.flags)


@given(st.integers(1, 41_000), st.none() | st.integers(0, 60_000), st.integers(0, 8_000), st.booleans())
def test_what_a_short_animal_is_laid_to_adds_up(own: int, waste: int | None, worst: int, known: bool) -> None:
    """With no gap, lug or scale, the causes add up to what is missing of the range: no more and no less."""
    facts = replace(
        SHORT,
        own_mg=pounds(own) // 1000,
        waste_mg=None if waste is None else pounds(waste) // 1000,
        worst_shot_mg=pounds(worst) // 1000,
        bloodshot_known=known,
    )
    found = audit(facts)
    if found.standing is Standing.BELOW:
        assert sum(flag.pounds_mg for flag in found.flags) == EXPECTED.low_mg - facts.own_mg
