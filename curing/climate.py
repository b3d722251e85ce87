"""A room's air: measured up to the last reading, expected after it, and the sums over both.

Times are hours on one axis (any origin), temperatures °C, humidity a fraction 0..1 with NaN for
what is not known. Sums are kept as running totals, so the age between any two times is one
subtraction and the time of a given age one search, whatever the length of the history.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from curing.clock import Clock
from curing.maturity import (
    age_factor,
    checked,
    equivalent_age_steps,
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
JOIN = 2.0  # h in which the last reading's own jump from the expected curve closes


def _as_floats(values: ArrayLike) -> Array:
    return np.asarray(values, dtype=float)


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
        return np.asarray(np.interp(_as_floats(times), self.hours, self.celsius))

    def humidity_at(self, times: ArrayLike) -> Array:
        """NaN where no humidity is known at either side."""
        return np.asarray(np.interp(_as_floats(times), self.hours, self.humidity))

    def dew_point_at(self, times: ArrayLike) -> Array:
        """Dew point [°C]; NaN where no humidity is known."""
        celsius, humidity = self.celsius_at(times), self.humidity_at(times)
        known = np.isfinite(humidity)
        dew = dew_point(celsius, np.where(known, np.clip(humidity, 1e-3, 1.0), 0.5))
        return np.asarray(np.where(known, dew, np.nan))

    def extremes(self, start: float, end: float) -> tuple[float, float]:
        """Lowest and highest temperature from `start` to `end` [°C]."""
        inside = self.celsius[(self.hours >= start) & (self.hours <= end)]
        values = np.concatenate([self.celsius_at([start, end]), inside])
        return float(values.min()), float(values.max())

    def measured_share(self, start: float, end: float) -> float:
        """Share of the hours from `start` to `end` that are measured [0..1]."""
        if end <= start:
            return 0.0
        left = np.clip(self.hours[:-1], start, end)
        right = np.clip(self.hours[1:], start, end)
        return float(((right - left) * self.measured).sum() / (end - start))

    # Sums and their inverses.

    def temperature_time(self, start: ArrayLike, end: ArrayLike, datum: float = 0.0) -> Array:
        """Temperature-time factor between times [°C h] (ASTM C1074, equation 1)."""
        return self._temperature_clock(datum).between(start, end)

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
        return self._drying_clock().between(start, end)

    def time_of_drying(self, start: float, hours: float) -> float:
        return self._drying_clock().time_of(start, hours)

    def film_hours(self, start: ArrayLike, end: ArrayLike) -> Array:
        """Hours of sealer cure at 23 °C gained between times."""
        return self._film_clock().between(start, end)

    def time_of_film(self, start: float, hours: float) -> float:
        return self._film_clock().time_of(start, hours)

    def _tail(self, steps: Array) -> float:
        """Mean rate of the last week of the knots."""
        recent = self.hours[1:] > self.hours[-1] - TAIL
        lengths = np.diff(self.hours)[recent]
        return float(steps[recent].sum() / lengths.sum()) if lengths.sum() > 0 else 0.0

    def _age_clock(self, activation_energy: float, reference: float) -> Clock:
        key = ("age", activation_energy, reference)
        if key not in self._clocks:
            before = float(age_factor(self.celsius[0], activation_energy, reference))
            gained, rates = equivalent_age_steps(
                self.hours, self.celsius, activation_energy, reference
            )
            bend = np.diff(np.log(rates))
            self._clocks[key] = Clock.from_steps(
                self.hours, gained, bend, before, self._tail(gained)
            )
        clock: Clock = self._clocks[key]
        return clock

    def _film_clock(self) -> Clock:
        if "film" not in self._clocks:
            rates = film_rate(self.celsius)
            bend = np.diff(self.celsius) * (np.log(2.0) / FILM_DOUBLING)
            steady = np.abs(bend) < 1e-9
            means = np.where(steady, rates[:-1], np.diff(rates) / np.where(steady, 1.0, bend))
            gained = means * np.diff(self.hours)
            self._clocks["film"] = Clock.from_steps(
                self.hours, gained, bend, float(rates[0]), self._tail(gained)
            )
        clock: Clock = self._clocks["film"]
        return clock

    def _drying_clock(self) -> Clock:
        if "drying" not in self._clocks:
            middle = 0.5 * (self.celsius[:-1] + self.celsius[1:])
            moist = 0.5 * (self.humidity[:-1] + self.humidity[1:])
            slow = (middle < DRYING_COLD) | (np.nan_to_num(moist, nan=0.0) > DRYING_HUMID)
            rates = np.where(slow, DRYING_SLOW, 1.0)
            gained = rates * np.diff(self.hours)
            self._clocks["drying"] = Clock.from_steps(
                self.hours, gained, np.zeros(len(gained)), float(rates[0]), self._tail(gained)
            )
        clock: Clock = self._clocks["drying"]
        return clock

    def _temperature_clock(self, datum: float) -> Clock:
        """Steady within an interval: between knots the factor is read to the interval's mean."""
        key = ("temperature", datum)
        if key not in self._clocks:
            gained = temperature_time_steps(self.hours, self.celsius, datum)
            self._clocks[key] = Clock.from_steps(
                self.hours,
                gained,
                np.zeros(len(gained)),
                max(0.0, float(self.celsius[0]) - datum),
                self._tail(gained),
            )
        clock: Clock = self._clocks[key]
        return clock

    # Air that lets a coat go on.

    def coatable_windows(self, limits: CoatLimits) -> Array:
        """(m, 2) stretches of time in which the air fits, to the nearest five minutes.

        The surface is taken at the air's temperature: nothing else is measured.
        """
        key = ("coat", limits)
        if key not in self._clocks:
            self._clocks[key] = _true_stretches(*self._fits(limits))
        windows: Array = self._clocks[key]
        return windows

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


