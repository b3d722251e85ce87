from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest
from django.db import connection
from django.db.models.signals import post_init
from django.test.utils import CaptureQueriesContext

from curing.climate import Climate
from shop.localtime import to_hours
from shop.models import PlannedAir, Reading, Room, Shop
from shop.services.climate import climates
from tests.factories import make_readings, make_room, make_shop

pytestmark = pytest.mark.django_db

# A Wednesday, 09:00 in Chicago.
NOW = dt.datetime(2026, 3, 18, 14, 0, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)
DAY = dt.timedelta(days=1)


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def plan(
    room: Room, weekday: int, hour: int, celsius: float, humidity: float | None = None
) -> None:
    PlannedAir.objects.create(
        room=room, weekday=weekday, hour=hour, celsius=celsius, humidity=humidity
    )


def air(room: Room, shop: Shop, now: dt.datetime = NOW, ahead: dt.timedelta = 7 * DAY) -> Climate:
    return climates([room], since=now - 7 * DAY, until=now + ahead, now=now, shop=shop)[room.pk]


def celsius(climate: Climate, at: dt.datetime) -> float:
    return float(climate.celsius_at(to_hours(at)))


def local(shop: Shop, *parts: int) -> dt.datetime:
    return dt.datetime(*parts, tzinfo=shop.zone)


def test_without_plan_and_readings_the_usual_air_is_expected(shop: Shop) -> None:
    room = make_room(celsius=17.5, usual_humidity=0.4)
    climate = air(room, shop)
    assert celsius(climate, NOW + 3 * DAY) == pytest.approx(17.5)
    assert float(climate.humidity_at(to_hours(NOW + 3 * DAY))) == pytest.approx(0.4)
    assert climate.stale
    assert climate.last_measured is None


def test_a_plan_holds_from_its_hour_until_the_next_and_wraps_the_week(shop: Shop) -> None:
    room = make_room()
    plan(room, 0, 7, 20.0)
    plan(room, 4, 16, 10.0)
    climate = air(room, shop)
    assert celsius(climate, local(shop, 2026, 3, 20, 15, 50)) == pytest.approx(20.0)
    assert celsius(climate, local(shop, 2026, 3, 20, 16, 10)) == pytest.approx(10.0)
    assert celsius(climate, local(shop, 2026, 3, 22, 12, 0)) == pytest.approx(10.0)
    assert celsius(climate, local(shop, 2026, 3, 23, 6, 50)) == pytest.approx(10.0)
    assert celsius(climate, local(shop, 2026, 3, 23, 7, 10)) == pytest.approx(20.0)


def test_the_plan_keeps_the_shops_clock_when_it_changes(shop: Shop) -> None:
    room = make_room()
    for weekday in range(7):
        plan(room, weekday, 7, 20.0)
        plan(room, weekday, 17, 10.0)
    climate = air(room, shop, now=dt.datetime(2026, 3, 6, 14, 0, tzinfo=dt.UTC))
    for day in (7, 8, 9):
        assert celsius(climate, local(shop, 2026, 3, day, 6, 50)) == pytest.approx(10.0)
        assert celsius(climate, local(shop, 2026, 3, day, 7, 10)) == pytest.approx(20.0)


def test_an_hour_that_the_clocks_jump_over_leaves_the_later_one_in_force(shop: Shop) -> None:
    room = make_room()
    plan(room, 6, 2, 5.0)
    plan(room, 6, 3, 25.0)
    plan(room, 6, 9, 15.0)
    climate = air(room, shop, now=dt.datetime(2026, 3, 6, 14, 0, tzinfo=dt.UTC))
    assert celsius(climate, local(shop, 2026, 3, 8, 3, 30)) == pytest.approx(25.0)
    assert celsius(climate, local(shop, 2026, 3, 8, 1, 30)) == pytest.approx(15.0)
    assert celsius(climate, local(shop, 2026, 3, 8, 9, 30)) == pytest.approx(15.0)


def test_a_humidity_left_out_of_the_plan_is_the_usual_one(shop: Shop) -> None:
    room = make_room(usual_humidity=0.6)
    plan(room, 0, 0, 20.0, humidity=0.3)
    plan(room, 3, 0, 20.0)
    climate = air(room, shop)
    assert float(climate.humidity_at(to_hours(local(shop, 2026, 3, 24, 12)))) == pytest.approx(0.3)
    assert float(climate.humidity_at(to_hours(local(shop, 2026, 3, 20, 12)))) == pytest.approx(0.6)


