"""Loose straights and arcs, put together to closed lines. Metres."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from jobs.shapes.faults import Point, ShapeFault
from jobs.shapes.path import NEAREST, Path

MOST_PIECES = 5000


@dataclass(frozen=True)
class Piece:
    """One straight or arc; `bulge` as `Path` has it."""

    start: Point
    end: Point
    bulge: float = 0.0


@dataclass
class _Nodes:
    """Ends that lie within `near` of each other are one. Found by squares of that size, so the
    work grows with the number of ends, not with its square."""

    near: float
    places: list[Point] = field(default_factory=list)
    _squares: dict[tuple[int, int], list[int]] = field(default_factory=lambda: defaultdict(list))

    def of(self, point: Point) -> int:
        column, line = (math.floor(value / self.near) for value in point)
        for dx in (-1, 0, 1):
            for dy in (-1, 0, 1):
                for node in self._squares.get((column + dx, line + dy), ()):
                    if math.dist(self.places[node], point) <= self.near:
                        return node
        self.places.append(point)
        self._squares[column, line].append(len(self.places) - 1)
        return len(self.places) - 1


def chained(pieces: Sequence[Piece], near: float = NEAREST) -> tuple[Path, ...]:
    """Closed lines of all pieces; one that is drawn twice counts once.

    Raises
    ------
    ShapeFault
        "open-line", "branching-line" with the place, "too-many-pieces", and what `Path` raises.
    """
    if len(pieces) > MOST_PIECES:
        raise ShapeFault(
            "too-many-pieces",
            "There are {count} lines and arcs on these layers; {most} are the most. Keep only the "
            "outline and the cutouts on a layer of their own.",
            part="file",
            facts={"count": f"{len(pieces):,}", "most": f"{MOST_PIECES:,}"},
        )
    nodes = _Nodes(near)
    links = _links(pieces, nodes)
    at: dict[int, list[int]] = defaultdict(list)
    for number, (start, end, _bulge) in enumerate(links):
        at[start].append(number)
        at[end].append(number)
    for node, meeting in at.items():
        if len(meeting) != 2:
            raise _loose(nodes.places[node], len(meeting))
    return tuple(_walked(links, at, nodes.places))


def tidy(points: Iterable[Point], bulges: Iterable[float], near: float = NEAREST) -> Path:
    """A closed line without the sides that have no length."""
    corners = list(zip(points, bulges, strict=True))
    kept: list[tuple[Point, float]] = []
    for place, (point, bulge) in enumerate(corners):
        following = corners[(place + 1) % len(corners)][0]
        if math.dist(point, following) > near:
            kept.append((point, bulge))
    return Path(tuple(point for point, _ in kept), tuple(bulge for _, bulge in kept))


def _links(pieces: Sequence[Piece], nodes: _Nodes) -> list[tuple[int, int, float]]:
    found: dict[tuple[int, int, float], tuple[int, int, float]] = {}
    for piece in pieces:
        start, end = nodes.of(piece.start), nodes.of(piece.end)
        if start == end:
            continue
        bulge = piece.bulge if start < end else -piece.bulge
        key = (min(start, end), max(start, end), round(bulge, 6))
        found.setdefault(key, (start, end, piece.bulge))
    return list(found.values())


def _loose(place: Point, meeting: int) -> ShapeFault:
    if meeting == 1:
        return ShapeFault(
            "open-line",
            "A line ends here and none goes on from it. Close the outline, or put what does not "
            "belong to it on another layer.",
            place=(place,),
            part="file",
        )
    return ShapeFault(
        "branching-line",
        "{count} lines meet here, so the outline could go on either way. Put what does not belong "
        "to it on another layer.",
        place=(place,),
        part="file",
        facts={"count": str(meeting)},
    )


def _walked(
    links: Sequence[tuple[int, int, float]], at: dict[int, list[int]], places: list[Point]
) -> list[Path]:
    found: list[Path] = []
    used: set[int] = set()
    for first in range(len(links)):
        if first in used:
            continue
        points: list[Point] = []
        bulges: list[float] = []
        number, node = first, links[first][0]
        while number not in used:
            used.add(number)
            start, end, bulge = links[number]
            points.append(places[node])
            bulges.append(bulge if node == start else -bulge)
            node = end if node == start else start
            one, other = at[node]
            number = other if one == number else one
        found.append(Path(tuple(points), tuple(bulges)))
    return found
