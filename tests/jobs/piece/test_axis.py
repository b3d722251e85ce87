from __future__ import annotations

import datetime as dt
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from jobs.piece.axis import LEFT, Axis, scale_for
from shop.localtime import to_hours

ZONE = ZoneInfo("America/Chicago")


def axis(first: dt.datetime, last: dt.datetime, width: float = 960) -> Axis:
    return Axis(to_hours(first), to_hours(last), width, ZONE)


def local(month: int, day: int, hour: int = 0) -> dt.datetime:
    return dt.datetime(2026, month, day, hour, tzinfo=ZONE)


def test_the_axis_runs_over_the_whole_drawing_and_keeps_inside_it():
    drawn = axis(local(3, 18), local(3, 20))

    assert drawn.at(local(3, 18)) == LEFT
    assert drawn.at(local(3, 20)) == drawn.right
    assert drawn.at(local(3, 19)) == pytest.approx((LEFT + drawn.right) / 2, abs=0.1)
    assert drawn.at(local(3, 25)) == drawn.right


def test_nights_run_from_evening_to_morning_and_are_cut_at_the_ends():
    drawn = axis(local(3, 18, 22), local(3, 20, 23))

    starts = [night.x for night in drawn.nights]
    assert starts == [LEFT, drawn.at(local(3, 19, 20)), drawn.at(local(3, 20, 20))]
    assert drawn.nights[0].width == pytest.approx(drawn.at(local(3, 19, 6)) - LEFT, abs=0.1)
    assert drawn.nights[2].x + drawn.nights[2].width == pytest.approx(drawn.right, abs=0.1)


def test_a_night_with_a_clock_change_is_an_hour_shorter():
    plain, short = (axis(local(3, day, 12), local(3, day + 1, 12)) for day in (10, 7))

    hours = [
        drawn.nights[0].width / drawn.inner * (drawn.until - drawn.since)
        for drawn in (plain, short)
    ]
    assert hours == pytest.approx([10.0, 9.0], abs=0.05)


@pytest.mark.parametrize("days", [3, 9, 30, 80])
def test_names_of_days_never_cover_each_other(days):
    for width in (344, 690, 960):
        drawn = axis(local(3, 1, 9), local(3, 1, 9) + dt.timedelta(days=days), width)
        named = [tick.at for tick in drawn.days if tick.label]

        assert named
        assert all(b - a >= 40 for a, b in pairwise(named))
        assert named[-1] + 38 <= width


@pytest.mark.parametrize(("low", "high"), [(0, 7612), (61.3, 68.9), (40, 40), (-12.4, 3), (0, 0.3)])
def test_a_scale_holds_its_values_on_round_numbers(low, high):
    scale = scale_for(low, high, 50, 150, lines=5)

    assert scale.low <= low
    assert scale.high >= high
    assert scale.y(scale.low) == 150
    assert scale.y(scale.high) == 50
    assert 2 <= len(scale.ticks) <= 8
