"""What each day of the week holds: shifts, closed days, casts with their area, installs."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field

from jobs.board.week import DAY, Week
from shop.models import Shop
from shop.services.calendar import closed_days, working_windows

# A lunch break is no night.
NIGHT = dt.timedelta(hours=2)


@dataclass(frozen=True)
class Stretch:
    x: float
    width: float


@dataclass(frozen=True)
class Cast:
    at: dt.datetime
    codes: tuple[str, ...]
    mix: str
    room: str
    area_m2: float
    people: int
    done: bool
    batch_id: int | None
    overdue: bool


@dataclass(frozen=True)
class Install:
    at: dt.datetime
    number: str
    title: str
    people: int
    hours: float
    note: str


@dataclass
class Day:
    day: dt.date
    x: float
    width: float
    today: bool
    closed: str
    on_shift: bool
    casts: list[Cast] = field(default_factory=list)
    installs: list[Install] = field(default_factory=list)

    @property
    def area_m2(self) -> float:
        return sum(cast.area_m2 for cast in self.casts)

    @property
    def people(self) -> int:
        """What the largest cast of the day takes: casts of one day follow each other."""
        return max((cast.people for cast in self.casts), default=0)

    @property
    def busy(self) -> bool:
        return bool(self.casts or self.installs)

    @property
    def why_empty(self) -> str:
        """Why nobody works that day, in words."""
        if self.closed:
            return f"closed: {self.closed}"
        return "" if self.on_shift else "no shift"


Windows = Sequence[tuple[dt.datetime, dt.datetime]]


def week_days(week: Week, shop: Shop, now: dt.datetime) -> tuple[list[Day], list[Stretch]]:
    """The seven days, and the stretches outside working hours."""
    windows = working_windows(shop, week.starts, week.ends)
    closed = closed_days(week.monday, week.sunday)
    staffed = {week.day_of(start) for start, _ in windows}
    days = [_day(day, week, now, closed.get(day, ""), staffed) for day in week.days]
    return days, nights(windows, week)


def _day(
    day: dt.date, week: Week, now: dt.datetime, closed: str, staffed: Collection[dt.date]
) -> Day:
    x = week.place(week.midnight(day))
    return Day(
        day=day,
        x=round(x, 3),
        width=round(week.place(week.midnight(day + DAY)) - x, 3),
        today=day == week.day_of(now),
        closed=closed,
        on_shift=day in staffed,
    )


def nights(windows: Windows, week: Week) -> list[Stretch]:
    edges = [week.starts, *(edge for window in windows for edge in window), week.ends]
    gaps = zip(edges[::2], edges[1::2], strict=True)
    return [_stretch(start, end, week) for start, end in gaps if end - start >= NIGHT]


def _stretch(start: dt.datetime, end: dt.datetime, week: Week) -> Stretch:
    x = week.place(start)
    return Stretch(round(x, 3), round(week.place(end) - x, 3))


def fill(
    days: Iterable[Day], casts: Iterable[Cast], installs: Iterable[Install], week: Week
) -> None:
    by_day = {day.day: day for day in days}
    for cast in casts:
        by_day[week.day_of(cast.at)].casts.append(cast)
    for install in installs:
        by_day[week.day_of(install.at)].installs.append(install)
