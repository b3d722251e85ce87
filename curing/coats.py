"""Which moments a coat of sealer may start at, and which of them to take.

Abrading makes the plain rule 'each coat as soon as it may' break the order: a first coat that
comes later may catch the recoat window that an earlier one misses. So the coats of a piece are
chosen together. Their starts lie on times that do not move with the casting, and of all that is
possible the last coat is put on as soon as it can be, then the one before it, and so back to the
first. With later casting the choice only narrows, and what is taken never comes earlier.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from curing.shifts import Shifts

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Indices = NDArray[np.intp]

GRID = 0.25  # h; coats start on the quarter hour, or when the hours that allow them begin
_EPS = 1e-6


@dataclass(frozen=True, eq=False)
class CoatHours:
    """Hours in which somebody is on shift and the air fits the sealer.

    shifts : the working hours, in which a coat may be abraded
    fitting : those of them in which a coat may be put on
    starts, room : (n,) moments a coat may start at, and the time from there to the end [h]
    """

    shifts: Shifts
    fitting: Shifts
    starts: Array
    room: Array
    # Asked for again and again by a piece's draws: each answer is made once.
    _options: dict[tuple[float, float], CoatOptions] = field(default_factory=dict, repr=False)

    @classmethod
    def of(cls, shifts: Shifts, fitting: Shifts) -> CoatHours:
        starts, room = [np.zeros(0)], [np.zeros(0)]
        for begin, end in fitting.windows:
            first = np.floor(begin / GRID + _EPS) + 1.0
            grid = np.arange(first, np.ceil(end / GRID - _EPS)) * GRID
            times = np.concatenate([[begin], grid])
            starts.append(times)
            room.append(end - times)
        return cls(shifts, fitting, np.concatenate(starts), np.concatenate(room))

    def options(self, labour: float, abrade: float) -> CoatOptions:
        """Starts at which a coat of so many hours fits, and where abrading fits before it."""
        if (labour, abrade) not in self._options:
            self._options[labour, abrade] = self._optional(labour, abrade)
        return self._options[labour, abrade]

    def _optional(self, labour: float, abrade: float) -> CoatOptions:
        whole = self.fitting.fits_one(labour)
        starts = self.starts[self.room >= labour - _EPS] if whole else self.starts
        finishes = starts + labour if whole else _run_on(self.fitting, starts, labour)
        abradable = (
            self.shifts.holds(starts - abrade, starts)
            if self.shifts.fits_one(abrade)
            else np.ones(len(starts), dtype=bool)
        )
        reached = np.isfinite(finishes)
        return CoatOptions(starts[reached], finishes[reached], abradable[reached])


@dataclass(frozen=True, eq=False)
class CoatOptions:
    """starts, finishes : (n,) [h], rising; abradable : (n,) there is time to abrade just before."""

    starts: Array
    finishes: Array
    abradable: Mask

    def first(self, bound: float, closes: float) -> tuple[float, float, bool]:
        """Start and finish of the first option from `bound` on, inf for none, and whether it asks
        for abrading: the recoat window has closed by then."""
        index = int(np.searchsorted(self.starts, bound - _EPS))
        abraded = index < len(self.starts) and bool(self.starts[index] > closes + _EPS)
        if abraded:
            index += int(np.argmax(self.abradable[index:]))
            if not self.abradable[index]:
                return np.inf, np.inf, True
        if index == len(self.starts):
            return np.inf, np.inf, False
        return float(self.starts[index]), float(self.finishes[index]), abraded


def _run_on(hours: Shifts, starts: Array, labour: float) -> Array:
    """Finishes of work that runs on from shift to shift; inf past the last."""
    begins, ends = hours.windows.T
    gone = np.concatenate([[0.0], np.cumsum(ends - begins)])
    window = np.searchsorted(begins, starts + _EPS, side="right") - 1
    target = gone[window] + starts - begins[window] + labour
    last = np.searchsorted(gone[1:], target - _EPS)
    reached = last < len(begins)
    last = np.minimum(last, len(begins) - 1)
    return np.asarray(np.where(reached, begins[last] + target - gone[last], np.inf))


@dataclass(frozen=True, eq=False)
class Coat:
    """One coat of a run.

    bounds : finishes of the coat before (n,) -> the soonest starts (n,), never falling; the first
        coat of a run is asked with the finish of the last coat that is on, or -inf
    """

    options: CoatOptions
    bounds: Callable[[Array], Array]


def choose(coats: Sequence[Coat], before: float, greatest: float, limit: float) -> list[int]:
    """One option for each coat, as far as there are any: the last coat soonest, then back.

    Parameters
    ----------
    coats : in order
    before : finish of the last coat that is on [h], -inf for none (there is no window then)
    greatest : hours after a coat from which the next one asks for abrading
    limit : no start after this needs to be looked at [h]

    Returns
    -------
    index of the option taken for each coat, cut short where the next coat cannot be reached
    """
    links: list[_Link] = []
    states = np.array([before])
    for coat in coats:
        closes = states + greatest if np.isfinite(states).all() else np.full(len(states), np.inf)
        link = _Link.of(coat.options, coat.bounds(states), closes, limit)
        if not link.reached.size:
            break
        links.append(link)
        states = coat.options.finishes[link.reached]
    if not links:
        return []
    chosen = [int(links[-1].reached[0])]
    for link, earlier in zip(links[:0:-1], links[-2::-1], strict=True):
        chosen.append(int(earlier.reached[link.source(chosen[-1])]))
    return chosen[::-1]


@dataclass(frozen=True, eq=False)
class _Link:
    """Which options can follow which states: those from `low` on that lie before `high`, where
    the recoat window closes, or that leave time to abrade."""

    abradable: Mask
    low: Indices
    high: Indices
    reached: Indices

    @classmethod
    def of(cls, options: CoatOptions, bounds: Array, closes: Array, limit: float) -> _Link:
        low = np.searchsorted(options.starts, bounds - _EPS)
        high = np.maximum(low, np.searchsorted(options.starts, closes + _EPS, side="right"))
        count = len(options.starts)
        opened = np.bincount(low, minlength=count + 1) - np.bincount(high, minlength=count + 1)
        possible = np.cumsum(opened)[:count] > 0
        possible[low.min() :] |= options.abradable[low.min() :]
        possible &= options.starts <= limit + _EPS
        return cls(options.abradable, low, high, np.flatnonzero(possible))

    def source(self, option: int) -> int:
        """The first state from which an option can be reached."""
        meets = (self.low <= option) & ((option < self.high) | self.abradable[option])
        return int(np.flatnonzero(meets)[0])
