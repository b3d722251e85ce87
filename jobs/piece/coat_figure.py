"""The seal coats as a drawing: where air, stretches, windows and coats go. No markup here."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from jobs.piece.axis import LEFT, Axis, Scale, Span, Tick, scale_for
from jobs.piece.figure import in_units
from jobs.piece.table import EVERY, ROWS
from jobs.piece.words import when
from jobs.services.coats import NEAR, Coat, SealCoats
from shop import measures
from shop.localtime import from_hours, to_hours
from shop.models import Shop

Floats = NDArray[np.float64]

TOP = 30.0
LETTER = 7.2
POINTS = 180
BEFORE, AFTER = 6.0, 8.0  # h beside the first and the last coat
FAR = 72.0  # h; what lies farther from the coats is not drawn
LEAST_SPAN = 40.0
NEAR_LIMIT = 3.0  # K; a limit farther from the air than this is not drawn


@dataclass(frozen=True)
class Size:
    name: str
    width: float
    air: float
    row: float = 36.0


WIDE, NARROW = Size("wide", 960, 118), Size("narrow", 344, 104)


@dataclass(frozen=True)
class Line:
    kind: str  # measured, expected or dew
    points: str


@dataclass(frozen=True)
class Limit:
    y: float
    words: str


@dataclass(frozen=True)
class CoatMark:
    """One coat: too early up to `opens`, its window from there, the coat itself."""

    words: str
    words_x: float
    words_y: float
    y: float
    x: float | None
    done: bool
    early: Span | None
    window: Span | None


@dataclass(frozen=True)
class CoatFigure:
    seal: SealCoats
    shop: Shop
    size: Size
    at: float  # the present moment [h]

    @cached_property
    def axis(self) -> Axis:
        since, until = self._span()
        return Axis(since, until, self.size.width, self.shop.zone)

    def _span(self) -> tuple[float, float]:
        times = [to_hours(coat.at) for coat in self.seal.coats if coat.at] or [self.at]
        first, last = min(times), max(times)
        before = [
            to_hours(coat.moved.soonest) for coat in self.seal.coats if coat.moved is not None
        ]
        ends = [to_hours(c.window.closes) for c in self.seal.coats if c.window and c.window.closes]
        since = min([first, *(time for time in [*before, self.at] if first - FAR < time)])
        until = max([last, *(time for time in [*ends, self.at] if time < last + FAR)])
        since, until = since - BEFORE, until + AFTER
        return since, max(until, since + LEAST_SPAN)

    @property
    def name(self) -> str:
        return self.size.name

    @property
    def width(self) -> float:
        return self.size.width

    @property
    def height(self) -> float:
        return self.marks_top + self.size.row * len(self.seal.coats) + 8

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
    def tall(self) -> float:
        return self.height - TOP

    @property
    def nights(self) -> list[Span]:
        return self.axis.nights

    @property
    def days(self) -> list[Tick]:
        return self.axis.days

    @property
    def now_x(self) -> float | None:
        return self.axis.x(self.at) if self.axis.since <= self.at <= self.axis.until else None

    @property
    def now_anchor(self) -> str:
        x = self.now_x or 0.0
        return "end" if x > self.right - 24 else "start" if x < LEFT + 24 else "middle"

    # The air.

    @cached_property
    def hours(self) -> Floats:
        grid = np.linspace(self.axis.since, self.axis.until, POINTS)
        last = self.seal.climate.last_measured
        inside = [] if last is None or not grid[0] < last < grid[-1] else [last]
        return np.unique(np.append(grid, inside))

    @cached_property
    def air(self) -> Floats:
        return in_units(self.seal.climate.celsius_at(self.hours), "temperature", self.shop)

    @cached_property
    def floor(self) -> Floats:
        """The dew point and the sealer's margin over it; NaN where no humidity is known."""
        dew = self.seal.climate.dew_point_at(self.hours) + self.seal.sealer.dew_margin
        return in_units(dew, "temperature", self.shop)

    @cached_property
    def scale(self) -> Scale:
        known = self.floor[np.isfinite(self.floor)]
        values = np.concatenate([self.air, known, [value for value, _ in self._limits()]])
        low, high = float(values.min()) - 1.5, float(values.max()) + 1.5
        top = TOP + 22
        return scale_for(low, high, top, top + self.size.air, lines=4)

    @property
    def title(self) -> str:
        return f"Air in {self.seal.room}, {measures.sign('temperature', self.shop)}"

    @property
    def title_y(self) -> float:
        return self.scale.top - 7

    @cached_property
    def lines(self) -> list[Line]:
        return [*self._air_lines(), *self._dew_lines()]

    def _air_lines(self) -> Iterator[Line]:
        measured = [
            self.seal.climate.measured_share(float(a), float(b)) > 0.5
            for a, b in pairwise(self.hours)
        ]
        start = 0
        for place in range(1, len(measured) + 1):
            if place == len(measured) or measured[place] != measured[start]:
                kind = "measured" if measured[start] else "expected"
                yield Line(kind, self._points(self.air, start, place + 1))
                start = place

    def _dew_lines(self) -> Iterator[Line]:
        known = np.append(np.isfinite(self.floor), False)
        start = None
        for place, there in enumerate(known):
            if there and start is None:
                start = place
            elif not there and start is not None:
                if place - start > 1:
                    yield Line("dew", self._points(self.floor, start, place))
                start = None

    def _points(self, values: Floats, start: int, end: int) -> str:
        return " ".join(
            f"{self.axis.x(float(self.hours[n]))},{self.scale.y(float(values[n]))}"
            for n in range(start, end)
        )

    def _limits(self) -> Iterator[tuple[float, str]]:
        sealer = self.seal.sealer
        celsius = self.seal.climate.celsius_at(self.hours)
        for limit, bound, near in (
            (sealer.celsius_least, "at least", celsius.min() < sealer.celsius_least + NEAR_LIMIT),
            (
                sealer.celsius_greatest,
                "at most",
                celsius.max() > sealer.celsius_greatest - NEAR_LIMIT,
            ),
        ):
            if near:
                shown = measures.shown(limit, "temperature", self.shop)
                yield shown, f"{bound} {measures.words(limit, 'temperature', self.shop)}"

    @property
    def limits(self) -> list[Limit]:
        return [Limit(self.scale.y(value), words) for value, words in self._limits()]

    # When a coat may go on, and the coats.

    @property
    def bars_title(self) -> float:
        return self.scale.floor + 20

    @property
    def bars_y(self) -> float:
        return self.bars_title + 6

    @cached_property
    def fitting(self) -> list[Span]:
        return self._spans(self.seal.fits)

    @cached_property
    def workable(self) -> list[Span]:
        return self._spans(self.seal.workable)

    def _spans(self, stretches: Floats) -> list[Span]:
        return [
            self._between(float(start), float(end))
            for start, end in stretches
            if end > self.axis.since and start < self.axis.until
        ]

    def _between(self, start: float, end: float) -> Span:
        x = self.axis.x(start)
        return Span(x, round(self.axis.x(end) - x, 1))

    @property
    def marks_top(self) -> float:
        return self.bars_y + 22

    @cached_property
    def marks(self) -> list[CoatMark]:
        return [self._mark(number, coat) for number, coat in enumerate(self.seal.coats)]

    def _mark(self, number: int, coat: Coat) -> CoatMark:
        top = self.marks_top + self.size.row * number
        early = window = None
        if coat.window:
            opens = to_hours(coat.window.opens)
            closes = to_hours(coat.window.closes) if coat.window.closes else self.axis.until
            least = self.seal.sealer.recoat_least_hours
            early, window = self._between(opens - least, opens), self._between(opens, closes)
        x = self.axis.at(coat.at) if coat.at else None
        words = self._words(coat)
        start = early.x if early and early.x > LEFT else x if x is not None else LEFT
        return CoatMark(
            words=words,
            words_x=round(max(2.0, min(start, self.width - len(words) * LETTER - 2)), 1),
            words_y=top + 12,
            y=top + 24,
            x=x,
            done=coat.done,
            early=early,
            window=window,
        )

    def _words(self, coat: Coat) -> str:
        parts = [f"{coat.step.name} {when(coat.at)}"]
        if self.size is NARROW:  # the rest stands in the table
            return parts[0]
        if coat.air and coat.air.above is not None:
            above = measures.words(coat.air.above, "temperature_step", self.shop)
            parts.append(f"{above} above dew point")
        if coat.state == "abrade first":
            parts.append("abrade first")
        return " · ".join(parts)


