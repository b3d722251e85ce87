"""When somebody is on shift: weekday hours in shop time, minus the days the shop is closed."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import holidays
import numpy as np

from curing.timeline import Shifts
from shop.localtime import settle, to_hours
from shop.models import ClosedDay, Shop, WorkingHours

DAY = dt.timedelta(days=1)
# A clock field cannot say 24:00: the last minute of a day stands for its end.
LAST_MINUTE = dt.time(23, 59)

Window = tuple[dt.datetime, dt.datetime]


@dataclass(frozen=True)
class Proposal:
    """A public holiday the shop may want to close on."""

    day: dt.date
    name: str


def working_windows(shop: Shop, since: dt.datetime, until: dt.datetime) -> list[Window]:
    """Stretches in which somebody is on shift, in UTC, in order, touching ones joined."""
    first = since.astimezone(shop.zone).date()
    last = until.astimezone(shop.zone).date()
    closed = closed_days(first, last)
    hours = _hours_a_weekday()
    windows = [
        window
        for day in _days(first, last)
        if day not in closed
        for window in _windows_of(day, hours[day.weekday()], shop)
    ]
    return _joined(
        (max(start, since), min(end, until))
        for start, end in windows
        if end > since and start < until
    )


def shifts(shop: Shop, since: dt.datetime, until: dt.datetime) -> Shifts:
    windows = working_windows(shop, since, until)
    hours = [(to_hours(start), to_hours(end)) for start, end in windows]
    return Shifts(windows=np.array(hours, dtype=float).reshape(-1, 2))


def closed_days(first: dt.date, last: dt.date) -> dict[dt.date, str]:
    """Days the shop is closed although its weekday has hours, with the reason."""
    rows = ClosedDay.objects.filter(day__range=(first, last), open_anyway=False)
    return dict(rows.values_list("day", "name"))


def is_open(day: dt.date) -> bool:
    return day in open_days(day, day)


def open_days(first: dt.date, last: dt.date) -> set[dt.date]:
    """Days on which somebody is on shift, in two queries however many days are asked for."""
    closed = closed_days(first, last)
    hours = _hours_a_weekday()
    return {day for day in _days(first, last) if hours[day.weekday()] and day not in closed}


def proposed_closed_days(year: int, shop: Shop) -> list[Proposal]:
    """Public holidays of the shop's country and region; none where the library knows none."""
    known = _public_holidays(year, shop.country, shop.region)
    return [Proposal(day, name) for day, name in sorted(known.items())]


def _public_holidays(year: int, country: str, region: str) -> dict[dt.date, str]:
    """Of a country the library does not know none; of such a region its country's days."""
    regions = holidays.list_supported_countries().get(country)
    if regions is None:
        return {}
    subdivision = region if region in regions else None
    return dict(holidays.country_holidays(country, subdiv=subdivision, years=year))


def _hours_a_weekday() -> dict[int, list[WorkingHours]]:
    hours: dict[int, list[WorkingHours]] = defaultdict(list)
    for row in WorkingHours.objects.order_by("weekday", "starts"):
        hours[row.weekday].append(row)
    return hours


def _days(first: dt.date, last: dt.date) -> Iterator[dt.date]:
    for number in range((last - first).days + 1):
        yield first + number * DAY


def _windows_of(day: dt.date, hours: Iterable[WorkingHours], shop: Shop) -> Iterator[Window]:
    for row in hours:
        end = (
            dt.datetime.combine(day + DAY, dt.time())
            if row.ends >= LAST_MINUTE
            else dt.datetime.combine(day, row.ends)
        )
        start = settle(dt.datetime.combine(day, row.starts), shop.zone)
        settled = settle(end, shop.zone)
        if settled > start:  # the clocks may have jumped over all of it
            yield start, settled


def _joined(windows: Iterable[Window]) -> list[Window]:
    joined: list[Window] = []
    for start, end in sorted(windows):
        if joined and start <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((start, end))
    return joined
