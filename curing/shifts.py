"""Working hours as the engine takes them: stretches of time in which somebody is on shift."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

_EPS = 1e-9


@dataclass(frozen=True, eq=False)
class Shifts:
    """windows : (m, 2) starts and ends [h], sorted, not overlapping."""

    windows: Array
    longest: float = field(init=False)

    def __init__(self, windows: ArrayLike) -> None:
        stretches = np.asarray(windows, dtype=float).reshape(-1, 2)
        if not np.isfinite(stretches).all():
            raise ValueError("working hours must be finite numbers")
        if (stretches[:, 1] <= stretches[:, 0]).any():
            raise ValueError("a shift must end after it starts")
        if (stretches[1:, 0] < stretches[:-1, 1]).any():
            raise ValueError("shifts must be in order and not overlap")
        object.__setattr__(self, "windows", stretches)
        longest = float((stretches[:, 1] - stretches[:, 0]).max()) if len(stretches) else 0.0
        object.__setattr__(self, "longest", longest)

    def first_fit(self, moment: float, labour: float) -> tuple[float, float]:
        """Start and finish of work that may begin at `moment` at the earliest.

        Work that fits some shift starts in one in which it can be finished; longer work runs on
        over the shifts that follow. No labour: the first moment somebody is there. Both are inf
        past the last shift. Never falls when `moment` rises.
        """
        if not math.isfinite(moment):
            return math.inf, math.inf
        if labour <= self.longest + _EPS:
            return self._within_one(moment, labour)
        return self._over_several(moment, labour)

    def _from(self, moment: float) -> int:
        """The first window that ends after `moment`."""
        return int(np.searchsorted(self.windows[:, 1], moment + _EPS, side="right"))

    def _within_one(self, moment: float, labour: float) -> tuple[float, float]:
        for start, end in self.windows[self._from(moment) :]:
            begin = max(float(start), moment)
            if begin + labour <= end + _EPS:
                return begin, begin + labour
        return math.inf, math.inf

    def _over_several(self, moment: float, labour: float) -> tuple[float, float]:
        left, begun = labour, math.inf
        for start, end in self.windows[self._from(moment) :]:
            begin = max(float(start), moment)
            begun = min(begun, begin)
            if left <= end - begin + _EPS:
                return begun, begin + left
            left -= float(end) - begin
        return math.inf, math.inf

    def last_moment(self, moment: float) -> float:
        """The last on-shift time at or before `moment`; -inf before the first shift."""
        index = int(np.searchsorted(self.windows[:, 0], moment + _EPS, side="right")) - 1
        if index < 0:
            return -math.inf
        return float(min(moment, self.windows[index, 1]))

    def within(self, allowed: ArrayLike) -> Shifts:
        """Only what lies in the allowed stretches, (k, 2), too."""
        stretches = np.asarray(allowed, dtype=float).reshape(-1, 2)
        cut: list[tuple[float, float]] = []
        index = 0
        for start, end in self.windows:
            while index < len(stretches) and stretches[index, 1] <= start:
                index += 1
            probe = index
            while probe < len(stretches) and stretches[probe, 0] < end:
                low, high = max(start, stretches[probe, 0]), min(end, stretches[probe, 1])
                if high - low > _EPS:
                    cut.append((float(low), float(high)))
                probe += 1
        return Shifts(cut)
