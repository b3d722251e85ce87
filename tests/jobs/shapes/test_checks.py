"""Impossible shapes: each is refused by its key, with words, at its place."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point

from curing.panel import Strongback
from jobs.shapes.checks import check, faults
from jobs.shapes.faults import ShapeFault
from jobs.shapes.outlines import Circle, FreeOutline, LShape, Rectangle, RoundedRectangle
from jobs.shapes.shape import BuiltEdge, Cutout, Inlay, PlacedRib, Rib, Shape, SpacedRibs
from tests.jobs.shapes.samples import COUNTER, PLAIN, outlines

TOP = Shape(Rectangle(2.0, 0.6))


def only(shape: Shape, face: float = 0.019) -> ShapeFault:
    found = faults(shape, face)
    assert len(found) == 1, found
    assert found[0].words.endswith((".", "?"))
    assert "{" not in found[0].words
    return found[0]


@pytest.mark.parametrize("shape", [COUNTER, PLAIN, TOP])
def test_what_can_be_cast_has_no_fault(shape: Shape) -> None:
    assert faults(shape, 0.019) == ()
    check(shape, 0.019)


@given(outlines(), st.floats(0.01, 0.03))
def test_every_outline_takes_a_narrow_edge_all_round(outline, width) -> None:
    assert faults(Shape(outline, edges=(BuiltEdge("all", width, 0.04),)), 0.019) == ()


def test_a_sink_across_the_front_is_marked_along_the_front() -> None:
    fault = only(replace(TOP, cutouts=(Cutout(Rectangle(0.5, 0.4), 0.7, -0.1),)))
    assert (fault.key, fault.part, fault.row) == ("cutout-across-outline", "cutouts", 0)
    ends = sorted(fault.place)
    assert ends[0] == pytest.approx((0.7, 0.0), abs=1e-4)
    assert ends[1] == pytest.approx((1.2, 0.0), abs=1e-4)


def test_the_same_sink_may_open_the_front_on_purpose() -> None:
    apron = Cutout(Rectangle(0.5, 0.4), 0.7, -0.1, opens=True)
    assert faults(replace(TOP, cutouts=(apron,)), 0.019) == ()


def test_a_cutout_that_reaches_the_very_outline_is_across_it() -> None:
    fault = only(replace(TOP, cutouts=(Cutout(Rectangle(0.5, 0.4), 0.7, 0.0),)))
    assert fault.key == "cutout-across-outline"


def test_a_cutout_beside_the_piece() -> None:
    fault = only(replace(TOP, cutouts=(Cutout(Circle(0.1), 2.5, 0.1),)))
    assert fault.key == "cutout-outside"
    assert fault.place[0] == pytest.approx((2.55, 0.15))


def test_two_cutouts_that_overlap() -> None:
    one, other = Cutout(Circle(0.2), 0.5, 0.2), Cutout(Rectangle(0.2, 0.2), 0.65, 0.2)
    fault = only(replace(TOP, cutouts=(Cutout(Circle(0.05), 0.1, 0.1), one, other)))
    assert (fault.key, fault.row) == ("cutouts-overlap", 2)
    assert "2 and 3" in fault.words
    assert 0.65 < fault.place[0][0] < 0.7


def test_a_piece_cut_in_two() -> None:
    slit = Cutout(Rectangle(0.1, 1.0), 0.8, -0.2, opens=True)
    fault = only(replace(TOP, cutouts=(slit,)))
    assert fault.key == "cut-in-two"
    # Marked in the smaller of the two.
    assert 0 < fault.place[0][0] < 0.8


def test_crossing_lines_are_marked_where_they_cross() -> None:
    fault = only(Shape(FreeOutline(((0, 0), (2, 2), (2, 0), (0, 2)))))
    assert fault.key == "crossing-lines"
    assert fault.place[0] == pytest.approx((1, 1))


def test_an_outline_that_touches_itself_is_refused() -> None:
    waist = ((0, 0), (1, 0), (0.5, 0.5), (1, 1), (0, 1), (0.5, 0.5))
    fault = only(Shape(FreeOutline(waist)))
    assert fault.key == "crossing-lines"
    assert fault.place[0] == pytest.approx((0.5, 0.5))


def test_a_crossing_cutout_names_its_row() -> None:
    bow = Cutout(FreeOutline(((0.2, 0.2), (0.4, 0.4), (0.4, 0.2), (0.2, 0.4))))
    fault = only(replace(TOP, cutouts=(Cutout(Circle(0.05), 0.1, 0.1), bow)))
    assert (fault.key, fault.part, fault.row) == ("crossing-lines", "cutouts", 1)
    assert fault.words.startswith("Cutout 2 crosses")


def test_corners_in_one_line_enclose_nothing() -> None:
    fault = only(Shape(FreeOutline(((0, 0), (1, 0), (2, 0)))))
    assert fault.key in ("crossing-lines", "no-area")


def test_a_piece_in_the_wrong_unit_is_too_large() -> None:
    fault = only(Shape(Rectangle(96, 25.5)))
    assert fault.key == "too-large"
    assert "unit" in fault.words


@pytest.mark.parametrize("face", [0.0, -0.019, math.nan])
def test_no_thickness_no_piece(face: float) -> None:
    assert only(TOP, face).part == "face"


def test_a_rib_through_a_sink_is_marked_where_it_runs_through() -> None:
    sink = Cutout(RoundedRectangle(0.5, 0.4, 0.05), 0.7, 0.1)
    fault = only(
        replace(TOP, cutouts=(sink,), ribs=(PlacedRib((0.2, 0.3), (1.8, 0.3), 0.03, 0.03),))
    )
    assert (fault.key, fault.part) == ("rib-through-cutout", "ribs")
    assert sorted(fault.place) == [pytest.approx((0.7, 0.3)), pytest.approx((1.2, 0.3))]


def test_ribs_from_side_to_side_are_interrupted_by_a_sink() -> None:
    sink = Cutout(Rectangle(0.5, 0.4), 0.7, 0.1)
    shape = replace(TOP, cutouts=(sink,), ribs=(Rib(0.3, 0.03, 0.03), SpacedRibs(0.4, 0.03, 0.03)))
    assert faults(shape, 0.019) == ()


@pytest.mark.parametrize(
    "rib",
    [
        Rib(0.01, 0.03, 0.03),
        Rib(0.7, 0.03, 0.03),
        Rib(2.5, 0.03, 0.03, "width"),
        PlacedRib((0.2, 0.3), (2.3, 0.3), 0.03, 0.03),
    ],
)
def test_a_rib_beside_the_piece(rib) -> None:
    assert only(replace(TOP, ribs=(rib,))).key == "rib-outside"


def test_too_many_ribs() -> None:
    assert only(replace(TOP, ribs=(SpacedRibs(0.005, 0.003, 0.01),))).key == "too-many-ribs"


def test_an_edge_wider_than_the_piece_is_marked_across_it() -> None:
    fault = only(replace(TOP, edges=(BuiltEdge("front", 0.7, 0.04),)))
    assert fault.key == "edge-wider-than-piece"
    (_, y0), (_, y1) = fault.place
    assert (y0, y1) == pytest.approx((0.0, 0.6))
    assert "700 mm" in fault.words
    assert "600 mm" in fault.words
    assert faults(replace(TOP, edges=(BuiltEdge("front", 0.6, 0.04),)), 0.019) == ()


def test_an_edge_wider_than_one_leg_of_an_l() -> None:
    shape = Shape(LShape(2, 1.5, 1.2, 0.9), edges=(BuiltEdge("notch along", 0.65, 0.04),))
    fault = only(shape)
    assert fault.key == "edge-wider-than-piece"
    assert fault.figures["reach"] == pytest.approx(0.6)


def test_an_edge_that_ends_above_the_slabs_underside() -> None:
    fault = only(replace(TOP, edges=(BuiltEdge("back", 0.03, 0.01),)))
    assert (fault.key, fault.place) == ("edge-too-shallow", ((2.0, 0.6), (0.0, 0.6)))


def test_an_edge_along_a_side_that_is_not_there() -> None:
    fault = only(Shape(Circle(1), edges=(BuiltEdge("front", 0.03, 0.04),)))
    assert fault.key == "no-such-side"
    assert "round" in fault.words


def test_an_inlay_and_a_strongback_off_the_piece() -> None:
    bar = Strongback(1.5, 0.1, 1.0, 0.05, 0.05, 9000, 500)
    found = faults(
        replace(TOP, inlays=(Inlay("trivet", 1.9, 0.3, 0.2, 0.1),), strongbacks=(bar,)), 0.019
    )
    assert [fault.key for fault in found] == ["inlay-outside", "strongback-outside"]


def test_all_faults_of_one_kind_are_told_at_once() -> None:
    shape = replace(TOP, edges=(BuiltEdge("front", 0.7, 0.04), BuiltEdge("left", 0.03, 0.01)))
    assert [(fault.key, fault.row) for fault in faults(shape, 0.019)] == [
        ("edge-wider-than-piece", 0),
        ("edge-too-shallow", 1),
    ]
    with pytest.raises(ShapeFault, match="700 mm"):
        check(shape, 0.019)


def test_a_faults_lengths_can_be_said_in_the_shops_unit() -> None:
    fault = only(replace(TOP, edges=(BuiltEdge("front", 0.7, 0.04),)))
    assert "0.7 m wide" in fault.said(lambda metres: f"{metres:.3g} m")


def test_a_row_with_no_size_is_refused_when_it_is_made() -> None:
    for make in (
        lambda: BuiltEdge("front", 0, 0.04),
        lambda: Rib(0.1, 0.03, -0.01),
        lambda: SpacedRibs(0, 0.03, 0.03),
        lambda: PlacedRib((0, 0), (0, 0), 0.03, 0.03),
        lambda: Inlay("plate", 0, 0, -1, 0),
    ):
        with pytest.raises(ShapeFault) as refused:
            make()
        assert refused.value.key == "not-above-zero"
    with pytest.raises(ShapeFault, match="too many"):
        Shape(Rectangle(2, 1), cutouts=(Cutout(Circle(0.01)),) * 101)


@given(outlines(), st.floats(-0.2, 1.2), st.floats(-0.2, 1.2), st.floats(0.05, 0.4))
def test_a_round_cutout_is_taken_where_it_lies_inside_and_nowhere_else(outline, u, v, diameter):
    """Against distance alone: inside if its centre is and lies farther from the outline than its
    radius."""
    left, front, right, back = outline.path.box
    x, y = left + u * (right - left), front + v * (back - front)
    hole = Cutout(Circle(diameter), x - diameter / 2, y - diameter / 2)
    piece = outline.path.polygon
    away = piece.exterior.distance(Point(x, y))
    inside = piece.contains(Point(x, y))
    if abs(away - diameter / 2) < 1e-3:
        return
    keys = {fault.key for fault in faults(Shape(outline, cutouts=(hole,)), 0.019)}
    if inside and away > diameter / 2:
        assert keys == set()
    elif away < diameter / 2:
        assert "cutout-across-outline" in keys
    else:
        assert "cutout-outside" in keys


@given(outlines(), st.floats(-0.2, 1.2), st.floats(-0.2, 1.2), st.floats(0.05, 0.4))
def test_the_mark_of_a_cutout_across_lies_on_the_outline(outline, u, v, size):
    left, front, right, back = outline.path.box
    hole = Cutout(Rectangle(size, size), left + u * (right - left), front + v * (back - front))
    for fault in faults(Shape(outline, cutouts=(hole,)), 0.019):
        if fault.key == "cutout-across-outline":
            line = LineString([*outline.path.ring, outline.path.ring[0]])
            for end in fault.place:
                assert line.distance(Point(end)) < 1e-5
