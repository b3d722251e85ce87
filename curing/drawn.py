"""A room's air as it may be, and the running sums over it, for many draws at once.

A draw is the expected air plus an error that starts from nothing at the last reading, follows the
reading hours exactly and wanders beyond them (an Ornstein-Uhlenbeck process, the continuous
autoregression of first order): hours that were measured carry no error. Only what a draw gains
over the expected sum is kept for each draw, at the knots that were not measured.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from curing.air import DRYING_COLD, DRYING_HUMID, DRYING_SLOW, Climate
from curing.clock import Clock, share_of, within
from curing.damp import HOTTEST, known, moisture_clock
from curing.doubt import AirDoubt, Doubt
from curing.drying_rate import DryingRate
from curing.maturity import age_factor
from curing.sealing import film_rate

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

SIGHT = 45 * 24.0  # h after the last reading; what lies beyond is drawn as it is expected
_ROUNDS = 3


@dataclass(frozen=True, eq=False)
class AirPaths:
    """Errors of the expected temperature at the knots of a climate that were not measured.

    knots : (m,) places in the climate's hours, rising
    joined : (m-1,) whether nothing was measured from one to the next
    error : (draws, m) [K]
    """

    knots: Indices
    joined: NDArray[np.bool_]
    error: Array


def air_paths(climate: Climate, doubt: Doubt, stream: int | str) -> AirPaths:
    """Draws of a room's air. The error is 0 wherever a reading stands."""
    chance = doubt.stream("air", stream)
    places: list[Indices] = []
    errors: list[Array] = []
    for first, last in _unmeasured(climate):
        knots = np.arange(first, last + 1)
        from_reading = first > 0
        to_reading = last < len(climate.hours) - 1
        if not to_reading:
            since = climate.hours[first] if from_reading else climate.now
            knots = knots[climate.hours[knots] <= since + SIGHT]
        path = _wander(chance, climate.hours[knots], doubt, from_reading, to_reading)
        places.append(knots)
        errors.append(path)
    if not places:
        nothing = np.zeros(0, dtype=np.intp)
        return AirPaths(nothing, np.zeros(0, dtype=bool), np.zeros((doubt.draws, 0)))
    run = np.concatenate([np.full(len(part), number) for number, part in enumerate(places)])
    return AirPaths(np.concatenate(places), run[1:] == run[:-1], np.concatenate(errors, axis=1))


def _unmeasured(climate: Climate) -> Iterator[tuple[int, int]]:
    """First and last knot of each run of intervals that were not measured."""
    edges = np.diff(np.concatenate([[False], ~climate.measured, [False]]).astype(int))
    starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    yield from zip(starts.tolist(), ends.tolist(), strict=True)


def _wander(
    chance: np.random.Generator, hours: Array, doubt: Doubt, from_reading: bool, to_reading: bool
) -> Array:
    """(draws, m) errors over a run, 0 at an end where a reading stands."""
    if to_reading and not from_reading:
        return _steps(chance, -hours[::-1], doubt, started=True)[:, ::-1]
    path = _steps(chance, hours, doubt, started=from_reading)
    if from_reading and to_reading:
        path = path - path[:, -1:] * _pull(doubt.air, hours - hours[0])
    return path


def _steps(chance: np.random.Generator, hours: Array, doubt: Doubt, *, started: bool) -> Array:
    kept = np.exp(-np.diff(hours) / doubt.air.memory)
    moved = doubt.air.sd * np.sqrt(1.0 - kept**2)
    drawn = chance.standard_normal((len(hours), doubt.draws))
    path = np.empty((len(hours), doubt.draws))
    path[0] = 0.0 if started else doubt.air.sd * drawn[0]
    steps = moved[:, None] * drawn[1:]
    for before, after, share, step in zip(path, path[1:], kept.tolist(), steps, strict=False):
        np.add(np.multiply(before, share, out=after), step, out=after)
    return np.ascontiguousarray(path.T)


def _pull(air: AirDoubt, since: Array) -> Array:
    """(m,) share of the error at the end of a run that began from 0, taken off to end in 0."""
    rise = np.sinh(np.minimum(since / air.memory, 300.0))
    return np.asarray(rise / rise[-1]) if rise[-1] > 0 else np.ones_like(since)


