"""Air over time, and the sums over it.

Times are hours on one axis (any origin), temperatures °C, humidity a fraction 0..1 with NaN for
what is not known. Sums are kept as running totals, so the age between any two times is one
subtraction and the time of a given age one search, whatever the length of the history.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any, Protocol, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from curing.clock import Clock
from curing.gains import Gains, cut, cut_at, joined
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
SETTLED = "settled"  # marks what is kept of a law's gains


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

    def first(self, count: int) -> Readings:
        return Readings(self.hours[:count], self.celsius[:count], self.humidity[:count])

    def last(self, count: int) -> Readings:
        start = len(self.hours) - count
        return Readings(self.hours[start:], self.celsius[start:], self.humidity[start:])

    def since(self, lookback: float) -> Readings:
        """Those of the last hours before the last one."""
        if not len(self.hours):
            return self
        recent = self.hours >= self.hours[-1] - lookback
        return Readings(self.hours[recent], self.celsius[recent], self.humidity[recent])

    def followed_by(self, later: Readings) -> Readings:
        return Readings(
            np.concatenate([self.hours, later.hours]),
            np.concatenate([self.celsius, later.celsius]),
            np.concatenate([self.humidity, later.humidity]),
        )


class Composed(Protocol):
    """How a climate was composed, kept so that readings can be added to it."""

    def extended(self, climate: Climate, readings: Readings, now: float) -> Climate: ...


@dataclass(frozen=True, eq=False)
class Climate:
    """Air over time at knots, linear in between.

    hours, celsius, humidity : (n,), n at least 2
    measured : (n-1,) whether each interval rests on readings at both ends
    gaps : holes in the readings that the expected curve bridges, as (start, end)
    offset : how far the last day of readings sat from the plan [K]
    stale : the last reading is older than allowed at `now`
    settled : how many knots, to the last reading, stay as they are when readings are added
    composed : by what readings can be added
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
    settled: int = 0
    composed: Composed | None = field(default=None, repr=False)
    _clocks: dict[Any, Any] = field(default_factory=dict, repr=False)

    def remembered(self, key: Any, make: Callable[[], Kept]) -> Kept:
        """What `make` gives for this key, made once: a climate never changes."""
        if key not in self._clocks:
            self._clocks[key] = make()
        kept: Kept = self._clocks[key]
        return kept

    def extended(
        self,
        hours: ArrayLike,
        celsius: ArrayLike,
        humidity: ArrayLike | None = None,
        *,
        now: float | None = None,
    ) -> Climate:
        """This climate with readings added, as if it had been composed with them.

        What was summed up to the last reading is kept: only what comes after it is summed anew.

        Parameters
        ----------
        hours, celsius, humidity : one reading or (n,), not before the last one there is
        now : [h]; readings after it are left out. By default the last added reading, or the
            climate's own `now` where that is later

        Raises
        ------
        ValueError
            As `Readings.of`; a reading before the last one, which changes what is summed already;
            or a climate that was not composed.
        """
        added = Readings.of(hours, celsius, humidity)
        if self.composed is None:
            raise ValueError("readings can be added only to a climate made by compose")
        first = self.hours[self.settled - 1] if self.settled else -np.inf
        if len(added.hours) and added.hours[0] < first:
            raise ValueError(
                f"a reading at hour {added.hours[0]:g} lies before the last one at {first:g}: "
                "compose the climate anew from all readings"
            )
        if now is None:
            now = max(self.now, float(added.hours[-1])) if len(added.hours) else self.now
        return self.composed.extended(self, added, now)

    def settled_gains(self) -> dict[Any, Gains]:
        """What was summed over knots that stay, for the climate that goes on from them."""
        return {
            key: kept
            for key, kept in self._clocks.items()
            if isinstance(key, tuple) and key[0] == SETTLED
        }

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
        return float(self._measured_clock().between(start, end)) / (end - start)

    def _at(self, times: ArrayLike, values: Array) -> Array:
        after = self.remembered(("mean", id(values)), lambda: self._mean_of_last_week(values))
        wanted = np.asarray(times, dtype=float)
        return np.asarray(np.interp(wanted, self.hours, values, right=after))

    def _mean_of_last_week(self, values: Array) -> float:
        first = self._week_before_the_end()
        hours, week = self.hours[first:], values[first:]
        span = float(hours[-1] - hours[0])
        return float((0.5 * (week[:-1] + week[1:]) * np.diff(hours)).sum() / span) if span else 0.0

    def _week_before_the_end(self) -> int:
        """The last knot that lies so long before the end."""
        first = int(np.searchsorted(self.hours, self.hours[-1] - TAIL, side="right"))
        return min(max(first - 1, 0), len(self.hours) - 2)

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
        return self.age_clock(activation_energy, reference).between(start, end)

    def time_of_age(
        self,
        start: float,
        age: float,
        activation_energy: float = 41500.0,
        reference: float = 20.0,
    ) -> float:
        """The time at which concrete cast at `start` reaches an equivalent age [h]."""
        return self.age_clock(activation_energy, reference).time_of(start, age)

    def times_of_age(
        self,
        start: ArrayLike,
        age: ArrayLike,
        activation_energy: float = 41500.0,
        reference: float = 20.0,
    ) -> Array:
        """`time_of_age` for arrays that broadcast against each other."""
        return self.age_clock(activation_energy, reference).times_of(start, age)

    def drying_hours(self, start: ArrayLike, end: ArrayLike) -> Array:
        """Drying hours between times: half as many while it is cold or humid."""
        return self.drying_clock().between(start, end)

    def time_of_drying(self, start: float, hours: float) -> float:
        return self.drying_clock().time_of(start, hours)

    def film_hours(self, start: ArrayLike, end: ArrayLike) -> Array:
        """Hours of sealer cure at 23 °C gained between times."""
        return self.film_clock().between(start, end)

    def time_of_film(self, start: float, hours: float) -> float:
        return self.film_clock().time_of(start, hours)

    # One law each. A law looks only at an interval's own two ends, so that what it gains over
    # some knots is the same whatever comes after them.

    def _gains(self, key: Any, law: Callable[[slice], Gains]) -> Gains:
        """A law's gains over all knots, those over settled knots kept and taken up again."""
        kept = self._clocks.get((SETTLED, key))
        parts = [kept] if kept else [law(slice(0, max(self.settled, 1)))]
        if kept and kept.knots < self.settled:
            parts.append(law(slice(kept.knots - 1, self.settled)))
        settled = sum(len(part.bend) for part in parts)
        parts.append(law(slice(max(self.settled, 1) - 1, len(self.hours))))
        whole = joined(parts, self.hours)
        self._clocks[SETTLED, key] = whole.first(settled, max(self.settled, 1))
        return whole

    def _clock(self, key: Any, law: Callable[[slice], Gains], before: float) -> Clock:
        """A law's running sum, which stands still after the knots."""
        gains = self._gains(key, law)
        return Clock(gains.hours, gains.total, gains.bend, before, 0.0)

    def _going_on(self, clock: Clock, since: float) -> Clock:
        """The clock, after its knots at its mean rate since then."""
        span = float(self.hours[-1]) - since
        return replace(clock, after=clock.gain(since, float(self.hours[-1])) / span if span else 0)

    def age_clock(self, activation_energy: float, reference: float) -> Clock:
        """Counts equivalent age [h]."""
        key = ("age", activation_energy, reference)

        def law(part: slice) -> Gains:
            hours, celsius = cut(self.hours[part], self.celsius[part])
            steps = equivalent_age_steps(hours, celsius, activation_energy, reference)
            return Gains.of(hours, *steps, len(self.hours[part]))

        def make() -> Clock:
            before = float(age_factor(self.celsius[0], activation_energy, reference))
            clock = self._clock(key, law, before)
            return self._going_on(clock, float(self.hours[self._week_before_the_end()]))

        return self.remembered(key, make)

    def film_clock(self) -> Clock:
        """Counts hours of sealer cure at 23 °C."""

        def make() -> Clock:
            clock = self._clock("film", self._film, float(film_rate(self.celsius[0])))
            return self._going_on(clock, float(self.hours[self._week_before_the_end()]))

        return self.remembered("film", make)

    def _film(self, part: slice) -> Gains:
        """Exact: the rate is exponential in a temperature that runs straight."""
        hours, celsius = self.hours[part], self.celsius[part]
        rates = film_rate(celsius)
        bend = np.diff(celsius) * (np.log(2.0) / FILM_DOUBLING)
        steady = np.abs(bend) < 1e-9
        means = np.where(steady, rates[:-1], np.diff(rates) / np.where(steady, 1.0, bend))
        return Gains.of(hours, means * np.diff(hours), bend, len(hours))

    def drying_clock(self) -> Clock:
        """Counts drying hours, half of them while it is cold or humid."""

        def make() -> Clock:
            _, rates = self._drying_rates(slice(0, 2))
            clock = self._clock("drying", self._drying, float(rates[0]))
            week = max(float(self.hours[-1]) - TAIL, float(self.hours[0]))
            clock = self._going_on(clock, week)
            return clock if clock.after else replace(clock, after=1.0)

        return self.remembered("drying", make)

    def _drying(self, part: slice) -> Gains:
        hours, rates = self._drying_rates(part)
        return Gains.of(hours, rates * np.diff(hours), None, len(self.hours[part]))

    def _drying_rates(self, part: slice) -> tuple[Array, Array]:
        """Cut where the air turns cold or humid, so that each interval has one rate."""
        hours, celsius, humidity = cut_at(
            self.hours[part],
            (self.celsius[part], DRYING_COLD),
            (self.humidity[part], DRYING_HUMID),
        )
        middle = 0.5 * (celsius[:-1] + celsius[1:])
        moist = 0.5 * (humidity[:-1] + humidity[1:])
        slow = (middle < DRYING_COLD) | (moist > DRYING_HUMID)
        return hours, np.where(slow, DRYING_SLOW, 1.0)

    def _measured_clock(self) -> Clock:
        return self.remembered("measured", lambda: self._clock("measured", self._measured, 0.0))

    def _measured(self, part: slice) -> Gains:
        hours = self.hours[part]
        gained = np.diff(hours) * self.measured[part][: len(hours) - 1]
        return Gains.of(hours, gained, None, len(hours))

    def _factor_total(self, datum: float) -> Array:
        def law(part: slice) -> Gains:
            hours = self.hours[part]
            gained = temperature_time_steps(hours, self.celsius[part], datum)
            return Gains.of(hours, gained, None, len(hours))

        return self._gains(("temperature", datum), law).total

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
        first = self._week_before_the_end()
        span = float(self.hours[-1] - self.hours[first])
        mean = float(total[-1] - total[first]) / span if span else 0.0
        late = np.maximum(wanted - self.hours[-1], 0.0) * mean
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