@dataclass(frozen=True)
class HourRow:
    """The drawing's curves at one moment, for those who can't see it."""

    at: dt.datetime
    celsius: float
    dew_point: float | None
    measured: bool
    fits: bool
    manned: bool  # somebody is on shift as well

    @property
    def above(self) -> float | None:
        return None if self.dew_point is None else self.celsius - self.dew_point


def hour_rows(figure: CoatFigure) -> list[HourRow]:
    """On whole hours, at even distances."""
    axis, climate = figure.axis, figure.seal.climate
    span = axis.until - axis.since
    every = next((hours for hours in EVERY if span / hours <= ROWS), EVERY[-1])
    times = np.arange(np.ceil(axis.since), axis.until, every)
    dew = climate.dew_point_at(times)
    return [
        HourRow(
            at=from_hours(float(hour)),
            celsius=float(climate.celsius_at(hour)),
            dew_point=float(point) if np.isfinite(point) else None,
            measured=float(climate.measured_share(hour - NEAR, hour)) > 0.5,
            fits=_inside(figure.seal.fits, float(hour)),
            manned=_inside(figure.seal.workable, float(hour)),
        )
        for hour, point in zip(times, dew, strict=True)
    ]


def _inside(stretches: Floats, hour: float) -> bool:
    return bool(((stretches[:, 0] <= hour) & (hour < stretches[:, 1])).any())