def error_sd(climate: Climate, air: AirDoubt) -> Array:
    """(len(hours),) standard deviation [K] of what `air_paths` draws, at each knot: 0 where a
    reading stands, `air.sd` well away from any; between two readings that of the process held to
    both ends (the Ornstein-Uhlenbeck bridge)."""
    variance = np.zeros(len(climate.hours))
    for first, last in _unmeasured(climate):
        hours = climate.hours[first : last + 1]
        share = np.ones(len(hours))
        from_reading, to_reading = first > 0, last < len(climate.hours) - 1
        if from_reading:
            share = share * _freed(hours - hours[0], air)
        if to_reading:
            share = share * _freed(hours[-1] - hours, air)
        if from_reading and to_reading:
            length = float(_freed(hours[-1] - hours[0], air))
            share = share / length if length > 0 else np.zeros(len(hours))
        variance[first : last + 1] = share
    return np.asarray(air.sd * np.sqrt(variance))


def _freed(since: Array, air: AirDoubt) -> Array:
    """Share of the full variance, so many hours from a reading."""
    return np.asarray(-np.expm1(-2.0 * since / air.memory))


@dataclass(frozen=True, eq=False)
class Totals:
    """each : (draws, m) gained up to each knot, rising along a row
    least, most : (m,) of all draws
    """

    each: Array
    least: Array
    most: Array

    @classmethod
    def of(cls, each: Array) -> Totals:
        return cls(each, each.min(axis=0), each.max(axis=0))

    def first_not_below(self, target: Array) -> Indices:
        """(..., draws) in each row the first place not below its target, (..., draws); m for none.

        It lies between those of the draw that gains most and of the one that gains least, which
        are near each other: only there each row is halved.
        """
        low = self.most.searchsorted(target)
        high = self.least.searchsorted(target)
        rows, last = np.arange(len(self.each)), self.each.shape[1] - 1
        for _ in range(int((high - low).max(initial=0)).bit_length()):
            middle = (low + high) // 2
            left = low < high
            below = left & (self.each[rows, np.minimum(middle, last)] < target)
            high = np.where(left & ~below, middle, high)
            low = np.where(below, middle + 1, low)
        return np.asarray(low)


@dataclass(frozen=True, eq=False)
class DrawnClock:
    """A running sum with a different air in each draw.

    base : the sum over the expected air
    hours : (m,) knots; excess : (draws, m) gained over the base up to each
    """

    base: Clock
    hours: Array
    excess: Array

    def at(self, times: Array) -> Array:
        """(draws,) gained up to a time of each draw."""
        return np.asarray(self.base.at(times) + self._over(times))

    def between(self, start: Array, end: Array) -> Array:
        return self.at(end) - self.at(start)

    def along(self, times: Array) -> Array:
        """(draws, n) gained up to times (n,) that are the same in every draw."""
        base = np.asarray(self.base.at(times))
        if not len(self.hours):
            return np.tile(base, (len(self.excess), 1))
        before = within(np.searchsorted(self.hours, times, side="right") - 1, len(self.hours) - 2)
        after = before + 1
        start, end = self.hours[before], self.hours[after]
        length = end - start
        share = np.divide(times - start, length, out=np.ones_like(times), where=length > 0)
        low, high = self.excess[:, before], self.excess[:, after]
        return np.asarray(base + low + share_of(share) * (high - low))

    def time_of(self, start: Array, amount: Array) -> Array:
        """When each draw has gained its amount since its start; inf where never.

        start : (draws,); amount : (..., draws), several amounts of each draw at once
        """
        known = np.isfinite(start) & np.isfinite(amount)
        begun = np.where(np.isfinite(start), start, self.base.hours[0])
        target = self.at(begun) + np.where(known, amount, 0.0)
        found = self._when(target)
        waited = np.maximum(found, begun)
        return np.where(known, np.where(amount > 0, waited, begun), np.inf)

    @cached_property
    def _totals(self) -> Totals:
        return Totals.of(np.asarray(self.base.at(self.hours) + self.excess))

    @cached_property
    def _lengths(self) -> Array:
        """(m-1,) from knot to knot [h]; 1 where it is none, over which nothing is gained."""
        lengths = np.diff(self.hours)
        return np.where(lengths > 0, lengths, 1.0)

    @cached_property
    def _rows(self) -> Indices:
        """(draws,) where each draw's row begins in `excess` laid out as one."""
        return np.arange(len(self.excess)) * len(self.hours)

    def _over(self, times: Array) -> Array:
        if len(self.hours) < 2:
            return np.zeros(np.shape(times))
        before = within(self.hours.searchsorted(times, side="right") - 1, len(self.hours) - 2)
        share = share_of((times - self.hours[before]) / self._lengths[before])
        place = self._rows + before
        low = self.excess.take(place)
        return np.asarray(low + share * (self.excess.take(place + 1) - low))

    def _when(self, target: Array) -> Array:
        """By what the base has gained when the draw reaches its target; a draw gains less or more
        than the base between knots, but never so much more that this does not settle."""
        if not len(self.hours):
            return _times_of(self.base, target)
        totals = self._totals
        after = totals.first_not_below(target)
        last = len(self.hours) - 1
        before, then = within(after - 1, last), within(after, last)
        low = np.where(after > 0, self.hours[before], -np.inf)
        high = np.where(after <= last, self.hours[then], np.inf)
        passed = totals.each.take(self._rows + before)
        gained = totals.each.take(self._rows + then) - passed
        share = np.divide(target - passed, gained, out=np.zeros_like(target), where=gained > 0)
        found = self.hours[before] + share * (self.hours[then] - self.hours[before])
        for _ in range(_ROUNDS):
            nearer = _times_of(self.base, target - self._over(found))
            nearer = np.minimum(np.maximum(nearer, low), high)
            if (nearer == found).all():
                break
            found = nearer
        return found


