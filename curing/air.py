"""Air over time, and the sums over it.

Times are hours on one axis (any origin), temperatures °C, humidity a fraction 0..1 with NaN for
what is not known. Sums are kept as running totals, so the age between any two times is one
subtraction and the time of a given age one search, whatever the length of the history.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from curing.clock import Clock
from curing.maturity import (
    age_factor,
    checked,
    equivalent_age_steps,
    mean_above,
    temperature_time_steps,
)
from curing.sealing import FILM_DOUBLING, CoatLimits, dew_point, film_rate

Array = NDArray[np.float64]
Kept = TypeVar("Kept")

# Common practice, no source: allow twice the drying time below 60 °F or above 70 % RH.
DRYING_COLD = 15.6  # °C
DRYING_HUMID = 0.70
DRYING_SLOW = 0.5
# After the last knot the mean rate of this many hours goes on.
TAIL = 168.0
# Between knots an age rate is taken to run exponentially: true to 0.03 % over so many kelvin.
STRAIGHT = 2.0


@dataclass(frozen=True, eq=False)
class Readings:
    """Samples of air: hours (n,) not decreasing, celsius (n,), humidity (n,) 0..1 or NaN."""

    hours: Array
    celsius: Array
    humidity: Array

    @classmethod
    def of(
        cls, hours: ArrayLike, celsius: ArrayLike, humidity: ArrayLike | None = None
    ) -> Readings:
        """Checked samples. ValueError as `curing.maturity.checked`, or humidity outside 0..1."""
        if np.size(hours) == 0:
            none = np.zeros(0)
            return cls(none, none, none)
        times, temperatures = checked(hours, celsius)
        moist = (
            np.full(len(times), np.nan)
            if humidity is None
            else np.broadcast_to(np.asarray(humidity, dtype=float), times.shape).copy()
        )
        known = moist[np.isfinite(moist)]
        if ((known < 0) | (known > 1)).any():
            raise ValueError("humidity is a fraction from 0 to 1")
        return cls(times, temperatures, moist)


@dataclass(frozen=True, eq=False)
class Climate:
    """Air over time at knots, linear in between.

    hours, celsius, humidity : (n,), n at least 2
    measured : (n-1,) whether each interval rests on readings at both ends
    gaps : holes in the readings that the expected curve bridges, as (start, end)
    offset : how far the last day of readings sat from the plan [K]
    stale : the last reading is older than allowed at `now`
    """

    hours: Array
    celsius: Array
    humidity: Array
    measured: NDArray[np.bool_]
    now: float
    last_measured: float | None = None
    gaps: tuple[tuple[float, float], ...] = ()
    offset: float = 0.0
    stale: bool = False
    _clocks: dict[Any, Any] = field(default_factory=dict, repr=False)

    def remembered(self, key: Any, make: Callable[[], Kept]) -> Kept:
        """What `make` gives for this key, made once: a climate never changes."""
        if key not in self._clocks:
            self._clocks[key] = make()
        kept: Kept = self._clocks[key]
        return kept

    # What the air was or is expected to be.

    def celsius_at(self, times: ArrayLike) -> Array:
        """Temperature [°C]; the first value before the knots, the last week's mean after them."""
        return self._at(times, self.celsius)

    def humidity_at(self, times: ArrayLike) -> Array:
        """As `celsius_at`, 0..1; NaN where no humidity is known at either side."""
        return self._at(times, self.humidity)

    def dew_point_at(self, times: ArrayLike) -> Array:
        """Dew point [°C]; NaN where no humidity is known."""
        celsius, humidity = np.clip(self.celsius_at(times), -45.0, 60.0), self.humidity_at(times)
        known = np.isfinite(humidity)
        dew = dew_point(celsius, np.where(known, np.clip(humidity, 1e-3, 1.0), 0.5))
        return np.asarray(np.where(known, dew, np.nan))

    def extremes(self, start: float, end: float) -> tuple[float, float]:
        """Lowest and highest temperature from `start` to `end` [°C]."""
        low, high = np.searchsorted(self.hours, start), np.searchsorted(self.hours, end, "right")
        values = np.concatenate([self.celsius_at([start, end]), self.celsius[low:high]])
        return float(values.min()), float(values.max())

    def measured_share(self, start: float, end: float) -> float:
        """Share of the hours from `start` to `end` that are measured [0..1]."""
        if end <= start:
            return 0.0
        clock = self.remembered("measured", self._measured_clock)
        return float(clock.between(start, end)) / (end - start)

    def _measured_clock(self) -> Clock:
        gained = np.diff(self.hours) * self.measured
        return Clock.from_steps(self.hours, gained, np.zeros(len(gained)), 0.0, 0.0)

    def _at(self, times: ArrayLike, values: Array) -> Array:
        after = self.remembered(("mean", id(values)), lambda: self._mean_of_last_week(values))
        wanted = np.asarray(times, dtype=float)
        return np.asarray(np.interp(wanted, self.hours, values, right=after))

    def _mean_of_last_week(self, values: Array) -> float:
        return self._tail(0.5 * (values[:-1] + values[1:]) * np.diff(self.hours))

    # Sums and their inverses.

    def temperature_time(self, start: ArrayLike, end: ArrayLike, datum: float = 0.0) -> Array:
        """Temperature-time factor between times [°C h] (ASTM C1074, equation 1)."""
        total = self.remembered(("temperature", datum), lambda: self._factor_total(datum))
        return np.asarray(self._factor(end, datum, total) - self._factor(start, datum, total))

    def equivalent_age(
        self,
        start: ArrayLike,
        end: ArrayLike,
        activation_energy: float = 41500.0,
        reference: float = 20.0,
    ) -> Array:
        """Equivalent age gained between times [h] (ASTM C1074, equation 2)."""
        return self._age_clock(activation_energy, reference).between(start, end)

    def time_of_age(
        self,
        start: float,
        age: float,
        activation_energy: float = 41500.0,
        reference: float = 20.0,
    ) -> float:
        """The time at which concrete cast at `start` reaches an equivalent age [h]."""
        return self._age_clock(activation_energy, reference).time_of(start, age)

    def drying_hours(self, start: ArrayLike, end: ArrayLike) -> Array:
        """Drying hours between times: half as many while it is cold or humid."""
        return self.remembered("drying", self._drying_clock).between(start, end)

    def time_of_drying(self, start: float, hours: float) -> float:
        return self.remembered("drying", self._drying_clock).time_of(start, hours)

    def film_hours(self, start: ArrayLike, end: ArrayLike) -> Array:
        """Hours of sealer cure at 23 °C gained between times."""
        return self.remembered("film", self._film_clock).between(start, end)

    def time_of_film(self, start: float, hours: float) -> float:
        return self.remembered("film", self._film_clock).time_of(start, hours)

    def _tail(self, gained: Array) -> float:
        """Mean rate over the last week of the knots."""
        first = int(np.searchsorted(self.hours, self.hours[-1] - TAIL, side="right"))
        first = min(max(first - 1, 0), len(gained) - 1)
        span = self.hours[-1] - self.hours[first]
        return float(gained[first:].sum() / span) if span > 0 else 0.0

    def _age_clock(self, activation_energy: float, reference: float) -> Clock:
        return self.remembered(
            ("age", activation_energy, reference),
            lambda: self._age_clock_of(activation_energy, reference),
        )

    def _age_clock_of(self, activation_energy: float, reference: float) -> Clock:
        before = float(age_factor(self.celsius[0], activation_energy, reference))
        hours, celsius = _cut(self.hours, self.celsius)
        gained, rates = equivalent_age_steps(hours, celsius, activation_energy, reference)
        # Read at the knots of the climate, so that its last week is the same whatever was cut.
        total = np.concatenate([[0.0], np.cumsum(gained)])
        at_knots = total if len(hours) == len(self.hours) else np.interp(self.hours, hours, total)
        return Clock(hours, total, np.diff(np.log(rates)), before, self._tail(np.diff(at_knots)))

    def _film_clock(self) -> Clock:
        """Exact: the rate is exponential in a temperature that runs straight."""
        rates = film_rate(self.celsius)
        bend = np.diff(self.celsius) * (np.log(2.0) / FILM_DOUBLING)
        steady = np.abs(bend) < 1e-9
        means = np.where(steady, rates[:-1], np.diff(rates) / np.where(steady, 1.0, bend))
        gained = means * np.diff(self.hours)
        return Clock.from_steps(self.hours, gained, bend, float(rates[0]), self._tail(gained))

    def _drying_clock(self) -> Clock:
        """Cut where the air turns cold or humid, so that each interval has one rate."""
        hours, celsius, humidity = _cut_at(
            self.hours, (self.celsius, DRYING_COLD), (self.humidity, DRYING_HUMID)
        )
        middle = 0.5 * (celsius[:-1] + celsius[1:])
        moist = 0.5 * (humidity[:-1] + humidity[1:])
        slow = (middle < DRYING_COLD) | (moist > DRYING_HUMID)
        rates = np.where(slow, DRYING_SLOW, 1.0)
        gained = rates * np.diff(hours)
        clock = Clock.from_steps(hours, gained, np.zeros(len(gained)), float(rates[0]), 1.0)
        week = max(hours[-1] - TAIL, hours[0])
        mean = float(clock.between(week, hours[-1])) / max(hours[-1] - week, 1e-9)
        return replace(clock, after=mean or 1.0)

    def _factor_total(self, datum: float) -> Array:
        gained = temperature_time_steps(self.hours, self.celsius, datum)
        return np.concatenate([[0.0], np.cumsum(gained)])

    def _factor(self, times: ArrayLike, datum: float, total: Array) -> Array:
        """Factor from the first knot to each time, the last interval integrated exactly."""
        wanted = np.asarray(times, dtype=float)
        index = np.searchsorted(self.hours, wanted, side="right") - 1
        index = np.clip(index, 0, len(self.hours) - 2)
        left = self.celsius[index]
        length = self.hours[index + 1] - self.hours[index]
        into = np.clip(wanted - self.hours[index], 0.0, length)
        share = np.divide(into, length, out=np.zeros_like(into), where=length > 0)
        right = left + share * (self.celsius[index + 1] - left)
        inside = total[index] + mean_above(left - datum, right - datum) * into
        early = np.minimum(wanted - self.hours[0], 0.0) * max(0.0, self.celsius[0] - datum)
        late = np.maximum(wanted - self.hours[-1], 0.0) * self._tail(np.diff(total))
        return np.asarray(inside + early + late)

    # Air that lets a coat go on.

    def coatable_windows(self, limits: CoatLimits) -> Array:
        """(m, 2) stretches of time in which the air fits, to the nearest five minutes.

        The surface is taken at the air's temperature: nothing else is measured.
        """
        return self.remembered(("coat", limits), lambda: _true_stretches(*self._fits(limits)))

    def _fits(self, limits: CoatLimits) -> tuple[Array, NDArray[np.bool_]]:
        span = self.hours[-1] - self.hours[0]
        times = self.hours[0] + np.arange(0.0, span, 1.0 / 12.0)
        return times, limits.fits(self.celsius_at(times), self.humidity_at(times))


