"""A room kept warm over the nights of some weekdays: its planned air, raised where it is colder."""

from __future__ import annotations

from collections.abc import Collection

from django.db import transaction

from shop.models import Room
from shop.services.setup import AirFrom, edition, plan_air, planned_air

# A night here is from one shift's end to the next day's work, as heating is left on.
EVENING, MORNING = 15, 7
HOURS, DAYS = 24, 7


def warm_hours(weekday: int) -> set[tuple[int, int]]:
    """The clock hours of the night that begins on a weekday, Monday being 0."""
    evening = {(weekday, hour) for hour in range(EVENING, HOURS)}
    return evening | {((weekday + 1) % DAYS, hour) for hour in range(MORNING)}


def warmed(room: Room, celsius: float, weekdays: Collection[int]) -> list[AirFrom]:
    """The room's week with those nights at `celsius` at the least; nothing gets colder."""
    plan = sorted(planned_air(room))
    raised = {hour for weekday in weekdays for hour in warm_hours(weekday)}
    in_force = plan[-1] if plan else AirFrom(0, 0, room.usual_celsius, None)
    rows: list[AirFrom] = []
    at = {(row.weekday, row.hour): row for row in plan}
    for weekday in range(DAYS):
        for hour in range(HOURS):
            in_force = at.get((weekday, hour), in_force)
            warm = in_force.celsius
            if (weekday, hour) in raised:
                warm = max(warm, celsius)
            row = AirFrom(weekday, hour, warm, in_force.humidity)
            if not rows or (rows[-1].celsius, rows[-1].humidity) != (row.celsius, row.humidity):
                rows.append(row)
    return rows


@transaction.atomic
def keep_warm(*, room_id: int, celsius: float, weekdays: Collection[int]) -> None:
    room = Room.objects.select_for_update().get(pk=room_id)
    seen = edition(planned_air(room))
    plan_air(room_id=room_id, seen=seen, plan=warmed(room, celsius, weekdays))
