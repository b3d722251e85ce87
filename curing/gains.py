"""What laws gain over a stretch of air, interval by interval, and knots put where a law asks."""

from __future__ import annotations

from collections.abc import Sequence
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
    total : (m,) gained up to each, first value 0
    bend : (m-1,) as `curing.clock.Clock` has it
    knots : how many of the climate's own knots that is
    """

    hours: Array
    total: Array
    bend: Array
    knots: int

    @classmethod
    def of(cls, hours: Array, gained: Array, bend: Array | None, knots: int) -> Gains:
        """From what each interval gains; without a bend at a steady rate, which takes no memory."""
        total = np.empty(len(hours))
        total[0] = 0.0
        np.cumsum(gained, out=total[1:])
        return cls(hours, total, steady(len(gained)) if bend is None else bend, knots)

    def first(self, intervals: int, knots: int) -> Gains:
        """The first of them, without copying."""
        return Gains(
            self.hours[: intervals + 1], self.total[: intervals + 1], self.bend[:intervals], knots
        )


def steady(intervals: int) -> Array:
    """(intervals,) zeros, all of them one number in memory."""
    return np.asarray(np.broadcast_to(np.zeros(()), (intervals,)))


def joined(parts: Sequence[Gains], knots: Array) -> Gains:
    """Gains over all of a climate's knots, each part's first knot being the last one's last.

    Each array is copied once at the most: of a long history that is what takes the time.
    """
    parts = [part for part in parts if part.knots > 1]
    if len(parts) == 1:
        return parts[0]
    count = 1 + sum(len(part.bend) for part in parts)
    total = np.empty(count)
    total[0], start = 0.0, 0
    for part in parts:
        stop = start + len(part.bend)
        np.add(part.total[1:], total[start], out=total[start + 1 : stop + 1])
        start = stop
    hours = knots
    if count > len(knots):
        hours = np.concatenate([parts[0].hours, *(part.hours[1:] for part in parts[1:])])
    if all(part.bend.strides == (0,) for part in parts):
        bend = steady(count - 1)
    else:
        bend = np.concatenate([part.bend for part in parts])
    return Gains(hours, total, bend, len(knots))


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
    if not at.size:
        return values
    between = values[at] + share * (values[at + 1] - values[at])
    return np.insert(values, at + 1, between)
