"""What a piece is made of, against figures of the trade, by hand, and by its properties."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.models import Piece
from jobs.services.drawings import PHONE, SCREEN, paper_drawings, piece_drawings
from jobs.services.shape import section_fault, weight_kg
from jobs.services.substance import substance_of
from jobs.shapes.drawing import Line, Words
from jobs.shapes.outlines import FreeOutline, LShape, Rectangle
from jobs.shapes.shape import BuiltEdge, Shape, SpacedRibs
from jobs.shapes.stored import write
from shop.measures import registry
from shop.models import Mix, Shop
from tests.jobs.shapes.samples import COUNTER, INCH, PLAIN, outlines

UREG = registry()
SHOP = Shop()


def pounds_a_cubic_foot(density: float) -> float:
    return float(UREG.Quantity(density, "lb/ft**3").to("kg/m**3").magnitude)


def pounds_a_square_foot(per_area: float) -> float:
    return float(UREG.Quantity(per_area, "kg/m**2").to("lb/ft**2").magnitude)


GFRC = pounds_a_cubic_foot(130)


def a_piece(shape: Shape | None = None, *, density: float = GFRC, **fields) -> Piece:
    dry = fields.pop("dry", None)
    fields.setdefault("thickness_m", 0.75 * INCH)
    fields.setdefault("coat_m", 0.125 * INCH)
    fields.setdefault("area_m2", 1.5)
    mix = Mix(name="Test", density=density, dry_density=dry)
    return Piece(code="1-A", letter="A", mix=mix, shape=write(shape) if shape else None, **fields)


@pytest.mark.parametrize("shape", [None, Shape(Rectangle(2.0, 0.75))])
def test_three_quarters_of_an_inch_of_gfrc_weighs_eight_pounds_a_square_foot(shape) -> None:
    """130 lb/ft3 x 0.75 in: 8.1 lb/ft2 in the trade's tables (arithmetic)."""
    found = substance_of(a_piece(shape), SHOP)
    assert pounds_a_square_foot(found.fresh_per_area) == pytest.approx(8.1, abs=0.05)


@pytest.mark.parametrize(
    ("inches", "density", "least", "most"),
    [
        (1.5, 144, 17.9, 18.9),
        (1.5, 150, 17.9, 18.9),
        (2.0, 144, 23.9, 25.1),
        (2.0, 150, 23.9, 25.1),
    ],
)
def test_solid_ordinary_concrete(inches, density, least, most) -> None:
    """1 1/2 in: 18 to 18.8 lb/ft2, 2 in: 24 to 25, of concrete of 144 to 150 lb/ft3."""
    shop = Shop(concrete_density=pounds_a_cubic_foot(density))
    edge = Shape(Rectangle(2.0, 0.75), edges=(BuiltEdge("front", 0.04, inches * INCH),))
    found = substance_of(a_piece(edge), shop)
    concrete, _stone = found.saved
    assert least <= pounds_a_square_foot(concrete.solid_kg / found.area) <= most


def test_a_counter_of_eight_feet_by_hand() -> None:
    """In cubic inches, as the sample's own test reckons them; pounds by 130 lb/ft3."""
    found = substance_of(a_piece(COUNTER), SHOP)
    edge, ribs = (96 * 1.5 + 24) * 0.75, 1.25 * (24 + 8 + 8 + 24) * 0.75
    # 96 x 25.5 less the sink with round corners and the faucet's hole.
    face = (96 * 25.5 - (30 * 16 - (4 - 3.14159265) * 9) - 0.785398 * 1.375**2) * 0.75
    pounds = (face + edge + ribs) / 1728 * 130
    assert float(UREG.Quantity(found.fresh_kg, "kg").to("lb").magnitude) == pytest.approx(
        pounds, rel=3e-5
    )
    assert found.depth == pytest.approx(1.5 * INCH)
    assert found.sizes is not None
    assert found.sizes.diagonal / INCH == pytest.approx((96**2 + 25.5**2) ** 0.5)
    assert found.sizes.longest_side / INCH == pytest.approx(96)
    assert found.sizes.rail is not None
    # Between faucet hole and sink: 22 - 20 in.
    assert found.sizes.rail.width / INCH == pytest.approx(2, abs=1e-3)
    # 25 1/2 in, on edge, through a door of 32 x 80 in.
    assert found.passes_door is True
    assert found.stands_in_truck is True


