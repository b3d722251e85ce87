"""Shapes that the tests of this folder share, and strategies for them."""

from __future__ import annotations

import math

from hypothesis import strategies as st

from jobs.shapes.outlines import (
    Circle,
    FreeOutline,
    LShape,
    Rectangle,
    RoundedRectangle,
    UShape,
)
from jobs.shapes.shape import BuiltEdge, Cutout, Rib, Shape, SpacedRibs

INCH = 0.0254
POUND_FOOT = 16.018463  # kg/m3 in a lb/ft3
POUND_SQUARE_FOOT = 4.882428  # kg/m2 in a lb/ft2

# Front edge 1 1/2 in, none at the wall; an undermount sink and a faucet hole; ribs in a row.
COUNTER = Shape(
    Rectangle(96 * INCH, 25.5 * INCH),
    edges=(
        BuiltEdge("front", 1.5 * INCH, 1.5 * INCH),
        BuiltEdge("left", 1 * INCH, 1.5 * INCH),
    ),
    ribs=(SpacedRibs(20 * INCH, 1.25 * INCH, 0.75 * INCH, "width"),),
    cutouts=(
        Cutout(RoundedRectangle(30 * INCH, 16 * INCH, 3 * INCH), 33 * INCH, 4 * INCH, "sink"),
        Cutout(Circle(1.375 * INCH), 47.3125 * INCH, 22 * INCH, "faucet"),
    ),
)
PLAIN = Shape(
    Rectangle(2.4, 0.62),
    edges=(BuiltEdge("front", 0.025, 0.038), BuiltEdge("left", 0.03, 0.05)),
    ribs=(Rib(0.1, 0.03, 0.02), Rib(1.9, 0.04, 0.03, "width")),
    cutouts=(Cutout(Rectangle(0.75, 0.42), 0.8, 0.08),),
)

size = st.floats(0.3, 3.0)
part = st.floats(0.15, 0.85)


@st.composite
def outlines(draw):
    kind = draw(st.sampled_from(["rectangle", "rounded", "circle", "L", "U", "star"]))
    long, wide, share, other = draw(size), draw(size), draw(part), draw(part)
    if kind == "rectangle":
        return Rectangle(long, wide)
    if kind == "rounded":
        return RoundedRectangle(long, wide, min(long, wide) * share / 2)
    if kind == "circle":
        return Circle(wide)
    if kind == "L":
        corner = draw(st.sampled_from(["front left", "front right", "back left", "back right"]))
        return LShape(long, wide, long * share, wide * other, corner)
    if kind == "U":
        side = draw(st.sampled_from(["front", "back"]))
        return UShape(long, wide, long * 0.1, long * share * 0.9, wide * other, side)
    return draw(stars())


@st.composite
def stars(draw):
    """Corners at rising angles about a middle: never crossing, often hollow at a corner; some
    sides are arcs."""
    count = draw(st.integers(3, 9))
    radii = draw(st.lists(st.floats(0.4, 1.5), min_size=count, max_size=count))
    bulges = draw(st.lists(st.sampled_from([0.0, 0.0, 0.05, 0.15]), min_size=count, max_size=count))
    points = tuple(
        (r * math.cos(2 * math.pi * n / count), r * math.sin(2 * math.pi * n / count))
        for n, r in enumerate(radii)
    )
    return FreeOutline(points, tuple(bulges))
