"""A room's air for the engine: what was measured, and what its heating is set to.

Two queries whatever the number of rooms, and no Python loop over readings: a shop may have
a reading a minute.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
from django.db.models import FloatField, Func

from curing.climate import Climate, Readings, compose
from curing.doubt import AirDoubt
from curing.misses import learn
from shop.localtime import settle, to_hours
from shop.models import PlannedAir, Reading, Room, Shop

Floats = npt.NDArray[np.float64]

# Before the asked time, so that a cure that starts there has the reading before it, and the
# correction of the plan a full day of readings.
BEHIND = dt.timedelta(days=4)
MILLISECONDS = 3_600_000.0


class UnixHours(Func):
    """A moment as hours since 1970, made by the database: it is ten times faster than here."""

    output_field = FloatField()

    def get_db_converters(self, connection: Any) -> list[Any]:
        """None: both databases give a float, and to make one of it again, row by row, took longer
        than all else that is done to a reading."""
        return []

    def as_sqlite(self, compiler: Any, connection: Any, **extra: Any) -> Any:
        template = "(julianday(%(expressions)s) - 2440587.5) * 24.0"
        return self.as_sql(compiler, connection, template=template, **extra)

    def as_postgresql(self, compiler: Any, connection: Any, **extra: Any) -> Any:
        template = "(EXTRACT(EPOCH FROM %(expressions)s) / 3600.0)::double precision"
        return self.as_sql(compiler, connection, template=template, **extra)


def climates(
    rooms: Iterable[Room],
    *,
    since: dt.datetime,
    until: dt.datetime,
    now: dt.datetime,
    shop: Shop,
) -> dict[int, Climate]:
    """Each room's air from `since` to `until`, by the room's key."""
    found = rooms_air(rooms, since=since, until=until, now=now, shop=shop)
    return {key: air.climate for key, air in found.items()}


@dataclass(frozen=True)
class RoomAir:
    """A room's air with what it was made from."""

    climate: Climate
    readings: Readings
    planned: Readings

    @cached_property
    def doubt(self) -> AirDoubt:
        """How far its expected temperature has missed, over the readings that were read."""
        return learn(self.readings, self.planned).doubt


def rooms_air(
    rooms: Iterable[Room],
    *,
    since: dt.datetime,
    until: dt.datetime,
    now: dt.datetime,
    shop: Shop,
) -> dict[int, RoomAir]:
    """As `climates`."""
    rooms = list(rooms)
    start = since - BEHIND
    measured = _measured(rooms, start, until)
    planned = _planned(rooms, start, until, shop)
    return {
        room.pk: RoomAir(
            compose(
                readings=measured[room.pk],
                planned=planned[room.pk],
                now=to_hours(now),
                stale_after=shop.stale_after_hours,
            ),
            _up_to(measured[room.pk], to_hours(now)),
            planned[room.pk],
        )
        for room in rooms
    }


def _up_to(readings: Readings, now: float) -> Readings:
    known = readings.hours <= now
    return Readings(readings.hours[known], readings.celsius[known], readings.humidity[known])


def _measured(rooms: Sequence[Room], since: dt.datetime, until: dt.datetime) -> dict[int, Readings]:
    rows = (
        Reading.objects.filter(room__in=[room.pk for room in rooms], at__gte=since, at__lte=until)
        .order_by("room_id", "at")
        .values_list("room_id", UnixHours("at"), "celsius", "humidity")
    )
    table = np.array(list(rows), dtype=float).reshape(-1, 4)
    # SQLite's day numbers carry a fraction of a millisecond of noise.
    hours = np.round(table[:, 1] * MILLISECONDS) / MILLISECONDS
    found: dict[int, Readings] = {}
    for room in rooms:
        left, right = np.searchsorted(table[:, 0], [room.pk, room.pk + 1])
        found[room.pk] = Readings(
            hours=hours[left:right], celsius=table[left:right, 2], humidity=table[left:right, 3]
        )
    return found


def _planned(
    rooms: Sequence[Room], since: dt.datetime, until: dt.datetime, shop: Shop
) -> dict[int, Readings]:
    rows: dict[int, list[PlannedAir]] = defaultdict(list)
    for row in PlannedAir.objects.filter(room__in=[room.pk for room in rooms]):
        rows[row.room_id].append(row)
    week = _Week(since, until, shop)
    return {room.pk: planned_air(room, rows[room.pk], week) for room in rooms}


class _Week:
    """Weekday hours of the shop as moments between two times, worked out once for all rooms."""

    def __init__(self, since: dt.datetime, until: dt.datetime, shop: Shop) -> None:
        self.first, self.last = np.floor(to_hours(since)), np.ceil(to_hours(until))
        self.zone = shop.zone
        monday = since.astimezone(shop.zone).date()
        # A week earlier, so that the plan in force at the start is known.
        self.monday = monday - dt.timedelta(days=monday.weekday() + 7)
        self.weeks = (until.date() - self.monday).days // 7 + 1
        self._moments: dict[tuple[int, int], Floats] = {}

    @property
    def grid(self) -> Floats:
        return np.arange(self.first, self.last + 1.0)

    def moments(self, weekday: int, hour: int) -> Floats:
        key = (weekday, hour)
        if key not in self._moments:
            clock = dt.datetime.combine(self.monday, dt.time(hour)) + dt.timedelta(days=weekday)
            self._moments[key] = np.array(
                [
                    to_hours(settle(clock + dt.timedelta(weeks=number), self.zone))
                    for number in range(self.weeks + 1)
                ]
            )
        return self._moments[key]


def planned_air(room: Room, rows: Sequence[PlannedAir], week: _Week) -> Readings:
    """The room's plan at every hour, with both values where it steps from one to the next."""
    grid = week.grid
    if not rows:
        shape = np.ones_like(grid)
        return Readings(
            hours=grid,
            celsius=shape * room.usual_celsius,
            humidity=shape * room.usual_humidity,
        )
    at, values = _changes(room, rows, week)
    inside = (at > grid[0]) & (at < grid[-1])
    steps = np.flatnonzero(inside)
    plain = grid[~np.isin(grid, at[steps])]
    hours = np.concatenate([plain, at[steps], at[steps]])
    in_force = np.concatenate([np.searchsorted(at, plain, side="right") - 1, steps - 1, steps])
    order = np.lexsort((in_force, hours))
    celsius, humidity = values[in_force[order]].T
    return Readings(hours=hours[order], celsius=celsius, humidity=humidity)


def _changes(room: Room, rows: Sequence[PlannedAir], week: _Week) -> tuple[Floats, Floats]:
    """When the plan changes, in order, and to what: (n,) hours, (n, 2) °C and humidity."""
    rows = sorted(rows, key=lambda row: (row.weekday, row.hour))
    table = np.array([week.moments(row.weekday, row.hour) for row in rows]).T.ravel()
    to = np.array(
        [
            (row.celsius, room.usual_humidity if row.humidity is None else row.humidity)
            for row in rows
        ]
    )
    values = np.tile(to, (len(table) // len(rows), 1))
    # Two hours that the clocks jump over fall on one moment: the later one is in force.
    last = np.append(np.diff(table) > 0, True)
    return table[last], values[last]