def test_a_piece_that_is_too_large_for_door_and_truck() -> None:
    wide = a_piece(Shape(Rectangle(3.2, 2.1)))
    found = substance_of(wide, SHOP)
    assert (found.passes_door, found.stands_in_truck) == (False, False)
    roomy = Shop(door_height_m=2.2, truck_length_m=3.3, truck_height_m=2.2)
    found = substance_of(wide, roomy)
    assert (found.passes_door, found.stands_in_truck) == (True, True)


def test_people_go_by_the_shops_limit_and_the_heavier_weight() -> None:
    piece = a_piece(area_m2=1.0, thickness_m=0.02, density=2000, dry=2200)
    found = substance_of(piece, Shop(carry_limit_kg=21.0))
    assert (found.fresh_kg, found.dry_kg) == (pytest.approx(40), pytest.approx(44))
    assert found.people.people == 3
    assert substance_of(piece, Shop(carry_limit_kg=22.0)).people.people == 2


def test_what_is_not_weighed_dry_is_taken_fresh_and_says_so() -> None:
    assert substance_of(a_piece(), SHOP).dry_weighed is False
    found = substance_of(a_piece(PLAIN, dry=1950.0), SHOP)
    assert found.dry_weighed is True
    assert found.dry_kg / found.fresh_kg == pytest.approx(1950 / GFRC)


def test_a_plain_slab_tells_what_area_and_thickness_tell() -> None:
    found = substance_of(a_piece(area_m2=2.0, thickness_m=0.02, coat_m=0.003), SHOP)
    assert [(part.layer, pytest.approx(part.volume)) for part in found.parts] == [
        ("face coat", 0.006),
        ("backer", 0.034),
    ]
    assert (found.shape, found.sizes, found.passes_door, found.stands_in_truck) == (None,) * 4
    assert found.fault == ""
    assert piece_drawings(a_piece(), SHOP) is None


def test_densities_of_the_shop_are_named_as_its_own() -> None:
    usual = substance_of(a_piece(PLAIN), SHOP).saved
    assert [one.basis for one in usual] == ["common practice, no source"] * 2
    own = substance_of(a_piece(PLAIN), Shop(stone_density=2650.0)).saved
    assert [one.basis for one in own] == ["common practice, no source", "as the shop has set it"]
    assert own[1].solid_kg / usual[1].solid_kg == pytest.approx(2650 / 2700)


def test_a_shape_that_does_not_go_with_the_thickness_is_left_out_and_said() -> None:
    piece = a_piece(PLAIN, thickness_m=0.06)
    found = substance_of(piece, SHOP)
    assert found.shape is None
    assert found.fault
    assert found.area == piece.area_m2
    assert piece_drawings(piece, SHOP) is None


@settings(max_examples=25, deadline=None)
@given(outlines(), st.floats(0.02, 0.05), st.floats(0.0, 0.02), st.floats(1500.0, 2500.0))
def test_the_parts_weigh_what_the_whole_weighs(outline, deeper, coat, density) -> None:
    shape = Shape(
        outline,
        edges=(BuiltEdge("all", 0.02, 0.02 + deeper),),
        ribs=(SpacedRibs(0.4, 0.03, 0.01),),
    )
    piece = a_piece(shape, thickness_m=0.02, coat_m=coat, density=density, dry=density * 0.95)
    found = substance_of(piece, SHOP)
    assert found.shape is not None
    assert sum(part.fresh_kg for part in found.parts) == pytest.approx(found.fresh_kg)
    assert sum(part.dry_kg for part in found.parts) == pytest.approx(found.dry_kg)
    # Between the bare slab and a solid as deep as its deepest foot.
    slab = found.area * 0.02 * density
    assert slab < found.fresh_kg < found.area * found.depth * density * (1 + 1e-9)
    if not isinstance(outline, Rectangle) and not section_fault(piece):
        assert found.fresh_kg == pytest.approx(weight_kg(piece))


