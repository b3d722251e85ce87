"""Tests and curves of a mix as a drawing: where each line and mark goes. No markup here."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from curing.calibration import Calibration
from curing.fitting import Form
from curing.strength import Curve
from shop import measures
from shop.models import Shop
from shop.services.calibration import MixCalibration
from shop.services.curves import strength_band

Array = NDArray[np.float64]

LEFT, RIGHT, TOP, BOTTOM = 58, 14, 26, 34
POINTS = 90
TICKS = ((6, "6 h"), (12, "12 h"), (24, "1 d"), (48, "2 d"), (96, "4 d"), (168, "7 d"),
         (336, "14 d"), (672, "28 d"), (2160, "90 d"), (8760, "1 y"))  # fmt: skip
LEAST_HOURS, GREATEST_HOURS = 6.0, 672.0
CLOSE = 28.0  # labels nearer than this are left out


@dataclass(frozen=True)
class Tick:
    at: float
    label: str


@dataclass(frozen=True)
class Line:
    name: str
    points: str


@dataclass(frozen=True)
class Mark:
    x: float
    y: float
    kind: str
    counts: bool
    far_off: bool
    words: str


@dataclass(frozen=True)
class Chart:
    seen: MixCalibration
    shop: Shop
    width: int
    height: int
    name: str

    @property
    def result(self) -> Calibration:
        return self.seen.result

    @cached_property
    def span(self) -> tuple[float, float]:
        ages = [point.age for point in self.result.points] or [24.0]
        return min(LEAST_HOURS, 0.8 * min(ages)), max(GREATEST_HOURS, 1.1 * max(ages))

    @cached_property
    def ages(self) -> Array:
        return np.geomspace(*self.span, POINTS)

    @cached_property
    def curves(self) -> list[tuple[str, Curve]]:
        """The curve in use last, on top of the others."""
        fitted: list[tuple[str, Curve]] = [(str(one.form), one.curve) for one in self.seen.fits]
        return [*fitted, ("in-use", self.seen.curve)]

    @cached_property
    def band_of(self) -> tuple[Array, Array]:
        if self.result.fits:
            return self.result.fits.better.band(self.ages)
        return strength_band(self.seen.mix, self.ages)

    @cached_property
    def top(self) -> tuple[float, float]:
        """The scale's end and the step between its lines, in the shop's unit."""
        highest = max(float(curve.at(self.ages[-1])) for _, curve in self.curves)
        most = max([highest, 1.0, *(point.test.mpa for point in self.result.points)])
        # A band that runs wild where no test lies must not press the tests flat.
        most = max(most, min(float(self.band_of[1].max()), 1.4 * most))
        shown = measures.shown(most, "strength", self.shop) * 1.03
        step = _nice(shown / 5.0)
        return math.ceil(shown / step) * step, step

    def x(self, hours: float) -> float:
        low, high = (math.log(end) for end in self.span)
        share = (math.log(hours) - low) / (high - low)
        return round(LEFT + share * (self.width - LEFT - RIGHT), 1)

    def y(self, mpa: float) -> float:
        share = min(measures.shown(mpa, "strength", self.shop) / self.top[0], 1.0)
        return round(self.floor - share * (self.floor - TOP), 1)

    @property
    def floor(self) -> int:
        return self.height - BOTTOM

    @property
    def left(self) -> int:
        return LEFT

    @property
    def right(self) -> int:
        return self.width - RIGHT

    @property
    def ceiling(self) -> int:
        return TOP

    def _points(self, strengths: Array, *, backwards: bool = False) -> str:
        pairs = list(zip(self.ages, strengths, strict=True))
        return " ".join(
            f"{self.x(float(hours))},{self.y(float(mpa))}"
            for hours, mpa in (reversed(pairs) if backwards else pairs)
        )

    @property
    def lines(self) -> list[Line]:
        return [Line(name, self._points(curve.at(self.ages))) for name, curve in self.curves]

    @property
    def band(self) -> str:
        low, high = self.band_of
        return f"{self._points(high)} {self._points(low, backwards=True)}"

    @property
    def marks(self) -> Iterator[Mark]:
        for point in self.result.points:
            words = measures.words(point.test.mpa, "strength", self.shop)
            yield Mark(
                self.x(point.age),
                self.y(point.test.mpa),
                str(point.test.kind),
                point.compressive is not None,
                point.far_off,
                f"{point.age:.1f} h: {words}",
            )

    @property
    def age_ticks(self) -> Iterator[Tick]:
        last = -CLOSE
        for hours, label in TICKS:
            if self.span[0] <= hours <= self.span[1] and self.x(hours) - last >= CLOSE:
                last = self.x(hours)
                yield Tick(last, label)

    @property
    def strength_ticks(self) -> Iterator[Tick]:
        end, step = self.top
        for number in range(round(end / step) + 1):
            share = number * step / end
            yield Tick(round(self.floor - share * (self.floor - TOP), 1), f"{number * step:,.0f}")

    @property
    def unit(self) -> str:
        return measures.sign("strength", self.shop)


def _nice(step: float) -> float:
    """1, 2, 2.5 or 5 times a power of ten, at least `step`."""
    power = 10.0 ** math.floor(math.log10(step))
    return next(size * power for size in (1.0, 2.0, 2.5, 5.0, 10.0) if size * power >= step)


@dataclass(frozen=True)
class TableRow:
    hours: float
    in_use: float
    hyperbolic: float | None
    exponential: float | None
    low: float
    high: float


TABLE_HOURS = (8.0, 12.0, 16.0, 24.0, 48.0, 72.0, 168.0, 672.0)


def table_of(seen: MixCalibration) -> list[TableRow]:
    """What the drawing shows, for those who can't see it."""
    ages = np.array(TABLE_HOURS)
    both = seen.result.fits
    low, high = both.better.band(ages) if both else strength_band(seen.mix, ages)
    by = {one.form: one.curve.at(ages) for one in seen.fits}
    return [
        TableRow(
            float(hours),
            float(seen.curve.at(hours)),
            float(by[Form.HYPERBOLIC][place]) if by else None,
            float(by[Form.EXPONENTIAL][place]) if by else None,
            float(low[place]),
            float(high[place]),
        )
        for place, hours in enumerate(ages)
    ]
