"""Areas, volumes and weights: by hand, against shapely put together otherwise, against a
finite-element library, and against the engine's panel."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point, Polygon

from jobs.services.shape import panel_from
from jobs.shapes.faults import ShapeFault
from jobs.shapes.outlines import Circle, FreeOutline, LShape, Rectangle, UShape
from jobs.shapes.regions import edge_regions, face_region, rib_regions, rim
from jobs.shapes.shape import BuiltEdge, Cutout, PlacedRib, Rib, Shape, SpacedRibs
from jobs.shapes.solid import Solid
from jobs.shapes.stored import write
from tests.finite_elements import Geometry, MeshedSection
from tests.jobs.shapes.samples import COUNTER, INCH, PLAIN, POUND_FOOT, POUND_SQUARE_FOOT, outlines


def test_three_quarters_of_an_inch_weighs_eight_pounds_a_square_foot() -> None:
    # 130 lb/ft3 x 0.75 / 12 = 8.125: 8.1 in the trade's tables.
    slab = Solid(Shape(Rectangle(96 * INCH, 25.5 * INCH)), 0.75 * INCH)
    assert slab.per_area(130 * POUND_FOOT) / POUND_SQUARE_FOOT == pytest.approx(8.1, abs=0.05)
    assert slab.area == pytest.approx(96 * 25.5 * INCH**2)


def test_solid_inch_and_a_half_of_ordinary_concrete_weighs_nineteen_pounds() -> None:
    # 150 lb/ft3 x 1.5 / 12 = 18.75: 18.8.
    solid = Solid(Shape(Rectangle(2, 1)), 1.5 * INCH)
    assert solid.per_area(150 * POUND_FOOT) / POUND_SQUARE_FOOT == pytest.approx(18.8, abs=0.06)


def test_a_counter_by_hand() -> None:
    """In inches: the sink's corners are (4 - pi) 3^2 less than its box, the faucet's hole
    pi/4 1.375^2; the front edge runs through, the left end's is what is behind it."""
    sink = 30 * 16 - (4 - math.pi) * 9
    faucet = math.pi / 4 * 1.375**2
    area = 96 * 25.5 - sink - faucet
    edge = 96 * 1.5 + (25.5 - 1.5) * 1
    # Four gaps of 19.2 in for 96 at 20: ribs at 19.2, 38.4, 57.6, 76.8; each from the front edge's
    # back to the wall, and those at 38.4 and 57.6 are parted by the sink from 4 to 20.
    ribs = 1.25 * (24 + (24 - 16) + (24 - 16) + 24)
    solid = Solid(COUNTER, 0.75 * INCH, coat=0.125 * INCH)
    cubic = INCH**3
    assert solid.area == pytest.approx(area * INCH**2, rel=2e-5)
    assert solid.volumes["face coat"] == pytest.approx(area * 0.125 * cubic, rel=2e-5)
    assert solid.volumes["backer"] == pytest.approx(area * 0.625 * cubic, rel=2e-5)
    assert solid.volumes["edge"] == pytest.approx(edge * 0.75 * cubic, rel=1e-9)
    assert solid.volumes["ribs"] == pytest.approx(ribs * 0.75 * cubic, rel=1e-9)


def test_its_parts_make_the_whole() -> None:
    solid = Solid(COUNTER, 0.019, coat=0.003)
    assert sum(solid.volumes.values()) == pytest.approx(solid.volume)
    fresh, dry = solid.weight(2150), solid.weight(2050)
    assert fresh / dry == pytest.approx(2150 / 2050)


@given(outlines(), st.floats(0.02, 0.06), st.floats(0.0, 0.04))
def test_no_place_counts_twice(outline, width, more) -> None:
    """Layers below the slab lie in the face, and none in another: their areas add up."""
    shape = Shape(
        outline,
        edges=(BuiltEdge("all", width, 0.03 + more), BuiltEdge(outline.sides[0].name, 0.03, 0.05)),
        ribs=(SpacedRibs(0.3, 0.03, 0.02), SpacedRibs(0.4, 0.04, 0.03, "width")),
    )
    below = [*rim(shape), *rib_regions(shape, 0.019)]
    face = face_region(shape)
    together = Polygon()
    for one in below:
        together = together.union(one.region)
    assert sum(one.region.area for one in below) == pytest.approx(together.area, rel=1e-6)
    assert together.difference(face).area == pytest.approx(0, abs=1e-9)


