"""A piece over time as a drawing: where each line, night, gate and word goes. No markup here."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import groupby, pairwise

import numpy as np
from numpy.typing import NDArray

from jobs.piece.axis import LEFT, Axis, Scale, Span, Tick, scale_for
from jobs.piece.gates import OVER, GateLabel, GateLine, gate_labels, gate_lines
from jobs.piece.stair import Layout, StairRow, stair
from jobs.piece.words import drying_words
from jobs.services.course import AGE, STRENGTH, Course, Gate
from jobs.services.drying_course import HOURS, MODEL, WEIGHING, DryingCourse
from jobs.services.outlook import PieceOutlook
from jobs.services.tone import colour
from shop import measures
from shop.models import Shop

Floats = NDArray[np.float64]

TOP = 32.0  # the days' names, and over them the words beside the present moment
TITLE = 20.0
AIR_ROOM = 1.5  # degrees over and under the air, so that steady air is not drawn as an edge


@dataclass(frozen=True)
class Size:
    """A drawing for one width; the panels' heights in the same units."""

    name: str
    width: float
    air: float
    age: float
    strength: float
    drying: float
    row: float
    narrow: bool = False


WIDE = Size("wide", 960, air=92, age=82, strength=170, drying=92, row=22)
NARROW = Size("narrow", 344, air=76, age=68, strength=150, drying=84, row=44, narrow=True)
SHEET = Size("sheet", 690, air=64, age=54, strength=132, drying=58, row=17)


@dataclass(frozen=True)
class Line:
    measured: bool
    points: str


@dataclass(frozen=True)
class Panel:
    """One quantity over the time axis."""

    title: str
    title_y: float
    note: str
    scale: Scale
    lines: list[Line]
    gates: list[GateLine]
    labels: list[GateLabel]
    band: str = ""  # the outline of the curve's uncertainty
    dots: tuple[tuple[float, float], ...] = ()  # single measurements

    @property
    def bottom(self) -> float:
        return self.scale.floor


@dataclass(frozen=True)
class Tone:
    x: float
    width: float
    fill: str