@settings(max_examples=25, deadline=None)
@given(outlines(), st.floats(0.4, 2.5))
def test_a_shape_twice_as_large_has_four_times_the_area(outline, factor) -> None:
    """And, of one thickness, four times the weight; lengths twice."""
    plain = Shape(FreeOutline(outline.path.points, outline.path.bulges))
    scaled = outline.path.scaled(factor)
    one = substance_of(a_piece(plain), SHOP)
    other = substance_of(a_piece(Shape(FreeOutline(scaled.points, scaled.bulges))), SHOP)
    assert one.sizes is not None
    assert other.sizes is not None
    assert other.area == pytest.approx(factor**2 * one.area)
    assert other.fresh_kg == pytest.approx(factor**2 * one.fresh_kg)
    assert other.sizes.diagonal == pytest.approx(factor * one.sizes.diagonal)
    assert other.sizes.least_width == pytest.approx(factor * one.sizes.least_width)


# Drawings.


@pytest.mark.parametrize("sheet", [SCREEN, PHONE])
def test_a_drawing_has_its_size_in_the_shops_units_and_a_bar_that_is_true(sheet) -> None:
    found = piece_drawings(a_piece(COUNTER), Shop(units="us"), sheet)
    assert found is not None
    words = [item.words for item in found.face.items if isinstance(item, Words)]
    assert {"96 in", "25 1/2 in", "24 in"} <= set(words)
    bar = max(
        (item for item in found.face.of("scale") if isinstance(item, Line)),
        key=lambda line: line.end[0] - line.start[0],
    )
    assert (bar.end[0] - bar.start[0]) / found.face.scale / INCH == pytest.approx(24, abs=0.05)
    assert found.face.width <= sheet.width
    metric = piece_drawings(a_piece(COUNTER), Shop(units="si"), sheet)
    assert metric is not None
    assert "2438 mm" in [item.words for item in metric.face.items if isinstance(item, Words)]


def test_on_paper_plans_have_a_round_scale_that_is_said() -> None:
    """A unit of a drawing shown at its own size is a CSS pixel, 1/96 in (CSS 2.1, 4.3.2)."""
    found = paper_drawings(a_piece(COUNTER), Shop(units="us"), width_mm=180, tallest_mm=90)
    assert found is not None
    words = [item.words for item in found.face.items if isinstance(item, Words)]
    assert "24 in, scale 1 : 16" in words
    # 96 in at 1 : 16 are 6 in of paper, 576 px.
    assert found.face.scale * 96 * INCH == pytest.approx(576)
    assert found.face.width <= 180 / 25.4 * 96
    assert found.face.scale == found.underside.scale


def test_a_piece_parted_in_the_middle_is_cut_beside_the_opening() -> None:
    """An L whose notch takes the middle: both sections meet concrete."""
    found = piece_drawings(a_piece(Shape(LShape(2.4, 1.8, 1.6, 1.1))), SHOP)
    assert found is not None
    assert found.lengthwise is not None
    assert [one.key for one in found.titled] == ["face", "underside", "across"]


def test_a_drawing_of_a_section_tells_how_much_deeper_it_is_drawn() -> None:
    shape = replace(COUNTER, ribs=())
    found = piece_drawings(a_piece(shape), Shop(units="us"))
    assert found is not None
    assert found.along is not None
    assert "face up" in found.along.note
    assert "times as large" in found.along.note