@given(outlines(), st.floats(0.01, 0.05))
def test_an_edge_all_round_is_the_outline_less_what_lies_deeper_in(outline, width) -> None:
    """The mitred rim against shapely's own: all that lies nearer to the outline than its width.
    At hollow corners a mitre reaches farther than that, by less than the square of the width."""
    shape = Shape(outline, edges=(BuiltEdge("all", width, 0.04),))
    piece = outline.path.polygon
    near = piece.difference(piece.buffer(-width, join_style="mitre"))
    found = edge_regions(shape)[0].region
    corners = len(outline.path.points)
    assert near.difference(found).area <= corners * 0.3 * width**2
    assert found.difference(near).area <= corners * 9 * width**2


def test_an_edge_around_a_circle_is_a_ring() -> None:
    ring = edge_regions(Shape(Circle(1.0), edges=(BuiltEdge("all", 0.04, 0.04),)))[0].region
    assert ring.area == pytest.approx(math.pi * (0.5**2 - 0.46**2), rel=3e-4)
    full = edge_regions(Shape(Circle(0.2), edges=(BuiltEdge("round", 0.1, 0.04),)))[0].region
    assert full.area == pytest.approx(math.pi * 0.01, rel=3e-4)


def test_the_corner_between_two_edges_of_an_l_is_filled() -> None:
    """The inner corner of an L: two strips of 0.04 leave a square of 0.04 between them."""
    edges = (BuiltEdge("notch along", 0.04, 0.04), BuiltEdge("notch across", 0.03, 0.04))
    shape = Shape(LShape(2, 1.5, 1.2, 0.9), edges=edges)
    area = sum(one.region.area for one in rim(shape))
    assert area == pytest.approx(1.2 * 0.04 + 0.9 * 0.03 + 0.04 * 0.03)
    alone = Shape(LShape(2, 1.5, 1.2, 0.9), edges=edges[:1])
    assert rim(alone)[0].region.area == pytest.approx(1.2 * 0.04)


def test_where_edges_of_two_depths_meet_the_deeper_has_the_corner() -> None:
    solid = Solid(replace(PLAIN, ribs=(), cutouts=()), 0.019)
    deep = 0.62 * 0.03 * (0.05 - 0.019)
    shallow = (2.4 - 0.03) * 0.025 * (0.038 - 0.019)
    assert solid.volumes["edge"] == pytest.approx(deep + shallow)
    assert solid.depth == 0.05


@pytest.mark.parametrize("shape", [PLAIN, Shape(Rectangle(1.2, 0.5))])
def test_a_rectangle_weighs_what_the_engine_says(shape: Shape) -> None:
    """The same concrete as `curing.panel`, as long as no rib reaches below an edge it meets."""
    panel = panel_from(write(shape), face=0.019, density=2080)
    solid = Solid(shape, 0.019)
    ribs = [rib for rib in shape.ribs if isinstance(rib, Rib)]
    meeting = sum(
        max(0.0, 0.019 + rib.depth - edge.depth) * rib.width * edge.width
        for rib, edge in zip(ribs, reversed(shape.edges), strict=False)
    )
    assert solid.weight(2080) == pytest.approx(panel.mass - 2080 * meeting, rel=1e-9)
    assert solid.area == pytest.approx(panel.face_area)


@pytest.mark.parametrize(
    "outline",
    [
        LShape(2.0, 1.5, 1.2, 0.9),
        UShape(2.0, 1.5, 0.4, 0.9, 0.7),
        FreeOutline(((0, 0), (1.8, 0.2), (1.5, 0.9), (0.7, 0.6), (0.1, 1.1))),
    ],
)
def test_the_centre_of_an_outline_against_sectionproperties(outline) -> None:
    shape = Shape(outline, cutouts=(Cutout(Circle(0.12), 0.3, 0.25),))
    if isinstance(outline, UShape):
        shape = replace(shape, cutouts=(Cutout(Circle(0.12), 0.3, 1.1),))
    hole = shape.cutouts[0].path.polygon
    geometry = Geometry(Polygon(outline.path.ring)) - Geometry(hole)
    geometry.create_mesh([0.005])
    meshed = MeshedSection(geometry)
    meshed.calculate_geometric_properties()
    solid = Solid(shape, 0.02)
    assert solid.area == pytest.approx(meshed.get_area(), rel=1e-6)
    assert solid.centre[:2] == pytest.approx(meshed.get_c(), rel=1e-5)
    assert solid.centre[2] == pytest.approx(0.01)


def test_the_depth_of_the_centre_of_a_t_by_hand() -> None:
    # 1 m of a slab 0.02 and a rib 0.1 wide, 0.06 deep along all of it:
    # (1 x 0.02 x 0.01 + 0.1 x 0.06 x 0.05) / (0.02 + 0.006)
    solid = Solid(Shape(Rectangle(3, 1), ribs=(Rib(0.5, 0.1, 0.06),)), 0.02)
    assert solid.centre == pytest.approx((1.5, 0.5, 5e-4 / 0.026))


