"""The pictures: every number of the chart is in them, they are read in gray, and paper and page share one drawing."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Any
from xml.etree import ElementTree

import pypdfium2 as pdfium
import pytest
from django.utils import timezone
from reportlab.graphics.shapes import Circle, Drawing, Group, Line, PolyLine, Rect, Shape, String

from labels.registry import print_all
from orders.intake.models import Season
from orders.models import YieldRecord
from orders.papers.season import season_report
from orders.yields.audit import audit_season, flag_counts
from orders.yields.audit_charts import charts_by_block, charts_by_species, drawings, tables
from orders.yields.charts import SHOWN, Band, band, control_drawing, crew_drawing, svg
from orders.yields.control import chart
from orders.yields.crew import compare
from orders.yields.report import season_figures
from tests.conftest import People, Stations
from tests.orders.yields.records import make_records

Make = Callable[..., list[YieldRecord]]
# 24 animals that differ by little, one that is far off, and one more.
VALUES = [*(100.0 + 1.5 * (-1) ** n + n % 3 for n in range(24)), 140.0, 100.5]
NAMES = [f"26-{n:04}" for n in range(1, len(VALUES) + 1)]


@pytest.fixture
def make(catalog: None, season: Season, people: People) -> Make:
    def records(*shares: float | None, **more: Any) -> list[YieldRecord]:
        return make_records(season, people.owner, shares, **more)

    return records


def shapes(drawing: Drawing | Group) -> Iterator[Shape]:
    for shape in drawing.contents:
        yield shape
        if isinstance(shape, Group):
            yield from shapes(shape)


def words(drawing: Drawing) -> list[str]:
    return [shape.text for shape in shapes(drawing) if isinstance(shape, String)]


def test_the_limits_and_their_numbers_are_drawn() -> None:
    found = chart(VALUES)
    assert found.limits is not None
    said = words(control_drawing("Mule deer", found, NAMES))
    assert said[0] == "Mule deer"
    for name, value in (
        ("upper", found.limits.upper),
        ("center", found.limits.center),
        ("lower", found.limits.lower),
        ("upper", found.limits.range_upper),
        ("center", found.limits.range_center),
    ):
        assert f"{name} {value:.1f} %" in said


def test_a_point_lies_where_its_value_is_and_what_signals_is_a_named_square() -> None:
    found = chart(VALUES)
    drawing = control_drawing("Mule deer", found, NAMES)
    (track, moved) = [shape for shape in shapes(drawing) if isinstance(shape, PolyLine)]
    heights = track.points[1::2]
    assert len(heights) == len(VALUES)
    assert len(moved.points) // 2 == len(VALUES) - 1
    # Heights are a straight line of the values.
    scale = (heights[24] - heights[0]) / (VALUES[24] - VALUES[0])
    for value, height in zip(VALUES, heights, strict=True):
        assert height == pytest.approx(heights[0] + scale * (value - VALUES[0]))
    assert found.signaling == (24, 25)
    marks = [s for s in shapes(drawing) if isinstance(s, Rect) and s.width < 10 and s.y > 120]
    assert len(marks) == 2
    circles = [s for s in shapes(drawing) if isinstance(s, Circle) and s.cy > 120]
    assert len(circles) == len(VALUES) - 2
    assert NAMES[24] in words(drawing)


def test_everything_is_gray() -> None:
    """Red, green and blue are equal in every color, so that nothing is lost on a black and white printer."""
    crew = compare({"a": [0.1] * 5 + [0.2], "b": [-0.1] * 6 + [0.05]})
    for drawing in (control_drawing("x", chart(VALUES), NAMES), crew_drawing(crew, ["A", "B"], fewest=5)):
        colors = [
            color
            for shape in shapes(drawing)
            for color in (getattr(shape, "fillColor", None), getattr(shape, "strokeColor", None))
            if color is not None
        ]
        assert colors
        assert all(color.red == color.green == color.blue for color in colors)


@pytest.mark.parametrize("many", [0, 1, 2])
def test_few_points_make_a_picture_that_says_so(many: int) -> None:
    found = chart(VALUES[:many])
    drawing = control_drawing("Moose", found, NAMES[:many])
    assert any(found.note in said for said in words(drawing))
    lines = [said for said in words(drawing) if said.startswith(("upper", "center", "lower"))]
    assert bool(lines) is (many > 1)
    assert sum(isinstance(s, Circle) for s in shapes(drawing)) >= many


def test_equal_values_have_a_picture_of_some_height() -> None:
    drawing = control_drawing("Elk", chart([100.0] * 6), NAMES[:6])
    for shape in shapes(drawing):
        for name in ("x", "y", "cx", "cy", "x1", "y1"):
            assert math.isfinite(getattr(shape, name, 0.0))


def test_only_the_newest_are_drawn_and_the_limits_are_those_of_all() -> None:
    values = [100 + 5 * math.sin(n) for n in range(400)]
    found = chart(values)
    names = [f"26-{n:04}" for n in range(400)]
    drawing = control_drawing("Deer", found, names)
    track = next(shape for shape in shapes(drawing) if isinstance(shape, PolyLine))
    assert len(track.points) // 2 == SHOWN
    assert f"The newest {SHOWN} are drawn." in words(drawing)[1]
    assert found.limits is not None
    assert f"center {found.limits.center:.1f} %" in words(drawing)
    assert "26-0399" in words(drawing)
    assert "26-0000" not in words(drawing)


def test_a_name_is_wanted_for_each_point() -> None:
    with pytest.raises(ValueError, match="one name for each point"):
        control_drawing("x", chart(VALUES), NAMES[:-1])


def test_an_axis_has_round_steps_within_its_strip() -> None:
    strip = Band(0, 100, 62.8, 133.1)
    assert strip.steps() == [80, 100, 120]
    assert (strip.y(62.8), strip.y(133.1)) == (0, 100)
    assert band(0, 1, [5.0, 5.0]).low < 5 < band(0, 1, [5.0, 5.0]).high
    assert band(0, 1, [1.0, 4.0], floor=0.0).low == 0.0


def test_the_svg_is_well_formed_and_names_no_font_of_the_paper() -> None:
    text = svg(control_drawing("Deer & elk <1>", chart(VALUES), NAMES))
    root = ElementTree.fromstring(text)
    assert root.tag.endswith("svg")
    assert "Gambrel" not in text
    assert "Deer & elk <1>" in "".join(root.itertext())
    assert "http" not in "".join(text.split("xmlns")[0].split("DOCTYPE")[0])


def test_the_crew_s_picture_leaves_out_who_has_few_animals() -> None:
    crew = compare(
        {"a": [0.1, 0.12, 0.08, 0.11, 0.1, 0.13], "b": [-0.1, -0.12, -0.08, -0.11, -0.09], "c": [0.4]}
    )
    said = words(crew_drawing(crew, ["Ann Alder", "Bo Birch", "Cy Cedar"], fewest=5))
    assert "Ann Alder (6)" in said
    assert "Bo Birch (5)" in said
    assert not any("Cedar" in each for each in said)
    nobody = crew_drawing(compare({}), [], fewest=5)
    assert "Nobody did enough animals whole to be shown." in words(nobody)


# --- of a season ---------------------------------------------------------------------------------------------------


def test_charts_hold_the_compared_animals_in_the_order_they_were_finished(
    make: Make, season: Season, stations: Stations
) -> None:
    make(0.9, 1.0, None, 1.1, block=stations.block)
    make(1.2, species="elk")
    found = audit_season(season)
    deer, elk = charts_by_species(found)
    assert [len(deer.animals), len(elk.animals)] == [3, 1]
    ends = [each.record.finished_at for each in deer.animals]
    assert ends == sorted(ends)
    for each, (_, value, _, _) in zip(deer.animals, deer.rows, strict=True):
        assert each.expected is not None
        assert value == f"{100 * (each.own_mg or 0) / each.expected.likely_mg:.1f} %"
    (block,) = charts_by_block(found)
    assert (block.title, len(block.animals)) == ("Block 1", 3)
    assert deer.chart == chart([each.of_likely or 0 for each in deer.animals])


def test_the_numbers_beside_a_picture_are_its_limits(make: Make, season: Season) -> None:
    make(0.9, 1.0, 1.1, 0.95)
    (deer,) = charts_by_species(audit_season(season))
    limits = deer.chart.limits
    assert limits is not None
    assert deer.limits == (
        "White-tailed deer",
        "4",
        *(
            f"{value:.1f} %"
            for value in (limits.center, limits.lower, limits.upper, limits.range_center, limits.range_upper)
        ),
    )
    (alone,) = charts_by_species(audit_season(season))[:1]
    assert alone.words.startswith("White-tailed deer. Limits from 4 animals")


def test_the_report_prints_the_same_pictures_and_their_numbers(
    make: Make, season: Season, stations: Stations
) -> None:
    """The paper is read back: limits and order numbers are text in it, not a picture of text."""
    make(*[1.0, 0.97, 1.02, 0.99, 1.01, 0.98] * 3, 2.2, block=stations.block)
    found = audit_season(season)
    values = season_report(
        season_figures(season, flags=flag_counts), timezone.now(), charts=drawings(found), more=tables(found)
    )
    printed = print_all("season_report", [values])
    paper = pdfium.PdfDocument(printed.pdf)
    text = "".join(page.get_textpage().get_text_range() for page in paper)
    assert text.count("Percent of what was expected of each animal.") == 2
    (deer,) = charts_by_species(found)
    limits = deer.chart.limits
    assert limits is not None
    for said in (f"upper {limits.upper:.1f} %", f"center {limits.center:.1f} %", deer.limits[2]):
        assert said in text, said
    assert "Points of the charts to look at" in text
    assert "above the upper limit" in text
    signaling = [each.label for each, *_ in deer.signaling]
    assert signaling
    assert all(label in text for label in signaling)
    assert drawings(audit_season(None)) == []
    assert tables(audit_season(None)) == []


def test_lines_are_told_apart_by_their_dashes() -> None:
    found = chart(VALUES)
    drawing = control_drawing("x", found, NAMES)
    full = [s for s in shapes(drawing) if isinstance(s, Line) and s.strokeWidth == 0.9]
    assert sum(line.strokeDashArray is None for line in full) == 2
    assert sum(line.strokeDashArray is not None for line in full) == 3
