"""What a piece is made of: area, volumes, weights, sizes, and what it must pass. Pure.

Metres, square and cubic metres, kilograms. The geometry is reckoned once for each shape and
thickness; densities and the shop's limits are put to it afterwards.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from curing.handling import Lift, lift
from jobs.models import Piece
from jobs.services.drawings import shape_of
from jobs.services.shape import section_fault
from jobs.shapes import sizes
from jobs.shapes.shape import Shape
from jobs.shapes.sizes import Rail
from jobs.shapes.solid import CONCRETE, LAYERS, STONE, Layer, Saved, Solid
from shop.models import Shop

# The shop's own start; whoever has changed it is the one who says so.
USUAL = "common practice, no source"
SHOPS_OWN = "as the shop has set it"


@dataclass(frozen=True)
class Part:
    """One layer. volume [m³]; fresh, dry [kg]"""

    layer: Layer
    volume: float
    fresh_kg: float
    dry_kg: float


@dataclass(frozen=True)
class Sizes:
    """Only a shape tells these. [m]

    centre : of gravity, from the left end, from the front edge, below the show face
    length, width : of the smallest rectangle around it, turned as it may be
    least_width : between two parallel lines that it passes
    rail : the narrowest concrete beside a cutout; None without a cutout that leaves one
    """

    centre: tuple[float, float, float]
    longest_side: float
    longest_name: str
    diagonal: float
    length: float
    width: float
    least_width: float
    rail: Rail | None


@dataclass(frozen=True)
class Substance:
    """shape, sizes, passes_door, stands_in_truck : None for a piece of which only area and
    thickness are known

    fault : why the shape that is stored is left out; empty where it is not
    depth : from the show face to the deepest foot; edge_depth : what is seen from the front
    dry_weighed : False where the mix was not weighed dry, and the fresh unit weight stands for it
    saved : against ordinary concrete and natural stone, by the dry weight
    people : for the heavier of fresh and dry, by the shop's limit
    """

    shape: Shape | None
    fault: str
    area: float
    parts: tuple[Part, ...]
    fresh_density: float
    dry_density: float
    dry_weighed: bool
    depth: float
    edge_depth: float
    sizes: Sizes | None
    saved: tuple[Saved, Saved]
    passes_door: bool | None
    stands_in_truck: bool | None
    people: Lift

    @property
    def volume(self) -> float:
        return sum(part.volume for part in self.parts)

    @property
    def fresh_kg(self) -> float:
        return self.volume * self.fresh_density

    @property
    def dry_kg(self) -> float:
        return self.volume * self.dry_density

    @property
    def heaviest_kg(self) -> float:
        return max(self.fresh_kg, self.dry_kg)

    @property
    def fresh_per_area(self) -> float:
        """[kg/m²]"""
        return self.fresh_kg / self.area

    @property
    def dry_per_area(self) -> float:
        """[kg/m²]"""
        return self.dry_kg / self.area

    def volume_of(self, layer: Layer) -> float:
        return sum(part.volume for part in self.parts if part.layer == layer)


@dataclass(frozen=True)
class _Bulk:
    """What no density and no limit changes."""

    area: float
    volumes: tuple[tuple[Layer, float], ...]
    depth: float
    edge_depth: float
    sizes: Sizes | None


def substance_of(piece: Piece, shop: Shop) -> Substance:
    shape = shape_of(piece)
    bulk = (
        _plain(piece.area_m2, piece.thickness_m, piece.coat_m)
        if shape is None
        else _shaped(shape, piece.thickness_m, piece.coat_m)
    )
    fresh, dry = piece.mix.density, piece.mix.dry_density
    finished = fresh if dry is None else dry
    volume = sum(size for _, size in bulk.volumes)
    return Substance(
        shape=shape,
        fault=fault_of(piece) if shape is None else "",
        area=bulk.area,
        parts=tuple(Part(layer, v, v * fresh, v * finished) for layer, v in bulk.volumes),
        fresh_density=fresh,
        dry_density=finished,
        dry_weighed=dry is not None,
        depth=bulk.depth,
        edge_depth=bulk.edge_depth,
        sizes=bulk.sizes,
        saved=_saved(bulk, volume * finished, shop),
        passes_door=None if shape is None else _door(shape, bulk.depth, shop),
        stands_in_truck=None if shape is None else _truck(shape, bulk.depth, shop),
        people=lift(volume * max(fresh, finished), shop.carry_limit_kg),
    )


def fault_of(piece: Piece) -> str:
    """Why the stored shape is left out of account; empty without one."""
    if not piece.shape:
        return ""
    return section_fault(piece) or "The section does not go with the piece's thickness any more."


@lru_cache(maxsize=512)
def _shaped(shape: Shape, face: float, coat: float) -> _Bulk:
    solid = Solid(shape, face, coat)
    around, side = sizes.turned_box(shape), sizes.longest_side(shape)
    found = Sizes(
        centre=solid.centre,
        longest_side=side.length,
        longest_name=side.name,
        diagonal=sizes.diagonal(shape).length,
        length=around.length,
        width=around.width,
        least_width=sizes.least_width(shape),
        rail=next(iter(sizes.rails(shape)), None),
    )
    volumes = tuple((layer, size) for layer, size in solid.volumes.items() if size > 0)
    return _Bulk(solid.area, volumes, solid.depth, solid.edge_depth, found)


def _plain(area: float, face: float, coat: float) -> _Bulk:
    """By area and thickness alone: no ribs, no edges, and a coat no thicker than the slab."""
    coat = min(coat, face)
    layers: tuple[tuple[Layer, float], ...] = ((LAYERS[0], coat), (LAYERS[1], face - coat))
    volumes = tuple((layer, area * thick) for layer, thick in layers if thick > 0)
    return _Bulk(area, volumes, face, face, None)


def _saved(bulk: _Bulk, own: float, shop: Shop) -> tuple[Saved, Saved]:
    solid = bulk.area * bulk.edge_depth

    def against(name: str, density: float, usual: float) -> Saved:
        basis = USUAL if density == usual else SHOPS_OWN
        return Saved(name, density, basis, solid * density, own)

    return (
        against("ordinary concrete", shop.concrete_density, CONCRETE),
        against("natural stone", shop.stone_density, STONE),
    )


def _door(shape: Shape, depth: float, shop: Shop) -> bool:
    return sizes.passes_door(shape, depth, shop.door_width_m, shop.door_height_m)


def _truck(shape: Shape, depth: float, shop: Shop) -> bool:
    """On edge, as pieces travel."""
    return sizes.stands_in_bed(
        shape, depth, shop.truck_length_m, shop.truck_width_m, shop.truck_height_m
    )
