from __future__ import annotations

import datetime as dt
import zoneinfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.localtime import NoSuchTime, TwiceThatTime, from_hours, settle, to_hours, to_utc

CHICAGO = zoneinfo.ZoneInfo("America/Chicago")
ZONES = [
    zoneinfo.ZoneInfo(name)
    for name in (
        "America/Chicago",
        "America/St_Johns",
        "Australia/Lord_Howe",
        "Europe/Berlin",
        "UTC",
    )
]
FIRST, LAST = dt.datetime.fromisoformat("2020-01-01"), dt.datetime.fromisoformat("2032-12-31")
CLOCK_TIMES = st.datetimes(FIRST, LAST)


def clock(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text)


def utc(*parts: int) -> dt.datetime:
    return dt.datetime(*parts, tzinfo=dt.UTC)


def test_an_ordinary_time_is_one_moment() -> None:
    assert to_utc(clock("2026-01-15 06:40"), CHICAGO) == utc(2026, 1, 15, 12, 40)


def test_a_time_that_the_clocks_jump_over_is_refused() -> None:
    with pytest.raises(NoSuchTime, match="08 Mar 2026 02:30 does not exist"):
        to_utc(clock("2026-03-08 02:30"), CHICAGO)


def test_a_time_that_happens_twice_names_both() -> None:
    with pytest.raises(TwiceThatTime, match=r"CDT \(first\) or CST \(second\)") as caught:
        to_utc(clock("2026-11-01 01:30"), CHICAGO)
    assert caught.value.choices == (utc(2026, 11, 1, 6, 30), utc(2026, 11, 1, 7, 30))


def test_nobody_typed_it_so_a_time_jumped_over_settles_at_the_jump() -> None:
    assert settle(clock("2026-03-08 02:30"), CHICAGO) == utc(2026, 3, 8, 8, 0)


def test_nobody_typed_it_so_a_time_shown_twice_settles_at_the_first() -> None:
    assert settle(clock("2026-11-01 01:30"), CHICAGO) == utc(2026, 11, 1, 6, 30)


@given(st.sampled_from(ZONES), CLOCK_TIMES, st.timedeltas(dt.timedelta(0), dt.timedelta(hours=4)))
def test_a_later_clock_time_never_settles_earlier(
    zone: zoneinfo.ZoneInfo, shown: dt.datetime, later: dt.timedelta
) -> None:
    assert settle(shown, zone) <= settle(shown + later, zone)


@pytest.mark.parametrize(
    ("day", "zone"), [(dt.date.max, CHICAGO), (dt.date.min, zoneinfo.ZoneInfo("Europe/Berlin"))]
)
def test_a_time_beyond_the_calendar_is_refused(day: dt.date, zone: zoneinfo.ZoneInfo) -> None:
    edge = dt.time(0) if day == dt.date.min else dt.time(23, 59)
    with pytest.raises(NoSuchTime, match="beyond the calendar"):
        to_utc(dt.datetime.combine(day, edge), zone)


@given(st.sampled_from(ZONES), CLOCK_TIMES)
def test_what_is_not_refused_shows_again_as_it_was_typed(
    zone: zoneinfo.ZoneInfo, shown: dt.datetime
) -> None:
    try:
        moments = [to_utc(shown, zone)]
    except TwiceThatTime as twice:
        moments = list(twice.choices)
    except NoSuchTime:
        moments = []
    for moment in moments:
        assert moment.astimezone(zone).replace(tzinfo=None) == shown


@given(st.datetimes(FIRST, LAST, timezones=st.just(dt.UTC)))
def test_back_from_hours_is_never_earlier_and_within_a_minute(moment: dt.datetime) -> None:
    back = from_hours(to_hours(moment))
    # The engine's floats carry some ten microseconds of noise at today's dates.
    assert dt.timedelta(milliseconds=-5) < back - moment < dt.timedelta(minutes=1)
    assert back.second == back.microsecond == 0
