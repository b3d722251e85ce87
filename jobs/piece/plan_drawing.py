"""The plan of a piece's section as a drawing: the face from above, its front edge at the bottom.

Where each line and word goes, in the drawing's own units; no markup here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Any

from curing.panel import Panel, weakest_cut
from shop import measures
from shop.models import Shop

LETTER = 6.6  # units across for a letter of the drawing's size
TALL = 17.0  # units a line of words takes
OFF = 16.0  # from the piece to a dimension beside it
CLOSE = 1e-6  # m


@dataclass(frozen=True)
class Box:
    x: float
    y: float
    width: float
    height: float
    words: tuple[str, ...] = ()

    @property
    def middle_x(self) -> float:
        return round(self.x + self.width / 2, 1)

    @property
    def lines(self) -> list[tuple[float, str]]:
        """Its words with their heights, one under the other about its middle."""
        first = self.y + self.height / 2 + 4 - (len(self.words) - 1) * TALL / 2
        return [(round(first + n * TALL, 1), words) for n, words in enumerate(self.words)]


@dataclass(frozen=True)
class Stroke:
    x1: float
    y1: float
    x2: float
    y2: float


@dataclass(frozen=True)
class Dimension:
    """A line with a tick at either end; without words where there is no room for them."""

    line: Stroke
    ticks: tuple[Stroke, Stroke]
    words: str
    x: float
    y: float
    anchor: str = "middle"
    turned: bool = False  # read from the right

    @property
    def span(self) -> float:
        return abs(self.line.x2 - self.line.x1) + abs(self.line.y2 - self.line.y1)

    def covers(self, other: Dimension) -> bool:
        """Whether its words would touch the other's, of one chain."""
        wide = (len(self.words) + len(other.words) + 1) / 2 * LETTER
        return abs(self.x - other.x) < wide and abs(self.y - other.y) < TALL - 4


@dataclass(frozen=True)
class PlanSize:
    name: str
    width: float
    tallest: float
    left: float = 62.0
    right: float = 62.0


WIDE = PlanSize("wide", 760, tallest=420)
NARROW = PlanSize("narrow", 340, tallest=420, left=54.0, right=54.0)


