"""Readings are facts: taken once; the same again changes nothing, a different one is refused."""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db import transaction
from django.db.models import OuterRef, Subquery

from shop.access import may
from shop.models import Person, Reading, Room, Sensor
from shop.services.air_limits import (
    clock_words,
    humidity_fault,
    temperature_fault,
    time_fault,
)
from shop.services.changed import note_change
from shop.services.errors import Refused

log = logging.getLogger("curewright.readings")

# What is left of a value after it went through another unit or a file's decimals.
SAME_CELSIUS = 0.006
SAME_HUMIDITY = 0.0006
OLDEST_BY_HAND = dt.timedelta(days=400)


@dataclass(frozen=True)
class Air:
    """One reading before it is taken. `index` is its place in what was sent, from 0."""

    at: dt.datetime
    celsius: float
    humidity: float | None = None
    index: int = 0

    def same_as(self, other: Air) -> bool:
        if abs(self.celsius - other.celsius) > SAME_CELSIUS:
            return False
        if self.humidity is None or other.humidity is None:
            return self.humidity is other.humidity
        return abs(self.humidity - other.humidity) <= SAME_HUMIDITY

    @property
    def words(self) -> str:
        humid = "" if self.humidity is None else f", {self.humidity * 100:.0f} % humidity"
        return f"{self.celsius:.1f} °C ({self.celsius * 1.8 + 32:.0f} °F){humid}"


@dataclass(frozen=True)
class Taken:
    taken: int
    already: int


class Differs(Refused):
    """There is another reading for this room and time; the message says both."""

    def __init__(self, room: Room, new: Air, stored: Air) -> None:
        super().__init__(
            f"{room.name} already has {stored.words} at {clock_words(new.at)}; "
            f"this one says {new.words}."
        )
        self.new = new


def stored_air(room: Room, since: dt.datetime, until: dt.datetime) -> dict[dt.datetime, Air]:
    rows = Reading.objects.filter(room=room, at__range=(since, until))
    return {
        at: Air(at, celsius, humidity)
        for at, celsius, humidity in rows.values_list("at", "celsius", "humidity")
    }


@transaction.atomic
def take(
    *,
    room: Room,
    readings: Sequence[Air],
    source: Reading.Source,
    sensor: Sensor | None = None,
    by: Person | None = None,
) -> Taken:
    """All of the readings or none. Raises Differs for the first that contradicts a stored one."""
    # One writer a room: two posts of the same readings at once cannot both find them missing.
    Room.objects.select_for_update().get(pk=room.pk)
    new = _new_ones(room, readings)
    Reading.objects.bulk_create(
        (
            Reading(
                room=room,
                at=air.at,
                celsius=round(air.celsius, 3),
                humidity=None if air.humidity is None else round(air.humidity, 4),
                source=source,
                sensor=sensor,
                by=by,
            )
            for air in new
        ),
        batch_size=2000,
    )
    if new:
        note_change(f"{len(new)} readings of {room.name}")
    return Taken(taken=len(new), already=len(readings) - len(new))


def _new_ones(room: Room, readings: Sequence[Air]) -> list[Air]:
    if not readings:
        return []
    times = [air.at for air in readings]
    stored = stored_air(room, min(times), max(times))
    new = []
    for air in readings:
        there = stored.get(air.at)
        if there is None:
            stored[air.at] = air
            new.append(air)
        elif not air.same_as(there):
            raise Differs(room, air, there)
    return new


def take_by_hand(
    *,
    room: Room,
    at: dt.datetime,
    celsius: float,
    humidity: float | None,
    by: Person,
    now: dt.datetime,
    unit_is_sure: bool,
) -> Taken:
    """What somebody read off a thermometer. `unit_is_sure`: the person wrote the unit."""
    if fault := temperature_fault(celsius, room, unit_is_sure=unit_is_sure):
        raise Refused(f"{fault} Write the unit, as in 58 °F.", field="celsius")
    if fault := humidity_fault(humidity):
        raise Refused(fault, field="humidity")
    if fault := time_fault(at, now, OLDEST_BY_HAND):
        raise Refused(f"{fault} Did you mean another day?", field="at")
    air = Air(at, celsius, humidity)
    return take(room=room, readings=[air], source=Reading.Source.HAND, by=by)


@transaction.atomic
def remove(*, reading_id: int, by: Person) -> Reading:
    """Take out a reading that a person entered wrongly. What a sensor measured stays."""
    reading = (
        Reading.objects.select_for_update(of=("self",))
        .select_related("room", "by")
        .get(pk=reading_id)
    )
    if reading.source == Reading.Source.SENSOR:
        raise Refused("A sensor's reading stays: if the sensor is wrong, withdraw the sensor.")
    if not may(by, "setup.change"):
        raise Refused("Only the owner may remove a reading.")
    reading.delete()
    note_change(f"a reading of {reading.room.name} removed")
    log.info("%s removed %s of %s (%s)", by, reading, reading.room, reading.source)
    return reading


def latest_of(rooms: Iterable[Room]) -> dict[int, Reading]:
    """The last reading of each room, in one query."""
    keys = [room.pk for room in rooms]
    latest = Reading.objects.filter(room=OuterRef("pk")).order_by("-at").values("pk")[:1]
    found = Reading.objects.filter(
        pk__in=Room.objects.filter(pk__in=keys).values(latest=Subquery(latest))
    )
    return {reading.room_id: reading for reading in found.select_related("sensor", "by")}