def compose(
    *,
    readings: Readings,
    planned: Readings,
    now: float,
    gap_after: float = 3.0,
    lookback: float = 24.0,
    fade: float = 24.0,
    stale_after: float = 3.0,
) -> Climate:
    """Measured air where there is any, expected air elsewhere.

    Parameters
    ----------
    readings : what was measured; readings after `now` are left out
    planned : the room's planned air over the whole time that is asked for, hourly or finer
    now : [h]
    gap_after : a hole between readings longer than this is bridged by the planned curve [h]
    lookback : how many hours of readings tell how far the room sits from its plan [h]
    fade : the correction falls to 1/e in this time [h]
    stale_after : the last reading may be this old [h]

    Returns
    -------
    Climate over the span of `planned`, or longer where readings reach further back

    Raises
    ------
    ValueError
        `planned` has fewer than two knots, or a time constant is not above 0.
    """
    if len(planned.hours) < 2 or min(gap_after, lookback, fade, stale_after) <= 0:
        raise ValueError("planned air needs two knots or more, and time constants above 0")
    known = readings.hours <= now
    hours, celsius, humidity = (
        part[known] for part in (readings.hours, readings.celsius, readings.humidity)
    )
    plan = _Plan(planned)
    if not len(hours):
        return _expected_only(planned, now)
    deviation = celsius - plan.celsius(hours)
    first, last = float(hours[0]), float(hours[-1])
    offset = _recent_mean(hours, deviation, last - lookback, gap_after)
    pieces = [_before(plan, first, float(deviation[0]), fade)]
    holes = np.flatnonzero(np.diff(hours) > gap_after)
    gaps = tuple((float(hours[i]), float(hours[i + 1])) for i in holes)
    starts = np.concatenate([[0], holes + 1])
    ends = np.concatenate([holes + 1, [len(hours)]])
    for number, (start, end) in enumerate(zip(starts, ends, strict=True)):
        pieces.append(
            _Part(hours[start:end], celsius[start:end], humidity[start:end], measured=True)
        )
        if number < len(gaps):
            pieces.append(
                _bridge(plan, gaps[number], float(deviation[end - 1]), float(deviation[end]))
            )
    pieces.append(_after(plan, last, offset, float(deviation[-1]) - offset, fade))
    return _joined(
        pieces, plan, now=now, last=last, gaps=gaps, offset=offset, stale=now - last > stale_after
    )


@dataclass(frozen=True, eq=False)
class _Part:
    hours: Array
    celsius: Array
    humidity: Array
    measured: bool


