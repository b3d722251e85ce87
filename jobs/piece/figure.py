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
from jobs.piece.whisker import Whisker, whisker
from jobs.piece.words import drying_words, ready_within
from jobs.services.course import AGE, STRENGTH, Course, Gate
from jobs.services.course_bands import Band
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
SHEET = Size("sheet", 690, air=48, age=46, strength=98, drying=44, row=15)


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
    bands: tuple[str, ...] = ()  # outlines of where 8 draws in 10 lie
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
        band = self._in_units(self.course.bands.celsius, "temperature")
        low, high = float(band.low.min()) - AIR_ROOM, float(band.high.max()) + AIR_ROOM
        scale = scale_for(low, high, top, top + self.size.air, lines=4)
        sign = measures.sign("temperature", self.shop)
        title = f"Air in {self.piece.room}, {sign}"
        lines, bands = self._lines(values, scale, first=0), self._bands(band, scale)
        return Panel(title, top - 6, "", scale, lines, [], [], bands)

    @cached_property
    def age(self) -> Panel:
        top = self.air.bottom + TITLE + 8
        gates = self.course.gates_of(AGE)
        band = self.course.bands.ages
        high = max([float(band.high.max()), *(gate.needed for gate in gates)])
        scale = scale_for(0.0, high, top, top + self.size.age, lines=3)
        asked = gate_lines(gates, [g.needed for g in gates], scale, self.axis, self.course.now)
        lines = self._lines(self.course.ages, scale, first=self._cast_place)
        labels = gate_labels(asked, self.axis)
        title = f"Equivalent age, hours at {measures.warmth(self.shop)}"
        return Panel(title, top - 6, "", scale, lines, asked, labels, self._bands(band, scale))

    @cached_property
    def strength(self) -> Panel:
        top = self.age.bottom + TITLE + 8
        gates = self.course.gates_of(STRENGTH)
        values = in_units(self.course.strengths, "strength", self.shop)
        band = self._in_units(self.course.bands.strengths, "strength")
        needed = [measures.shown(gate.needed, "strength", self.shop) for gate in gates]
        scale = scale_for(
            0.0,
            max([float(band.high.max()), *needed]),
            top,
            top + self.size.strength,
            lines=5,
        )
        asked = gate_lines(gates, needed, scale, self.axis, self.course.now)
        return Panel(
            f"Strength, {measures.sign('strength', self.shop)}",
            top - 6,
            self.course.basis_shortly if self.size.narrow else self.course.basis,
            scale,
            self._lines(values, scale, first=self._cast_place),
            asked,
            gate_labels(asked, self.axis),
            self._bands(band, scale),
        )

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

    def _in_units(self, band: Band, kind: str) -> Band:
        return Band(*(in_units(edge, kind, self.shop) for edge in (band.low, band.high)))

    def _bands(self, band: Band, scale: Scale, *, padded: bool = True) -> tuple[str, ...]:
        """One outline for each stretch that has something to doubt; a measured hour has not."""
        wide = band.high - band.low > 1e-3 * (scale.high - scale.low)
        found = []
        for doubted, places in groupby(range(len(wide)), key=lambda n: bool(wide[n])):
            if doubted:
                inside = list(places)
                first, last = inside[0] - 1 if padded else inside[0], inside[-1]
                drawn = range(max(first, 0), last + 1)
                above = self._points(band.high, scale, drawn)
                found.append(f"{above} {self._points(band.low, scale, reversed(drawn))}")
        return tuple(found)

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
    def concrete_words(self) -> str:
        return "The concrete" if self.size.narrow else "The concrete, from wet to dry"

    @cached_property
    def ready_whisker(self) -> Whisker | None:
        """Under the concrete, where it is ready."""
        if self.piece.left_shop:
            return None
        y = self.concrete_y + 19
        return whisker(self.axis, y, self.piece.ready_early, self.piece.ready_late)

    @property
    def ready_words(self) -> str:
        if self.ready_whisker is None:
            return ""
        return ready_within(self.piece, narrow=self.size.narrow)

    @property
    def stair_top(self) -> float:
        return self.concrete_y + 24

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
        if drying.low is not None:
            low = min(low, float(drying.low.min()) - 2)
        scale = scale_for(low, high, top, floor, lines=4)
        values = np.interp(course.hours, drying.hours, drying.values)
        first, last = np.searchsorted(course.hours, [drying.hours[0], drying.hours[-1]])
        lines = figure._lines(values, scale, first=int(first), last=int(last))
        dots = ()
    bands: tuple[str, ...] = ()
    if drying.low is not None and drying.high is not None:
        known = course.hours <= drying.hours[-1]
        low_edge, high_edge = (
            np.where(known, np.interp(course.hours, drying.hours, edge), 0.0)
            for edge in (drying.low, drying.high)
        )
        bands = figure._bands(Band(low_edge, high_edge), scale, padded=False)
    gate = Gate(
        (drying.step,),
        drying.rule,
        drying.needed,
        drying.reached_at,
        drying.soonest_at,
        drying.latest_at,
    )
    asked = gate_lines([gate], [drying.needed], scale, figure.axis, course.now)
    labels = gate_labels(asked, figure.axis)
    if drying.rule == MODEL:  # this curve falls: over the line there is room, under it the curve
        labels = [replace(label, y=round(asked[0].y - OVER, 1)) for label in labels]
    return Panel(title, top - 6, note, scale, lines, asked, labels, bands, dots)
