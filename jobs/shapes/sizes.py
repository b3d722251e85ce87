"""How large a shape is for those who carry it: sides, diagonals, doors and beds, rails. Metres."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from shapely import LineString

from jobs.shapes.faults import Point, above_nought
from jobs.shapes.path import Side
from jobs.shapes.regions import face_region, outline_region
from jobs.shapes.shape import Shape

CLOSE = 1e-6


@dataclass(frozen=True)
class Straight:
    """From one place to another: `length` [m]."""

    start: Point
    end: Point

    @property
    def length(self) -> float:
        return math.dist(self.start, self.end)


@dataclass(frozen=True)
class Turned:
    """The smallest rectangle around the outline, turned as it may be; length not under width."""

    length: float
    width: float
    corners: tuple[Point, ...]


@dataclass(frozen=True)
class Rail:
    """The narrowest concrete between a cutout and a side, or another cutout.

    cutout, other : rows of the shape; other is None where a side is meant, by its name
    """

    cutout: int
    side: str
    other: int | None
    across: Straight

    @property
    def width(self) -> float:
        return self.across.length


def perimeter(shape: Shape) -> float:
    """Of the outline, arcs by their true length."""
    return sum(side.length for side in shape.outline.sides)


def longest_side(shape: Shape) -> Side:
    return max(shape.outline.sides, key=lambda side: side.length)


@lru_cache(maxsize=512)
def diagonal(shape: Shape) -> Straight:
    """The two places of the outline that are farthest apart."""
    hull = _hull(shape)
    far = np.hypot(*(hull[:, None, :] - hull[None, :, :]).transpose(2, 0, 1))
    one, other = np.unravel_index(int(far.argmax()), far.shape)
    return Straight(_xy(hull[one]), _xy(hull[other]))


@lru_cache(maxsize=512)
def turned_box(shape: Shape) -> Turned:
    """Of least area (shapely's oriented envelope)."""
    around = shapely.oriented_envelope(outline_region(shape))
    corners = tuple(_xy(corner) for corner in shapely.get_coordinates(around)[:4])
    sizes = sorted((math.dist(corners[0], corners[1]), math.dist(corners[1], corners[2])))
    return Turned(sizes[1], sizes[0], corners)


@lru_cache(maxsize=512)
def least_width(shape: Shape) -> float:
    """Between two parallel lines that the outline passes: what a door must leave open.

    Every least width stands on a side of the hull (Houle and Toussaint 1988, rotating calipers,
    from memory).
    """
    hull = _hull(shape)
    along = np.roll(hull, -1, axis=0) - hull
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1) / np.hypot(*along.T)[:, None]
    off = np.abs(normal @ hull.T - (normal * hull).sum(axis=1)[:, None])
    return float(off.max(axis=1).min())


def passes_door(shape: Shape, depth: float, door_width: float, door_height: float) -> bool:
    """Whether it goes through a door on edge, or flat, with nothing to spare for hands.

    depth : from the show face to the deepest foot. Turning behind the door is not looked at.
    """
    above_nought(depth=depth, door_width=door_width, door_height=door_height)
    narrow = least_width(shape)
    upright = narrow <= door_height + CLOSE and depth <= door_width + CLOSE
    flat = narrow <= door_width + CLOSE and depth <= door_height + CLOSE
    return upright or flat


def fits_bed(shape: Shape, bed_length: float, bed_width: float) -> bool:
    """Whether its turned box lies flat in a bed, aslant where that helps."""
    around = turned_box(shape)
    return rectangle_fits(around.length, around.width, bed_length, bed_width)


def stands_in_bed(
    shape: Shape, depth: float, bed_length: float, bed_width: float, height: float
) -> bool:
    """Whether it stands on edge along a bed, under a roof of that height; the frame apart."""
    above_nought(depth=depth, bed_length=bed_length, bed_width=bed_width, height=height)
    around = turned_box(shape)
    along, across = max(bed_length, bed_width), min(bed_length, bed_width)
    fits = around.length <= along + CLOSE and around.width <= height + CLOSE
    return fits and depth <= across + CLOSE


def rectangle_fits(p: float, q: float, a: float, b: float) -> bool:
    """Whether a rectangle p × q lies within one of a × b, turned as it may be.

    Carver, 'Solution to problem E 1225', American Mathematical Monthly 64 (1957), from memory;
    held in the tests against turning it by small steps.
    """
    above_nought(length=p, width=q, bed_length=a, bed_width=b)
    p, q, a, b = max(p, q), min(p, q), max(a, b), min(a, b)
    if p <= a + CLOSE:
        return q <= b + CLOSE
    if q > b:
        return False
    slack = p * p + q * q - a * a
    return b + CLOSE >= (2 * p * q * a + (p * p - q * q) * math.sqrt(slack)) / (p * p + q * q)


@lru_cache(maxsize=512)
def rails(shape: Shape) -> tuple[Rail, ...]:
    """Narrowest first: from each cutout straight through concrete to each side, and to each cutout
    after it. A side that a cutout opens has none."""
    concrete = face_region(shape).buffer(CLOSE)
    found: list[Rail] = []
    holes = [LineString([*c.path.ring, c.path.ring[0]]) for c in shape.cutouts]
    for row, hole in enumerate(holes):
        for side in shape.outline.sides:
            across = _between(hole, LineString(side.points))
            if _through(across, concrete):
                found.append(Rail(row, side.name, None, across))
        for other in range(row + 1, len(holes)):
            across = _between(hole, holes[other])
            if _through(across, concrete):
                found.append(Rail(row, "", other, across))
    return tuple(sorted(_shortest_to_each(found), key=lambda rail: rail.width))


def _shortest_to_each(found: list[Rail]) -> list[Rail]:
    least: dict[tuple[int, str, int | None], Rail] = {}
    for rail in sorted(found, key=lambda one: one.width):
        least.setdefault((rail.cutout, rail.side, rail.other), rail)
    return list(least.values())


def _between(one: LineString, other: LineString) -> Straight:
    ends = shapely.get_coordinates(shapely.shortest_line(one, other))
    return Straight(_xy(ends[0]), _xy(ends[1]))


def _through(across: Straight, concrete: object) -> bool:
    line = LineString([across.start, across.end])
    return across.length > CLOSE and bool(shapely.covers(concrete, line))


def _hull(shape: Shape) -> np.ndarray:
    hull = shapely.convex_hull(outline_region(shape))
    return np.asarray(shapely.get_coordinates(hull)[:-1], dtype=float)


def _xy(corner: np.ndarray) -> Point:
    return float(corner[0]), float(corner[1])
