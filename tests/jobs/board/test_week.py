from __future__ import annotations

import datetime as dt

import pytest

from jobs.board.week import NoSuchWeek, Week, read_week, week_of
from tests.jobs.board.build import ZONE, at

WEEK = Week(dt.date(2026, 11, 23), ZONE)


def test_a_week_starts_on_monday_in_the_shop_s_zone() -> None:
    # Sunday evening in the shop is Monday in UTC.
    assert week_of(dt.datetime(2026, 11, 23, 3, 0, tzinfo=dt.UTC), ZONE) == WEEK.before
    assert week_of(at(29, 23, 59), ZONE) == WEEK


def test_the_present_week_is_shown_where_none_is_written() -> None:
    assert read_week("", at(25, 8), ZONE) == WEEK


@pytest.mark.parametrize(
    "text", ["2026-W54", "2025-W53", "next", "2026-48", "9999-W01", "2026-W00"]
)
def test_a_week_that_there_is_not_is_told(text: str) -> None:
    with pytest.raises(NoSuchWeek):
        read_week(text, at(25, 8), ZONE)


def test_weeks_turn_over_the_year() -> None:
    last = read_week("2026-W53", at(25, 8), ZONE)

    assert last.after.written == "2027-W01"
    assert last.after.before == last


def test_the_week_of_a_clock_change_has_its_real_hours() -> None:
    spring = Week(dt.date(2026, 3, 2), ZONE)
    autumn = Week(dt.date(2026, 10, 26), ZONE)

    assert (spring.ends - spring.starts, autumn.ends - autumn.starts) == (
        dt.timedelta(hours=167),
        dt.timedelta(hours=169),
    )


def test_a_moment_lies_at_its_share_of_the_week() -> None:
    assert WEEK.place(WEEK.starts) == 0
    assert WEEK.place(at(26, 12)) == pytest.approx(50)
    assert WEEK.clipped(at(22)) == 0
    assert not WEEK.holds(WEEK.ends)