def _true_stretches(times: Array, true: NDArray[np.bool_]) -> Array:
    if not true.any():
        return np.zeros((0, 2))
    edges = np.diff(np.concatenate([[False], true, [False]]).astype(int))
    starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    closing = np.append(times, times[-1] + (times[-1] - times[-2] if len(times) > 1 else 0.0))
    return np.column_stack([times[starts], closing[ends]])


def _cut(hours: Array, celsius: Array) -> tuple[Array, Array]:
    """Knots added so that no interval changes by more than `STRAIGHT`."""
    change = np.abs(np.diff(celsius))
    far = np.flatnonzero((change > STRAIGHT) & (np.diff(hours) > 0))
    if not far.size:
        return hours, celsius
    pieces = np.ceil(change[far] / STRAIGHT).astype(int)
    at = np.repeat(far, pieces - 1)
    number = np.concatenate([np.arange(1, count) for count in pieces])
    share = number / np.repeat(pieces, pieces - 1)
    return _inserted(hours, at, share), _inserted(celsius, at, share)


def _cut_at(hours: Array, *columns: tuple[Array, float]) -> list[Array]:
    """Hours and columns with a knot wherever a column crosses its level."""
    found, shares = [], []
    for values, level in columns:
        crossing = np.flatnonzero((values[:-1] < level) != (values[1:] < level))
        known = np.isfinite(values[crossing]) & np.isfinite(values[crossing + 1])
        crossing = crossing[known & (hours[crossing + 1] > hours[crossing])]
        left, right = values[crossing], values[crossing + 1]
        found.append(crossing)
        shares.append((level - left) / (right - left))
    at, share = np.concatenate(found), np.concatenate(shares)
    order = np.lexsort((share, at))
    at, share = at[order], share[order]
    return [_inserted(values, at, share) for values in (hours, *(column for column, _ in columns))]


def _inserted(values: Array, at: NDArray[np.intp], share: Array) -> Array:
    """Values on the straight lines from knot `at` to the next put between them."""
    between = values[at] + share * (values[at + 1] - values[at])
    return np.insert(values, at + 1, between)
