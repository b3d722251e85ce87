"""When somebody is on shift: weekday hours in shop time, minus closed days, with extra hours."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import holidays
import numpy as np
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from curing.timeline import Shifts
from shop.localtime import settle, to_hours
from shop.models import ClosedDay, ExtraHours, Shop, WorkingHours
from shop.services.changed import note_change
from shop.services.errors import Refused

DAY = dt.timedelta(days=1)
# A clock field cannot say 24:00: the last minute of a day stands for its end.
LAST_MINUTE = dt.time(23, 59)
MOST_DAYS_AHEAD = 366

Worked = WorkingHours | ExtraHours
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
    windows = [
        window
        for day, hours in _hours_a_day(first, last).items()
        for window in _windows_of(day, hours, shop)
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
    """Days on which the usual hours are not worked, with the reason; extra hours still are."""
    rows = ClosedDay.objects.filter(day__range=(first, last), open_anyway=False)
    return dict(rows.values_list("day", "name"))


def is_open(day: dt.date) -> bool:
    return day in open_days(day, day)


def open_days(first: dt.date, last: dt.date) -> set[dt.date]:
    """Days on which somebody is on shift, in three queries however many days are asked for."""
    return {day for day, hours in _hours_a_day(first, last).items() if hours}


def extra_hours(since: dt.date) -> list[ExtraHours]:
    """Those of this day and later, the next first."""
    return list(ExtraHours.objects.filter(day__gte=since))


@transaction.atomic
def add_extra(
    *,
    day: dt.date,
    starts: dt.time,
    ends: dt.time,
    reason: str = "",
    today: dt.date | None = None,
) -> ExtraHours:
    """Hours beside the usual ones of one day, which may be closed or have none."""
    shop = Shop.objects.select_for_update().get(pk=1)  # one at a time: they may not overlap
    _sound(day, starts, ends, today or timezone.localdate(timezone=shop.zone))
    for worked in _hours_a_day(day, day)[day]:
        span = {"from": f"{worked.starts:%H:%M}", "to": f"{worked.ends:%H:%M}"}
        if isinstance(worked, ExtraHours) and starts < worked.ends and worked.starts < ends:
            raise Refused(
                _("There are extra hours from %(from)s to %(to)s on that day. Remove them first, "
                  "or choose hours beside them.") % span,
                field="starts",
            )  # fmt: skip
        if worked.starts <= starts and ends <= worked.ends:
            raise Refused(
                _("The shop works from %(from)s to %(to)s on that day anyway. Extra hours begin "
                  "before that or end after it.") % span,
                field="starts",
            )  # fmt: skip
    extra: ExtraHours = ExtraHours.objects.create(
        day=day, starts=starts, ends=ends, reason=reason[:80]
    )
    note_change("extra hours added")
    return extra


@transaction.atomic
def remove_extra(*, extra_id: int) -> None:
    ExtraHours.objects.filter(pk=extra_id).delete()
    note_change("extra hours removed")


def _sound(day: dt.date, starts: dt.time, ends: dt.time, today: dt.date) -> None:
    if day < today:
        raise Refused(_("That day is over. Choose today or a day to come."), field="day")
    if (day - today).days > MOST_DAYS_AHEAD:
        raise Refused(_("That is more than a year ahead. Check the year."), field="day")
    if ends <= starts:
        raise Refused(
            _("Ends before it begins. Hours past midnight are a second day's."), field="ends"
        )


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


def _hours_a_day(first: dt.date, last: dt.date) -> dict[dt.date, list[Worked]]:
    """What is worked on each day, in three queries: the usual hours, unless closed, and extra."""
    closed = closed_days(first, last)
    usual = _hours_a_weekday()
    extra: dict[dt.date, list[ExtraHours]] = defaultdict(list)
    for row in ExtraHours.objects.filter(day__range=(first, last)):
        extra[row.day].append(row)
    return {
        day: [*(usual[day.weekday()] if day not in closed else []), *extra[day]]
        for day in _days(first, last)
    }


def _hours_a_weekday() -> dict[int, list[WorkingHours]]:
    hours: dict[int, list[WorkingHours]] = defaultdict(list)
    for row in WorkingHours.objects.order_by("weekday", "starts"):
        hours[row.weekday].append(row)
    return hours


def _days(first: dt.date, last: dt.date) -> Iterator[dt.date]:
    for number in range((last - first).days + 1):
        yield first + number * DAY


def _windows_of(day: dt.date, hours: Iterable[Worked], shop: Shop) -> Iterator[Window]:
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
