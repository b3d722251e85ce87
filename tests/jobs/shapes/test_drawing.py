"""Drawings as data: every place stands where it should, and the dimensions add up."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Polygon

from jobs.shapes.checks import faults
from jobs.shapes.drawing import SCREEN, Arc, Area, Line, Sheet, Words, marks_of
from jobs.shapes.faults import ShapeFault
from jobs.shapes.outlines import Circle, FreeOutline, LShape, Rectangle
from jobs.shapes.plan import bare_plan, face_plan, marked, underside_plan
from jobs.shapes.regions import edge_regions, face_region
from jobs.shapes.section import section
from jobs.shapes.shape import BuiltEdge, Cutout, Inlay, Rib, Shape
from jobs.shapes.solid import Solid
from tests.jobs.shapes.samples import COUNTER, INCH, outlines

BY_INCHES = Sheet(long=lambda metres: f"{metres / INCH:.4g}", unit="in")
TOP = Shape(Rectangle(2.0, 0.5))


def words_of(drawing, role: str = "dimension") -> list[str]:
    return [item.words for item in drawing.items if isinstance(item, Words) and item.role == role]


def area_of(items) -> float:
    return sum(
        Polygon(item.rings[0], item.rings[1:]).area for item in items if isinstance(item, Area)
    )


def test_the_face_is_drawn_to_scale() -> None:
    drawing = face_plan(COUNTER, BY_INCHES)
    assert area_of(drawing.of("face")) == pytest.approx(
        face_region(COUNTER).area * drawing.scale**2, rel=1e-3
    )
    front = drawing.of("outline")[0]
    assert isinstance(front, Line)
    assert math.dist(front.start, front.end) == pytest.approx(96 * INCH * drawing.scale, rel=1e-3)
    # The front is at the bottom.
    back = drawing.of("outline")[2]
    assert front.start[1] > back.start[1]


def test_a_drawing_at_a_given_scale_is_as_large_as_it_comes_out() -> None:
    one_to_twenty = Sheet(scale=1000 / 20, tall=3, letter=1.6)  # mm on paper
    drawing = face_plan(TOP, one_to_twenty)
    xs = [x for x, _ in drawing.of("face")[0].rings[0]]
    assert max(xs) - min(xs) == pytest.approx(100)
    assert drawing.width > 100


def test_the_counters_dimensions_by_hand() -> None:
    """96 by 25.5; across the sink and the faucet's middle 33, 15, 15, 33; from the front 4, 16,
    2.6875 to the faucet's middle and 2.8125 from it, of which the narrow ones find no room."""
    drawing = face_plan(COUNTER, BY_INCHES)
    found = words_of(drawing)
    assert "96 in" in found
    assert "25.5 in" in found
    across = [
        item.words
        for item in sorted(
            (i for i in drawing.items if isinstance(i, Words) and i.at[1] < drawing.frame.top),
            key=lambda item: item.at[0],
        )
    ]
    assert across == ["33", "15", "15", "33"]
    assert {"4", "16"} <= set(found)
    assert words_of(drawing, "label") == ["sink", "30 × 16, R 3", "⌀ 1.375"]
    assert "cutout 1 (sink): 30 × 16, R 3, 33 from the left end, 4 from the front" in drawing.said


@settings(max_examples=40)
@given(outlines())
def test_no_words_meet_and_all_stay_on_the_sheet(outline) -> None:
    shape = Shape(outline, edges=(BuiltEdge(outline.sides[0].name, 0.03, 0.04),))
    for drawing in (face_plan(shape), underside_plan(shape, 0.019)):
        for item in drawing.items:
            points = {
                Line: lambda i: [i.start, i.end],
                Arc: lambda i: [i.start, i.end],
                Area: lambda i: [p for ring in i.rings for p in ring],
                Words: lambda i: [i.at],
            }[type(item)](item)
            for x, y in points:
                assert -0.01 <= x <= drawing.width + 0.01
                assert -0.01 <= y <= drawing.height + 0.01
        level = [
            i
            for i in drawing.items
            if isinstance(i, Words) and i.role == "dimension" and not i.turn
        ]
        for one in level:
            for other in level:
                if one is not other and abs(one.at[1] - other.at[1]) < SCREEN.tall * 0.8:
                    apart = abs(one.at[0] - other.at[0])
                    room = (SCREEN.room(one.words) + SCREEN.room(other.words)) / 2
                    assert apart >= room - 1 or other.at[1] < drawing.frame.bottom


