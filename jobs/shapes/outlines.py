"""The outlines a piece, or a cutout in it, may have. Each gives its path, turning left, with a
name for every side. Lengths in metres, from the left end and the front edge."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, Protocol

from jobs.shapes.faults import Point, ShapeFault, above_nought, finite
from jobs.shapes.path import NEAREST, Path, Side

Corner = Literal["front left", "front right", "back left", "back right"]

CORNERS: tuple[Corner, ...] = ("front left", "front right", "back left", "back right")
QUARTER = math.tan(math.pi / 8)  # the bulge of a quarter of a circle

Drawn = tuple[Point, float, str]  # where a side starts, its bulge, its name


class Outline(Protocol):
    """`path` turns left; several sides may share a name, and then an edge."""

    @property
    def path(self) -> Path: ...

    @property
    def sides(self) -> tuple[Side, ...]: ...


class _Figure:
    """An outline from its sides, one after the other."""

    def _drawn(self) -> Iterable[Drawn]:
        raise TypeError("an outline gives its sides")

    @cached_property
    def sides(self) -> tuple[Side, ...]:
        drawn = list(self._drawn())
        return self.path.named([name for _start, _bulge, name in drawn])

    @cached_property
    def path(self) -> Path:
        drawn = list(self._drawn())
        return Path(tuple(start for start, *_ in drawn), tuple(bulge for _, bulge, _ in drawn))


@dataclass(frozen=True)
class Rectangle(_Figure):
    """Sides: front, right, back, left."""

    length: float
    width: float

    def __post_init__(self) -> None:
        above_nought(length=self.length, width=self.width)

    def _drawn(self) -> list[Drawn]:
        long, wide = self.length, self.width
        return [
            ((0.0, 0.0), 0.0, "front"),
            ((long, 0.0), 0.0, "right"),
            ((long, wide), 0.0, "back"),
            ((0.0, wide), 0.0, "left"),
        ]


@dataclass(frozen=True)
class RoundedRectangle(_Figure):
    """Sides as a rectangle's, with the arcs between them: "front right" and so on."""

    length: float
    width: float
    radius: float

    def __post_init__(self) -> None:
        above_nought(length=self.length, width=self.width, radius=self.radius)
        most = min(self.length, self.width) / 2
        if self.radius > most:
            raise ShapeFault(
                "radius-too-large",
                "A corner's radius of {radius} does not fit: {most} is the most here.",
                figures={"radius": self.radius, "most": most},
            )

    def _drawn(self) -> list[Drawn]:
        long, wide, r = self.length, self.width, self.radius
        drawn: list[Drawn] = [
            ((r, 0.0), 0.0, "front"),
            ((long - r, 0.0), QUARTER, "front right"),
            ((long, r), 0.0, "right"),
            ((long, wide - r), QUARTER, "back right"),
            ((long - r, wide), 0.0, "back"),
            ((r, wide), QUARTER, "back left"),
            ((0.0, wide - r), 0.0, "left"),
            ((0.0, r), QUARTER, "front left"),
        ]
        # Where the radius takes all of a side, nothing straight is left of it.
        gone = {"front", "back"} if long - 2 * r < NEAREST else set()
        gone |= {"left", "right"} if wide - 2 * r < NEAREST else set()
        return [side for side in drawn if side[2] not in gone]


@dataclass(frozen=True)
class Circle(_Figure):
    """One side, "round"."""

    diameter: float

    def __post_init__(self) -> None:
        above_nought(diameter=self.diameter)

    def _drawn(self) -> list[Drawn]:
        radius = self.diameter / 2
        return [((0.0, radius), 1.0, "round"), ((self.diameter, radius), 1.0, "round")]