def test_a_placed_rib_counts_where_it_lies() -> None:
    shape = Shape(Rectangle(2, 1), ribs=(PlacedRib((0.2, 0.2), (0.8, 0.6), 0.05, 0.03),))
    length = math.dist((0.2, 0.2), (0.8, 0.6))
    assert Solid(shape, 0.02).volumes["ribs"] == pytest.approx(length * 0.05 * 0.03)


def test_ribs_that_cross_count_once() -> None:
    shape = Shape(Rectangle(2, 1), ribs=(Rib(0.5, 0.05, 0.03), Rib(1.0, 0.04, 0.02, "width")))
    volume = 2 * 0.05 * 0.03 + (1 - 0.05) * 0.04 * 0.02
    assert Solid(shape, 0.02).volumes["ribs"] == pytest.approx(volume)


@given(st.floats(0.05, 2.0), st.sampled_from([Rectangle(2, 0.6), LShape(2, 2, 1, 1), Circle(1)]))
def test_spaced_ribs_keep_their_spacing(spacing, outline) -> None:
    _, front, _, back = outline.path.box
    ribs = SpacedRibs(spacing, 0.03, 0.03).ribs(front, back)
    places = [front, *(rib.at for rib in ribs), back]
    gaps = [b - a for a, b in pairwise(places)]
    assert max(gaps) <= spacing + 1e-9
    assert max(gaps) == pytest.approx(min(gaps))
    # One rib fewer would stand farther apart than asked.
    assert not ribs or (back - front) / len(ribs) > spacing - 1e-9


def test_what_is_saved_against_solid_concrete_and_stone() -> None:
    solid = Solid(Shape(Rectangle(2, 0.6), edges=(BuiltEdge("front", 0.04, 0.038),)), 0.019)
    concrete, stone = solid.saved(2080)
    assert concrete.solid_kg == pytest.approx(1.2 * 0.038 * 2403)
    assert stone.solid_kg == pytest.approx(1.2 * 0.038 * 2700)
    own = (1.2 * 0.019 + 2 * 0.04 * 0.019) * 2080
    assert concrete.saved_kg == pytest.approx(1.2 * 0.038 * 2403 - own)
    assert concrete.share == pytest.approx(1 - own / concrete.solid_kg)
    assert stone.basis == "common practice, no source"
    other = solid.saved(2080, stone=2650)[1]
    assert (other.density, other.basis) == (2650, "as entered")


@given(outlines(), st.floats(0.3, 3.0), st.floats(-3, 3))
def test_turning_a_piece_changes_no_weight(outline, factor, angle) -> None:
    shape = Shape(FreeOutline(outline.path.points, outline.path.bulges))
    turned = outline.path.turned(angle)
    again = Shape(FreeOutline(turned.points, turned.bulges))
    one, other = Solid(shape, 0.02), Solid(again, 0.02)
    assert other.volume == pytest.approx(one.volume, rel=1e-9)
    x, y, depth = one.centre
    cos, sin = math.cos(angle), math.sin(angle)
    assert other.centre == pytest.approx((x * cos - y * sin, x * sin + y * cos, depth), abs=1e-9)
    scaled = outline.path.scaled(factor)
    larger = Solid(Shape(FreeOutline(scaled.points, scaled.bulges)), 0.02)
    assert larger.area == pytest.approx(factor**2 * one.area, rel=1e-9)


def test_a_cutout_that_opens_a_side_takes_only_what_lies_in_the_piece() -> None:
    apron = Cutout(Rectangle(0.8, 0.5), 0.6, -0.1, opens=True)
    assert Solid(Shape(Rectangle(2, 0.6), cutouts=(apron,)), 0.02).area == pytest.approx(
        1.2 - 0.8 * 0.4
    )
    assert not face_region(Shape(Rectangle(2, 0.6), cutouts=(apron,))).contains(Point(1, 0.2))


@pytest.mark.parametrize(
    ("face", "coat", "key"),
    [
        (0.0, 0.0, "not-above-zero"),
        (-0.01, 0.0, "not-above-zero"),
        (math.nan, 0.0, "not-finite"),
        (0.02, -0.001, "not-above-zero"),
        (0.02, 0.03, "coat-too-thick"),
    ],
)
def test_impossible_thicknesses_are_refused(face, coat, key) -> None:
    with pytest.raises(ShapeFault) as refused:
        Solid(PLAIN, face, coat)
    assert (refused.value.key, refused.value.part) == (key, "face")
