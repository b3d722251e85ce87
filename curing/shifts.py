"""Working hours as the engine takes them: stretches of time in which somebody is on shift."""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

_EPS = 1e-9
MINUTE = 1.0 / 60.0


@dataclass(frozen=True, eq=False)
class Shifts:
    """windows : (m, 2) starts and ends [h], sorted, not overlapping.

    A shift holds its start and not its end: work of no length cannot begin when it is over.
    """

    windows: Array
    longest: float = field(init=False)
    _starts: list[float] = field(init=False, repr=False)
    _ends: list[float] = field(init=False, repr=False)

    def __init__(self, windows: ArrayLike) -> None:
        stretches = np.asarray(windows, dtype=float).reshape(-1, 2)
        if not np.isfinite(stretches).all():
            raise ValueError("working hours must be finite numbers")
        if (stretches[:, 1] <= stretches[:, 0]).any():
            raise ValueError("a shift must end after it starts")
        if (stretches[1:, 0] < stretches[:-1, 1]).any():
            raise ValueError("shifts must be in order and not overlap")
        longest = float((stretches[:, 1] - stretches[:, 0]).max()) if len(stretches) else 0.0
        object.__setattr__(self, "windows", stretches)
        object.__setattr__(self, "longest", longest)
        object.__setattr__(self, "_starts", stretches[:, 0].tolist())
        object.__setattr__(self, "_ends", stretches[:, 1].tolist())

    def first_fit(self, moment: float, labour: float) -> tuple[float, float]:
        """Start and finish [h] of work that may begin at `moment` at the earliest.

        Work [h] that fits some shift starts in one in which it can be finished; longer work runs
        on over the shifts that follow. No labour: the first moment somebody is there. Both are
        inf past the last shift. Neither falls when `moment` rises.
        """
        if not math.isfinite(moment):
            return math.inf, math.inf
        if self.fits_one(labour):
            return self._within_one(moment, labour)
        return self._over_several(moment, labour)

    def first_fits(self, moments: Array, labour: Array) -> tuple[Array, Array]:
        """`first_fit` for many moments and hours of work at once: (n,) starts and finishes."""
        begun = np.full(len(moments), np.inf)
        ended = np.full(len(moments), np.inf)
        known = np.isfinite(moments)
        short = known & (labour <= self.longest + _EPS)
        index = np.searchsorted(self.windows[:, 1], moments + _EPS, side="right")
        left = np.flatnonzero(short)
        while left.size:
            left = left[index[left] < len(self.windows)]
            starts, ends = self.windows[index[left]].T
            begin = np.maximum(starts, moments[left])
            fits = begin + labour[left] <= ends + _EPS
            begun[left[fits]] = begin[fits]
            ended[left[fits]] = begin[fits] + labour[left[fits]]
            left = left[~fits]
            index[left] += 1
        for number in np.flatnonzero(known & ~short).tolist():
            fit = self._over_several(float(moments[number]), float(labour[number]))
            begun[number], ended[number] = fit
        return begun, ended

    def fits_one(self, labour: float) -> bool:
        """Whether so many hours of work fit at least one shift."""
        return labour <= self.longest + _EPS

    def _from(self, moment: float) -> int:
        """The first window that ends after `moment`."""
        return bisect_right(self._ends, moment + _EPS)

    def _within_one(self, moment: float, labour: float) -> tuple[float, float]:
        for index in range(self._from(moment), len(self._ends)):
            begin = max(self._starts[index], moment)
            if begin + labour <= self._ends[index] + _EPS:
                return begin, begin + labour
        return math.inf, math.inf

    def _over_several(self, moment: float, labour: float) -> tuple[float, float]:
        left, begun = labour, math.inf
        for index in range(self._from(moment), len(self._ends)):
            begin, end = max(self._starts[index], moment), self._ends[index]
            begun = min(begun, begin)
            if left <= end - begin + _EPS:
                return begun, begin + left
            left -= end - begin
        return math.inf, math.inf

    def last_start(self, moment: float, labour: float = 0.0) -> float:
        """The last start [h] of such work at or before `moment`, on the whole minute where the
        shift allows it; -inf before the first. Work longer than every shift: while somebody is
        there."""
        least = labour if self.fits_one(labour) else 0.0
        for index in range(bisect_right(self._starts, moment + _EPS) - 1, -1, -1):
            start, end = self._starts[index], self._ends[index]
            minute = math.floor(min(moment, end - least) / MINUTE + 1e-6)
            if minute * MINUTE >= end - _EPS:  # over by then
                minute -= 1
            if minute * MINUTE >= start - _EPS:
                return minute * MINUTE
            if start + least <= end + _EPS:
                return start
        return -math.inf

    def holds(self, starts: Array, ends: Array) -> NDArray[np.bool_]:
        """Whether each stretch of time lies within a single shift."""
        if not len(self.windows):
            return np.zeros(np.shape(starts), dtype=bool)
        index = np.searchsorted(self.windows[:, 0], starts + _EPS, side="right") - 1
        within = ends <= self.windows[np.maximum(index, 0), 1] + _EPS
        return np.asarray((index >= 0) & within)

    def within(self, allowed: ArrayLike) -> Shifts:
        """Only what lies in the allowed stretches, (k, 2), too."""
        stretches = np.asarray(allowed, dtype=float).reshape(-1, 2)
        cut: list[tuple[float, float]] = []
        index = 0
        for start, end in zip(self._starts, self._ends, strict=True):
            while index < len(stretches) and stretches[index, 1] <= start:
                index += 1
            probe = index
            while probe < len(stretches) and stretches[probe, 0] < end:
                low, high = max(start, stretches[probe, 0]), min(end, stretches[probe, 1])
                if high - low > _EPS:
                    cut.append((float(low), float(high)))
                probe += 1
        return Shifts(cut)
