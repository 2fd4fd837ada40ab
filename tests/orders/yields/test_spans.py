"""Where the pounds went: what closes, what was not weighed, and numbers that add up on paper."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.yields.spans import (
    Flow,
    FlowKind,
    Point,
    Row,
    Status,
    outside,
    own_mg,
    round_parts,
    spans,
    weighed_points_of,
    where_it_went,
)
from shop.weights import mg_in, pounds


def point(name: str, weight: str | None) -> Point:
    return Point(name, name, pounds(weight) if weight is not None else None)


def flow(kind: str, name: str, weight: str | None) -> Flow:
    return Flow(FlowKind(kind), name, pounds(weight) if weight is not None else None)


def test_everything_weighed_closes_with_what_is_unexplained() -> None:
    points = [point("received", "100"), point("hanging", "78"), point("packed", "40")]
    flows = [
        [flow("off", "hide", "12"), flow("off", "head", "8")],
        [flow("waste", "bone", "30"), flow("waste", "bloodshot", "6")],
    ]
    first, second = spans(points, flows)
    assert (first.status, first.unexplained_mg) == (
        Status.CLOSED,
        pounds(100) - pounds(78) - pounds(12) - pounds(8),
    )
    assert (second.start_mg, second.takings_mg, second.end_mg) == (
        pounds(78),
        pounds(30) + pounds(6),
        pounds(40),
    )
    assert second.unexplained_mg == pounds(78) - pounds(30) - pounds(6) - pounds(40)


def test_points_that_were_not_weighed_merge_and_are_never_a_gap() -> None:
    points = [
        point("received", "100"),
        point("hanging", None),
        point("at the block", None),
        point("packed", "42"),
    ]
    flows = [[flow("off", "hide", "12")], [], [flow("waste", "waste", None)]]
    (span,) = spans(points, flows)
    assert span.status == Status.UNWEIGHED
    assert span.unexplained_mg is None
    assert span.not_weighed == ("hanging", "at the block", "waste")
    assert span.remainder_mg == pounds(100) - pounds(12) - pounds(42)
    assert span.takings == (flow("off", "hide", "12"),)


def test_a_waste_barrel_that_was_not_weighed_is_not_closed_by_subtraction() -> None:
    rows = where_it_went(
        spans([point("hanging", "80"), point("packed", "42")], [[flow("waste", "bone", None)]])
    )
    assert rows[0] == Row("bone", None, "waste")
    assert rows[1] == Row("hanging to packed: not told apart", pounds(80) - pounds(42), "not weighed")
    assert rows[2] == Row("packed", pounds(42), "own")


def test_a_point_weighed_as_nothing_is_weighed() -> None:
    (span,) = spans([point("lug", "5"), point("left over", "0")], [[flow("out", "packs", "5")]])
    assert (span.status, span.unexplained_mg) == (Status.CLOSED, 0)


def test_added_fat_stays_apart() -> None:
    points = [point("grind trim", "20"), point("out of the grinder", "21.9")]
    found = spans(points, [[flow("added", "beef fat", "2")]])
    rows = where_it_went(found)
    assert rows == (
        Row("grind trim to out of the grinder: unexplained", found[0].remainder_mg, "unexplained"),
        Row("out of the grinder", pounds("21.9") - pounds(2), "own"),
    )
    assert own_mg(found) == pounds("21.9") - pounds(2)
    assert sum(row.mg or 0 for row in rows) == pounds(20)


def test_added_fat_counts_at_every_later_point() -> None:
    points = [point("grind trim", "20"), point("ground", "22"), point("packed", "21")]
    assert own_mg(spans(points, [[flow("added", "pork fat", "2")], []])) == pounds(21) - pounds(2)


def test_fat_added_unweighed_leaves_own_meat_unknown() -> None:
    found = spans([point("grind trim", "20"), point("ground", "22")], [[flow("added", "pork fat", None)]])
    assert own_mg(found) is None
    assert found[0].unexplained_mg is None
    assert [row.mg for row in where_it_went(found)] == [None, None]


def test_more_out_than_in_is_said_not_hidden() -> None:
    (span,) = spans([point("hanging", "50"), point("packed", "51")], [[]])
    assert span.unexplained_mg == pounds(50) - pounds(51)
    assert span.unexplained_mg < 0


@pytest.mark.parametrize(
    ("weights", "expected"),
    [
        ([], (0, 0)),
        ([None], (0, 1)),
        (["1", None, None, "0", None, None, None], (2, 7)),
        (["1", "2"], (2, 2)),
    ],
)
def test_weighed_points_are_counted(weights: list[str | None], expected: tuple[int, int]) -> None:
    assert weighed_points_of([point(str(n), weight) for n, weight in enumerate(weights)]) == expected


def test_fewer_than_two_weighings_give_no_span() -> None:
    assert spans([], []) == ()
    assert spans([point("received", "90"), point("hanging", None)], [[]]) == ()
    assert where_it_went(()) == ()
    assert own_mg(()) is None


def test_flows_beyond_the_weighed_points_close_nothing() -> None:
    points = [point("received", None), point("hanging", "80"), point("packed", "40"), point("boxed", None)]
    early, late = flow("off", "hide", "12"), flow("out", "given away", "1")
    flows = [[early], [flow("waste", "bone", "30")], [late]]
    assert outside(points, flows) == (early, late)
    (span,) = spans(points, flows)
    assert (span.skipped, span.takings_mg) == ((), pounds(30))
    assert outside([point("received", None), point("packed", None)], [[early]]) == (early,)


def test_wrong_input_is_refused() -> None:
    with pytest.raises(ValueError, match="one list of flows"):
        spans([point("a", "1"), point("b", "1")], [])
    with pytest.raises(ValueError, match="negative"):
        spans([Point("a", "a", -1), point("b", "1")], [[]])
    with pytest.raises(ValueError, match="negative"):
        spans([point("a", "1"), point("b", "1")], [[Flow(FlowKind.WASTE, "bone", -1)]])


def test_printed_parts_add_up_where_plain_rounding_does_not() -> None:
    parts = [pounds("10.04"), pounds("10.04"), pounds("10.04")]
    assert [str(part) for part in round_parts(parts)] == ["10.1", "10.0", "10.0"]
    assert sum(mg_in(part) for part in parts) == Decimal("30.0")
    assert sum(round_parts(parts)) == mg_in(sum(parts)) == Decimal("30.1")


def test_an_exact_part_is_never_moved() -> None:
    assert round_parts([0, pounds("1.04"), 0, pounds("1.04")]) == [0, Decimal("1.1"), 0, Decimal("1.0")]
    assert round_parts([]) == []
    with pytest.raises(KeyError):
        round_parts([1], "stone")


amounts = st.integers(min_value=0, max_value=10**10)
maybe = st.none() | amounts
flow_lists = st.lists(st.builds(Flow, st.sampled_from(FlowKind), st.just("flow"), maybe), max_size=4)


@st.composite
def journeys(draw: st.DrawFn) -> tuple[list[Point], list[list[Flow]]]:
    points = [Point(f"p{n}", f"p{n}", mg) for n, mg in enumerate(draw(st.lists(maybe, max_size=7)))]
    return points, [draw(flow_lists) for _ in points[1:]]


@given(journeys())
def test_lines_add_up_to_the_first_weighing(journey: tuple[list[Point], list[list[Flow]]]) -> None:
    points, flows = journey
    found = spans(points, flows)
    weighed, of = weighed_points_of(points)
    assert len(found) == max(0, weighed - 1)
    assert of == len(points)
    if found and own_mg(found) is not None:
        assert sum(row.mg or 0 for row in where_it_went(found)) == found[0].start_mg
    for span in found:
        assert (span.unexplained_mg is None) == (
            bool(span.skipped) or any(item.mg is None for item in span.flows)
        )


@given(journeys())
def test_no_flow_is_lost_or_counted_twice(journey: tuple[list[Point], list[list[Flow]]]) -> None:
    points, flows = journey
    inside = [item for span in spans(points, flows) for item in span.flows]
    everything = [item for between in flows for item in between]
    assert sorted(map(repr, [*inside, *outside(points, flows)])) == sorted(map(repr, everything))


@given(
    st.lists(st.integers(min_value=-(10**12), max_value=10**12), max_size=12),
    st.sampled_from(["lb", "oz", "kg", "g"]),
    st.integers(min_value=0, max_value=3),
)
def test_rounded_parts_always_add_up(parts: list[int], unit: str, decimals: int) -> None:
    printed = round_parts(parts, unit, decimals)
    assert sum(printed) == mg_in(sum(parts), unit, decimals)
    step = Decimal(1).scaleb(-decimals)
    assert all(
        abs(shown - mg_in(mg, unit, decimals + 9)) < step for shown, mg in zip(printed, parts, strict=True)
    )
