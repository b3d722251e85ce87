"""The engine's panel of any outline: exact where it can be, and against plates by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings

from curing.bending import GRAVITY, Carry, Load, peak_tension
from curing.handling import Rules, needs
from curing.panel import weakest_cut
from curing.strength import PLACEHOLDER
from jobs.shapes.faults import ShapeFault
from jobs.shapes.outlines import Circle, FreeOutline, LShape, Rectangle, RoundedRectangle, UShape
from jobs.shapes.shape import BuiltEdge, Cutout, Rib, Shape
from jobs.shapes.solid import Solid
from jobs.shapes.strips import panel_of_shape
from tests.jobs.shapes.samples import outlines

DENSITY = 2080.0
FACE = 0.02
ENDS = Carry("flat by its ends", "face")
OVER_WIDTH = Carry("over its width", "face", along="width")


def test_an_l_is_cut_across_its_inner_corner() -> None:
    """Legs of 0.6 along the front and 0.8 at the left; from x = 0.8 on only the front leg is
    left: the weakest cut is that leg's, 0.6 wide."""
    panel = panel_of_shape(Shape(LShape(2.0, 1.5, 1.2, 0.9)), FACE, DENSITY)
    weak = weakest_cut(panel)
    assert (weak.start, weak.end) == pytest.approx((0.8, 2.0))
    assert weak.whole.area == pytest.approx(0.6 * FACE)
    crosswise = weakest_cut(panel, "width")
    assert (crosswise.start, crosswise.end) == pytest.approx((0.6, 1.5))
    assert crosswise.whole.area == pytest.approx(0.8 * FACE)
    assert panel.mass == pytest.approx(
        Solid(Shape(LShape(2.0, 1.5, 1.2, 0.9)), FACE).weight(DENSITY)
    )


def test_an_l_held_at_its_ends_by_hand() -> None:
    """By its own weight q per area [Pa], on supports at x = 0 and 2: the moment at the inner
    corner x = 0.8, borne by a leg 0.6 wide."""
    panel = panel_of_shape(Shape(LShape(2.0, 1.5, 1.2, 0.9)), FACE, DENSITY)
    q = DENSITY * FACE * GRAVITY
    left, right = 1.5 * 0.8 * q, 0.6 * 1.2 * q
    # Reactions: moments about x = 2.
    at_left = (left * (2.0 - 0.4) + right * 0.6) / 2.0
    moment = at_left * 0.8 - left * 0.4
    stress = moment / (0.6 * FACE**2 / 6) / 1e6
    assert peak_tension(panel, ENDS, Load("weight")).stress == pytest.approx(stress, rel=1e-6)


def test_a_u_has_its_weakest_cut_behind_the_notch() -> None:
    panel = panel_of_shape(Shape(UShape(2.0, 1.5, 0.6, 0.8, 0.9)), FACE, DENSITY)
    weak = weakest_cut(panel)
    assert (weak.start, weak.end) == pytest.approx((0.6, 1.4))
    assert weak.whole.area == pytest.approx(0.6 * FACE)


@pytest.mark.parametrize("carry", [ENDS, OVER_WIDTH])
def test_a_disc_held_at_two_ends_by_hand(carry: Carry) -> None:
    """Half of a disc hangs on its middle: q r (A / 2) - q (A / 2) 4 r / (3 pi)."""
    r = 0.5
    panel = panel_of_shape(Shape(Circle(2 * r)), FACE, DENSITY)
    q = DENSITY * FACE * GRAVITY
    half = q * math.pi * r**2 / 2
    moment = half * r - half * 4 * r / (3 * math.pi)
    stress = moment / (2 * r * FACE**2 / 6) / 1e6
    found = peak_tension(panel, carry, Load("weight")).stress
    assert stress <= found <= 1.12 * stress
    bond = (1000 + q) / q
    stuck = peak_tension(panel, carry, Load("stripped", bond=1000.0)).stress
    assert bond * stress <= stuck <= 1.06 * bond * stress


def test_a_slanting_piece_is_judged_along_itself() -> None:
    """A rectangle that stands aslant in its plan asks for what it asks for lying straight."""
    straight = Rectangle(2.0, 0.5)
    turned = straight.path.turned(0.6)
    one = panel_of_shape(Shape(straight), FACE, DENSITY)
    other = panel_of_shape(Shape(FreeOutline(turned.points)), FACE, DENSITY)
    assert (other.length, other.width) == pytest.approx((2.0, 0.5))
    for need, again in zip(
        needs(one, PLACEHOLDER, Rules()), needs(other, PLACEHOLDER, Rules()), strict=True
    ):
        assert again.strength == pytest.approx(need.strength, rel=1e-3)


