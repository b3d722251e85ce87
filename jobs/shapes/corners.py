"""A free outline from corners as they are measured on site: roundings and bows, not bulges.

Metres. A side is numbered as the corner it starts from, from 1.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from jobs.shapes.faults import Point, ShapeFault, finite
from jobs.shapes.outlines import FreeOutline
from jobs.shapes.path import NEAREST, check_count

FLAT = 1e-6  # rad: a corner nearer to straight than this has nothing to round


@dataclass(frozen=True)
class Corner:
    """radius : of its rounding, 0 for a sharp one; bow : how far the side from here to the next
    corner bows outwards at its middle, below 0 inwards"""

    x: float
    y: float
    radius: float = 0.0
    bow: float = 0.0

    @property
    def at(self) -> Point:
        return self.x, self.y


@dataclass(frozen=True)
class Cornered:
    """sides : for each side of the outline the number of the typed side it is, or below 0 the
    number of the corner whose rounding it is"""

    outline: FreeOutline
    sides: tuple[int, ...]

    def named(self, numbers: Collection[int]) -> list[str]:
        """The outline's names of these typed sides, with the roundings between two of them."""
        count = max(map(abs, self.sides))
        wanted = set(numbers)
        return [
            str(place)
            for place, side in enumerate(self.sides, start=1)
            if side in wanted or (side < 0 and {-side, (-side - 2) % count + 1} <= wanted)
        ]

    def numbers(self, names: Collection[str]) -> list[int]:
        """The typed sides among these names."""
        found = (side for place, side in enumerate(self.sides, 1) if str(place) in names)
        return sorted({side for side in found if side > 0})


def cornered(corners: Sequence[Corner]) -> Cornered:
    """Raises ShapeFault, its row the corner's: "corner-radius" where a rounding has no room, and
    what `jobs.shapes.path.Path` refuses."""
    check_count(len(corners))
    for row, one in enumerate(corners):
        finite("outline", row, along=one.x, across=one.y, radius=one.radius, bow=one.bow)
        if one.radius < 0:
            raise _no_room(corners, row, "A corner's radius is above nought, or empty.")
    _apart(corners)
    taken = [_taken(corners, row) for row in range(len(corners))]
    turn = turning([one.at for one in corners])
    points: list[Point] = []
    bulges: list[float] = []
    sides: list[int] = []
    for row, one in enumerate(corners):
        after = corners[(row + 1) % len(corners)]
        long = math.dist(one.at, after.at)
        beyond = taken[(row + 1) % len(corners)]
        if taken[row] + beyond > long + NEAREST:
            wrong = row if one.radius >= after.radius else (row + 1) % len(corners)
            raise _no_room(corners, wrong, "This rounding is too large for the sides beside it.")
        if one.radius:
            points.append(_towards(one, corners[row - 1], taken[row]))
            bulges.append(_rounding(corners[row - 1], one, after))
            sides.append(-(row + 1))
        if (one.radius or after.radius) and long - taken[row] - beyond < NEAREST:
            continue  # two roundings take the whole side
        points.append(_towards(one, after, taken[row]))
        bulges.append(turn * 2 * one.bow / long)
        sides.append(row + 1)
    return Cornered(FreeOutline(tuple(points), tuple(bulges)), tuple(sides))


def corners_of(outline: FreeOutline) -> tuple[Corner, ...]:
    """The same without roundings: an arc is a bow."""
    turn, points = turning(outline.points), outline.points
    ends = (*points[1:], points[0])
    # A path of straights only has no bulges of its own.
    bulges = outline.bulges or (0.0,) * len(points)
    return tuple(
        Corner(x, y, 0.0, turn * bulge * math.dist((x, y), end) / 2)
        for (x, y), end, bulge in zip(points, ends, bulges, strict=True)
    )


def turning(points: Sequence[Point]) -> int:
    """1 where the corners go round to the left, or are but two; -1 to the right."""
    x0, y0 = points[0]
    doubled = sum(
        (ax - x0) * (by - y0) - (bx - x0) * (ay - y0)
        for (ax, ay), (bx, by) in zip(points, [*points[1:], points[0]], strict=True)
    )
    return -1 if doubled < 0 else 1


def _apart(corners: Sequence[Corner]) -> None:
    if len(corners) < 2:
        raise ShapeFault("too-few-points", "An outline needs three corners, or two and an arc.")
    for row, one in enumerate(corners):
        if math.dist(one.at, corners[row - 1].at) < NEAREST:
            raise ShapeFault(
                "duplicate-point",
                "The same corner stands twice, one after the other. Take one of them out.",
                place=(one.at,),
                row=row,
            )


def _taken(corners: Sequence[Corner], row: int) -> float:
    """What a rounding takes of the sides on its either hand."""
    one, before, after = corners[row], corners[row - 1], corners[(row + 1) % len(corners)]
    if not one.radius:
        return 0.0
    if one.bow or before.bow:
        raise _no_room(corners, row, "Only a corner between two straight sides can be rounded.")
    turn = _turn(before, one, after)
    if not FLAT < abs(turn) < math.pi - FLAT:
        raise _no_room(corners, row, "Here the line does not turn: there is nothing to round.")
    return one.radius * math.tan(abs(turn) / 2)


def _rounding(before: Corner, one: Corner, after: Corner) -> float:
    return math.tan(_turn(before, one, after) / 4)


def _turn(before: Corner, one: Corner, after: Corner) -> float:
    """By how much the line turns left at a corner [rad]."""
    ax, ay = one.x - before.x, one.y - before.y
    bx, by = after.x - one.x, after.y - one.y
    return math.atan2(ax * by - ay * bx, ax * bx + ay * by)


def _towards(one: Corner, other: Corner, far: float) -> Point:
    share = far / math.dist(one.at, other.at)
    return one.x + share * (other.x - one.x), one.y + share * (other.y - one.y)


def _no_room(corners: Sequence[Corner], row: int, words: str) -> ShapeFault:
    return ShapeFault("corner-radius", words, place=(corners[row].at,), row=row)
