"""A shape as the engine takes it, so that what holds for a rectangle's handling holds for any.

`curing.panel.Panel` is a rectangle with edges along its sides, ribs from side to side and
rectangular holes. A rectangle with rectangular cutouts is handed over as it is. Any other outline
is the box around it (turned to its smallest box for a free outline that stands aslant) with holes
over everything that is not concrete:

- L and U: the notch is a hole that opens a side. The cut across the inner corner is one of the
  engine's cuts, and where one leg alone is left it is the weakest; nothing is approximated.
- Arcs and slanting sides: `STRIPS` strips along the length, each as wide as the outline is at the
  narrower of its two ends, so a cut never has more concrete than the piece has there. The two
  outermost strips, which carry next to nothing, are as wide as in their middle. What this takes
  off the width as a span, the density is raised for, by its square.
- A cutout that is no rectangle: the rectangle around it.
- Edges: only those that run along the whole of one side of the box help to bear, with the least
  width and depth found there. Ribs placed from point to point, and in a turned piece every rib,
  do not help.
- What is left away weighs all the same, and sticks to its form: the density is raised until the
  panel weighs what the piece weighs, and as much more as a bond of `FORM_BOND` on the missing
  face would pull. So its mass is for bending alone; a piece's weight is `Solid.weight`. For L and
  U without edges at the notch it is the weight exactly. The rest is spread over what is left,
  which is not conservative by itself where much of it hangs in the middle of a span (an edge
  around a bowl); leaving the stiffness away is. A bond above `FORM_BOND` is not wholly covered.

Twist is not in it, as it is not in the engine's own rectangles.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise
from typing import Any

import shapely
from shapely import LineString, affinity

from curing.bending import GRAVITY
from curing.handling import FORM_BOND
from curing.panel import Cutout, Edge, Panel, Rib
from jobs.shapes.faults import Point, ShapeFault
from jobs.shapes.outlines import FreeOutline, Rectangle
from jobs.shapes.regions import outline_region
from jobs.shapes.shape import BuiltEdge, Shape
from jobs.shapes.sizes import turned_box
from jobs.shapes.solid import Solid

STRIPS = 24
CLOSE = 1e-6  # m
TIP = 0.005  # m
NARROW = 0.01  # m: a strip under this bears nothing
GREATEST_DENSITY = 3000.0  # kg/m3, as the engine takes it

PAST = 0.05  # m
Strip = tuple[float, float, list[tuple[float, float]]]  # start, end, spans of concrete across

BOX_SIDES = ("front", "right", "back", "left")


@lru_cache(maxsize=512)
def panel_of_shape(shape: Shape, face: float, density: float) -> Panel:
    """Check the shape first.

    Raises
    ------
    ShapeFault
        "too-heavy-to-judge": so much of the weight is left away that the engine would not take
        the density; a ValueError of the engine's comes as "engine".
    """
    try:
        if shape.rectangular and all(
            isinstance(cutout.figure, Rectangle) for cutout in shape.cutouts
        ):
            return _exact(shape, face, density)
        panel, stretch = _boxed(shape, face)
        return _loaded(panel, Solid(shape, face), density, stretch)
    except ShapeFault:
        raise
    except ValueError as error:
        if not shape.rectangular and not shape.cutouts:
            raise ShapeFault(
                "too-thin-to-judge",
                "Somewhere this outline is too thin all across for its handling to be reckoned. "
                "Make that place wider, or take the shape away and judge it yourself.",
            ) from error
        raise ShapeFault("engine", "{why}", facts={"why": str(error)}) from error


def _exact(shape: Shape, face: float, density: float) -> Panel:
    left, front, right, back = shape.outline.path.box
    return Panel(
        length=right - left,
        width=back - front,
        face=face,
        density=density,
        edges=_named_edges(shape),
        ribs=_engine_ribs(shape),
        cutouts=tuple(
            Cutout(cutout.x, cutout.y, cutout.figure.length, cutout.figure.width)
            for cutout in shape.cutouts
            if isinstance(cutout.figure, Rectangle)
        ),
        strongbacks=shape.strongbacks,
    )


def _named_edges(shape: Shape) -> tuple[Edge, ...]:
    found = []
    for edge in shape.edges:
        sides = BOX_SIDES if edge.side == "all" else (edge.side,)
        found += [Edge(side, edge.width, edge.depth) for side in sides]  # type: ignore[arg-type]
    return tuple(found)


def _engine_ribs(shape: Shape) -> tuple[Rib, ...]:
    left, front, _, _ = shape.outline.path.box
    return tuple(
        Rib(rib.at - (front if rib.along == "length" else left), rib.width, rib.depth, rib.along)
        for _row, rib in shape.straight_ribs()
    )


def _boxed(shape: Shape, face: float) -> tuple[Panel, float]:
    """The box with its holes, at the engine's least density (its weight is put right after), and
    by how much more a span asks for over the width that the strips have taken off."""
    angle, about = _turn(shape)
    piece = affinity.rotate(outline_region(shape), -angle, origin=about, use_radians=True)
    cutouts = [
        affinity.rotate(cutout.path.polygon, -angle, origin=about, use_radians=True).bounds
        for cutout in shape.cutouts
    ]
    strips = _strips(piece, _stations(shape, piece))
    left, _, right, _ = piece.bounds
    front = min(spans[0][0] for _, _, spans in strips)
    back = max(spans[-1][1] for _, _, spans in strips)
    straight = abs(angle) < CLOSE
    panel = Panel(
        length=right - left,
        width=back - front,
        face=face,
        density=1000.0,
        edges=_box_edges(shape) if straight else (),
        ribs=_engine_ribs(shape) if straight else (),
        cutouts=(
            *_outside(strips, (left, front, right, back)),
            *(_hole_around(hole, left, front) for hole in cutouts),
        ),
        strongbacks=tuple(
            replace(bar, x=bar.x - left, y=bar.y - front) for bar in shape.strongbacks
        )
        if straight
        else (),
    )
    full = piece.bounds[3] - piece.bounds[1]
    return panel, (full / (back - front)) ** 2


def _turn(shape: Shape) -> tuple[float, Point]:
    """By how much a free outline is turned so that its smallest box lies along the length."""
    if not isinstance(shape.outline, FreeOutline):
        return 0.0, (0.0, 0.0)
    left, front, right, back = shape.outline.path.box
    around = turned_box(shape)
    if (right - left) * (back - front) <= around.length * around.width * (1 + 1e-6):
        return 0.0, (0.0, 0.0)
    one, other, last = around.corners[:3]
    if math.dist(one, other) < math.dist(other, last):
        one, other = other, last
    return math.atan2(other[1] - one[1], other[0] - one[0]), one


def _stations(shape: Shape, piece: Any) -> list[float]:
    """Where strips begin and end: at the corners alone where every side is along or across."""
    left, _, right, _ = piece.bounds
    corners = sorted({round(float(x), 9) for x, _ in shapely.get_coordinates(piece)})
    square = all(
        not side.bulge and min(abs(side.start[n] - side.end[n]) for n in (0, 1)) < CLOSE
        for side in shape.outline.sides
    )
    if square:
        return [one for one, other in pairwise(corners) if other - one > CLOSE] + [corners[-1]]
    places = {left + (right - left) * step / STRIPS for step in range(STRIPS + 1)}
    if len(corners) <= STRIPS:
        places |= set(corners)
    _, front, _, back = piece.bounds
    for x, y in shapely.get_coordinates(piece):
        if min(abs(y - front), abs(y - back)) < CLOSE:
            # Narrow strips where the piece reaches farthest, or its width would be cut off there.
            places |= {float(x) - TIP, float(x) + TIP}
    found = [left]
    for place in sorted(place for place in places if left < place <= right):
        if place - found[-1] > 0.001:
            found.append(place)
    found[-1] = right
    return found


def _strips(piece: Any, stations: list[float]) -> list[Strip]:
    last = len(stations) - 2
    return [
        (start, end, _kept(piece, start, end, outer=number in (0, last)))
        for number, (start, end) in enumerate(pairwise(stations))
    ]


def _outside(strips: list[Strip], box: tuple[float, float, float, float]) -> list[Cutout]:
    """Holes over all of the box that is not the piece, strip by strip."""
    left, front, right, back = box
    holes: list[Cutout] = []
    for start, end, kept in strips:
        marks = [front, *(mark for span in kept for mark in span), back]
        # What opens a side runs well past it, as the engine reads a side that is open.
        x0 = start - PAST if start <= left + CLOSE else start
        x1 = end + PAST if end >= right - CLOSE else end
        for low, high in zip(marks[::2], marks[1::2], strict=True):
            if high - low > CLOSE:
                y0 = low - PAST if low <= front + CLOSE else low
                y1 = high + PAST if high >= back - CLOSE else high
                holes.append(Cutout(x0 - left, y0 - front, x1 - x0, y1 - y0))
    return _joined(holes)


def _kept(piece: Any, start: float, end: float, *, outer: bool) -> list[tuple[float, float]]:
    """The spans across that are concrete all along a strip."""
    inset = min(CLOSE, (end - start) / 4)
    middle = _spans(piece, (start + end) / 2)
    kept = _both(_both(_spans(piece, start + inset), middle), _spans(piece, end - inset))
    kept = [span for span in kept if span[1] - span[0] >= NARROW]
    if outer or not kept:
        kept = middle
    if not kept:
        raise ShapeFault("engine", "This outline has a place without concrete all across it.")
    return kept


def _spans(piece: Any, x: float) -> list[tuple[float, float]]:
    _, front, _, back = piece.bounds
    cut = piece.intersection(LineString([(x, front - 1), (x, back + 1)]))
    parts = [part for part in getattr(cut, "geoms", [cut]) if part.length > 0]
    return sorted((part.bounds[1], part.bounds[3]) for part in parts)


def _both(
    one: list[tuple[float, float]], other: list[tuple[float, float]]
) -> list[tuple[float, float]]:
    common = [(max(a, c), min(b, d)) for a, b in one for c, d in other]
    return [(low, high) for low, high in common if high > low]


def _joined(holes: list[Cutout]) -> list[Cutout]:
    """Neighbours of one span across as one hole: fewer cuts."""
    found: list[Cutout] = []
    for hole in sorted(holes, key=lambda h: (h.y, h.width, h.x)):
        last = found[-1] if found else None
        same = last and abs(last.y - hole.y) < CLOSE and abs(last.width - hole.width) < CLOSE
        if last and same and abs(last.x + last.length - hole.x) < CLOSE:
            found[-1] = replace(last, length=hole.x + hole.length - last.x)
        else:
            found.append(hole)
    return found


def _box_edges(shape: Shape) -> tuple[Edge, ...]:
    """Sides of the box along which every side of the outline that lies there is built down."""
    left, front, right, back = shape.outline.path.box
    places = {"front": (1, front), "right": (0, right), "back": (1, back), "left": (0, left)}
    found: list[Edge] = []
    for name, (axis, place) in places.items():
        there = [
            side
            for side in shape.outline.sides
            if not side.bulge
            and all(abs(end[axis] - place) < CLOSE for end in (side.start, side.end))
        ]
        built = [_built(shape, side.name) for side in there]
        if built and all(built):
            width = min(edge.width for edge in built if edge)
            depth = min(edge.depth for edge in built if edge)
            found.append(Edge(name, width, depth))  # type: ignore[arg-type]
    return tuple(found)


def _built(shape: Shape, name: str) -> BuiltEdge | None:
    edges = [edge for edge in shape.edges if edge.side in ("all", name)]
    return min(edges, key=lambda edge: edge.depth, default=None)


def _hole_around(bounds: tuple[float, ...], left: float, front: float) -> Cutout:
    x0, y0, x1, y1 = bounds
    return Cutout(x0 - left, y0 - front, x1 - x0, y1 - y0)


def _loaded(panel: Panel, solid: Solid, density: float, stretch: float) -> Panel:
    """The same panel, as dense that without its strongbacks it weighs at least as the piece."""
    bare = replace(panel, strongbacks=())
    unstuck = max(0.0, solid.area - bare.face_area) * FORM_BOND / GRAVITY
    mass = stretch * solid.weight(density) + unstuck
    needed = max(density, mass / (bare.mass / bare.density))
    if needed > GREATEST_DENSITY:
        raise ShapeFault(
            "too-heavy-to-judge",
            "Too much of this piece hangs on edges and ribs that its handling cannot be reckoned "
            "with. Draw it as a rectangle with cutouts, or judge its handling yourself.",
        )
    return replace(panel, density=needed)