def test_edges_that_do_not_help_weigh_all_the_same() -> None:
    shape = Shape(
        LShape(2.0, 1.5, 1.2, 0.9),
        edges=(BuiltEdge("front", 0.03, 0.04), BuiltEdge("notch across", 0.03, 0.04)),
    )
    panel = panel_of_shape(shape, FACE, DENSITY)
    assert [edge.side for edge in panel.edges] == ["front"]
    assert panel.mass == pytest.approx(Solid(shape, FACE).weight(DENSITY))
    assert panel.density > DENSITY


def test_an_edge_on_one_half_of_a_side_does_not_count_for_the_whole_side() -> None:
    """Free corners on the front line, of whose sides only one is built down."""
    outline = FreeOutline(((0, 0), (1, 0), (2, 0), (2, 0.6), (0, 0.6)))
    half = Shape(outline, edges=(BuiltEdge("1", 0.03, 0.04),))
    whole = Shape(outline, edges=(BuiltEdge("1", 0.03, 0.04), BuiltEdge("2", 0.03, 0.05)))
    assert panel_of_shape(half, FACE, DENSITY).edges == ()
    (edge,) = panel_of_shape(whole, FACE, DENSITY).edges
    assert (edge.side, edge.width, edge.depth) == ("front", 0.03, 0.04)


def test_a_round_cutout_is_the_square_around_it_and_loses_no_weight() -> None:
    shape = Shape(Rectangle(1.5, 0.5), cutouts=(Cutout(Circle(0.3), 0.6, 0.1),))
    panel = panel_of_shape(shape, FACE, DENSITY)
    (hole,) = panel.cutouts
    assert (hole.length, hole.width) == pytest.approx((0.3, 0.3), abs=1e-4)
    assert panel.mass >= Solid(shape, FACE).weight(DENSITY)
    square = replace(shape, cutouts=(Cutout(Rectangle(0.3, 0.3), 0.6, 0.1),))
    exact = panel_of_shape(square, FACE, DENSITY)
    assert exact.density == DENSITY
    load = Load("weight")
    assert peak_tension(panel, ENDS, load).stress > peak_tension(exact, ENDS, load).stress


def test_rounded_corners_change_little() -> None:
    sharp = panel_of_shape(Shape(Rectangle(2, 0.6)), FACE, DENSITY)
    soft = panel_of_shape(Shape(RoundedRectangle(2, 0.6, 0.03)), FACE, DENSITY)
    load = Load("weight")
    assert peak_tension(soft, ENDS, load).stress == pytest.approx(
        peak_tension(sharp, ENDS, load).stress, rel=5e-3
    )


def test_ribs_from_side_to_side_help_an_l() -> None:
    plain = Shape(LShape(2.0, 1.5, 1.2, 0.9))
    ribbed = replace(plain, ribs=(Rib(0.3, 0.04, 0.04),))
    load = Load("weight")
    bare, stiff = (panel_of_shape(shape, FACE, DENSITY) for shape in (plain, ribbed))
    assert peak_tension(stiff, ENDS, load).stress < peak_tension(bare, ENDS, load).stress


@settings(max_examples=12)
@given(outlines())
def test_every_outline_can_be_judged_and_nothing_of_its_weight_is_lost(outline) -> None:
    shape = Shape(outline)
    try:
        panel = panel_of_shape(shape, FACE, DENSITY)
    except ShapeFault:
        # A tip too thin for a strip: the gate stays closed, and nothing is guessed.
        assert isinstance(outline, FreeOutline)
        return
    weight = Solid(shape, FACE).weight(DENSITY)
    assert weight * (1 - 1e-6) <= panel.mass
    assert panel.face_area <= outline.path.polygon.area * 1.03
    for need in needs(panel, PLACEHOLDER, Rules()):
        assert math.isfinite(need.strength)
        assert need.strength > 0


def test_a_piece_that_is_nearly_all_rim_is_not_guessed_at() -> None:
    bowl = Shape(Circle(0.4), edges=(BuiltEdge("all", 0.08, 0.15),))
    with pytest.raises(ShapeFault) as refused:
        panel_of_shape(bowl, FACE, DENSITY)
    assert refused.value.key == "too-heavy-to-judge"
