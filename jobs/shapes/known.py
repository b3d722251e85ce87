"""The figure with a name that a drawn line is, where it is one: a rectangle that came out of a
file is a rectangle again, with a front and a back. Metres."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from jobs.shapes.faults import Point, ShapeFault
from jobs.shapes.outlines import (
    CORNERS,
    Circle,
    LShape,
    Outline,
    Rectangle,
    RoundedRectangle,
    UShape,
    free,
)
from jobs.shapes.path import NEAREST, Path

ROUND = 1e-4  # bulges nearer than this are the same


def known(path: Path) -> tuple[Outline, float, float]:
    """The figure, and where its left end and its front edge stand. A line that is none with a name
    comes back as a free outline that stands where its corners do, at 0, 0."""
    left, front, right, back = path.box
    home = (path if path.turns_left else path.reversed()).moved(-left, -front)
    for make in _candidates(home, right - left, back - front):
        try:
            figure = make()
        except ShapeFault:  # a notch or a radius that this line cannot have
            continue
        if _same(home, figure.path) or (isinstance(figure, Circle) and _circle(home)):
            return figure, left, front
    return free(path), 0.0, 0.0


def _candidates(path: Path, long: float, wide: float) -> Iterator[Callable[[], Outline]]:
    count, arcs = len(path.points), any(path.bulges)
    if count == 2 and all(path.bulges):
        yield lambda: Circle(2 * _radius(path))
    elif count == 4 and not arcs:
        yield lambda: Rectangle(long, wide)
    elif arcs and count in (6, 8):
        radius = _radius(path)
        # A radius that takes all of a side comes back a hair too large for it.
        yield lambda: RoundedRectangle(long, wide, min(radius, min(long, wide) / 2))
    elif count == 6:
        inner = _inner(path, long, wide)
        if len(inner) == 1:
            x, y = inner[0]
            for corner in CORNERS:
                along = x if "left" in corner else long - x
                across = y if "front" in corner else wide - y
                yield lambda a=along, b=across, c=corner: LShape(long, wide, a, b, c)  # type: ignore[misc]
    elif count == 8:
        inner = sorted(_inner(path, long, wide))
        if len(inner) == 2:
            (x0, y), (x1, _) = inner
            yield lambda: UShape(long, wide, x0, x1 - x0, wide - y, "back")
            yield lambda: UShape(long, wide, x0, x1 - x0, y, "front")


def _inner(path: Path, long: float, wide: float) -> list[Point]:
    """Corners that lie on no side of the box."""
    return [
        (x, y)
        for x, y in path.points
        if NEAREST < x < long - NEAREST and NEAREST < y < wide - NEAREST
    ]


def _radius(path: Path) -> float:
    return next(side.radius for side in path.sides if side.bulge)


def _circle(path: Path) -> bool:
    return all(abs(bulge - 1) < ROUND for bulge in path.bulges)


def _same(one: Path, other: Path) -> bool:
    """The same corners and arcs, wherever each begins."""
    count = len(one.points)
    if count != len(other.points):
        return False
    return any(_meet(one, other, first) for first in range(count))


def _meet(one: Path, other: Path, first: int) -> bool:
    count = len(one.points)
    return all(
        math.dist(one.points[(first + n) % count], other.points[n]) < NEAREST
        and abs(one.bulges[(first + n) % count] - other.bulges[n]) < ROUND
        for n in range(count)
    )
