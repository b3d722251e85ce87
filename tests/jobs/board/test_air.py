"""A room's temperature over the week: measured, expected, and what bridges a hole."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from curing.climate import Readings, compose
from jobs.board.air import BOX_WIDTH, HEIGHT, room_airs, scale_of
from jobs.board.days import nights
from jobs.board.week import Week
from shop.localtime import to_hours
from shop.models import Room, Shop
from tests.jobs.board.build import ZONE, at

WEEK = Week(dt.date(2026, 11, 23), ZONE)
NOW = at(25, 8)
UNKNOWN = float("nan")


def readings(start: dt.datetime, end: dt.datetime, celsius: float) -> Readings:
    hours = np.arange(to_hours(start), to_hours(end), 0.25)
    return Readings(hours, np.full_like(hours, celsius), np.full_like(hours, UNKNOWN))


def joined(*parts: Readings) -> Readings:
    columns = zip(*((part.hours, part.celsius, part.humidity) for part in parts), strict=True)
    return Readings(*(np.concatenate(column) for column in columns))


def air(measured: Readings, week: Week = WEEK):
    climate = compose(
        readings=measured, planned=readings(at(15), at(30), 18), now=to_hours(NOW), stale_after=3.0
    )
    room = Room(pk=1, name="Casting room")
    (drawn,) = room_airs([room], {1: climate}, week, now=NOW, shop=Shop(pk=1, units="si"))
    return drawn


def test_the_line_is_measured_up_to_now_and_expected_after() -> None:
    drawn = air(readings(at(20), NOW, 20))

    assert [course.kind for course in drawn.courses] == ["measured", "expected"]
    assert (drawn.now_celsius, drawn.now_measured) == (pytest.approx(20, abs=0.1), True)
    assert drawn.basis == "measured, then expected"


def test_a_hole_in_the_readings_is_drawn_and_told() -> None:
    drawn = air(joined(readings(at(20), at(24), 20), readings(at(24, 12), NOW, 20)))

    assert [course.kind for course in drawn.courses] == [
        "measured",
        "bridged",
        "measured",
        "expected",
    ]
    (hole,) = drawn.holes
    assert hole[0] == at(23, 23, 45)
    assert hole[1] == at(24, 12)


def test_a_room_without_readings_is_expected_throughout() -> None:
    drawn = air(Readings(np.array([]), np.array([]), np.array([])))

    assert [course.kind for course in drawn.courses] == ["expected"]
    assert (drawn.last_measured, drawn.now_measured) == (None, False)


def test_the_line_runs_over_the_whole_width_without_a_break() -> None:
    drawn = air(readings(at(20), NOW, 20))

    points = [course.points.split() for course in drawn.courses]
    assert points[0][0].startswith("0.0,")
    assert points[-1][-1].startswith(f"{BOX_WIDTH:.1f},")
    assert points[0][-1] == points[1][0]


def test_the_extremes_carry_their_values() -> None:
    drawn = air(joined(readings(at(20), at(24), 20), readings(at(24), NOW, 5)))

    assert drawn.lowest.text == "5.0 °C"
    assert drawn.highest.text == "20.0 °C"
    assert drawn.highest.y < drawn.lowest.y


def test_another_week_has_no_present_moment() -> None:
    drawn = air(readings(at(16), NOW, 20), WEEK.before)

    assert drawn.now_celsius is None
    assert drawn.basis == "measured"


def test_each_day_says_how_much_of_it_was_measured() -> None:
    drawn = air(readings(at(20), NOW, 20))

    assert [day.measured for day in drawn.days] == [100, 100, 32, 0, 0, 0, 0]


def test_a_steady_room_keeps_a_quiet_line() -> None:
    scale = scale_of([np.array([20.0, 20.1])])

    assert abs(scale.y(20.0) - scale.y(20.1)) < 1
    assert 0 < scale.y(20.0) < HEIGHT


def test_a_lunch_break_is_no_night() -> None:
    windows = [(at(23, 7), at(23, 12)), (at(23, 12, 30), at(23, 15, 30)), (at(24, 7), at(24, 15))]

    drawn = nights(windows, WEEK)

    assert len(drawn) == 3
    assert drawn[1].x == pytest.approx(WEEK.place(at(23, 15, 30)), abs=0.01)


def test_a_week_without_shifts_is_one_night() -> None:
    (night,) = nights([], WEEK)

    assert (night.x, night.width) == (0, 100)
