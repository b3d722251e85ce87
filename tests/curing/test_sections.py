"""Section properties against closed forms and a finite-element library."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curing.panel import Cutout, Edge, Panel, Rib, Strongback, cut_along, weakest_cut
from curing.sections import Rect, Section
from tests.finite_elements import Geometry, Material, MeshedSection, rectangular_section

INCH = 0.0254
POUND_FOOT = 16.018463  # kg/m³ in a lb/ft³

CONCRETE = Material("concrete", 20e3, 0.2, 30.0, 2.08e-6, "grey")
STEEL = Material("steel", 200e3, 0.3, 250.0, 7.85e-6, "blue")

VANITY = Panel(
    length=2.4,
    width=0.62,
    face=0.019,
    edges=(Edge("front", 0.025, 0.038), Edge("left", 0.025, 0.038)),
    ribs=(Rib(at=0.055, width=0.03, depth=0.03), Rib(at=0.56, width=0.035, depth=0.03)),
    cutouts=(Cutout(x=0.8, y=0.08, length=0.75, width=0.42),),
)


def meshed(section: Section) -> MeshedSection:
    """The same rectangles in millimetres, depth downwards, meshed and analysed."""
    geometry: Geometry | None = None
    for r in section.rects:
        shape = rectangular_section(
            d=1000 * (r.v1 - r.v0),
            b=1000 * (r.u1 - r.u0),
            material=CONCRETE if r.cast else STEEL,
        ).shift_section(x_offset=1000 * r.u0, y_offset=-1000 * r.v1)
        geometry = shape if geometry is None else geometry + shape
    assert geometry is not None
    geometry.create_mesh([60])
    found = MeshedSection(geometry)
    found.calculate_geometric_properties()
    return found


def assert_same(section: Section) -> None:
    """Area, centroid, second moments and section moduli to 0.5 %."""
    other = meshed(section)
    near = {"rel": 5e-3}
    modulus = CONCRETE.elastic_modulus
    area, (ixx, iyy, ixy) = other.get_ea() / modulus, other.get_eic()
    assert section.area == pytest.approx(area / 1e6, **near)
    across, up = other.get_c()
    assert section.centroid == pytest.approx((across / 1e3, -up / 1e3), **near)
    assert section.flat == pytest.approx(ixx / modulus / 1e12, **near)
    assert section.on_edge == pytest.approx(iyy / modulus / 1e12, **near)
    # Up there, down here: the product changes its sign.
    small = 1e-6 * math.sqrt(section.flat * section.on_edge)
    assert section.product == pytest.approx(-ixy / modulus / 1e12, abs=small, **near)
    if all(r.cast for r in section.rects):
        top, bottom, right, left = other.get_ez()
        assert section.top == pytest.approx(top / modulus / 1e9, **near)
        assert section.bottom == pytest.approx(bottom / modulus / 1e9, **near)
        assert section.front == pytest.approx(left / modulus / 1e9, **near)
        assert section.back == pytest.approx(right / modulus / 1e9, **near)


def sink_of(panel: Panel) -> tuple[Section, ...]:
    return max(cut_along(panel), key=lambda segment: len(segment.parts)).parts


def test_a_ribbed_piece_cut_at_its_sink_against_sectionproperties() -> None:
    front, back = sink_of(VANITY)
    assert [len(front.rects), len(back.rects)] == [4, 3]
    assert_same(front)
    assert_same(back)
    assert_same(Section((*front.rects, *back.rects)))


def test_the_solid_ribbed_piece_against_sectionproperties() -> None:
    assert_same(cut_along(VANITY)[1].whole)


def test_a_bonded_steel_bar_against_sectionproperties() -> None:
    bar = Strongback(0.4, 0.51, 1.6, 0.05, 0.006, 200e3, 7850.0, bonded=True)
    flat = Panel(2.4, 0.62, 0.019, cutouts=VANITY.cutouts, strongbacks=(bar,))
    _, back = sink_of(flat)
    assert any(not r.cast for r in back.rects)
    assert_same(back)


def test_a_rectangle() -> None:
    plain = Section((Rect(0.0, 0.3, 0.0, 0.02),))
    assert plain.area == pytest.approx(0.006)
    assert plain.centroid == pytest.approx((0.15, 0.01))
    assert plain.flat == pytest.approx(0.3 * 0.02**3 / 12)
    assert plain.on_edge == pytest.approx(0.02 * 0.3**3 / 12)
    assert plain.product == pytest.approx(0.0, abs=1e-18)
    assert plain.top == pytest.approx(0.3 * 0.02**2 / 6)
    assert plain.bottom == pytest.approx(plain.top)
    assert plain.mass == pytest.approx(12.48)


def test_thin_gfrc_weighs_about_8_pounds_a_square_foot() -> None:
    """¾ in at 130 lb/ft³: 130 × 0.75 / 12 = 8.125 lb/ft²."""
    panel = Panel(96 * INCH, 25.5 * INCH, 0.75 * INCH, density=130 * POUND_FOOT)
    assert panel.mass_per_area * 0.2048161 == pytest.approx(8.125, rel=1e-5)


def test_weight_counts_edges_ribs_and_holes_once() -> None:
    solid = 2.4 * 0.62 * 0.019
    hole = 0.75 * 0.42 * 0.019
    edges = 0.019 * 0.025 * (2.4 + 0.62 - 0.025)
    # The front rib runs 0.04 to 0.07 from the front, both from the left edge on but for 11 mm
    # that stand deeper than it; neither meets the sink's hole.
    ribs = 0.03 * (0.03 + 0.035) * (2.4 - 0.025) + (0.03 - 0.019) * (0.03 + 0.035) * 0.025
    assert VANITY.mass == pytest.approx(2080 * (solid - hole + edges + ribs))
    assert VANITY.face_area == pytest.approx(2.4 * 0.62 - 0.75 * 0.42)


@pytest.mark.parametrize("bonded", [True, False])
def test_strongbacks_weigh_the_same_along_and_across(bonded: bool) -> None:
    bar = Strongback(0.4, 0.5, 1.6, 0.05, 0.04, 9e3, 450.0, bonded=bonded)
    panel = Panel(2.4, 0.62, 0.019, cutouts=VANITY.cutouts, strongbacks=(bar,))
    bare = Panel(2.4, 0.62, 0.019, cutouts=VANITY.cutouts)
    across = sum((s.end - s.start) * s.mass for s in cut_along(panel, "width"))
    assert panel.mass == pytest.approx(bare.mass + 450 * 1.6 * 0.05 * 0.04)
    assert across == pytest.approx(panel.mass)


def test_the_weakest_cut_is_at_the_sink() -> None:
    cut = weakest_cut(VANITY)
    assert (cut.start, cut.end) == pytest.approx((0.8, 1.55))
    assert len(cut.parts) == 2


def test_a_cross_rib_is_a_rib_along_the_length_of_the_piece_turned() -> None:
    cross = Panel(2.0, 0.6, 0.02, ribs=(Rib(0.7, 0.03, 0.03, along="width"),))
    turned = Panel(0.6, 2.0, 0.02, ribs=(Rib(0.7, 0.03, 0.03),))
    assert cut_along(cross, "width") == cut_along(turned, "length")


def test_a_sink_open_to_the_front_leaves_one_rail() -> None:
    apron = Panel(2.0, 0.6, 0.02, cutouts=(Cutout(0.6, -0.01, 0.7, 0.45),))
    middle = cut_along(apron)[1]
    assert len(middle.parts) == 1
    assert middle.parts[0].extent(0) == pytest.approx(0.6 - 0.44)


def test_sides_that_meet_but_for_rounding_leave_no_sliver() -> None:
    """0.07 + 0.58 falls short of 0.65 by less than an atom."""
    hole = Cutout(0.5, 0.07, 0.3, 0.58 - 1e-12)
    opened = cut_along(Panel(2.0, 0.65, 0.02, cutouts=(hole,)))[1]
    assert [part.extent(0) for part in opened.parts] == [pytest.approx(0.07)]


def test_a_bar_glued_beside_a_hole_bends_by_itself_over_it() -> None:
    bar = Strongback(0.5, 0.2, 1.2, 0.05, 0.04, 69e3, 2700.0, bonded=True)
    panel = Panel(2.4, 0.62, 0.019, cutouts=VANITY.cutouts, strongbacks=(bar,))
    opened = max(cut_along(panel), key=lambda segment: len(segment.parts))
    assert len(opened.bars) == 1
    assert all(r.cast for part in opened.parts for r in part.rects)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: Panel(0.0, 0.6, 0.02), "length must be"),
        (lambda: Panel(2.0, math.nan, 0.02), "width must be"),
        (lambda: Panel(2.0, 0.6, 0.02, density=400.0), "1000 to 3000"),
        (lambda: Panel(2.0, 0.6, 0.02, edges=(Edge("front", 0.7, 0.04),)), "front edge is wider"),
        (lambda: Panel(2.0, 0.6, 0.02, edges=(Edge("back", 0.02, 0.01),)), "reach below"),
        (lambda: Panel(2.0, 0.6, 0.02, ribs=(Rib(0.59, 0.04, 0.03),)), "rib at 0.59"),
        (lambda: Panel(2.0, 0.6, 0.02, cutouts=(Cutout(2.1, 0, 0.1, 0.1),)), "outside the piece"),
        (lambda: Panel(2.0, 0.6, 0.02, cutouts=(Cutout(0.5, 0, 0.1, 0.6),)), "in two"),
        (
            lambda: Panel(
                2.0, 0.6, 0.02, strongbacks=(Strongback(1, 0.1, 1.5, 0.05, 0.05, 9e3, 450),)
            ),
            "strongback must lie",
        ),
        (lambda: Rect(0.2, 0.1, 0.0, 0.1), "across must be"),
        (lambda: Section(()), "a rectangle or more"),
        (lambda: Section((Rect(0, 1, 0, 1, cast=False),)).top, "no concrete"),
    ],
)
def test_what_cannot_be_is_refused_by_name(make, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        make()


@given(scale=st.floats(0.1, 10.0))
def test_second_moments_go_with_the_fourth_power_of_size(scale: float) -> None:
    small = sink_of(VANITY)[0]
    large = Section(
        tuple(Rect(scale * r.u0, scale * r.u1, scale * r.v0, scale * r.v1) for r in small.rects)
    )
    assert large.area == pytest.approx(scale**2 * small.area)
    assert large.flat == pytest.approx(scale**4 * small.flat)
    assert large.bottom == pytest.approx(scale**3 * small.bottom)


@given(depth=st.floats(0.001, 0.1), more=st.floats(0.001, 0.1))
def test_a_deeper_rib_is_stiffer(depth: float, more: float) -> None:
    def stiffness(rib_depth: float) -> float:
        return cut_along(Panel(2.0, 0.6, 0.02, ribs=(Rib(0.3, 0.03, rib_depth),)))[0].whole.flat

    assert stiffness(depth + more) > stiffness(depth)
