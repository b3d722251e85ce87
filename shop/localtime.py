"""Clock times in the shop's time zone to UTC, and what daylight saving does to them."""

from __future__ import annotations

import datetime as dt
import zoneinfo

HOUR = 3600.0


class NoSuchTime(ValueError):
    """The clocks jump over this time."""


class TwiceThatTime(ValueError):
    """The clocks show this time twice; `choices` are the two moments, earlier first."""

    def __init__(self, message: str, choices: tuple[dt.datetime, dt.datetime]) -> None:
        super().__init__(message)
        self.choices = choices


def to_utc(local: dt.datetime, zone: zoneinfo.ZoneInfo) -> dt.datetime:
    """The moment of a naive shop-clock time; raises where the clock has it not, or twice."""
    first, second = (local.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    shows = f"{local:%d %b %Y %H:%M}"
    try:
        early, late = first.astimezone(dt.UTC), second.astimezone(dt.UTC)
    except OverflowError as error:
        raise NoSuchTime(f"{shows} lies beyond the calendar.") from error
    if early == late:
        return early
    if early > late:
        raise NoSuchTime(f"{shows} does not exist: the clocks are put forward over it that night.")
    raise TwiceThatTime(
        f"{shows} happens twice that night: say which, {first:%Z} (first) or {second:%Z} (second).",
        (early, late),
    )


def settle(local: dt.datetime, zone: zoneinfo.ZoneInfo) -> dt.datetime:
    """Like `to_utc` for times nobody typed, such as a shift's start: the first moment that fits.

    A time the clocks jump over is the moment of the jump. So a later clock time never settles
    before an earlier one, and no shift ends before it starts.
    """
    early, late = (local.replace(tzinfo=zone, fold=fold).astimezone(dt.UTC) for fold in (0, 1))
    return _jump(late, early, zone) if early > late else early


def _jump(before: dt.datetime, after: dt.datetime, zone: zoneinfo.ZoneInfo) -> dt.datetime:
    """The moment between these two, to the second, at which the zone's offset changes."""
    old = before.astimezone(zone).utcoffset()
    low, high = int(before.timestamp()), int(after.timestamp())
    while high - low > 1:
        middle = (low + high) // 2
        if dt.datetime.fromtimestamp(middle, zone).utcoffset() == old:
            low = middle
        else:
            high = middle
    return dt.datetime.fromtimestamp(high, dt.UTC)


def to_hours(moment: dt.datetime) -> float:
    """The engine's time axis: hours since 1970 in UTC."""
    return moment.timestamp() / HOUR


def from_hours(hours: float) -> dt.datetime:
    """Back to a moment, on the whole minute at or after it, so that no step shows too early."""
    minutes = round(hours * 60, 4)
    whole = int(minutes) if minutes == int(minutes) else int(minutes) + 1
    return dt.datetime.fromtimestamp(whole * 60, tz=dt.UTC)


def on_later_day(at: dt.datetime, than: dt.datetime, zone: dt.tzinfo) -> bool:
    """By the shop's calendar: an hour past midnight is, an hour more on the day is not."""
    return at.astimezone(zone).date() > than.astimezone(zone).date()
