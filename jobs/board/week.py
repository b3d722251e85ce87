"""Seven days of the shop's clock, and where a moment lies on their width."""

from __future__ import annotations

import datetime as dt
import re
import zoneinfo
from dataclasses import dataclass
from functools import cached_property

from shop.localtime import settle

DAY = dt.timedelta(days=1)
WRITTEN = re.compile(r"^(\d{4})-W(\d{2})$")
FIRST_YEAR, LAST_YEAR = 2000, 2100


class NoSuchWeek(ValueError):
    pass


@dataclass(frozen=True)
class Week:
    monday: dt.date
    zone: zoneinfo.ZoneInfo

    @cached_property
    def days(self) -> tuple[dt.date, ...]:
        return tuple(self.monday + number * DAY for number in range(7))

    @cached_property
    def starts(self) -> dt.datetime:
        return self.midnight(self.monday)

    @cached_property
    def ends(self) -> dt.datetime:
        return self.midnight(self.monday + 7 * DAY)

    def midnight(self, day: dt.date) -> dt.datetime:
        return settle(dt.datetime.combine(day, dt.time()), self.zone)

    @property
    def number(self) -> int:
        return self.monday.isocalendar().week

    @property
    def written(self) -> str:
        year, week, _ = self.monday.isocalendar()
        return f"{year}-W{week:02d}"

    @property
    def sunday(self) -> dt.date:
        return self.days[6]

    @property
    def before(self) -> Week:
        return Week(self.monday - 7 * DAY, self.zone)

    @property
    def after(self) -> Week:
        return Week(self.monday + 7 * DAY, self.zone)

    def place(self, moment: dt.datetime) -> float:
        """Percent of the week's elapsed hours (167 or 169 with a clock change), unclipped."""
        return 100.0 * (moment - self.starts) / (self.ends - self.starts)

    def clipped(self, moment: dt.datetime) -> float:
        return min(100.0, max(0.0, self.place(moment)))

    def holds(self, moment: dt.datetime | None) -> bool:
        return moment is not None and self.starts <= moment < self.ends

    def day_of(self, moment: dt.datetime) -> dt.date:
        return moment.astimezone(self.zone).date()


def week_of(moment: dt.datetime, zone: zoneinfo.ZoneInfo) -> Week:
    day = moment.astimezone(zone).date()
    return Week(day - day.weekday() * DAY, zone)


def read_week(text: str, now: dt.datetime, zone: zoneinfo.ZoneInfo) -> Week:
    """The week written like 2026-W48; this one where nothing is written."""
    if not text:
        return week_of(now, zone)
    match = WRITTEN.match(text.strip())
    if not match or not FIRST_YEAR <= int(match[1]) <= LAST_YEAR:
        like = week_of(now, zone).written
        raise NoSuchWeek(f"{text[:20]!r} is not a week. Write one like {like}.")
    try:
        return Week(dt.date.fromisocalendar(int(match[1]), int(match[2]), 1), zone)
    except ValueError as error:
        raise NoSuchWeek(f"{match[1]} has no week {match[2]}.") from error
