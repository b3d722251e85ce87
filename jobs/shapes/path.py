"""A closed line of straights and arcs.

An arc is told by its bulge, as DXF does: the tangent of a quarter of its angle, above 0 where it
turns left. Lengths in metres.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from shapely import Polygon

from jobs.shapes.faults import Point, ShapeFault, finite

MOST_POINTS = 500
NEAREST = 1e-4  # m: points nearer than this are one typed twice
FLATTEST, ROUNDEST = 1e-7, 1e3  # bulges: a straight, and an arc whose ends meet
# Arcs are reckoned as chords of at most this angle: a circle comes out 0.01 % small.
STEP = 2 * math.pi / 256


@dataclass(frozen=True)
class Side:
    """One straight or arc, the concrete on its left."""

    name: str
    start: Point
    end: Point
    bulge: float = 0.0

    @property
    def chord(self) -> float:
        return math.dist(self.start, self.end)

    @property
    def angle(self) -> float:
        """How far the arc turns [rad]; 0 for a straight."""
        return 4 * math.atan(self.bulge)

    @property
    def radius(self) -> float:
        return self.chord * (1 + self.bulge**2) / (4 * abs(self.bulge))

    @property
    def centre(self) -> Point:
        (x0, y0), (x1, y1) = self.start, self.end
        ahead = (1 - self.bulge**2) / (4 * self.bulge)
        return (x0 + x1) / 2 - (y1 - y0) * ahead, (y0 + y1) / 2 + (x1 - x0) * ahead

    @property
    def length(self) -> float:
        return self.radius * abs(self.angle) if self.bulge else self.chord

    @cached_property
    def points(self) -> tuple[Point, ...]:
        """From start to end, chords for an arc."""
        if not self.bulge:
            return self.start, self.end
        (cx, cy), radius = self.centre, self.radius
        first = math.atan2(self.start[1] - cy, self.start[0] - cx)
        steps = max(2, math.ceil(abs(self.angle) / STEP - 1e-9))
        turns = (first + self.angle * step / steps for step in range(1, steps))
        between = [(cx + radius * math.cos(a), cy + radius * math.sin(a)) for a in turns]
        return self.start, *between, self.end

    @property
    def middle(self) -> Point:
        points = self.points
        if len(points) % 2:
            return points[len(points) // 2]
        (x0, y0), (x1, y1) = points[len(points) // 2 - 1 : len(points) // 2 + 1]
        return (x0 + x1) / 2, (y0 + y1) / 2

    def inwards(self, at: Point) -> Point:
        """The unit vector from a point of the side into the concrete."""
        if not self.bulge:
            (x0, y0), (x1, y1) = self.start, self.end
            return -(y1 - y0) / self.chord, (x1 - x0) / self.chord
        (cx, cy), turn = self.centre, math.copysign(1.0, self.bulge)
        return turn * (cx - at[0]) / self.radius, turn * (cy - at[1]) / self.radius

    def inset(self, depth: float) -> tuple[Point, ...]:
        """The line `depth` inside, from start to end; an arc's centre where it reaches past it."""
        if self.bulge > 0 and depth >= self.radius:
            return (self.centre,)
        found = []
        for x, y in self.points:
            nx, ny = self.inwards((x, y))
            found.append((x + depth * nx, y + depth * ny))
        return tuple(found)


@dataclass(frozen=True)
class Path:
    """points : the corners, in order, not closed by the first; bulges : of the side from each
    corner to the next, none for straights only.

    Raises
    ------
    ShapeFault
        "too-many-points", "too-few-points", "not-finite", "duplicate-point", "bulges".
    """

    points: tuple[Point, ...]
    bulges: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        check_count(len(self.points))
        if not self.bulges:
            object.__setattr__(self, "bulges", (0.0,) * len(self.points))
        if len(self.bulges) != len(self.points):
            raise ShapeFault("bulges", "Each side of the outline needs its own bulge, or none.")
        for (x, y), bulge in zip(self.points, self.bulges, strict=True):
            finite(corner_along=x, corner_across=y, bulge=bulge)
        if max(map(abs, self.bulges)) > ROUNDEST:
            raise ShapeFault("bulges", "An arc of this outline goes on all round. Draw a circle.")
        straight = tuple(0.0 if abs(bulge) < FLATTEST else bulge for bulge in self.bulges)
        object.__setattr__(self, "bulges", straight)
        if len(self.points) < (2 if any(self.bulges) else 3):
            raise ShapeFault("too-few-points", "An outline needs three corners, or two and an arc.")
        for one, other in pairwise((*self.points, self.points[0])):
            if math.dist(one, other) < NEAREST:
                raise ShapeFault(
                    "duplicate-point",
                    "The same corner stands twice, one after the other. Take one of them out.",
                    place=(one,),
                )

    @cached_property
    def sides(self) -> tuple[Side, ...]:
        names = [str(n) for n in range(1, len(self.points) + 1)]
        return self.named(names)

    def named(self, names: Sequence[str]) -> tuple[Side, ...]:
        corners = pairwise((*self.points, self.points[0]))
        return tuple(
            Side(name, start, end, bulge)
            for name, (start, end), bulge in zip(names, corners, self.bulges, strict=True)
        )

    @cached_property
    def ring(self) -> tuple[Point, ...]:
        """Its points with arcs as chords, not closed."""
        return tuple(point for side in self.sides for point in side.points[:-1])

    @cached_property
    def polygon(self) -> Polygon:
        return Polygon(self.ring)

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, front, right and back [m]."""
        left, front, right, back = self.polygon.bounds
        return left, front, right, back

    @cached_property
    def turns_left(self) -> bool:
        return _doubled_area(self.ring) > 0

    def reversed(self) -> Path:
        return Path(self.points[::-1], tuple(-b for b in (*self.bulges[-2::-1], self.bulges[-1])))

    def moved(self, dx: float, dy: float) -> Path:
        return Path(tuple((x + dx, y + dy) for x, y in self.points), self.bulges)

    def scaled(self, factor: float) -> Path:
        return Path(tuple((x * factor, y * factor) for x, y in self.points), self.bulges)

    def turned(self, angle: float) -> Path:
        """Turned left about the origin [rad]."""
        cos, sin = math.cos(angle), math.sin(angle)
        return Path(
            tuple((x * cos - y * sin, x * sin + y * cos) for x, y in self.points), self.bulges
        )


def check_count(count: int) -> None:
    if count > MOST_POINTS:
        raise ShapeFault(
            "too-many-points",
            "This outline has {count} points; {most} are the most. Draw it with fewer corners, "
            "or with arcs in place of many short straights.",
            facts={"count": f"{count:,}", "most": f"{MOST_POINTS:,}"},
        )


def _doubled_area(ring: Sequence[Point]) -> float:
    x0, y0 = ring[0]
    return sum(
        (ax - x0) * (by - y0) - (bx - x0) * (ay - y0) for (ax, ay), (bx, by) in pairwise(ring)
    )