@dataclass(frozen=True)
class Figure:
    course: Course
    piece: PieceOutlook
    shop: Shop
    size: Size

    @cached_property
    def axis(self) -> Axis:
        hours = self.course.hours
        return Axis(float(hours[0]), float(hours[-1]), self.size.width, self.shop.zone)

    @property
    def name(self) -> str:
        return self.size.name

    @property
    def width(self) -> float:
        return self.size.width

    @property
    def left(self) -> float:
        return LEFT

    @property
    def right(self) -> float:
        return self.axis.right

    @property
    def top(self) -> float:
        return TOP

    @property
    def inner(self) -> float:
        return self.axis.inner

    @property
    def height(self) -> float:
        return self.stair_top + self.size.row * len(self.rows) + 10

    @property
    def tall(self) -> float:
        return self.height - TOP

    # Across everything.

    @property
    def nights(self) -> list[Span]:
        return self.axis.nights

    @property
    def days(self) -> list[Tick]:
        return self.axis.days

    @property
    def now_x(self) -> float | None:
        inside = self.axis.since <= self.course.now <= self.axis.until
        return self.axis.x(self.course.now) if inside else None

    @property
    def now_anchor(self) -> str:
        """Inside the drawing, whichever end of it the present moment is near."""
        x = self.now_x or 0.0
        return "end" if x > self.right - 24 else "start" if x < LEFT + 24 else "middle"

    @property
    def ready_x(self) -> float | None:
        at = self.piece.ready_at
        return self.axis.at(at) if at and self.axis.holds(at) else None

    # One under the other.

    @cached_property
    def panels(self) -> list[Panel]:
        found = [self.air, self.age, self.strength]
        return [*found, self.drying] if self.drying else found

    @cached_property
    def air(self) -> Panel:
        values = in_units(self.course.celsius, "temperature", self.shop)
        top = TOP + TITLE
        low, high = float(values.min()) - AIR_ROOM, float(values.max()) + AIR_ROOM
        scale = scale_for(low, high, top, top + self.size.air, lines=4)
        sign = measures.sign("temperature", self.shop)
        title = f"Air in {self.piece.room}, {sign}"
        return Panel(title, top - 6, "", scale, self._lines(values, scale, first=0), [], [])

    @cached_property
    def age(self) -> Panel:
        top = self.air.bottom + TITLE + 8
        gates = self.course.gates_of(AGE)
        high = max([float(self.course.ages.max()), *(gate.needed for gate in gates)])
        scale = scale_for(0.0, high, top, top + self.size.age, lines=3)
        asked = gate_lines(gates, [g.needed for g in gates], scale, self.axis, self.course.now)
        lines = self._lines(self.course.ages, scale, first=self._cast_place)
        labels = gate_labels(asked, self.axis)
        title = f"Equivalent age, hours at {measures.warmth(self.shop)}"
        return Panel(title, top - 6, "", scale, lines, asked, labels)

    @cached_property
    def strength(self) -> Panel:
        top = self.age.bottom + TITLE + 8
        gates = self.course.gates_of(STRENGTH)
        values = in_units(self.course.strengths, "strength", self.shop)
        needed = [measures.shown(gate.needed, "strength", self.shop) for gate in gates]
        scale = scale_for(
            0.0,
            max([float(values.max()) * (1 + self.course.band / 2), *needed]),
            top,
            top + self.size.strength,
            lines=5,
        )
        asked = gate_lines(gates, needed, scale, self.axis, self.course.now)
        return Panel(
            f"Strength, {measures.sign('strength', self.shop)}",
            top - 6,
            self._basis(),
            scale,
            self._lines(values, scale, first=self._cast_place),
            asked,
            gate_labels(asked, self.axis),
            self._band(values, scale),
        )

    def _basis(self) -> str:
        if not self.course.band:
            return "the shop's own curve" if self.size.narrow else "by the shop's own curve"
        percent = f"±{self.course.band * 100:.0f} %"
        if self.size.narrow:
            return f"placeholder, {percent} band"
        return f"placeholder curve, not this shop's concrete: {percent} band"

    @cached_property
    def drying(self) -> Panel | None:
        """How far it has dried since its last wetting, the way its route counts it."""
        if self.course.drying is None:
            return None
        top = self.strength.bottom + TITLE + 8
        return drying_panel(self, self.course.drying, top, top + self.size.drying)

    def _lines(
        self, values: Floats, scale: Scale, *, first: int, last: int | None = None
    ) -> list[Line]:
        """Stretches that are measured or not, each joined to the next."""
        found = []
        places_drawn = range(first, len(self.course.measured) if last is None else last)
        for measured, places in groupby(places_drawn, key=lambda n: bool(self.course.measured[n])):
            chosen = list(places)
            points = self._points(values, scale, range(chosen[0], chosen[-1] + 2))
            found.append(Line(measured, points))
        return found

    @cached_property
    def _cast_place(self) -> int:
        return int(np.searchsorted(self.course.hours, self.course.cast))

    def _points(self, values: Floats, scale: Scale, places: Iterable[int]) -> str:
        hours, x = self.course.hours, self.axis.x
        return " ".join(f"{x(float(hours[n]))},{scale.y(float(values[n]))}" for n in places)

    def _band(self, values: Floats, scale: Scale) -> str:
        if not self.course.band:
            return ""
        places = range(self._cast_place, len(values))
        above = self._points(values * (1 + self.course.band), scale, places)
        below = self._points(values * (1 - self.course.band), scale, reversed(places))
        return f"{above} {below}"

    # The concrete itself, and the route.

    @property
    def concrete_title(self) -> float:
        return self.panels[-1].bottom + TITLE + 2

    @property
    def concrete_y(self) -> float:
        return self.concrete_title + 6

    @cached_property
    def tones(self) -> list[Tone]:
        return list(self._tones())

    def _tones(self) -> Iterator[Tone]:
        for left, right in pairwise(self.piece.tones):
            start, end = self.axis.at(left.at), self.axis.at(right.at)
            if end > start:
                fill = colour((left.level + right.level) / 2)
                yield Tone(start, round(end - start + 0.3, 1), fill)

    @property
    def concrete(self) -> Span:
        start = self.axis.x(self.course.cast)
        end = self.ready_x if self.ready_x is not None else self.right
        return Span(start, round(end - start, 1))

    @property
    def stair_top(self) -> float:
        return self.concrete_y + 22

    @cached_property
    def rows(self) -> list[StairRow]:
        layout = Layout(self.axis, self.stair_top, self.size.row, self.size.narrow)
        return stair(self.piece.steps, layout)


def in_units(values: Floats, kind: str, shop: Shop) -> Floats:
    zero = measures.shown(0.0, kind, shop)
    return np.asarray(values * (measures.shown(1.0, kind, shop) - zero) + zero)


def drying_panel(figure: Figure, drying: DryingCourse, top: float, floor: float) -> Panel:
    course = figure.course
    title, note = drying_words(drying, narrow=figure.size.narrow)
    if drying.rule == WEIGHING:
        high = max([1.5 * drying.needed, *drying.values])
        scale = scale_for(0.0, high, top, floor, lines=3, finest=0.01)
        points = [
            (figure.axis.x(float(hour)), scale.y(float(value)))
            for hour, value in zip(drying.hours, drying.values, strict=True)
        ]
        lines = [Line(True, " ".join(f"{x},{y}" for x, y in points))] if len(points) > 1 else []
        dots = tuple(points)
    else:
        low = 0.0 if drying.rule == HOURS else min(drying.needed, float(drying.values.min())) - 5
        high = 100.0 if drying.rule == MODEL else max(drying.needed, float(drying.values.max()))
        scale = scale_for(low, high, top, floor, lines=4)
        values = np.interp(course.hours, drying.hours, drying.values)
        first, last = np.searchsorted(course.hours, [drying.hours[0], drying.hours[-1]])
        lines = figure._lines(values, scale, first=int(first), last=int(last))
        dots = ()
    gate = Gate((drying.step,), drying.rule, drying.needed, drying.reached_at)
    asked = gate_lines([gate], [drying.needed], scale, figure.axis, course.now)
    labels = gate_labels(asked, figure.axis)
    if drying.rule == MODEL:  # this curve falls: over the line there is room, under it the curve
        labels = [replace(label, y=round(asked[0].y - OVER, 1)) for label in labels]
    return Panel(title, top - 6, note, scale, lines, asked, labels, dots=dots)
