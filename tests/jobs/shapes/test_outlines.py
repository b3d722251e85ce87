"""Outlines against closed forms."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LinearRing, Polygon

from jobs.shapes.faults import ShapeFault
from jobs.shapes.outlines import (
    CORNERS,
    Circle,
    FreeOutline,
    LShape,
    Rectangle,
    RoundedRectangle,
    UShape,
)
from jobs.shapes.path import Path
from jobs.shapes.shape import Shape
from jobs.shapes.sizes import perimeter
from tests.jobs.shapes.samples import outlines, stars

ARC = 1.2e-4  # what chords of 1/256 of a turn leave away: 1 - sin(x) / x at x = 2 pi / 256


def test_a_circle_has_its_area_but_for_the_chords_and_its_perimeter_exactly() -> None:
    circle = Circle(1.2)
    assert circle.path.polygon.area == pytest.approx(math.pi * 0.36, rel=ARC)
    assert circle.path.polygon.area < math.pi * 0.36
    assert perimeter(Shape(circle)) == pytest.approx(math.pi * 1.2, rel=1e-12)
    assert circle.path.box == pytest.approx((0, 0, 1.2, 1.2), abs=1e-4)


def test_a_rounded_rectangle_by_hand() -> None:
    # 2 x 1 less four corners of 0.2: 2 - (4 - pi) 0.04
    rounded = RoundedRectangle(2, 1, 0.2)
    assert rounded.path.polygon.area == pytest.approx(2 - (4 - math.pi) * 0.04, rel=1e-5)
    assert perimeter(Shape(rounded)) == pytest.approx(2 * (1.6 + 0.6) + 2 * math.pi * 0.2)
    names = [side.name for side in rounded.sides]
    assert names[:4] == ["front", "front right", "right", "back right"]


def test_a_radius_of_half_the_width_leaves_no_straight_at_the_ends() -> None:
    slot = RoundedRectangle(2, 1, 0.5)
    assert [side.name for side in slot.sides if not side.bulge] == ["front", "back"]
    assert slot.path.polygon.area == pytest.approx(1 + math.pi / 4, rel=ARC)


@pytest.mark.parametrize("corner", CORNERS)
def test_an_l_misses_the_corner_that_was_named(corner: str) -> None:
    outline = LShape(2.0, 1.5, 1.2, 0.9, corner)
    assert outline.path.polygon.area == pytest.approx(2 * 1.5 - 1.2 * 0.9)
    x = 0.1 if "left" in corner else 1.9
    y = 0.1 if "front" in corner else 1.4
    assert not outline.path.polygon.intersects(Polygon([(x, y), (x, y + 0.01), (x + 0.01, y)]))
    # The sides that are whole have the box's own sizes.
    lengths = {side.name: side.length for side in outline.sides}
    whole = {"left", "right", "front", "back"} - set(corner.split())
    sizes = {"left": 1.5, "right": 1.5, "front": 2.0, "back": 2.0}
    assert {name: lengths[name] for name in whole} == pytest.approx(
        {name: sizes[name] for name in whole}
    )
    for side in outline.sides:
        (x0, y0), (x1, y1) = side.start, side.end
        there = {
            "front": y0 == y1 == 0,
            "back": y0 == y1 == 1.5,
            "left": x0 == x1 == 0,
            "right": x0 == x1 == 2,
            "notch along": y0 == y1,
            "notch across": x0 == x1,
        }
        assert there[side.name]


@pytest.mark.parametrize("where", ["front", "back"])
def test_a_u_is_open_where_it_was_said(where: str) -> None:
    outline = UShape(2.0, 1.5, 0.6, 0.8, 0.7, where)
    assert outline.path.polygon.area == pytest.approx(3 - 0.8 * 0.7)
    opened = [side for side in outline.sides if side.name == where]
    assert sum(side.length for side in opened) == pytest.approx(1.2)
    assert len(opened) == 2
    end = next(side for side in outline.sides if side.name == "notch end")
    assert {end.start[1], end.end[1]} == {0.7 if where == "front" else 0.8}


@given(outlines())
def test_every_outline_turns_left_and_closes(outline) -> None:
    assert outline.path.turns_left
    assert LinearRing(outline.path.ring).is_ccw
    assert outline.path.polygon.is_valid
    assert len(outline.sides) == len(outline.path.points)


@given(stars(), st.floats(0.1, 7.0), st.floats(-4, 4))
def test_turning_changes_no_area_and_scaling_goes_by_the_square(outline, factor, angle) -> None:
    path = outline.path
    assert path.scaled(factor).polygon.area == pytest.approx(
        factor**2 * path.polygon.area, rel=1e-9
    )
    turned = path.turned(angle)
    assert turned.polygon.area == pytest.approx(path.polygon.area, rel=1e-9)
    assert [side.length for side in turned.sides] == pytest.approx(
        [side.length for side in path.sides], rel=1e-9
    )


@given(stars())
def test_a_free_outline_may_be_typed_either_way_round(outline) -> None:
    there = FreeOutline(outline.points, outline.bulges)
    back = Path(outline.points, outline.bulges).reversed()
    other = FreeOutline(back.points, back.bulges)
    assert other.path.polygon.equals_exact(there.path.polygon, 1e-9, normalize=True)
    assert Path(outline.points, outline.bulges).reversed().reversed() == Path(
        outline.points, outline.bulges
    )


def test_the_sides_keep_their_numbers_when_typed_the_other_way_round() -> None:
    typed = FreeOutline(((0, 0), (0, 1), (2, 1), (2, 0)))
    ends = {side.name: {side.start, side.end} for side in typed.sides}
    assert ends == {
        "1": {(0, 0), (0, 1)},
        "2": {(0, 1), (2, 1)},
        "3": {(2, 1), (2, 0)},
        "4": {(2, 0), (0, 0)},
    }


def test_an_arc_by_its_bulge_passes_where_it_should() -> None:
    # A bulge of tan(90 deg / 4) from (1, 0) to (0, 1) is a quarter about the origin.
    path = Path(((1, 0), (0, 1), (0, 0)), (math.tan(math.pi / 8), 0, 0))
    arc = path.sides[0]
    assert arc.centre == pytest.approx((0, 0), abs=1e-12)
    assert arc.radius == pytest.approx(1)
    assert arc.middle == pytest.approx((math.sqrt(0.5), math.sqrt(0.5)))
    assert path.polygon.area == pytest.approx(math.pi / 4, rel=ARC)
    # And the other way it is hollow: 1/2 less the segment of the quarter, pi/4 - 1/2.
    hollow = Path(((1, 0), (0, 1), (0, 0)), (-math.tan(math.pi / 8), 0, 0))
    assert hollow.polygon.area == pytest.approx(1 - math.pi / 4, rel=1e-3)


@pytest.mark.parametrize(
    ("make", "key"),
    [
        (lambda: Rectangle(0, 1), "not-above-zero"),
        (lambda: Rectangle(1, -1), "not-above-zero"),
        (lambda: Circle(math.inf), "not-finite"),
        (lambda: Circle(math.nan), "not-finite"),
        (lambda: Circle(1e300), "not-finite"),
        (lambda: FreeOutline(((0, 0), (1, 0), (1, 1)), (5e3, 0.0, 0.0)), "bulges"),
        (lambda: Rectangle("2", 1), "not-finite"),
        (lambda: RoundedRectangle(2, 1, 0.51), "radius-too-large"),
        (lambda: LShape(2, 1, 2, 0.5), "notch-too-large"),
        (lambda: LShape(2, 1, 1, 0.5, "top"), "corner"),
        (lambda: UShape(2, 1, 0.5, 1.5, 0.5), "notch-too-large"),
        (lambda: UShape(2, 1, 0.5, 0.5, 0.5, "left"), "corner"),
        (lambda: FreeOutline(((0, 0), (1, 0))), "too-few-points"),
        (lambda: FreeOutline(((0, 0), (1, 0), (math.nan, 1))), "not-finite"),
        (lambda: FreeOutline(((0, 0), (1, 0), (1, 1)), (0.0,)), "bulges"),
        (lambda: FreeOutline(((0, 0), (1, 0), (1, 1), (1, 1))), "duplicate-point"),
        (lambda: FreeOutline(((0, 0), (1, 0), (1, 1), (0, 0))), "duplicate-point"),
    ],
)
def test_what_is_no_outline_is_refused(make, key: str) -> None:
    with pytest.raises(ShapeFault) as refused:
        make()
    assert refused.value.key == key
    assert refused.value.words.endswith((".", "?"))


def test_a_duplicate_point_is_told_by_its_place() -> None:
    with pytest.raises(ShapeFault) as refused:
        FreeOutline(((0, 0), (1, 0), (1, 1), (1.00001, 1), (0, 1)))
    assert refused.value.place == ((1, 1),)


def test_ten_thousand_points_are_refused_before_anything_is_done_with_them(monkeypatch) -> None:
    touched = []
    monkeypatch.setattr("jobs.shapes.path.finite", lambda **given: touched.append(given))
    points = tuple((math.cos(n / 1592), math.sin(n / 1592)) for n in range(10_000))
    with pytest.raises(ShapeFault, match="10,000 points; 500 are the most") as refused:
        FreeOutline(points)
    assert refused.value.key == "too-many-points"
    assert not touched


def test_five_hundred_points_are_taken() -> None:
    around = [2 * math.pi * n / 500 for n in range(500)]
    outline = FreeOutline(tuple((math.cos(a), math.sin(a)) for a in around))
    assert outline.path.polygon.area == pytest.approx(250 * math.sin(2 * math.pi / 500))


def test_a_bulge_that_cannot_be_seen_is_a_straight() -> None:
    outline = FreeOutline(((0, 0), (1, 0), (1, 1)), (1e-300, -1e-9, 0.0))
    assert not any(side.bulge for side in outline.sides)
    assert outline.path.polygon.area == pytest.approx(0.5)
