"""The demold gate goes by the stored shape, whatever its outline."""

from __future__ import annotations

import math

import pytest

from jobs.models import Piece
from jobs.services.shape import (
    panel_of,
    rules_of,
    section_fault,
    strength_asked,
    ways,
    weight_kg,
)
from jobs.shapes.outlines import Circle, LShape, Rectangle
from jobs.shapes.shape import BuiltEdge, Cutout, Shape, SpacedRibs
from jobs.shapes.solid import Solid
from jobs.shapes.stored import write
from shop.models import Mix, Shop, StepKind


def piece_of(shape: Shape, thickness: float = 0.02) -> Piece:
    return Piece(shape=write(shape), thickness_m=thickness, area_m2=1.0, mix=Mix(density=2080.0))


L_SHAPED = Shape(LShape(1.0, 0.8, 0.5, 0.4), edges=(BuiltEdge("front", 0.03, 0.04),))


@pytest.mark.parametrize("kind", [StepKind.DEMOLD, StepKind.DELIVER])
@pytest.mark.parametrize(
    "shape",
    [
        L_SHAPED,
        Shape(Circle(0.9)),
        Shape(Rectangle(1.2, 0.5), cutouts=(Cutout(Circle(0.3), 0.4, 0.1),)),
        Shape(Rectangle(1.2, 0.5), ribs=(SpacedRibs(0.2, 0.03, 0.03),)),
        Shape(Rectangle(1.2, 0.5), edges=(BuiltEdge("all", 0.03, 0.04),)),
    ],
)
def test_any_outline_asks_for_a_strength(shape: Shape, kind: str) -> None:
    piece = piece_of(shape)
    assert section_fault(piece) == ""
    asked = strength_asked(piece, kind, Shop())
    assert asked is not None
    assert 0 < asked < math.inf
    assert weight_kg(piece) == pytest.approx(Solid(shape, 0.02).weight(2080.0))


def test_an_l_asks_for_more_than_the_rectangle_around_it() -> None:
    """Held at its ends, its one leg bears what the whole width of the rectangle would."""
    around = Shape(Rectangle(1.0, 0.8), edges=(BuiltEdge("front", 0.03, 0.04),))
    asked = []
    for shape in (around, L_SHAPED):
        panel = panel_of(piece_of(shape))
        assert panel is not None
        asked.append({need.way.name: need.strength for need in ways(panel, rules_of(Shop()))})
    whole, cut = asked
    assert cut["on edge"] > whole["on edge"]
    assert cut["stripped by tilting"] > whole["stripped by tilting"]


def test_a_shape_that_cannot_be_lets_nothing_be_lifted() -> None:
    piece = piece_of(
        Shape(LShape(1.0, 0.8, 0.5, 0.4), edges=(BuiltEdge("notch along", 0.5, 0.04),))
    )
    assert section_fault(piece).startswith("This edge is 500 mm wide")
    assert panel_of(piece) is None
    assert strength_asked(piece, StepKind.DEMOLD, Shop()) == math.inf
