"""What laws gain over a stretch of air, interval by interval, and knots put where a law asks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Between knots an age rate is taken to run exponentially: true to 0.03 % over so many kelvin.
STRAIGHT = 2.0


@dataclass(frozen=True, eq=False)
class Gains:
    """What a law gains over some stretch of a climate.

    hours : (m,) the stretch's knots, and those the law puts between them
    gained : (m-1,) in each interval
    bend : (m-1,) as `Clock` has it
    knots : how many of the climate's own knots that is
    """

    hours: Array
    gained: Array
    bend: Array
    knots: int

    def first(self, part: Gains) -> Gains:
        """As much of them as the part has."""
        intervals = len(part.gained)
        return Gains(
            self.hours[: intervals + 1], self.gained[:intervals], self.bend[:intervals], part.knots
        )

    def followed_by(self, later: Gains) -> Gains:
        """Both, where the later one's first knot is this one's last."""
        if later.knots == 1:
            return self
        return Gains(
            np.concatenate([self.hours, later.hours[1:]]),
            np.concatenate([self.gained, later.gained]),
            np.concatenate([self.bend, later.bend]),
            self.knots + later.knots - 1,
        )


def cut(hours: Array, celsius: Array) -> tuple[Array, Array]:
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


def cut_at(hours: Array, *columns: tuple[Array, float]) -> list[Array]:
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
