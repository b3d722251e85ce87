"""Corners as they are measured: roundings and bows, against circles and segments by hand."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.shapes.corners import Corner, cornered, corners_of
from jobs.shapes.faults import ShapeFault
from jobs.shapes.outlines import RoundedRectangle
from jobs.shapes.path import MOST_POINTS


def square(*radii: float, side: float = 1.0) -> list[Corner]:
    places = [(0.0, 0.0), (side, 0.0), (side, side), (0.0, side)]
    return [Corner(x, y, radius) for (x, y), radius in zip(places, radii, strict=True)]


def test_a_square_with_all_corners_rounded_is_the_rounded_rectangle():
    made = cornered(square(0.1, 0.1, 0.1, 0.1)).outline

    assert made.path.polygon.area == pytest.approx(
        RoundedRectangle(1, 1, 0.1).path.polygon.area, rel=1e-12
    )
    # What a rounding takes of a corner: r² (1 - π / 4). Arcs are chords, 0.01 % small.
    assert made.path.polygon.area == pytest.approx(1 - 4 * 0.01 * (1 - math.pi / 4), abs=1e-5)


def test_roundings_that_take_whole_sides_leave_a_circle():
    made = cornered(square(0.5, 0.5, 0.5, 0.5))

    assert made.sides == (-1, -2, -3, -4)
    assert made.outline.path.polygon.area == pytest.approx(math.pi / 4, rel=2e-4)


@pytest.mark.parametrize("back", [False, True])
def test_a_bow_is_told_outwards_whichever_way_round_the_corners_go(back):
    corners = [Corner(0, 0), Corner(2, 0), Corner(2, 1), Corner(0, 1)]
    if back:
        corners = [Corner(0, 0), Corner(0, 1, bow=0.1), Corner(2, 1), Corner(2, 0)]
    else:
        corners[2] = Corner(2, 1, bow=0.1)
    path = cornered(corners).outline.path

    assert path.box == pytest.approx((0, 0, 2, 1.1), abs=5e-4)
    # A segment of a circle: radius (1 + 0.01) / 0.2, its area r² / 2 (a - sin a).
    radius = (1 + 0.01) / 0.2
    angle = 2 * math.asin(1 / radius)
    area = radius**2 / 2 * (angle - math.sin(angle))
    assert path.polygon.area == pytest.approx(2 + area, rel=5e-4)


def test_a_hollow_corner_is_rounded_to_its_own_side():
    el = [Corner(0, 0), Corner(2, 0), Corner(2, 1), Corner(1, 1, 0.2), Corner(1, 2), Corner(0, 2)]

    area = cornered(el).outline.path.polygon.area

    assert area == pytest.approx(3 + 0.04 * (1 - math.pi / 4), abs=1e-5)


def test_a_side_is_named_with_the_rounding_between_two_that_are_named():
    made = cornered(square(0.1, 0.1, 0.0, 0.0))

    assert made.sides == (-1, 1, -2, 2, 3, 4)
    assert made.named([1]) == ["2"]
    assert made.named([1, 2]) == ["2", "3", "4"]
    assert made.named([4, 1]) == ["1", "2", "6"]
    assert made.numbers({"2", "3", "4"}) == [1, 2]


@pytest.mark.parametrize(
    ("corners", "key", "row"),
    [
        (square(0.0, 0.6, 0.6, 0.0), "corner-radius", 1),
        (square(0.0, 1.2, 0.0, 0.0), "corner-radius", 1),
        (square(0.0, -0.1, 0.0, 0.0), "corner-radius", 1),
        ([Corner(0, 0), Corner(1, 0, 0.1), Corner(2, 0), Corner(1, 1)], "corner-radius", 1),
        ([Corner(0, 0, bow=0.1), Corner(1, 0, 0.1), Corner(1, 1)], "corner-radius", 1),
        ([Corner(0, 0), Corner(1, 0), Corner(1, 0), Corner(1, 1)], "duplicate-point", 2),
        ([Corner(0, 0)], "too-few-points", 0),
        ([], "too-few-points", 0),
        ([Corner(0, 0), Corner(math.nan, 0), Corner(1, 1)], "not-finite", 1),
        ([Corner(n, n % 7) for n in range(MOST_POINTS + 1)], "too-many-points", 0),
    ],
)
def test_what_cannot_be_is_told_of_its_corner(corners, key, row):
    with pytest.raises(ShapeFault) as caught:
        cornered(corners)

    assert (caught.value.key, caught.value.row) == (key, row)


@given(st.lists(st.floats(-0.2, 0.2), min_size=3, max_size=9), st.booleans())
def test_bows_come_back_as_they_were_typed(bows, backwards):
    count = len(bows)
    corners = [
        Corner(math.cos(2 * math.pi * n / count), math.sin(2 * math.pi * n / count), bow=bow)
        for n, bow in enumerate(bows)
    ]
    corners = corners[::-1] if backwards else corners

    back = corners_of(cornered(corners).outline)

    assert [one.at for one in back] == [one.at for one in corners]
    assert [one.bow for one in back] == pytest.approx([one.bow for one in corners], abs=1e-6)