def _times_of(clock: Clock, totals: Array) -> Array:
    """(n,) when a running sum comes to each total; inf where it never does."""
    return clock.times_when(totals)


@dataclass(frozen=True, eq=False)
class DrawnAir:
    """A climate and its draws, with the sums that waits are read from, each made once."""

    climate: Climate
    paths: AirPaths

    @classmethod
    def of(cls, climate: Climate, doubt: Doubt, stream: int | str) -> DrawnAir:
        """The same draws for everything that lies in this room."""
        return climate.remembered(
            ("drawn", doubt, stream), lambda: cls(climate, air_paths(climate, doubt, stream))
        )

    def age(self, activation_energy: float, reference: float) -> DrawnClock:
        def rate(celsius: Array, _: Array) -> Array:
            return age_factor(celsius, activation_energy, reference)

        base = self.climate.age_clock(activation_energy, reference)
        return self._clock(("age", activation_energy, reference), base, rate)

    def film(self) -> DrawnClock:
        base = self.climate.film_clock()
        return self._clock(("film",), base, lambda celsius, _: film_rate(celsius))

    def drying(self) -> DrawnClock:
        base = self.climate.drying_clock()
        return self.climate.remembered(
            ("drawn sum", "drying", id(self)),
            lambda: DrawnClock(base, self._hours, self._summed(self._drying_gain())),
        )

    def _drying_gain(self) -> Array:
        """(draws, m-1) over the base: by the share of each interval that is cold, or all of it
        where it is humid in its middle."""
        knots, error = self.paths.knots, self.paths.error
        celsius, humidity = self.climate.celsius[knots], self.climate.humidity[knots]
        humid = 0.5 * (humidity[1:] + humidity[:-1]) > DRYING_HUMID
        slower = _cold_share(celsius + error) - _cold_share(celsius[None, :])
        return np.asarray(np.where(humid, 0.0, (DRYING_SLOW - 1.0) * slower))

    def moisture(self, rate: DryingRate) -> DrawnClock:
        def per_hour(celsius: Array, humidity: Array) -> Array:
            return rate.per_hour(known(humidity), np.minimum(celsius, HOTTEST))

        key = ("moisture", rate.concrete, rate.slab, rate.target)
        return self._clock(key, moisture_clock(self.climate, rate), per_hour)

    @property
    def _hours(self) -> Array:
        return np.asarray(self.climate.hours[self.paths.knots])

    def _clock(
        self, key: tuple[object, ...], base: Clock, rate: Callable[[Array, Array], Array]
    ) -> DrawnClock:
        """By the trapezium of what the rate at the knots of a draw is over that of the base."""

        def counted() -> DrawnClock:
            knots = self.paths.knots
            celsius, humidity = self.climate.celsius[knots], self.climate.humidity[knots]
            over = rate(celsius + self.paths.error, humidity) - rate(celsius, humidity)
            return DrawnClock(base, self._hours, self._summed(0.5 * (over[:, 1:] + over[:, :-1])))

        return self.climate.remembered(("drawn sum", key, id(self)), counted)

    def _summed(self, mean: Array) -> Array:
        """From (draws, m-1) gained an hour to (draws, m) gained; nothing where air was measured."""
        gained = mean * np.where(self.paths.joined, np.diff(self._hours), 0.0)
        excess = np.zeros(self.paths.error.shape)
        np.cumsum(gained, axis=1, out=excess[:, 1:])
        return excess


def _cold_share(celsius: Array) -> Array:
    """(..., m-1) share of each interval that lies under `DRYING_COLD`, straight between knots."""
    left, right = celsius[..., :-1], celsius[..., 1:]
    low, high = np.minimum(left, right), np.maximum(left, right)
    rise = high - low
    share = np.divide(DRYING_COLD - low, rise, out=(low < DRYING_COLD) * 1.0, where=rise > 0)
    return np.asarray(np.clip(share, 0.0, 1.0))
