"""Rectangles laid on tables: boxes of pieces with their forms' walls. Pure; metres.

References
----------
Maximal free rectangles with the best fit of the short side: Jylänki, 'A Thousand Ways to Pack the
Bin' (2010), from memory. A good lay, not proven the best: what is left over may still fit by hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

CLOSE = 1e-9


@dataclass(frozen=True)
class Box:
    name: str
    length: float
    width: float


@dataclass(frozen=True)
class Table:
    name: str
    length: float
    width: float


@dataclass(frozen=True)
class Laid:
    """A box on a table: x, y of its corner from the table's, along and across as it lies."""

    box: Box
    table: str
    x: float
    y: float
    along: float
    across: float


@dataclass(frozen=True)
class Lay:
    laid: tuple[Laid, ...]
    left: tuple[Box, ...]

    @property
    def tables(self) -> list[str]:
        """Those that hold something."""
        return list(dict.fromkeys(one.table for one in self.laid))


@dataclass(frozen=True)
class _Free:
    x: float
    y: float
    along: float
    across: float

    def holds(self, along: float, across: float) -> bool:
        return along <= self.along + CLOSE and across <= self.across + CLOSE

    def within(self, other: _Free) -> bool:
        return (
            self.x >= other.x - CLOSE
            and self.y >= other.y - CLOSE
            and self.x + self.along <= other.x + other.along + CLOSE
            and self.y + self.across <= other.y + other.across + CLOSE
        )


def fits_one(box: Box, tables: Sequence[Table]) -> bool:
    """Whether it fits some table by itself, turned by a right angle or not."""
    whole = [_Free(0.0, 0.0, table.length, table.width) for table in tables]
    return any(one.holds(*way) for one in whole for way in _ways(box))


def lay(boxes: Sequence[Box], tables: Sequence[Table]) -> Lay:
    """The largest first, each on the first table where it fits, turned by right angles."""
    free = {table.name: [_Free(0.0, 0.0, table.length, table.width)] for table in tables}
    laid: list[Laid] = []
    left: list[Box] = []
    for box in sorted(boxes, key=lambda b: (-max(b.length, b.width), -b.length * b.width, b.name)):
        place = _place(box, free)
        if place is None:
            left.append(box)
            continue
        laid.append(place)
        taken = _Free(place.x, place.y, place.along, place.across)
        free[place.table] = _cut(free[place.table], taken)
    return Lay(tuple(laid), tuple(left))


def _ways(box: Box) -> tuple[tuple[float, float], ...]:
    return (box.length, box.width), (box.width, box.length)


def _place(box: Box, free: dict[str, list[_Free]]) -> Laid | None:
    for table, rectangles in free.items():
        fits = [
            (min(one.along - along, one.across - across), one.y, one.x, along, across)
            for one in rectangles
            for along, across in _ways(box)
            if one.holds(along, across)
        ]
        if fits:
            _spare, y, x, along, across = min(fits)
            return Laid(box, table, x, y, along, across)
    return None


def _cut(free: list[_Free], taken: _Free) -> list[_Free]:
    """The free rectangles without what was taken, those within another left out."""
    kept: list[_Free] = []
    right, top = taken.x + taken.along, taken.y + taken.across
    for one in free:
        end, back = one.x + one.along, one.y + one.across
        apart = (
            taken.x >= end - CLOSE
            or right <= one.x + CLOSE
            or taken.y >= back - CLOSE
            or top <= one.y + CLOSE
        )
        if apart:
            kept.append(one)
            continue
        if taken.x > one.x + CLOSE:
            kept.append(_Free(one.x, one.y, taken.x - one.x, one.across))
        if right < end - CLOSE:
            kept.append(_Free(right, one.y, end - right, one.across))
        if taken.y > one.y + CLOSE:
            kept.append(_Free(one.x, one.y, one.along, taken.y - one.y))
        if top < back - CLOSE:
            kept.append(_Free(one.x, top, one.along, back - top))
    kept = list(dict.fromkeys(kept))
    return [one for one in kept if not any(one is not o and one.within(o) for o in kept)]