@dataclass(frozen=True)
class Plan:
    """`shape` as it is stored; `panel` is the same as the engine has it."""

    panel: Panel
    shape: dict[str, Any]
    shop: Shop
    size: PlanSize

    # The frame.

    @property
    def name(self) -> str:
        return self.size.name

    @property
    def width(self) -> float:
        return self.size.width

    @property
    def left(self) -> float:
        return self.size.left

    @property
    def top(self) -> float:
        return 34.0 if self.panel.cutouts else 14.0

    @cached_property
    def scale(self) -> float:
        room = self.size.width - self.size.left - self.size.right
        return min(room / self.panel.length, self.size.tallest / self.panel.width)

    @property
    def right(self) -> float:
        return self.x(self.panel.length)

    @property
    def bottom(self) -> float:
        return round(self.top + self.panel.width * self.scale, 1)

    @property
    def height(self) -> float:
        return self.bottom + (OFF + 42 if self.weak_x is not None else OFF + 24)

    def x(self, metres: float) -> float:
        return round(self.left + metres * self.scale, 1)

    def y(self, metres: float) -> float:
        """From the front edge, which is drawn at the bottom."""
        return round(self.bottom - metres * self.scale, 1)

    def _box(self, x0: float, y0: float, x1: float, y1: float, words: tuple[str, ...] = ()) -> Box:
        x0, x1 = max(0.0, x0), min(self.panel.length, x1)
        y0, y1 = max(0.0, y0), min(self.panel.width, y1)
        left, top = self.x(x0), self.y(y1)
        return Box(left, top, round(self.x(x1) - left, 1), round(self.y(y0) - top, 1), words)

    def words(self, metres: float) -> str:
        """A length without its unit where the drawing names it once."""
        return measures.words(metres, "length", self.shop).rsplit(" ", 1)[0]

    @property
    def unit(self) -> str:
        return measures.sign("length", self.shop)

    # What is drawn.

    @property
    def face(self) -> Box:
        return self._box(0, 0, self.panel.length, self.panel.width)

    @property
    def edges(self) -> list[Box]:
        long, wide = self.panel.length, self.panel.width
        found = []
        for edge in self.panel.edges:
            w = edge.width
            boxes = {
                "front": (0.0, 0.0, long, w),
                "back": (0.0, wide - w, long, wide),
                "left": (0.0, 0.0, w, wide),
                "right": (long - w, 0.0, long, wide),
            }
            found.append(self._box(*boxes[edge.side]))
        return found

    @property
    def ribs(self) -> list[Box]:
        long, wide = self.panel.length, self.panel.width
        return [
            self._box(0, rib.at - rib.width / 2, long, rib.at + rib.width / 2)
            if rib.along == "length"
            else self._box(rib.at - rib.width / 2, 0, rib.at + rib.width / 2, wide)
            for rib in self.panel.ribs
        ]

    @cached_property
    def cutouts(self) -> list[Box]:
        around = [bool(hole.get("around")) for hole in self.shape.get("cutouts", ())]
        return [
            self._hole(hole.x, hole.y, hole.length, hole.width, round_about)
            for hole, round_about in zip(self.panel.cutouts, around, strict=True)
        ]

    def _hole(self, x: float, y: float, length: float, width: float, around: bool) -> Box:
        box = self._box(x, y, x + length, y + width)
        size = f"{self.words(length)} × {self.words(width)}"
        words = [line for line in (size, "around" if around else "") if line]
        fits = len(size) * LETTER <= box.width - 2 and len(words) * TALL <= box.height - 4
        return Box(box.x, box.y, box.width, box.height, tuple(words) if fits else ())

    @property
    def bars(self) -> list[Box]:
        return [
            self._box(bar.x, bar.y, bar.x + bar.length, bar.y + bar.width)
            for bar in self.panel.strongbacks
        ]

    # The weakest cut.

    @cached_property
    def _weak(self) -> float | None:
        """Its place from the left end; None where every cut is the same."""
        cut = weakest_cut(self.panel)
        if cut.start <= CLOSE and cut.end >= self.panel.length - CLOSE:
            return None
        return (cut.start + cut.end) / 2

    @property
    def weak_x(self) -> float | None:
        return None if self._weak is None else self.x(self._weak)

    @property
    def weak(self) -> Stroke | None:
        x = self.weak_x
        return None if x is None else Stroke(x, self.top - 5, x, self.bottom + 5)

    @property
    def weak_words_y(self) -> float:
        return self.bottom + OFF + 35

    @property
    def weak_words(self) -> str:
        at = measures.words(self._weak, "length", self.shop)
        return f"weakest cut, {at} from the left end"

    @property
    def weak_anchor(self) -> str:
        half = len(self.weak_words) * LETTER / 2
        x = self.weak_x or 0.0
        if x - half < 2:
            return "start"
        return "end" if x + half > self.width - 2 else "middle"

    # Dimensions: over all at the bottom and on the left, cutouts at the top and on the right.

    @cached_property
    def dimensions(self) -> list[Dimension]:
        return [
            self._level(
                0.0, self.panel.length, self.bottom + OFF, self.bottom + OFF + 17, whole=True
            ),
            self._whole_width(),
            *self._across,
            *self._upright,
        ]

    @cached_property
    def _across(self) -> list[Dimension]:
        marks = self._marks([(h.x, h.x + h.length) for h in self.panel.cutouts], self.panel.length)
        y = self.top - OFF + 4
        return with_room([self._level(low, high, y, y - 6) for low, high in pairwise(marks)])

    @cached_property
    def _upright(self) -> list[Dimension]:
        marks = self._marks([(h.y, h.y + h.width) for h in self.panel.cutouts], self.panel.width)
        return with_room([self._standing(low, high) for low, high in pairwise(marks)])

    def _marks(self, spans: Sequence[tuple[float, float]], reach: float) -> list[float]:
        """From one side to the other over every side of a cutout; none without one."""
        inside = {mark for pair in spans for mark in pair if CLOSE < mark < reach - CLOSE}
        return [0.0, *sorted(inside), reach] if spans else []

    def _level(
        self, low: float, high: float, y: float, words_y: float, *, whole: bool = False
    ) -> Dimension:
        start, end = self.x(low), self.x(high)
        words = self.words(high - low) + (f" {self.unit}" if whole else "")
        ticks = (Stroke(start, y - 4, start, y + 4), Stroke(end, y - 4, end, y + 4))
        middle = round((start + end) / 2, 1)
        return Dimension(Stroke(start, y, end, y), ticks, words, middle, words_y)

    def _standing(self, low: float, high: float) -> Dimension:
        foot, head, x = self.y(low), self.y(high), self.right + OFF - 4
        ticks = (Stroke(x - 4, foot, x + 4, foot), Stroke(x - 4, head, x + 4, head))
        middle = round((foot + head) / 2 + 4, 1)
        line = Stroke(x, head, x, foot)
        return Dimension(line, ticks, self.words(high - low), x + 7, middle, "start")

    def _whole_width(self) -> Dimension:
        x = self.left - OFF
        ticks = (
            Stroke(x - 4, self.top, x + 4, self.top),
            Stroke(x - 4, self.bottom, x + 4, self.bottom),
        )
        words = f"{self.words(self.panel.width)} {self.unit}"
        middle = round((self.top + self.bottom) / 2, 1)
        line = Stroke(x, self.top, x, self.bottom)
        return Dimension(line, ticks, words, x - 7, middle, turned=True)

    @property
    def said(self) -> str:
        """The same in words, for those who can't see it."""
        sizes = f"{self.words(self.panel.length)} by {self.words(self.panel.width)} {self.unit}"
        parts = [f"Plan, {sizes}, front edge at the bottom"]
        parts += [
            f"cutout {n}: {self.words(hole.length)} by {self.words(hole.width)}, "
            f"{self.words(hole.x)} from the left end, {self.words(hole.y)} from the front edge"
            for n, hole in enumerate(self.panel.cutouts, start=1)
        ]
        parts += [f"{len(self.panel.ribs)} ribs"] if self.panel.ribs else []
        parts += [self.weak_words] if self._weak is not None else []
        return "; ".join(parts) + "."


def with_room(chain: Sequence[Dimension]) -> list[Dimension]:
    """The longest are named first; whose words would stand on others' go without."""
    named: list[Dimension] = []
    for dimension in sorted(chain, key=lambda d: d.span, reverse=True):
        if not any(dimension.covers(other) for other in named):
            named.append(dimension)
    return [d if d in named else replace(d, words="") for d in chain]


def plans(panel: Panel, shape: dict[str, Any], shop: Shop) -> list[Plan]:
    """One for a wide screen, one for a phone."""
    return [Plan(panel, shape, shop, size) for size in (WIDE, NARROW)]