def test_readings_stand_where_there_are_some(shop: Shop) -> None:
    room = make_room(celsius=20.0)
    make_readings(room, NOW - 10 * HOUR, 10, celsius=12.0)
    climate = air(room, shop)
    assert celsius(climate, NOW - 5 * HOUR) == pytest.approx(12.0)
    assert climate.last_measured == pytest.approx(to_hours(NOW), abs=1e-9)
    assert climate.offset == pytest.approx(-8.0, abs=0.2)
    assert not climate.stale
    assert float(climate.measured_share(to_hours(NOW - 8 * HOUR), to_hours(NOW))) == 1.0


def test_a_sensor_that_stopped_makes_the_air_stale_after_the_shops_hours(shop: Shop) -> None:
    room = make_room()
    make_readings(room, NOW - 10 * HOUR, 6, celsius=12.0)
    assert air(room, shop).stale
    shop.stale_after_hours = 5.0
    assert not air(room, shop).stale


def test_milliseconds_survive_the_way_through_the_database(shop: Shop) -> None:
    room = make_room()
    at = NOW - HOUR + dt.timedelta(milliseconds=123)
    Reading.objects.create(room=room, at=at, celsius=15.0, source="hand")
    assert air(room, shop).last_measured == pytest.approx(to_hours(at), abs=1e-10)


def test_readings_belong_to_their_own_room_whatever_the_rooms_names(shop: Shop) -> None:
    late, early = make_room("Zinc room"), make_room("Annex")
    make_readings(late, NOW - 5 * HOUR, 5, celsius=11.0)
    make_readings(early, NOW - 5 * HOUR, 5, celsius=22.0)
    found = climates([early, late], since=NOW - DAY, until=NOW + DAY, now=NOW, shop=shop)
    assert celsius(found[late.pk], NOW - HOUR) == pytest.approx(11.0)
    assert celsius(found[early.pk], NOW - HOUR) == pytest.approx(22.0)


def test_ten_rooms_take_as_many_queries_as_one(shop: Shop) -> None:
    rooms = [make_room(f"Room {number}") for number in range(10)]
    for room in rooms:
        plan(room, 0, 7, 20.0)
        make_readings(room, NOW - 5 * HOUR, 5)
    counts = []
    for chosen in (rooms[:1], rooms):
        with CaptureQueriesContext(connection) as queries:
            climates(chosen, since=NOW - DAY, until=NOW + DAY, now=NOW, shop=shop)
        counts.append(len(queries))
    assert counts == [2, 2]


def test_no_rooms_no_air(shop: Shop) -> None:
    assert climates([], since=NOW - DAY, until=NOW + DAY, now=NOW, shop=shop) == {}


def test_a_reading_a_minute_is_read_in_columns_without_an_object_a_row(shop: Shop) -> None:
    """What keeps months of one-minute readings quick; the engine's part of it is in `make bench`."""
    rooms = [make_room(f"Room {number}") for number in range(3)]
    for room in rooms:
        for weekday in range(7):
            plan(room, weekday, 6, 20.0)
            plan(room, weekday, 18, 12.0)
        make_readings(room, NOW - 3 * DAY, 3 * 24, celsius=16.0, every_minutes=1)
    built: list[Reading] = []

    def note(instance: Reading, **_: object) -> None:
        built.append(instance)

    post_init.connect(note, sender=Reading)
    try:
        found = climates(rooms, since=NOW - 60 * DAY, until=NOW + 90 * DAY, now=NOW, shop=shop)
    finally:
        post_init.disconnect(note, sender=Reading)

    assert built == []
    # ASTM C1074, from memory: hours at 20 °C that cure as far as one at 16 °C; R as CODATA 2018 has it.
    rate = math.exp(41500.0 / 8.314462618 * (1 / 293.15 - 1 / 289.15))
    for room in rooms:
        air_of_room = found[room.pk]
        assert np.count_nonzero(np.diff(air_of_room.hours) < 0.02) >= 3 * 24 * 60
        age = air_of_room.equivalent_age(to_hours(NOW - 2 * DAY), to_hours(NOW), 41500.0)
        assert float(age) == pytest.approx(48 * rate, rel=1e-4)