@dataclass(frozen=True)
class LShape(_Figure):
    """A rectangle without one corner. Sides: front, right, back, left, and of the corner that is
    missing "notch along" (as the length runs) and "notch across"."""

    length: float
    width: float
    notch_length: float
    notch_width: float
    corner: Corner = "back right"

    def __post_init__(self) -> None:
        above_nought(length=self.length, width=self.width)
        above_nought(notch_length=self.notch_length, notch_width=self.notch_width)
        if self.corner not in CORNERS:
            raise ShapeFault("corner", "Say which corner is missing, like back right.")
        _notch_fits(self.notch_length, self.length)
        _notch_fits(self.notch_width, self.width)

    def _drawn(self) -> list[Drawn]:
        long, wide = self.length, self.width
        x, y = long - self.notch_length, wide - self.notch_width
        drawn: list[Drawn] = [
            ((0.0, 0.0), 0.0, "front"),
            ((long, 0.0), 0.0, "right"),
            ((long, y), 0.0, "notch along"),
            ((x, y), 0.0, "notch across"),
            ((x, wide), 0.0, "back"),
            ((0.0, wide), 0.0, "left"),
        ]
        if "left" in self.corner:
            drawn = _mirrored(drawn, {"left": "right", "right": "left"}, across=long)
        if "front" in self.corner:
            drawn = _mirrored(drawn, {"front": "back", "back": "front"}, up=wide)
        return drawn


@dataclass(frozen=True)
class UShape(_Figure):
    """A rectangle with a notch in its front or back. Sides: front, right, back, left, and "notch
    left", "notch end", "notch right"."""

    length: float
    width: float
    notch_x: float
    notch_length: float
    notch_width: float
    side: Literal["front", "back"] = "front"

    def __post_init__(self) -> None:
        above_nought(length=self.length, width=self.width, notch_from_the_left=self.notch_x)
        above_nought(notch_length=self.notch_length, notch_width=self.notch_width)
        if self.side not in ("front", "back"):
            raise ShapeFault("corner", "Say whether the notch is at the front or the back.")
        _notch_fits(self.notch_x + self.notch_length, self.length)
        _notch_fits(self.notch_width, self.width)

    def _drawn(self) -> list[Drawn]:
        long, wide = self.length, self.width
        x0, x1, y = self.notch_x, self.notch_x + self.notch_length, wide - self.notch_width
        drawn: list[Drawn] = [
            ((0.0, 0.0), 0.0, "front"),
            ((long, 0.0), 0.0, "right"),
            ((long, wide), 0.0, "back"),
            ((x1, wide), 0.0, "notch right"),
            ((x1, y), 0.0, "notch end"),
            ((x0, y), 0.0, "notch left"),
            ((x0, wide), 0.0, "back"),
            ((0.0, wide), 0.0, "left"),
        ]
        if self.side == "front":
            drawn = _mirrored(drawn, {"front": "back", "back": "front"}, up=wide)
        return drawn


@dataclass(frozen=True)
class FreeOutline(_Figure):
    """Corners as they were measured, either way round; bulges as `Path` has them. Sides: "1" from
    the first corner to the second, and so on."""

    points: tuple[Point, ...]
    bulges: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        Path(self.points, self.bulges)

    def _drawn(self) -> list[Drawn]:
        typed = Path(self.points, self.bulges)
        names = [side.name for side in typed.sides]
        if not typed.turns_left:
            typed, names = typed.reversed(), [*names[-2::-1], names[-1]]
        return [(s.start, s.bulge, name) for s, name in zip(typed.sides, names, strict=True)]


def free(path: Path) -> FreeOutline:
    return FreeOutline(path.points, path.bulges)


def _notch_fits(taken: float, whole: float) -> None:
    finite(notch=taken)
    if whole - taken < NEAREST:
        raise ShapeFault(
            "notch-too-large",
            "The notch takes {taken} of {whole}: nothing is left beside it. Make it smaller.",
            figures={"taken": taken, "whole": whole},
        )


def _mirrored(
    drawn: list[Drawn], names: dict[str, str], *, across: float = 0.0, up: float = 0.0
) -> list[Drawn]:
    """Mirrored left to right, or front to back, and turning left again."""
    ends = [*drawn[1:], drawn[0]]
    found: list[Drawn] = []
    for (_start, bulge, name), (end, *_) in zip(drawn, ends, strict=True):
        x, y = end
        place = (across - x, y) if across else (x, up - y)
        found.append((place, bulge, " ".join(names.get(word, word) for word in name.split())))
    return found[::-1]
