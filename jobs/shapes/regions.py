"""A shape in plan, part by part, as shapely has it: face, edges, ribs. Square metres and metres."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Any

from shapely import LineString, Point, Polygon, box, union_all

from jobs.shapes.faults import Point as XY
from jobs.shapes.path import Side
from jobs.shapes.shape import ALL_ROUND, BuiltEdge, PlacedRib, Rib, Shape

Region = Any  # shapely's polygons and multipolygons; it comes without types
SHARPEST = 3.0  # a corner's mitre reaches at most so many widths; a sharper one is rounded


@dataclass(frozen=True)
class Built:
    """Concrete below the slab: where in plan, how deep from the show face, in which row."""

    region: Region
    depth: float
    row: int


@lru_cache(maxsize=512)
def outline_region(shape: Shape) -> Region:
    return shape.outline.path.polygon


@lru_cache(maxsize=512)
def holes_region(shape: Shape) -> Region:
    return union_all([cutout.path.polygon for cutout in shape.cutouts])


@lru_cache(maxsize=512)
def face_region(shape: Shape) -> Region:
    """The show face: the outline less its cutouts."""
    return outline_region(shape).difference(holes_region(shape))


@lru_cache(maxsize=512)
def edge_regions(shape: Shape) -> tuple[Built, ...]:
    """Where each edge stands, strips along its sides with mitred corners, cutouts taken out.

    Where edges meet, both hold the corner; see `rim` for each place once.
    """
    face = face_region(shape)
    return tuple(
        Built(union_all(_strips(shape, edge)).intersection(face), edge.depth, row)
        for row, edge in enumerate(shape.edges)
    )


@lru_cache(maxsize=512)
def rim(shape: Shape) -> tuple[Built, ...]:
    """The edges with each place once: the deepest has it."""
    return tuple(once(edge_regions(shape)))


@lru_cache(maxsize=512)
def rib_regions(shape: Shape, face: float) -> tuple[Built, ...]:
    """The ribs within the outline, less cutouts and edges, each place once."""
    room = face_region(shape).difference(union_all([one.region for one in rim(shape)]))
    return tuple(
        once(
            [
                Built(band.intersection(room), face + depth, row)
                for row, band, depth in rib_bands(shape)
            ]
        )
    )


def rib_bands(shape: Shape) -> list[tuple[int, Region, float]]:
    """(row, the whole band before anything is taken from it, depth below the slab)."""
    left, front, right, back = shape.outline.path.box
    found: list[tuple[int, Region, float]] = []
    for row, rib in shape.straight_ribs():
        found.append((row, _band(rib, left, front, right, back), rib.depth))
    for row, placed in enumerate(shape.ribs):
        if isinstance(placed, PlacedRib):
            found.append((row, placed_band(placed), placed.depth))
    return found


def placed_band(rib: PlacedRib) -> Region:
    return LineString([rib.start, rib.end]).buffer(rib.width / 2, cap_style="flat")


def once(parts: Sequence[Built]) -> list[Built]:
    """The same parts without what a deeper one already holds, deepest first."""
    taken: Region = Polygon()
    found = []
    for part in sorted(parts, key=lambda one: -one.depth):
        rest = part.region.difference(taken)
        taken = taken.union(part.region)
        if rest.area > 0:
            found.append(Built(rest, part.depth, part.row))
    return found


def sides_of(shape: Shape, edge: BuiltEdge) -> list[Side]:
    sides = shape.outline.sides
    return [side for side in sides if edge.side in (ALL_ROUND, side.name)]


def strip(side: Side, width: float) -> Region:
    """The strip of that width inside one side, its ends square to it."""
    return Polygon([*side.points, *side.inset(width)[::-1]])


def _band(rib: Rib, left: float, front: float, right: float, back: float) -> Region:
    low, high = rib.at - rib.width / 2, rib.at + rib.width / 2
    return box(left, low, right, high) if rib.along == "length" else box(low, front, high, back)


def _strips(shape: Shape, edge: BuiltEdge) -> list[Region]:
    """Of one edge, with the corners to its neighbours. A corner between two edges is filled once
    by each, up to where the two insides meet."""
    widths = _widths(shape)
    sides = shape.outline.sides
    found = [strip(side, edge.width) for side in sides_of(shape, edge)]
    for (one, wide), (other, wide_too) in pairwise([*zip(sides, widths, strict=True),
                                                    (sides[0], widths[0])]):  # fmt: skip
        mine = edge.side == ALL_ROUND or edge.side in (one.name, other.name)
        if mine and wide and wide_too and (corner := _corner(one, other, wide, wide_too)):
            found.append(corner)
    return [region if region.is_valid else region.buffer(0) for region in found]


def _widths(shape: Shape) -> list[float]:
    """The widest edge on each side, 0 without one."""
    return [
        max(
            (edge.width for edge in shape.edges if edge.side in (ALL_ROUND, side.name)),
            default=0.0,
        )
        for side in shape.outline.sides
    ]


def _corner(one: Side, other: Side, wide: float, wide_too: float) -> Region | None:
    """What the two strips leave open between them at an angle over a right one."""
    x, y = one.end
    (ax, ay), (bx, by) = one.inwards((x, y)), other.inwards((x, y))
    turn = ax * by - ay * bx
    if abs(turn) < 1e-6:
        return None
    # Where the two insides meet: the point that stands `wide` off the one and `wide_too` off
    # the other.
    mx = (wide * by - wide_too * ay) / turn
    my = (wide_too * ax - wide * bx) / turn
    if math.hypot(mx, my) > SHARPEST * max(wide, wide_too):
        return Point(x, y).buffer(max(wide, wide_too))
    first: XY = (x + wide * ax, y + wide * ay)
    last: XY = (x + wide_too * bx, y + wide_too * by)
    corner = Polygon([(x, y), first, (x + mx, y + my), last])
    return corner if corner.is_valid else corner.convex_hull
