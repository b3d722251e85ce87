"""A running sum of a rate over time that can be read at any moment and turned round exactly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

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
        total = np.zeros(len(hours))
        np.cumsum(gained, out=total[1:])
        return cls(hours, total, bend, before, after)

    def at(self, times: ArrayLike) -> Array:
        """What has been gained at each time since the first knot; negative before it."""
        wanted = np.asarray(times, dtype=float)
        index = np.clip(np.searchsorted(self.hours, wanted, side="right") - 1, 0, None)
        index = np.minimum(index, len(self.hours) - 2)
        start, end = self.hours[index], self.hours[index + 1]
        length = end - start
        share = np.divide(wanted - start, length, out=np.ones_like(wanted), where=length > 0)
        gained = self.total[index + 1] - self.total[index]
        inside = self.total[index] + gained * _eased(np.clip(share, 0.0, 1.0), self.bend[index])
        early = np.minimum(wanted - self.hours[0], 0.0) * self.before
        late = np.maximum(wanted - self.hours[-1], 0.0) * self.after
        return np.asarray(inside + early + late)

    def between(self, start: ArrayLike, end: ArrayLike) -> Array:
        return np.asarray(self.at(end) - self.at(start))

    def time_of(self, start: float, amount: float) -> float:
        """The first time at which `amount` has been gained since `start`; inf if it never is."""
        if amount <= 0:
            return float(start)
        target = float(self.at(start)) + amount
        if target > self.total[-1]:
            beyond = (target - self.total[-1]) / self.after if self.after > 0 else np.inf
            return float(max(start, self.hours[-1] + beyond))
        if target <= 0:
            return float(max(start, self.hours[0] + target / self.before))
        upper = int(np.searchsorted(self.total, target, side="left"))
        index = upper - 1
        gained = self.total[upper] - self.total[index]
        share = _uneased((target - self.total[index]) / gained, float(self.bend[index]))
        length = self.hours[upper] - self.hours[index]
        return float(max(start, self.hours[index] + share * length))


def _eased(share: Array, bend: Array) -> Array:
    steady = np.abs(bend) < _FLAT
    safe = np.where(steady, 1.0, bend)
    return np.asarray(np.where(steady, share, np.expm1(safe * share) / np.expm1(safe)))


def _uneased(share: float, bend: float) -> float:
    if abs(bend) < _FLAT:
        return share
    return float(np.log1p(share * np.expm1(bend)) / bend)
