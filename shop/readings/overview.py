"""What the page of readings shows, in a number of queries that does not grow with anything."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from curing.climate import Climate
from shop.localtime import HOUR
from shop.models import Reading, Room, Shop
from shop.readings.chart import Chart
from shop.services.climate import climates
from shop.services.readings import latest_of

PAGE = 25
BACK = dt.timedelta(days=8)
AHEAD = dt.timedelta(days=5)
GAPS_SHOWN = 3


@dataclass(frozen=True)
class RoomAir:
    room: Room
    latest: Reading | None
    climate: Climate
    wide: Chart
    narrow: Chart
    stopped: bool

    @property
    def gaps(self) -> list[tuple[dt.datetime, dt.datetime]]:
        """The newest holes in the week shown."""
        shown = [gap for gap in self.climate.gaps if gap[1] > self.wide.since]
        return [(_moment(start), _moment(end)) for start, end in shown[-GAPS_SHOWN:]]

    @property
    def offset(self) -> float | None:
        """How far the last day's readings sat from the plan, in K, where it is worth saying."""
        return self.climate.offset if abs(self.climate.offset) >= 0.5 else None


@dataclass(frozen=True)
class Recent:
    room: Room
    rows: list[Reading]
    page: int
    older: int | None
    newer: int | None


def rooms_air(rooms: list[Room], shop: Shop, now: dt.datetime) -> list[RoomAir]:
    air = climates(rooms, since=now - BACK, until=now + AHEAD, now=now, shop=shop)
    latest = latest_of(rooms)
    return [_room_air(room, latest.get(room.pk), air[room.pk], shop, now) for room in rooms]


def _room_air(
    room: Room, latest: Reading | None, climate: Climate, shop: Shop, now: dt.datetime
) -> RoomAir:
    stale = dt.timedelta(hours=shop.stale_after_hours)
    return RoomAir(
        room=room,
        latest=latest,
        climate=climate,
        wide=Chart(climate, shop, now, days_back=7, days_ahead=3, width=860, name="wide"),
        narrow=Chart(climate, shop, now, days_back=2, days_ahead=2, width=360, name="narrow"),
        stopped=latest is None or now - latest.at > stale,
    )


def recent(room: Room, page: int) -> Recent:
    start = (page - 1) * PAGE
    rows = list(
        Reading.objects.filter(room=room)
        .select_related("sensor", "by")
        .order_by("-at")[start : start + PAGE + 1]
    )
    return Recent(
        room=room,
        rows=rows[:PAGE],
        page=page,
        older=page + 1 if len(rows) > PAGE else None,
        newer=page - 1 if page > 1 else None,
    )


def _moment(hours: float) -> dt.datetime:
    return dt.datetime.fromtimestamp(hours * HOUR, tz=dt.UTC)
