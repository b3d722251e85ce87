"""A week across the page: hours of work take most of the width, nights and days off are narrow."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from shop.localtime import settle
from shop.models import Shop
from shop.services.calendar import closed_days, working_windows
from shop.services.crew import NotThere, not_there, planned_people

DAY = dt.timedelta(days=1)
NIGHT = 0.16  # of the width of an hour of work, for an hour in which nobody is there
BREAK = dt.timedelta(hours=2)  # a lunch break is no night


@dataclass(frozen=True)
class Stretch:
    x: float
    width: float


@dataclass(frozen=True)
class AxisDay:
    day: dt.date
    x: float
    width: float
    today: bool
    closed: str
    staffed: bool
    gone: NotThere

    @property
    def middle(self) -> float:
        return round(self.x + self.width / 2, 2)

    @property
    def why_empty(self) -> str:
        return f"closed: {self.closed}" if self.closed else "" if self.staffed else "no shift"

    def why_not(self, name: str) -> str:
        """Why somebody works no hour that day; nothing where they are there, or the day is over."""
        if self.closed and not self.staffed:
            return "closed"
        if not self.staffed:
            return "no shift"
        return "away" if name in self.gone.away else "not in" if name in self.gone.not_in else ""

    @property
    def gone_words(self) -> str:
        """'Away: Ida Marsh. Not in on a Friday: Ben Carrow.'; nothing where nobody works anyway."""
        if not self.staffed:
            return ""
        away, not_in = (", ".join(names) for names in (self.gone.away, self.gone.not_in))
        words = [f"Away: {away}."] if away else []
        words += [f"Not in on a {self.day:%A}: {not_in}."] if not_in else []
        return " ".join(words)


@dataclass(frozen=True)
class Axis:
    monday: dt.date
    zone: zoneinfo.ZoneInfo
    edges: tuple[dt.datetime, ...]
    at: tuple[float, ...]  # percent of the width, one an edge
    days: tuple[AxisDay, ...]
    nights: tuple[Stretch, ...]
    now: dt.datetime

    @property
    def starts(self) -> dt.datetime:
        return self.edges[0]

    @property
    def ends(self) -> dt.datetime:
        return self.edges[-1]

    @property
    def sunday(self) -> dt.date:
        return self.monday + 6 * DAY

    @property
    def number(self) -> int:
        return self.monday.isocalendar().week

    @property
    def now_x(self) -> float | None:
        return self.x(self.now) if self.starts <= self.now < self.ends else None

    def x(self, moment: dt.datetime) -> float:
        """Percent, within the week."""
        if moment <= self.edges[0]:
            return 0.0
        if moment >= self.edges[-1]:
            return 100.0
        n = bisect_right(self.edges, moment) - 1
        share = (moment - self.edges[n]) / (self.edges[n + 1] - self.edges[n])
        return round(self.at[n] + share * (self.at[n + 1] - self.at[n]), 3)

    def touches(self, begins: dt.datetime, ends: dt.datetime) -> bool:
        return begins < self.ends and ends > self.starts

    def day_of(self, moment: dt.datetime) -> dt.date:
        return moment.astimezone(self.zone).date()


def axis_of(monday: dt.date, shop: Shop, now: dt.datetime) -> Axis:
    zone = shop.zone
    midnights = [settle(dt.datetime.combine(monday + n * DAY, dt.time()), zone) for n in range(8)]
    windows = _joined(working_windows(shop, midnights[0], midnights[-1]))
    edges = sorted({*midnights, *(edge for window in windows for edge in window)})
    widths = [
        (end - begin) / dt.timedelta(hours=1) * (1.0 if _within(begin, windows) else NIGHT)
        for begin, end in pairwise(edges)
    ]
    at, total = [0.0], sum(widths)
    for width in widths:
        at.append(at[-1] + 100.0 * width / total)
    place = dict(zip(edges, at, strict=True))
    closed = closed_days(monday, monday + 6 * DAY)
    staffed = {begin.astimezone(zone).date() for begin, _ in windows}
    today = now.astimezone(zone).date()
    hands = planned_people(since=monday).hands
    days = tuple(
        AxisDay(
            day=day,
            x=round(place[begin], 3),
            width=round(place[end] - place[begin], 3),
            today=day == today,
            closed=closed.get(day, ""),
            staffed=day in staffed,
            gone=not_there(hands, day),
        )
        for day, begin, end in zip(
            (monday + n * DAY for n in range(7)), midnights, midnights[1:], strict=False
        )
    )
    nights = tuple(
        Stretch(round(place[begin], 3), round(place[end] - place[begin], 3))
        for begin, end in pairwise(edges)
        if not _within(begin, windows)
    )
    return Axis(monday, zone, tuple(edges), tuple(at), days, nights, now)


Windows = Sequence[tuple[dt.datetime, dt.datetime]]


def _joined(windows: Windows) -> list[tuple[dt.datetime, dt.datetime]]:
    joined: list[tuple[dt.datetime, dt.datetime]] = []
    for begin, end in windows:
        if joined and begin - joined[-1][1] < BREAK:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((begin, end))
    return joined


def _within(moment: dt.datetime, windows: Windows) -> bool:
    return any(begin <= moment < end for begin, end in windows)


def monday_of(moment: dt.datetime, zone: zoneinfo.ZoneInfo) -> dt.date:
    day = moment.astimezone(zone).date()
    return day - day.weekday() * DAY


def read_monday(text: str, now: dt.datetime, zone: zoneinfo.ZoneInfo) -> dt.date:
    """The Monday of the day written like 2026-03-18; of this week where that is none."""
    try:
        day = dt.date.fromisoformat(text[:10])
    except ValueError:
        return monday_of(now, zone)
    if not 2000 <= day.year <= 2100:
        return monday_of(now, zone)
    return day - day.weekday() * DAY
