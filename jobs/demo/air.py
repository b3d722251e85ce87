"""Weeks of room air as a small shop's heating would have made it. Same seed, same noise."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from shop.defaults import HEATING_WEEKDAY, HEATING_WEEKEND
from shop.models import Person, Reading, Room, Sensor, Shop

Floats = npt.NDArray[np.float64]
Span = tuple[dt.datetime, dt.datetime]

WEEKS = 5
OUTDOORS_CELSIUS = 3.0
HEATS_UP_HOURS = 1.2
COOLS_DOWN_HOURS = 9.0
HEATER_OFF_COOLS_HOURS = 6.0


@dataclass(frozen=True)
class RoomAir:
    warmer: float  # K above the usual heating plan
    every_minutes: int
    seed: int
    heater_off: Span | None = None
    silent: Span | None = None


def add_readings(
    room: Room, sensor: Sensor, air: RoomAir, shop: Shop, now: dt.datetime
) -> list[Reading]:
    """Every few minutes for five weeks, the last one a moment ago."""
    moments = _moments(now, air.every_minutes)
    heard = [at for at in moments if not _inside(at, air.silent)]
    celsius, humidity = simulate(moments, air, shop)
    values = zip(moments, celsius, humidity, strict=True)
    kept = set(heard)
    readings = [
        Reading(
            room=room,
            sensor=sensor,
            at=at,
            celsius=round(float(warmth), 1),
            humidity=round(float(damp), 3),
            source=Reading.Source.SENSOR,
        )
        for at, warmth, damp in values
        if at in kept
    ]
    Sensor.objects.filter(pk=sensor.pk).update(last_heard=readings[-1].at)
    return Reading.objects.bulk_create(readings, batch_size=2000)


def add_reading_by_hand(room: Room, near: dt.datetime, by: Person) -> Reading:
    """The whiteboard thermometer, read off by somebody who was surprised."""
    closest = Reading.objects.filter(room=room, at__lte=near).latest("at")
    return Reading.objects.create(
        room=room,
        at=near,
        celsius=round(closest.celsius + 0.3, 1),
        source=Reading.Source.HAND,
        by=by,
    )


def _moments(now: dt.datetime, every_minutes: int) -> list[dt.datetime]:
    last = now.replace(second=17, microsecond=0) - dt.timedelta(minutes=4)
    count = WEEKS * 7 * 24 * 60 // every_minutes
    return [last - dt.timedelta(minutes=every_minutes * back) for back in range(count, -1, -1)]


def _inside(at: dt.datetime, span: Span | None) -> bool:
    return span is not None and span[0] <= at < span[1]


def setpoint(local: dt.datetime, warmer: float) -> float:
    """What the heating is set to at this shop time."""
    plan = HEATING_WEEKDAY if local.weekday() < 5 else HEATING_WEEKEND
    before = HEATING_WEEKDAY[-1] if local.weekday() < 6 else HEATING_WEEKEND[-1]
    in_force = [celsius for hour, celsius in plan if local.hour >= hour]
    return (in_force[-1] if in_force else before[1]) + warmer


def simulate(moments: Sequence[dt.datetime], air: RoomAir, shop: Shop) -> tuple[Floats, Floats]:
    """(n,) °C and (n,) relative humidity: the room drifts to what pulls at it, with a sway."""
    random = np.random.default_rng(air.seed)
    step = air.every_minutes / 60
    sway = _sway(random, len(moments), step)
    damp = _sway(random, len(moments), step)
    celsius, humidity = np.empty(len(moments)), np.empty(len(moments))
    inside = setpoint(moments[0].astimezone(shop.zone), air.warmer)
    for place, at in enumerate(moments):
        local = at.astimezone(shop.zone)
        inside = _drift(inside, setpoint(local, air.warmer), _inside(at, air.heater_off), step)
        celsius[place] = inside + 0.35 * sway[place]
        wet_work = 0.04 if local.weekday() < 5 and 9 <= local.hour < 16 else 0.0
        humidity[place] = 0.50 + wet_work - 0.011 * (inside - 18) + 0.03 * damp[place]
    return celsius, np.clip(humidity, 0.2, 0.95)


def _drift(inside: float, wanted: float, heater_off: bool, step: float) -> float:
    if heater_off:
        pull, hours = OUTDOORS_CELSIUS, HEATER_OFF_COOLS_HOURS
    elif inside > wanted + 0.2:
        pull, hours = wanted - 1.0, COOLS_DOWN_HOURS
    else:
        pull, hours = wanted, HEATS_UP_HOURS
    return pull + (inside - pull) * float(np.exp(-step / hours))


def _sway(random: np.random.Generator, count: int, step: float) -> Floats:
    """Noise that remembers itself for about two hours, with a spread of one."""
    kept = float(np.exp(-step / 2.0))
    noise = random.standard_normal(count) * np.sqrt(1 - kept**2)
    sway = np.empty(count)
    value = float(random.standard_normal())
    for place in range(count):
        value = kept * value + float(noise[place])
        sway[place] = value
    return sway
