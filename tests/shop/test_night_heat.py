from __future__ import annotations

import pytest

from shop.models import Change, PlannedAir, Room
from shop.services import night_heat
from shop.services.setup import AirFrom, planned_air
from tests.factories import make_room

pytestmark = pytest.mark.django_db

MONDAY, TUESDAY, SUNDAY = 0, 1, 6


def at(plan: list[AirFrom], weekday: int, hour: int) -> float:
    """What the heating is set to then: the last row before it, round the week."""
    before = [row for row in sorted(plan) if (row.weekday, row.hour) <= (weekday, hour)]
    return (before or sorted(plan))[-1].celsius


@pytest.fixture
def room() -> Room:
    """18 °C by day from 7:00, 12 °C from 17:00, each working day; the weekend as Friday night."""
    room = make_room(celsius=15.0)
    for weekday in range(5):
        for hour, celsius in ((7, 18.0), (17, 12.0)):
            PlannedAir.objects.create(room=room, weekday=weekday, hour=hour, celsius=celsius)
    return room


def test_the_nights_asked_for_are_warm_and_nothing_else_changes(room: Room) -> None:
    before = planned_air(room)
    night_heat.keep_warm(room_id=room.pk, celsius=22.0, weekdays={MONDAY})
    after = planned_air(room)
    for weekday in range(7):
        for hour in range(24):
            was, now = at(before, weekday, hour), at(after, weekday, hour)
            if (weekday, hour) in night_heat.warm_hours(MONDAY):
                assert now == 22.0, (weekday, hour)
            else:
                assert now == was, (weekday, hour)
    assert at(after, MONDAY, 23) == at(after, TUESDAY, 6) == 22.0
    assert at(after, TUESDAY, 7) == 18.0


def test_a_room_that_is_warmer_stays_so(room: Room) -> None:
    before = planned_air(room)
    night_heat.keep_warm(room_id=room.pk, celsius=10.0, weekdays={MONDAY, SUNDAY})
    after = planned_air(room)
    assert all(
        at(before, weekday, hour) == at(after, weekday, hour)
        for weekday in range(7)
        for hour in range(24)
    )


def test_the_night_of_a_sunday_ends_on_monday_morning(room: Room) -> None:
    night_heat.keep_warm(room_id=room.pk, celsius=22.0, weekdays={SUNDAY})
    after = planned_air(room)
    assert at(after, SUNDAY, 20) == at(after, MONDAY, 3) == 22.0
    assert at(after, MONDAY, 8) == 18.0


def test_a_room_without_a_plan_is_warmed_from_its_usual_air() -> None:
    room = make_room("Back room", celsius=15.0)
    night_heat.keep_warm(room_id=room.pk, celsius=22.0, weekdays={TUESDAY})
    after = planned_air(room)
    assert at(after, TUESDAY, 22) == 22.0
    assert at(after, TUESDAY, 12) == 15.0


def test_dates_follow_a_warmer_night(room: Room) -> None:
    night_heat.keep_warm(room_id=room.pk, celsius=22.0, weekdays={MONDAY})
    assert Change.objects.exists()
