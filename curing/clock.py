"""A running sum of a rate over time that can be read at any moment and turned round exactly."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

_FLAT = 1e-9


@dataclass(frozen=True, eq=False)
class Clock:
    """Counts what a rate that is never negative gains over time.

    hours : (n,) knots, not decreasing
    total : (n,) gained up to each knot, first value 0, in rate x hours
    bend : (n-1,) ln of the rate at an interval's end over the rate at its start; the rate goes
        exponentially in between (as Arrhenius very nearly does), 0 for a steady rate
    before, after : rates held on either side of the knots
    """

    hours: Array
    total: Array
    bend: Array
    before: float
    after: float

    @classmethod
    def from_steps(
        cls, hours: Array, gained: Array, bend: Array, before: float, after: float
    ) -> Clock:
        total = np.empty(len(hours))
        total[0] = 0.0
        np.cumsum(gained, out=total[1:])
        return cls(hours, total, bend, before, after)

    def at(self, times: ArrayLike) -> Array:
        """What has been gained at each time since the first knot; negative before it."""
        if isinstance(times, float | int):
            return np.asarray(self._at_one(float(times)))
        wanted = np.asarray(times, dtype=float)
        index = within(self.hours.searchsorted(wanted, side="right") - 1, len(self.hours) - 2)
        start, end = self.hours[index], self.hours[index + 1]
        length = end - start
        share = np.divide(wanted - start, length, out=np.ones_like(wanted), where=length > 0)
        gained = self.total[index + 1] - self.total[index]
        share = share_of(share)
        if not self._straight:
            share = _eased(share, self.bend[index])
        inside = self.total[index] + gained * share
        early = np.minimum(wanted - self.hours[0], 0.0) * self.before
        late = np.maximum(wanted - self.hours[-1], 0.0) * self.after
        return np.asarray(inside + early + late)

    def between(self, start: ArrayLike, end: ArrayLike) -> Array:
        return np.asarray(self.at(end) - self.at(start))

    def gain(self, start: float, end: float) -> float:
        """`between` for one start and one end."""
        return self._at_one(end) - self._at_one(start)

    def time_of(self, start: float, amount: float) -> float:
        """The first time at which `amount` has been gained since `start`; inf if it never is."""
        if amount <= 0:
            return float(start)
        target = self._at_one(float(start)) + float(amount)
        if target > self.total.item(-1):
            beyond = (target - self.total.item(-1)) / self.after if self.after > 0 else math.inf
            return max(float(start), self.hours.item(-1) + beyond)
        if target <= 0:
            return max(float(start), self.hours.item(0) + target / self.before)
        upper = int(self.total.searchsorted(target, side="left"))
        index = upper - 1
        passed, left = self.total.item(index), self.hours.item(index)
        share = (target - passed) / (self.total.item(upper) - passed)
        bend = self.bend.item(index)
        if abs(bend) >= _FLAT:
            share = math.log1p(share * math.expm1(bend)) / bend
        return max(float(start), left + share * (self.hours.item(upper) - left))

    def times_of(self, start: ArrayLike, amount: ArrayLike) -> Array:
        """`time_of` for finite starts and amounts (inf, too) that broadcast against each other."""
        starts, amounts = np.broadcast_arrays(
            np.asarray(start, dtype=float), np.asarray(amount, dtype=float)
        )
        times = self._when(self.at(starts) + amounts)
        return np.asarray(np.where(amounts > 0, np.maximum(starts, times), starts))

    def times_when(self, totals: Array) -> Array:
        """(n,) when so much has been gained since the first knot, not before it; inf where it
        never is."""
        first = self.hours[0]
        return np.asarray(np.where(totals > 0, np.maximum(first, self._when(totals)), first))

    def _when(self, targets: Array) -> Array:
        """Times of totals, past either end too."""
        index = within(self.total.searchsorted(targets, side="left") - 1, len(self.total) - 2)
        upper = index + 1
        gained = self.total[upper] - self.total[index]
        inside = (targets > 0) & (targets <= self.total[-1])
        share = np.divide(
            targets - self.total[index], gained, out=np.zeros(targets.shape), where=inside
        )
        left = self.hours[index]
        if not self._straight:
            share = _uneased(share, self.bend[index])
        times = left + share * (self.hours[upper] - left)
        late = targets > self.total[-1]
        if late.any():
            beyond = np.full(targets.shape, np.inf)
            if self.after > 0:
                np.divide(targets - self.total[-1], self.after, out=beyond, where=late)
            times = np.where(late, self.hours[-1] + beyond, times)
        if self.before > 0:
            times = np.where(targets <= 0, self.hours[0] + targets / self.before, times)
        return np.asarray(times)

    @property
    def _straight(self) -> bool:
        """A steady rate in every interval, told by one number that stands for all of them
        (`curing.gains.steady`)."""
        return self.bend.strides == (0,) and not self.bend[:1].any()

    def _at_one(self, time: float) -> float:
        """`at` for one time without arrays, which cost more than the sum."""
        index = int(self.hours.searchsorted(time, side="right")) - 1
        index = min(max(index, 0), len(self.hours) - 2)
        start = self.hours.item(index)
        length = self.hours.item(index + 1) - start
        share = min(max((time - start) / length, 0.0), 1.0) if length > 0 else 1.0
        bend = self.bend.item(index)
        if abs(bend) >= _FLAT:
            share = math.expm1(bend * share) / math.expm1(bend)
        passed = self.total.item(index)
        inside = passed + (self.total.item(index + 1) - passed) * share
        early = min(time - self.hours.item(0), 0.0) * self.before
        late = max(time - self.hours.item(-1), 0.0) * self.after
        return inside + early + late


# Draws ask thousands of times for few numbers, where `np.clip` takes longer than the sum itself.


def within(places: Indices, last: int) -> Indices:
    """Places of knots, none before the first nor after the `last`."""
    return np.asarray(np.minimum(np.maximum(places, 0), last))


def share_of(share: Array) -> Array:
    return np.asarray(np.minimum(np.maximum(share, 0.0), 1.0))


def _eased(share: Array, bend: Array) -> Array:
    steady = np.abs(bend) < _FLAT
    safe = np.where(steady, 1.0, bend)
    return np.asarray(np.where(steady, share, np.expm1(safe * share) / np.expm1(safe)))


def _uneased(share: Array, bend: Array) -> Array:
    steady = np.abs(bend) < _FLAT
    safe = np.where(steady, 1.0, bend)
    return np.asarray(np.where(steady, share, np.log1p(share * np.expm1(safe)) / safe))
