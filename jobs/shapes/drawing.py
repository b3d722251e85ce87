"""A drawing as data: lines, areas, arcs and words in the drawing's own units, y down. What they
look like is for whoever draws them, by `role`; there is no markup here.

Roles of lines, areas and arcs: face, outline, cutout, edge, rib, inlay, bar, mark, face coat,
backer, dimension (lines with ticks), reach (thin lines from the piece to a dimension). Of words:
dimension, label, note.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from jobs.shapes.faults import Long, Point, in_millimetres
from jobs.shapes.path import Side
from jobs.shapes.regions import Region

Anchor = Literal["start", "middle", "end"]
Four = tuple[float, float, float, float]
Where = Literal["top", "right", "bottom", "left"]

CLOSE = 1e-6  # m
APART = 1e-3  # m: nearer marks of a chain are one


@dataclass(frozen=True)
class Line:
    start: Point
    end: Point
    role: str


@dataclass(frozen=True)
class Area:
    """rings : the outer, then its holes; filled even-odd"""

    rings: tuple[tuple[Point, ...], ...]
    role: str


@dataclass(frozen=True)
class Arc:
    """clockwise as it is seen; large : over half a turn (SVG's two flags)"""

    start: Point
    end: Point
    centre: Point
    radius: float
    clockwise: bool
    large: bool
    role: str


@dataclass(frozen=True)
class Words:
    """turn : clockwise about `at` [degrees]; `at` is on the base line"""

    at: Point
    words: str
    anchor: Anchor = "middle"
    turn: float = 0.0
    role: str = "dimension"


Item = Line | Area | Arc | Words


@dataclass(frozen=True)
class Sheet:
    """Room for a drawing, in its units. scale : units for a metre, 0 for as large as it goes;
    letter, tall : what a letter and a line of words take; long : how a length is written, without
    its unit where `unit` is written once"""

    width: float = 760.0
    tallest: float = 420.0
    scale: float = 0.0
    letter: float = 6.6
    tall: float = 15.0
    long: Long = in_millimetres
    unit: str = ""

    @property
    def step(self) -> float:
        """From the piece to a chain of dimensions, and from that to the next."""
        return 2.2 * self.tall

    def room(self, words: str) -> float:
        return len(words) * self.letter

    def whole(self, metres: float) -> str:
        return f"{self.long(metres)} {self.unit}".strip()


SCREEN = Sheet()
PHONE = Sheet(width=340.0)


@dataclass(frozen=True)
class Frame:
    """Where the plan's metres stand on the sheet; mirrored left to right for the underside.

    left, top : where the box begins [units]; box : left, front, right, back [m]
    """

    left: float
    top: float
    scale: float
    box: Four
    mirrored: bool = False

    def at(self, point: Point) -> Point:
        x0, _, x1, y1 = self.box
        along = x1 - point[0] if self.mirrored else point[0] - x0
        return round(self.left + along * self.scale, 2), round(
            self.top + (y1 - point[1]) * self.scale, 2
        )

    @property
    def right(self) -> float:
        return self.left + (self.box[2] - self.box[0]) * self.scale

    @property
    def bottom(self) -> float:
        return self.top + (self.box[3] - self.box[1]) * self.scale

    def areas(self, region: Region, role: str) -> list[Area]:
        parts = [part for part in getattr(region, "geoms", [region]) if part.area > CLOSE**2]
        return [
            Area(
                tuple(
                    tuple(self.at((x, y)) for x, y in ring.coords[:-1])
                    for ring in (part.exterior, *part.interiors)
                ),
                role,
            )
            for part in parts
        ]

    def side(self, side: Side, role: str) -> Line | Arc:
        start, end = self.at(side.start), self.at(side.end)
        if not side.bulge:
            return Line(start, end, role)
        return Arc(
            start,
            end,
            self.at(side.centre),
            round(side.radius * self.scale, 2),
            # Up is down on the sheet: what turns left in metres turns left as it is seen.
            clockwise=(side.bulge < 0) != self.mirrored,
            large=abs(side.angle) > math.pi + 1e-9,
            role=role,
        )


@dataclass(frozen=True)
class Drawing:
    """frame : where metres stand on it; said : the same in words, for who can't see it"""

    width: float
    height: float
    frame: Frame
    items: tuple[Item, ...]
    said: str

    @property
    def scale(self) -> float:
        """Its units for a metre."""
        return self.frame.scale

    def of(self, role: str) -> tuple[Item, ...]:
        return tuple(item for item in self.items if item.role == role)


def frame_for(
    sheet: Sheet,
    box: Four,
    margins: tuple[float, float, float, float],
    *,
    mirrored: bool = False,
) -> tuple[Frame, float, float]:
    """The frame with the sheet's width and height; margins: top, right, bottom, left [units]."""
    x0, y0, x1, y1 = box
    top, right, bottom, left = margins
    # A line that lies flat, which is drawn to say so, has no height.
    long, wide = max(x1 - x0, APART), max(y1 - y0, APART)
    scale = sheet.scale or min((sheet.width - left - right) / long, sheet.tallest / wide)
    frame = Frame(left, top, scale, box, mirrored)
    width = frame.right + right if sheet.scale else sheet.width
    return frame, round(width, 2), round(frame.bottom + bottom, 2)


def marks_of(values: Iterable[float], low: float, high: float) -> list[float]:
    """From side to side over every value between, each once; none that would stand on another."""
    found = [low]
    for value in sorted(values):
        if value - found[-1] > APART and high - value > APART:
            found.append(value)
    return [*found, high]


def chain(
    frame: Frame,
    sheet: Sheet,
    where: Where,
    marks: Sequence[float],
    level: int,
    *,
    whole: bool = False,
) -> list[Item]:
    """A chain of dimensions beside the piece, `level` steps away from it (1 is nearest).

    marks : where it is parted, x or y of the plan [m]
    """
    off = sheet.step * (level - 0.35)
    flat = where in ("top", "bottom")
    base = {
        "top": frame.top - off,
        "bottom": frame.bottom + off,
        "left": frame.left - off,
        "right": frame.right + off,
    }[where]
    items: list[Item] = []
    for mark in marks:
        items.append(_reach(frame, where, mark, base, flat=flat))
        items.append(_tick(frame, mark, base, flat=flat))
    spans = [_span(frame, low, high, flat=flat) for low, high in pairwise(marks)]
    for start, end in spans:
        line = ((start, base), (end, base)) if flat else ((base, start), (base, end))
        items.append(Line(_round(line[0]), _round(line[1]), "dimension"))
    words = [
        _words(where, span, base, sheet.whole(size) if whole else sheet.long(size))
        for span, size in zip(spans, (b - a for a, b in pairwise(marks)), strict=True)
    ]
    return [*items, *_with_room(sheet, words, spans)]


def _span(frame: Frame, low: float, high: float, *, flat: bool) -> tuple[float, float]:
    one, other = (_along(frame, mark, flat=flat) for mark in (low, high))
    return min(one, other), max(one, other)


def _along(frame: Frame, mark: float, *, flat: bool) -> float:
    return frame.at((mark, 0.0))[0] if flat else frame.at((0.0, mark))[1]


def _reach(frame: Frame, where: Where, mark: float, base: float, *, flat: bool) -> Line:
    at = _along(frame, mark, flat=flat)
    side = {"top": frame.top, "bottom": frame.bottom, "left": frame.left, "right": frame.right}
    gap = 3.0 if where in ("bottom", "right") else -3.0
    ends = (side[where] + gap, base + gap)
    start, end = ((at, ends[0]), (at, ends[1])) if flat else ((ends[0], at), (ends[1], at))
    return Line(_round(start), _round(end), "reach")


def _tick(frame: Frame, mark: float, base: float, *, flat: bool) -> Line:
    at, size = _along(frame, mark, flat=flat), 3.0
    x, y = (at, base) if flat else (base, at)
    return Line(_round((x - size, y + size)), _round((x + size, y - size)), "dimension")


def _words(where: Where, span: tuple[float, float], base: float, words: str) -> Words:
    middle = (span[0] + span[1]) / 2
    if where in ("top", "bottom"):
        return Words(_round((middle, base - 4)), words)
    return Words(_round((base - 4, middle)), words, turn=-90.0)


def _with_room(
    sheet: Sheet, words: Sequence[Words], spans: Sequence[tuple[float, float]]
) -> list[Words]:
    """Words that are longer than their span stand on the other side of the line; the longest span
    comes first, and whose words would meet others' there, too, goes without."""
    placed: list[tuple[int, float, float]] = []
    found: list[Words] = []
    order = sorted(zip(words, spans, strict=True), key=lambda one: one[1][0] - one[1][1])
    for one, (start, end) in order:
        half = sheet.room(one.words) / 2 + 1
        middle = (start + end) / 2
        for side in (0, 1):
            fits = end - start >= 2 * half or side == 1
            free = all(s != side or b <= middle - half or a >= middle + half for s, a, b in placed)
            if fits and free:
                placed.append((side, middle - half, middle + half))
                found.append(_beyond(one, sheet) if side else one)
                break
    return found


def _beyond(words: Words, sheet: Sheet) -> Words:
    x, y = words.at
    down = sheet.tall + 3
    return replace(words, at=_round((x + down, y) if words.turn else (x, y + down)))


def _round(point: Point) -> Point:
    return round(point[0], 2), round(point[1], 2)