class _Plan:
    """Planned air with its steps kept: two knots at one hour are one side and the other."""

    def __init__(self, planned: Readings) -> None:
        self.knots = planned

    def celsius(self, times: ArrayLike) -> Array:
        return np.asarray(np.interp(_as_floats(times), self.knots.hours, self.knots.celsius))

    def humidity(self, times: ArrayLike) -> Array:
        return np.asarray(np.interp(_as_floats(times), self.knots.hours, self.knots.humidity))

    def inside(self, start: float, end: float) -> tuple[Array, Array, Array]:
        """Knots strictly between, with their own values on either side of a step."""
        chosen = (self.knots.hours > start) & (self.knots.hours < end)
        return (
            self.knots.hours[chosen],
            self.knots.celsius[chosen],
            self.knots.humidity[chosen],
        )


def _expected_only(planned: Readings, now: float) -> Climate:
    return Climate(
        hours=planned.hours,
        celsius=planned.celsius,
        humidity=planned.humidity,
        measured=np.zeros(len(planned.hours) - 1, dtype=bool),
        now=now,
        stale=True,
    )


def _recent_mean(hours: Array, deviation: Array, since: float, gap_after: float) -> float:
    """Time-weighted mean deviation of the readings since then, holes left out."""
    recent = hours >= since
    times, values = hours[recent], deviation[recent]
    if len(times) < 2:
        return float(values[-1])
    lengths = np.diff(times)
    lengths = np.where(lengths > gap_after, 0.0, lengths)
    if not lengths.sum() > 0:
        return float(values.mean())
    return float((lengths * 0.5 * (values[:-1] + values[1:])).sum() / lengths.sum())


def _before(plan: _Plan, first: float, deviation: float, fade: float) -> _Part:
    hours, celsius, humidity = plan.inside(-np.inf, first)
    return _Part(hours, celsius + deviation * np.exp(-(first - hours) / fade), humidity, False)


def _bridge(plan: _Plan, gap: tuple[float, float], left: float, right: float) -> _Part:
    hours, celsius, humidity = plan.inside(*gap)
    share = (hours - gap[0]) / (gap[1] - gap[0])
    return _Part(hours, celsius + left + (right - left) * share, humidity, False)


def _after(plan: _Plan, last: float, offset: float, jump: float, fade: float) -> _Part:
    hours, celsius, humidity = plan.inside(last, np.inf)
    # The corrections bend: a few knots of their own keep the curve true between planned ones.
    own = last + np.array([0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 9.0, 12.0])
    own = own[own < plan.knots.hours[-1]]
    hours = np.concatenate([hours, own])
    celsius = np.concatenate([celsius, plan.celsius(own)])
    humidity = np.concatenate([humidity, plan.humidity(own)])
    order = np.argsort(hours, kind="stable")
    hours, celsius, humidity = hours[order], celsius[order], humidity[order]
    since = hours - last
    corrected = celsius + offset * np.exp(-since / fade) + jump * np.exp(-since / JOIN)
    return _Part(hours, corrected, humidity, False)


def _joined(
    parts: list[_Part],
    plan: _Plan,
    *,
    now: float,
    last: float,
    gaps: tuple[tuple[float, float], ...],
    offset: float,
    stale: bool,
) -> Climate:
    hours = np.concatenate([part.hours for part in parts])
    celsius = np.concatenate([part.celsius for part in parts])
    humidity = np.concatenate([part.humidity for part in parts])
    owned = np.concatenate([np.full(len(part.hours), part.measured) for part in parts])
    block = np.concatenate([np.full(len(part.hours), n) for n, part in enumerate(parts)])
    if len(hours) == 1:  # one reading at the very end of the plan
        hours, celsius = np.append(hours, hours[0] + 1.0), np.append(celsius, celsius[0])
        humidity, owned = np.append(humidity, humidity[0]), np.append(owned, False)
        block = np.append(block, len(parts))
    # What was not measured of the humidity is taken from the plan.
    humidity = np.where(np.isfinite(humidity), humidity, plan.humidity(hours))
    measured = owned[:-1] & owned[1:] & (block[:-1] == block[1:])
    return Climate(
        hours=hours,
        celsius=celsius,
        humidity=humidity,
        measured=measured,
        now=now,
        last_measured=last,
        gaps=gaps,
        offset=offset,
        stale=stale,
    )
