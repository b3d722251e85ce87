"""Moments and slots: the plan's time laid over the shop's clock."""

from __future__ import annotations

import datetime as dt
import math
import zoneinfo
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curing.shifts import Shifts
from jobs.planning.problem import Window
from shop.localtime import from_hours, settle, to_hours

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

HOURS = 0.5  # of a slot
EPS = 1e-6  # of a slot: the arithmetic's last digits round nothing up
DAY = dt.timedelta(days=1)


def first_slot(now: dt.datetime, zone: zoneinfo.ZoneInfo) -> dt.datetime:
    """The next whole half hour on the shop's clock, or this moment if it is one."""
    local = now.astimezone(zone)
    past = dt.timedelta(
        minutes=local.minute % 30, seconds=local.second, microseconds=local.microsecond
    )
    rounded = now - past + (dt.timedelta(minutes=30) if past else dt.timedelta())
    return rounded.astimezone(dt.UTC)


def length_of(hours: float) -> int:
    """Slots that so many hours of work take, one at the least."""
    return max(1, math.ceil(hours / HOURS - EPS))


def parts_of(slots: int, longest: int) -> list[int]:
    """Work longer than every shift, in parts of like length that each fit one."""
    count = max(1, math.ceil(slots / longest)) if longest else 1
    return [slots // count + (number < slots % count) for number in range(count)]


@dataclass(frozen=True, eq=False)
class Starts:
    """Where work of one length may begin: slots, rising, and where each day's begin among them.

    Of a day on which nobody can begin it, the hours in which the shop is open on others stand in:
    a day that is opened later finds its waits there. `on_shift` tells them apart.
    """

    slots: Ints
    cuts: Ints
    on_shift: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Slots:
    start: dt.datetime
    zone: zoneinfo.ZoneInfo
    day_starts: tuple[int, ...]
    horizon: int
    shifts: tuple[Window, ...]
    _starts: dict[int, Starts] = field(default_factory=dict, repr=False)

    @classmethod
    def of(cls, now: dt.datetime, zone: zoneinfo.ZoneInfo, shifts: Shifts, days: int) -> Slots:
        """As many days as are given, today among them."""
        start = first_slot(now, zone)
        today = start.astimezone(zone).date()
        midnights = [
            settle(dt.datetime.combine(today + number * DAY, dt.time()), zone)
            for number in range(days + 1)
        ]
        edges = [math.floor((at - start).total_seconds() / 1800 + EPS) for at in midnights]
        bare = cls(start, zone, tuple(edges[:-1]), edges[-1], ())
        return cls(start, zone, tuple(edges[:-1]), edges[-1], bare.windows(shifts.windows))

    @cached_property
    def origin(self) -> float:
        return to_hours(self.start)

    def up(self, hours: float) -> int:
        """The first slot that begins at or after a moment."""
        return math.ceil((hours - self.origin) / HOURS - EPS)

    def down(self, hours: float) -> int:
        return math.floor((hours - self.origin) / HOURS + EPS)

    def slot(self, at: dt.datetime) -> int:
        return self.up(to_hours(at))

    def hours(self, slots: Any) -> Any:
        """On the engine's axis, of one slot or of many."""
        return self.origin + HOURS * slots

    def moment(self, slot: int) -> dt.datetime:
        return from_hours(self.origin + HOURS * slot)

    def windows(self, stretches: Iterable[Iterable[float]]) -> tuple[Window, ...]:
        """Whole slots within stretches of hours, from the start to the horizon."""
        found = []
        for begin, end in stretches:
            first, last = max(0, self.up(begin)), min(self.horizon, self.down(end))
            if first < last:
                found.append(Window(first, last))
        return tuple(found)

    def days(self, first: dt.date, last: dt.date) -> Window | None:
        """All of these days, the last one included, as far as they are planned."""
        begin, end = (
            self.down(to_hours(settle(dt.datetime.combine(day, dt.time()), self.zone)))
            for day in (first, last + DAY)
        )
        window = Window(max(0, begin), min(self.horizon, end))
        return window if window.begin < window.end else None

    @cached_property
    def longest(self) -> int:
        return max((end - begin for begin, end in self.shifts), default=0)

    def worked_off(self, at: int, length: int) -> int:
        """When so many slots of work are done that begin then, shift after shift; the horizon if
        they are not before it."""
        for begin, end in self.shifts:
            first = max(begin, at)
            if first + length <= end:
                return first + length
            length -= max(0, end - first)
        return self.horizon

    def date_of(self, day: int) -> dt.date:
        return self.start.astimezone(self.zone).date() + day * DAY

    def starts(self, length: int) -> Starts:
        if length not in self._starts:
            self._starts[length] = self._found(length)
        return self._starts[length]

    def _found(self, length: int) -> Starts:
        edges = (*self.day_starts, self.horizon)
        rows: list[list[Ints]] = [[] for _ in self.day_starts]
        day = 0
        opens, closes = [], []
        for begin, end in self.shifts:
            while edges[day + 1] <= begin:
                day += 1
            opens.append(begin - edges[day])
            closes.append(end - edges[day])
            if begin + length <= end:
                rows[day].append(np.arange(begin, end - length + 1))
        usual = np.arange(min(opens, default=0), max(max(closes, default=48) - length, 0) + 1)
        open_days = [bool(row) for row in rows]
        for number, (begin, _) in enumerate(pairwise(edges)):
            if not rows[number]:
                rows[number].append(np.maximum(begin + usual, 0))
        sizes = [sum(len(part) for part in row) for row in rows]
        return Starts(
            np.concatenate([part for row in rows for part in row]).astype(np.int64),
            np.cumsum([0, *sizes[:-1]]).astype(np.int64),
            np.repeat(open_days, sizes),
        )

    def by_day(self, values: Ints, length: int) -> tuple[int, ...]:
        """The greatest value of each day's starts."""
        return tuple(np.maximum.reduceat(values, self.starts(length).cuts).tolist())
