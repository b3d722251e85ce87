"""How far a room's expected temperature has missed, and so how far it may miss again.

From every third hour of the readings the expected temperature is made again as it stood then
(`curing.climate.compose`: the plan, with the last day's offset and the last reading's own jump
fading from it) and held against what the readings say came of it, hour by hour for three days. The
mean square of the misses over the hours ahead is that of an error which begins from nothing and
forgets itself, sd² (1 - exp(-2 t / memory)), the law that `curing.drawn` draws from.

Reference: C. W. Gardiner, Stochastic Methods, 2009, section 4.4.4 (Ornstein-Uhlenbeck process).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curing.air import Readings
from curing.climate import JOIN
from curing.doubt import AirDoubt

Array = NDArray[np.float64]

AHEAD = 72  # h
EVERY = 3  # h from one expectation to the next
LOOKBACK, FADE = 24, 24.0  # h, as `compose` has them
GAP = 3.0  # h without a reading, after which nothing is known of the hours between
# What a shop's own misses are weighed against: the default, worth a week of readings. Our
# judgement, no source.
PRESUMED = AirDoubt()
PRESUMED_DAYS = 7.0
LEAST_SD = 0.3  # K; a thermometer itself is no better
_MEMORIES = np.geomspace(2.0, 96.0, 60)


@dataclass(frozen=True, eq=False)
class Misses:
    """doubt : to draw with; days : of readings behind it
    hours, sd : (72,) hours ahead, and the root of the mean square of the misses [K], NaN where
        nothing is known
    """

    doubt: AirDoubt
    days: float
    hours: Array
    sd: Array


def learn(readings: Readings, planned: Readings) -> Misses:
    """A room's own uncertainty of its expected temperature.

    Parameters
    ----------
    readings : what was measured; planned : the room's plan over those hours

    Returns
    -------
    Misses; with no more than a day of readings, the presumed uncertainty
    """
    ahead = np.arange(1.0, AHEAD + 1)
    off = _hourly(readings, planned)
    squares, counts = _squares(off)
    days = float(np.isfinite(off).sum()) / 24.0
    known = counts > 0
    mean = np.divide(squares, counts, out=np.full(AHEAD, np.nan), where=known)
    presumed = PRESUMED.sd**2 * (1.0 - np.exp(-2.0 * ahead / PRESUMED.memory))
    # A lead that few hours are known of counts for less.
    weight = days * counts / max(float(counts.max(initial=0.0)), 1.0)
    both = np.where(known, mean, 0.0) * weight + PRESUMED_DAYS * presumed
    both /= weight + PRESUMED_DAYS
    return Misses(_fitted(ahead, both), days, ahead, np.sqrt(mean))


def _hourly(readings: Readings, planned: Readings) -> Array:
    """(n,) readings less the plan at whole hours; NaN where no reading is near."""
    if len(readings.hours) < 2:
        return np.full(1, np.nan)
    first, last = np.ceil(readings.hours[0]), np.floor(readings.hours[-1])
    hours = np.arange(first, last + 1.0)
    if not len(hours):
        return np.full(1, np.nan)
    after = np.clip(np.searchsorted(readings.hours, hours), 1, len(readings.hours) - 1)
    apart = readings.hours[after] - readings.hours[after - 1]
    off = np.interp(hours, readings.hours, readings.celsius)
    off -= np.interp(hours, planned.hours, planned.celsius)
    return np.where(apart <= GAP, off, np.nan)


def _squares(off: Array) -> tuple[Array, Array]:
    """(72,) sum of squared misses so many hours ahead, and how many there are."""
    squares, counts = np.zeros(AHEAD), np.zeros(AHEAD)
    origins = np.arange(LOOKBACK, len(off) - 1, EVERY)
    origins = origins[np.isfinite(off[origins])]
    if not len(origins):
        return squares, counts
    sums = np.concatenate([[0.0], np.cumsum(np.nan_to_num(off))])
    numbers = np.concatenate([[0.0], np.cumsum(np.isfinite(off))])
    seen = numbers[origins + 1] - numbers[origins + 1 - LOOKBACK]
    offset = (sums[origins + 1] - sums[origins + 1 - LOOKBACK]) / seen
    jump = off[origins] - offset
    for ahead in range(1, AHEAD + 1):
        inside = origins + ahead < len(off)
        expected = offset * np.exp(-ahead / FADE) + jump * np.exp(-ahead / JOIN)
        missed = off[origins[inside] + ahead] - expected[inside]
        missed = missed[np.isfinite(missed)]
        squares[ahead - 1] = float((missed**2).sum())
        counts[ahead - 1] = len(missed)
    return squares, counts


def _fitted(ahead: Array, squares: Array) -> AirDoubt:
    """The nearest law of its kind, by least squares over a grid of memories."""
    shapes = 1.0 - np.exp(-2.0 * ahead / _MEMORIES[:, None])
    sizes = (shapes @ squares) / (shapes**2).sum(axis=1)
    left = ((sizes[:, None] * shapes - squares) ** 2).sum(axis=1)
    best = int(np.argmin(left))
    return AirDoubt(max(float(np.sqrt(sizes[best])), LEAST_SD), float(_MEMORIES[best]))
