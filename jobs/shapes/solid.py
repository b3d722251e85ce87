"""What a shape weighs and where its weight stands, layer by layer. Each place counts once.

Prisms from the show face down: face coat and backer over the whole face, edges from the backer's
underside to their foot, ribs below the backer between the edges. m, m², m³, kg, kg/m³.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from jobs.shapes.faults import ShapeFault, above_nought, finite
from jobs.shapes.regions import Region, face_region, rib_regions, rim
from jobs.shapes.shape import Shape

Layer = Literal["face coat", "backer", "edge", "ribs"]

LAYERS: tuple[Layer, ...] = ("face coat", "backer", "edge", "ribs")
CONCRETE = 2403.0  # kg/m3, 150 lb/ft3: ordinary concrete, common practice, no source
STONE = 2700.0  # kg/m3, 169 lb/ft3: granite slabs, common practice, no source


@dataclass(frozen=True)
class Prism:
    layer: Layer
    region: Region
    top: float
    foot: float

    @property
    def volume(self) -> float:
        return float(self.region.area) * (self.foot - self.top)

    @property
    def centre(self) -> tuple[float, float, float]:
        middle = self.region.centroid
        return middle.x, middle.y, (self.top + self.foot) / 2


@dataclass(frozen=True)
class Saved:
    """Against the same outline poured solid as deep as its deepest edge. density [kg/m³]; basis :
    who says so"""

    against: str
    density: float
    basis: str
    solid_kg: float
    own_kg: float

    @property
    def saved_kg(self) -> float:
        return self.solid_kg - self.own_kg

    @property
    def share(self) -> float:
        return self.saved_kg / self.solid_kg


@dataclass(frozen=True)
class Solid:
    """A shape with its thicknesses. face : face coat and backer together; coat : the face coat,
    0 where it is not told apart. Check the shape first (`checks.check`).

    Raises
    ------
    ShapeFault
        "not-above-zero", "not-finite", "coat-too-thick".
    """

    shape: Shape
    face: float
    coat: float = 0.0

    def __post_init__(self) -> None:
        check_thickness(self.face, self.coat)

    @cached_property
    def area(self) -> float:
        """Of the show face without the cutouts [m²]."""
        return float(face_region(self.shape).area)

    @cached_property
    def prisms(self) -> tuple[Prism, ...]:
        slab, face, coat = face_region(self.shape), self.face, self.coat
        found = [Prism("face coat", slab, 0.0, coat)] if coat else []
        found += [Prism("backer", slab, coat, face)] if face > coat else []
        found += [Prism("edge", one.region, face, one.depth) for one in rim(self.shape)]
        ribs = rib_regions(self.shape, face)
        found += [Prism("ribs", one.region, face, one.depth) for one in ribs]
        return tuple(prism for prism in found if prism.volume > 0)

    @cached_property
    def volumes(self) -> dict[Layer, float]:
        """[m³]; a layer that is not there has 0."""
        return {
            layer: sum(prism.volume for prism in self.prisms if prism.layer == layer)
            for layer in LAYERS
        }

    @cached_property
    def volume(self) -> float:
        return sum(prism.volume for prism in self.prisms)

    @cached_property
    def centre(self) -> tuple[float, float, float]:
        """Centre of gravity: from the left end, from the front edge, below the show face [m]. One
        density throughout."""
        parts = [(prism.volume, prism.centre) for prism in self.prisms]
        x, y, depth = (sum(v * place[n] for v, place in parts) / self.volume for n in range(3))
        return x, y, depth

    @property
    def depth(self) -> float:
        """From the show face to the deepest foot [m]."""
        return max(prism.foot for prism in self.prisms)

    @property
    def edge_depth(self) -> float:
        """What is seen from the front: the deepest edge, or the slab without one [m]."""
        return max([self.face, *(edge.depth for edge in self.shape.edges)])

    def weight(self, density: float) -> float:
        """Fresh with the fresh unit weight, dry with the dry one [kg]."""
        above_nought(unit_weight=density)
        return self.volume * density

    def per_area(self, density: float) -> float:
        """[kg/m²]; times 0.2048 for lb/ft²."""
        return self.weight(density) / self.area

    def saved(
        self, density: float, *, concrete: float = CONCRETE, stone: float = STONE
    ) -> tuple[Saved, Saved]:
        """Against ordinary concrete and natural stone, as deep as this one's deepest edge."""
        own, bulk = self.weight(density), self.area * self.edge_depth
        above_nought(concrete=concrete, stone=stone)

        def against(name: str, other: float, usual: float) -> Saved:
            basis = "common practice, no source" if other == usual else "as entered"
            return Saved(name, other, basis, bulk * other, own)

        return (
            against("the same poured solid in ordinary concrete", concrete, CONCRETE),
            against("the same in natural stone", stone, STONE),
        )


def check_thickness(face: float, coat: float) -> None:
    above_nought("face", thickness=face)
    finite("face", face_coat=coat)
    if coat < 0:
        raise ShapeFault(
            "not-above-zero", "The face coat cannot be thinner than nothing.", part="face"
        )
    if coat > face:
        raise ShapeFault(
            "coat-too-thick",
            "The face coat of {coat} is thicker than the whole slab, {face}. The thickness is of "
            "both together.",
            part="face",
            figures={"coat": coat, "face": face},
        )