def test_the_underside_is_the_faces_mirror_image() -> None:
    """The left edge of the counter is on the right as one looks at its underside."""
    drawing = underside_plan(COUNTER, 0.019, BY_INCHES)
    middle = (drawing.frame.left + drawing.frame.right) / 2
    left_edge = min(
        drawing.of("edge"),
        key=lambda area: Polygon(area.rings[0]).bounds[2] - Polygon(area.rings[0]).bounds[0],
    )
    assert Polygon(left_edge.rings[0]).bounds[0] > middle
    built = sum(edge.region.area for edge in edge_regions(COUNTER))
    assert area_of(drawing.of("edge")) == pytest.approx(built * drawing.scale**2, rel=1e-2)
    # Four ribs, of which the sink parts two.
    assert len(drawing.of("rib")) == 6
    assert "mirrored" in drawing.said


@pytest.mark.parametrize("mirrored", [False, True])
def test_an_arc_bends_to_the_side_that_it_bends_to(mirrored: bool) -> None:
    """By its flags, as SVG reads them, the middle of the drawn arc is the middle of the side."""
    outline = FreeOutline(((0, 0), (1, 0), (1.2, 0.6), (0, 0.8)), (0.0, 0.3, -0.2, 0.0))
    shape = Shape(outline)
    drawing = underside_plan(shape, 0.02) if mirrored else face_plan(shape)
    drawn = drawing.of("outline")
    for item, side in zip(drawn, outline.sides, strict=True):
        if not side.bulge:
            assert isinstance(item, Line)
            continue
        (x, y), (cx, cy) = item.start, item.centre
        turn = abs(side.angle) / 2 * (1 if item.clockwise else -1)  # y down: clockwise is positive
        cos, sin = math.cos(turn), math.sin(turn)
        middle = (cx + (x - cx) * cos - (y - cy) * sin, cy + (x - cx) * sin + (y - cy) * cos)
        assert middle == pytest.approx(drawing.frame.at(side.middle), abs=0.1)
        assert not item.large


def test_half_circles_go_round_the_right_way() -> None:
    first, second = face_plan(Shape(Circle(1.0))).of("outline")
    assert isinstance(first, Arc)
    # From the left end by the front (the bottom) to the right end: as one sees it, not clockwise.
    assert not first.clockwise
    assert not second.clockwise


def test_slanting_sides_are_told_by_their_length() -> None:
    triangle = Shape(FreeOutline(((0, 0), (0.4, 0), (0, 0.3))))
    assert words_of(face_plan(triangle)).count("500 mm") == 1


def test_an_l_tells_its_legs() -> None:
    found = words_of(face_plan(Shape(LShape(2.0, 1.5, 1.2, 0.9))))
    assert {"2000 mm", "1500 mm", "800 mm", "1200 mm", "600 mm", "900 mm"} == set(found)


def test_an_inlay_is_a_note_with_its_place() -> None:
    drawing = face_plan(replace(TOP, inlays=(Inlay("trivet", 0.5, 0.1, 0.2, 0.1),)))
    (area,) = drawing.of("inlay")
    assert area.rings[0][0] == drawing.frame.at((0.5, 0.1))
    assert words_of(drawing, "note") == ["trivet"]


