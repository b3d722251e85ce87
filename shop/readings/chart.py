"""A room's temperature as a drawing: where each line, night and label goes. No markup here."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby

import numpy as np

from curing.climate import Climate
from shop import measures
from shop.localtime import settle, to_hours
from shop.models import Shop

DAY = dt.timedelta(days=1)
STEP = 0.5  # hours between the points drawn
LEFT, RIGHT, TOP, BOTTOM = 46, 8, 24, 26
NIGHT = (dt.time(20), dt.time(6))


@dataclass(frozen=True)
class Line:
    measured: bool
    points: str


@dataclass(frozen=True)
class Mark:
    at: float
    width: float = 0.0
    label: str = ""


@dataclass(frozen=True)
class Chart:
    climate: Climate
    shop: Shop
    now: dt.datetime
    days_back: int
    days_ahead: int
    width: int
    height: int = 200
    name: str = ""

    @property
    def first_day(self) -> dt.date:
        return self.now.astimezone(self.shop.zone).date() - self.days_back * DAY

    @property
    def days(self) -> list[dt.date]:
        return [self.first_day + n * DAY for n in range(self.days_back + self.days_ahead + 1)]

    @cached_property
    def since(self) -> float:
        return self._start_of(self.first_day)

    @cached_property
    def until(self) -> float:
        return self._start_of(self.days[-1] + DAY)

    def _start_of(self, day: dt.date, clock: dt.time = dt.time(0)) -> float:
        return to_hours(settle(dt.datetime.combine(day, clock), self.shop.zone))

    @cached_property
    def times(self) -> np.ndarray:
        marks = [to_hours(self.now)]
        if self.climate.last_measured is not None:
            marks.append(self.climate.last_measured)
        inside = [hour for hour in marks if self.since < hour < self.until]
        return np.unique(np.append(np.arange(self.since, self.until + STEP / 2, STEP), inside))

    @cached_property
    def values(self) -> np.ndarray:
        celsius = np.asarray(self.climate.celsius_at(self.times))
        low = measures.shown(0.0, "temperature", self.shop)
        slope = measures.shown(1.0, "temperature", self.shop) - low
        return np.asarray(celsius * slope + low)

    @cached_property
    def span(self) -> tuple[float, float, float]:
        """Lowest and highest number on the scale, and the step between its lines."""
        low, high = float(self.values.min()), float(self.values.max())
        step = next((s for s in (5.0, 10.0, 20.0) if (high - low) / s <= 5), 50.0)
        bottom, top = math.floor(low / step) * step, math.ceil(high / step) * step
        return bottom, max(top, bottom + 2 * step), step

    def x(self, hour: float) -> float:
        inner = self.width - LEFT - RIGHT
        return round(LEFT + (hour - self.since) / (self.until - self.since) * inner, 1)

    def y(self, value: float) -> float:
        bottom, top, _ = self.span
        inner = self.height - TOP - BOTTOM
        return round(TOP + (top - value) / (top - bottom) * inner, 1)

    @property
    def lines(self) -> Iterator[Line]:
        """Stretches that are measured or not, each joined to the next."""
        pairs = zip(self.times[:-1], self.times[1:], strict=True)
        share = [float(self.climate.measured_share(a, b)) > 0.5 for a, b in pairs]
        for measured, group in groupby(range(len(share)), key=lambda place: share[place]):
            places = list(group)
            yield Line(measured, self._points(places[0], places[-1] + 1))

    def _points(self, first: int, last: int) -> str:
        return " ".join(
            f"{self.x(hour)},{self.y(value)}"
            for hour, value in zip(
                self.times[first : last + 1], self.values[first : last + 1], strict=True
            )
        )

    @property
    def nights(self) -> Iterator[Mark]:
        evening, morning = NIGHT
        for day in [self.first_day - DAY, *self.days]:
            start = max(self._start_of(day, evening), self.since)
            end = min(self._start_of(day + DAY, morning), self.until)
            if end > start:
                yield Mark(self.x(start), round(self.x(end) - self.x(start), 1))

    @property
    def day_marks(self) -> list[Mark]:
        return [Mark(self.x(self._start_of(day)), label=f"{day:%a} {day.day}") for day in self.days]

    @property
    def scale(self) -> Iterator[Mark]:
        bottom, top, step = self.span
        unit = measures.sign("temperature", self.shop)
        for number in range(round((top - bottom) / step) + 1):
            value = bottom + number * step
            yield Mark(self.y(value), label=f"{value:.0f} {unit}".replace("-", "−"))

    @property
    def now_x(self) -> float:
        return self.x(to_hours(self.now))

    @property
    def right(self) -> int:
        return self.width - RIGHT

    @property
    def floor(self) -> int:
        return self.height - BOTTOM

    @property
    def inner_height(self) -> int:
        return self.floor - TOP

    @property
    def left(self) -> int:
        return LEFT

    @property
    def top(self) -> int:
        return TOP

    @property
    def table(self) -> list[DayAir]:
        return [self._day_air(day) for day in self.days]

    def _day_air(self, day: dt.date) -> DayAir:
        start, end = self._start_of(day), self._start_of(day + DAY)
        lowest, highest = self.climate.extremes(start, end)
        share = float(self.climate.measured_share(start, end))
        return DayAir(day, float(lowest), float(highest), round(share * 100))


@dataclass(frozen=True)
class DayAir:
    day: dt.date
    lowest: float
    highest: float
    measured_percent: int
