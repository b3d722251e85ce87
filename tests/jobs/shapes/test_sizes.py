"""Sizes for carrying, by hand and against trying every turn."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity, box

from jobs.shapes.outlines import Circle, FreeOutline, LShape, Rectangle, UShape
from jobs.shapes.shape import Cutout, Shape
from jobs.shapes.sizes import (
    diagonal,
    fits_bed,
    least_width,
    longest_side,
    passes_door,
    perimeter,
    rails,
    rectangle_fits,
    stands_in_bed,
    turned_box,
)
from tests.jobs.shapes.samples import COUNTER, INCH, outlines


def test_a_rectangle_by_hand() -> None:
    shape = Shape(Rectangle(2.4, 0.7))
    assert perimeter(shape) == pytest.approx(6.2)
    assert longest_side(shape).name in ("front", "back")
    assert diagonal(shape).length == pytest.approx(2.5)
    assert (turned_box(shape).length, turned_box(shape).width) == pytest.approx((2.4, 0.7))
    assert least_width(shape) == pytest.approx(0.7)


def test_a_piece_that_stands_aslant_in_its_plan_is_measured_along_itself() -> None:
    turned = Rectangle(2.0, 0.5).path.turned(0.6)
    shape = Shape(FreeOutline(turned.points))
    assert (turned_box(shape).length, turned_box(shape).width) == pytest.approx((2.0, 0.5))


def test_the_diagonal_of_an_l_runs_from_leg_to_leg() -> None:
    # The far ends of the legs at (2, 0) and (0, 1.5): 2.5 m.
    assert diagonal(Shape(LShape(2.0, 1.5, 1.2, 0.9))).length == pytest.approx(2.5)


@given(outlines(), st.floats(-3, 3))
def test_sizes_do_not_change_with_a_turn(outline, angle) -> None:
    turned = outline.path.turned(angle)
    one, other = Shape(outline), Shape(FreeOutline(turned.points, turned.bulges))
    assert diagonal(other).length == pytest.approx(diagonal(one).length)
    assert least_width(other) == pytest.approx(least_width(one))
    assert perimeter(other) == pytest.approx(perimeter(one))


@given(outlines())
def test_the_least_width_against_every_turn(outline) -> None:
    piece = outline.path.polygon
    spans = []
    for step in range(180):
        low, _, high, _ = affinity.rotate(piece, step, origin=(0, 0)).bounds
        spans.append(high - low)
    least = least_width(Shape(outline))
    assert least <= min(spans) + 1e-9
    # Half a degree beside the best turn costs at most half a degree of the longest span.
    assert min(spans) <= least + max(spans) * math.radians(0.51)


@given(*[st.floats(0.2, 3.0)] * 4)
def test_a_rectangle_in_a_bed_against_every_turn(p, q, a, b) -> None:
    fits = rectangle_fits(p, q, a, b)

    def room(angle: float) -> float:
        """How much a bed must be scaled for it."""
        cos, sin = math.cos(angle), math.sin(angle)
        return max((p * cos + q * sin) / a, (p * sin + q * cos) / b)

    best = min(room(math.pi / 2 * step / 2000) for step in range(2001))
    if best <= 1:
        assert fits
    if best > 1.002:
        assert not fits


def test_doors_and_beds() -> None:
    counter = Shape(Rectangle(2.4, 0.65))
    assert passes_door(counter, 0.038, 0.8, 2.0)
    # On edge it needs a door as high as it is wide, and no wider than it is deep.
    assert passes_door(counter, 0.038, 0.05, 0.7)
    assert not passes_door(counter, 0.038, 0.6, 0.6)
    table = Shape(Circle(2.1))
    assert not passes_door(table, 0.05, 0.9, 2.0)
    assert fits_bed(counter, 2.44, 1.22)
    assert not fits_bed(Shape(Rectangle(2.9, 0.9)), 2.44, 1.22)
    # Aslant: 2.6 x 0.1 in 2.44 x 1.22, whose diagonal is 2.73.
    assert fits_bed(Shape(Rectangle(2.6, 0.1)), 2.44, 1.22)
    assert stands_in_bed(counter, 0.05, 2.44, 1.22, 0.7)
    assert not stands_in_bed(counter, 0.05, 2.44, 1.22, 0.6)


def test_the_rails_of_a_counter_by_hand() -> None:
    found = {(rail.cutout, rail.side or rail.other): rail for rail in rails(COUNTER)}
    # The sink stands 4 in behind the front and is 16 deep of 25 1/2; 33 from the left of 96.
    inches = {key: rail.width / INCH for key, rail in found.items()}
    assert inches[0, "front"] == pytest.approx(4)
    assert inches[0, "back"] == pytest.approx(5.5)
    assert inches[0, "left"] == pytest.approx(33)
    assert inches[0, "right"] == pytest.approx(33)
    assert inches[0, 1] == pytest.approx(2, abs=1e-3)
    assert inches[1, "back"] == pytest.approx(25.5 - 22 - 1.375, abs=1e-3)
    # From the faucet's hole to the front there is the sink.
    assert (1, "front") not in found
    widths = [rail.width for rail in rails(COUNTER)]
    assert widths == sorted(widths)


@given(outlines(), st.floats(0.05, 0.3))
def test_the_narrowest_rail_is_how_far_a_cutout_can_grow(outline, diameter) -> None:
    middle = outline.path.polygon.representative_point()
    away = outline.path.polygon.exterior.distance(middle)
    if away < diameter / 2 + 0.01:
        return
    hole = Cutout(Circle(diameter), middle.x - diameter / 2, middle.y - diameter / 2)
    narrowest = rails(Shape(outline, cutouts=(hole,)))[0]
    assert narrowest.width == pytest.approx(away - diameter / 2, abs=1e-4)
    assert math.dist(narrowest.across.start, (middle.x, middle.y)) == pytest.approx(
        diameter / 2, abs=1e-4
    )


def test_no_rail_runs_through_the_air_of_a_u() -> None:
    shape = Shape(UShape(2.0, 1.5, 0.6, 0.8, 0.9), cutouts=(Cutout(Circle(0.1), 0.2, 0.3),))
    piece = shape.outline.path.polygon.buffer(1e-6)
    for rail in rails(shape):
        (x0, y0), (x1, y1) = rail.across.start, rail.across.end
        assert piece.contains(box(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)).centroid)
    assert not any(rail.side == "right" for rail in rails(shape))