def test_a_fault_is_marked_where_it_is() -> None:
    across = replace(TOP, cutouts=(Cutout(Rectangle(0.5, 0.3), 0.7, -0.1),))
    (fault,) = faults(across, 0.019)
    drawing = bare_plan(across)
    (line,) = marked(drawing, fault)
    assert isinstance(line, Line)
    xs = sorted((line.start[0], line.end[0]))
    assert xs == pytest.approx(
        [drawing.frame.at((0.7, 0))[0], drawing.frame.at((1.2, 0))[0]], abs=0.1
    )
    crossed = Shape(FreeOutline(((0, 0), (1, 1), (1, 0), (0, 1))))
    drawing = bare_plan(crossed)
    ring = marked(drawing, faults(crossed, 0.019)[0])
    assert {item.centre for item in ring} == {drawing.frame.at((0.5, 0.5))}
    assert marked(drawing, ShapeFault("x", "Nowhere.")) == ()


def test_a_section_through_the_sink_by_hand() -> None:
    """At 40 in from the left, of 25.5: the front rail of 4 with its edge of 1.5, the sink's 16,
    the back rail of 5.5; the slab 3/4 deep of which 1/8 is face coat."""
    solid = Solid(COUNTER, 0.75 * INCH, 0.125 * INCH)
    drawing = section(solid, at=45 * INCH, sheet=BY_INCHES)
    assert words_of(drawing).count("25.5 in") == 1
    assert {"1.5", "2.5", "16", "5.5", "0.75"} <= set(words_of(drawing))
    assert len(drawing.of("face coat")) == len(drawing.of("backer")) == 2
    (edge,) = drawing.of("edge")
    bounds = Polygon(edge.rings[0]).bounds
    assert bounds[2] - bounds[0] == pytest.approx(1.5 * INCH * drawing.scale, rel=1e-2)
    # As deep below the slab as the slab is thick.
    slab = Polygon(drawing.of("backer")[0].rings[0]).bounds
    coat = Polygon(drawing.of("face coat")[0].rings[0]).bounds
    assert coat[1] < slab[1] < bounds[1]
    assert (bounds[3] - bounds[1]) == pytest.approx(slab[3] - coat[1], rel=1e-2)


def test_a_section_lengthwise_meets_each_rib() -> None:
    shape = replace(TOP, ribs=tuple(Rib(at, 0.03, 0.03, "width") for at in (0.5, 1.0, 1.5)))
    drawing = section(Solid(shape, 0.019), "lengthwise", 0.25)
    assert len(drawing.of("rib")) == 3
    assert "times as large" in drawing.said


def test_at_a_given_scale_depths_are_not_stretched() -> None:
    drawing = section(Solid(TOP, 0.02), sheet=Sheet(scale=100, tall=3, letter=1.6))
    (slab,) = drawing.of("backer")
    left, top, right, foot = Polygon(slab.rings[0]).bounds
    assert (right - left, foot - top) == pytest.approx((50, 2))
    assert "times" not in drawing.said


def test_a_section_beside_the_piece_is_refused() -> None:
    with pytest.raises(ShapeFault) as refused:
        section(Solid(TOP, 0.02), at=3.0)
    assert refused.value.key == "section-outside"
    with pytest.raises(ShapeFault):
        section(Solid(TOP, 0.02), at=math.nan)


@settings(max_examples=40)
@given(outlines(), st.floats(0.05, 0.95))
def test_a_sections_areas_are_the_concrete_it_meets(outline, share) -> None:
    """As wide as shapely's chord of the outline there, as deep as the slab; and of a slab of two
    layers each has its own part."""
    left, front, right, back = outline.path.box
    place = left + (right - left) * share
    chord = LineString([(place, front - 1), (place, back + 1)])
    wide = chord.intersection(outline.path.polygon).length
    drawing = section(Solid(Shape(outline), 0.02, 0.005), at=place, sheet=Sheet(scale=1000.0))
    assert area_of(drawing.of("face coat")) / 1e6 == pytest.approx(wide * 0.005, abs=1e-6)
    assert area_of(drawing.of("backer")) / 1e6 == pytest.approx(wide * 0.015, abs=1e-6)


def test_marks_that_would_stand_on_each_other_are_one() -> None:
    assert marks_of([0.5, 0.5002, 1.9999, -1, 3], 0.0, 2.0) == [0.0, 0.5, 2.0]
