"""The time axis of a piece's figure and the scales beside it, in the drawing's own units."""

from __future__ import annotations

import datetime as dt
import math
import zoneinfo
from collections.abc import Iterator
from dataclasses import dataclass

from shop.localtime import from_hours, settle, to_hours

DAY = dt.timedelta(days=1)
NIGHT = (dt.time(20), dt.time(6))
LEFT, RIGHT = 50.0, 8.0
# A day's name needs this much room; where there is less, days are named by twos or by weeks.
DAY_NAME = 46.0


@dataclass(frozen=True)
class Span:
    x: float
    width: float


@dataclass(frozen=True)
class Tick:
    at: float
    label: str


@dataclass(frozen=True)
class Axis:
    since: float  # h
    until: float
    width: float
    zone: zoneinfo.ZoneInfo

    @property
    def right(self) -> float:
        return self.width - RIGHT

    @property
    def inner(self) -> float:
        return self.right - LEFT

    def x(self, hour: float) -> float:
        share = (hour - self.since) / (self.until - self.since)
        return round(LEFT + min(1.0, max(0.0, share)) * self.inner, 1)

    def at(self, moment: dt.datetime) -> float:
        return self.x(to_hours(moment))

    def holds(self, moment: dt.datetime | None) -> bool:
        return moment is not None and self.since <= to_hours(moment) <= self.until

    def _clock(self, day: dt.date, time: dt.time) -> float:
        return to_hours(settle(dt.datetime.combine(day, time), self.zone))

    def _days(self) -> Iterator[dt.date]:
        """From the evening before the axis starts."""
        day = from_hours(self.since).astimezone(self.zone).date() - DAY
        while self._clock(day, dt.time()) < self.until:
            yield day
            day += DAY

    @property
    def nights(self) -> list[Span]:
        evening, morning = NIGHT
        spans = (
            (self._clock(day, evening), self._clock(day + DAY, morning)) for day in self._days()
        )
        return [
            Span(self.x(start), round(self.x(end) - self.x(start), 1))
            for start, end in spans
            if end > self.since and start < self.until
        ]

    @property
    def days(self) -> list[Tick]:
        """Midnights; only as many are named as there is room for."""
        found = [
            (midnight, day)
            for day in self._days()
            if (midnight := self._clock(day, dt.time())) >= self.since
        ]
        fits = max(1.0, self.inner / DAY_NAME)
        every = next((n for n in (1, 2, 3, 7) if len(found) / n <= fits), 14)
        return [
            Tick(self.x(hour), f"{day:%a} {day.day}" if self._named(n, hour, every) else "")
            for n, (hour, day) in enumerate(found)
        ]

    def _named(self, number: int, hour: float, every: int) -> bool:
        return number % every == 0 and self.x(hour) + DAY_NAME - 8 <= self.width


@dataclass(frozen=True)
class Scale:
    """Numbers from `low` to `high` between two heights; y runs down."""

    low: float
    high: float
    step: float
    top: float
    floor: float

    def y(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return round(self.floor - min(1.0, max(0.0, share)) * (self.floor - self.top), 1)

    @property
    def ticks(self) -> list[Tick]:
        count = round((self.high - self.low) / self.step)
        values = (self.low + n * self.step for n in range(count + 1))
        decimals = 0 if self.step >= 1.0 else math.ceil(-math.log10(self.step) - 1e-9)
        return [Tick(self.y(value), f"{value:,.{decimals}f}".replace("-", "−")) for value in values]


def scale_for(
    low: float, high: float, top: float, floor: float, *, lines: int, finest: float = 1.0
) -> Scale:
    """Round numbers around these, with at most so many steps between them, none under `finest`."""
    span = max(high - low, 1e-6)
    size = 10.0 ** math.floor(math.log10(span / lines))
    step = next(n * size for n in (1, 2, 5, 10, 20) if span / (n * size) <= lines)
    step = max(step, finest)
    bottom = math.floor(low / step + 1e-9) * step
    height = math.ceil((high - bottom) / step - 1e-9) * step
    return Scale(bottom, bottom + max(height, step), step, top, floor)
