"""Thermometers that post by themselves: their tokens, and what they send."""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets
from collections.abc import Sequence

from django.db import IntegrityError, transaction

from shop.models import Reading, Room, Sensor
from shop.services.air_limits import humidity_fault, temperature_fault, time_fault
from shop.services.errors import Refused
from shop.services.readings import Air, Differs, Taken, take
from shop.services.senml import BadPack, Record, read_pack

OLDEST = dt.timedelta(days=400)
KELVIN = 273.15


class Contradicts(BadPack):
    """The pack contradicts a reading that was taken before."""


def token_hash(token: str) -> str:
    # 256 random bits cannot be guessed from a fast hash, unlike a password.
    return hashlib.sha256(token.encode()).hexdigest()


def sensor_with(token: str) -> Sensor | None:
    # Found by its hash: what the search's time gives away is the hash, never the token.
    return Sensor.objects.select_related("room").filter(token_hash=token_hash(token)).first()


def add_sensor(*, name: str, room: Room) -> tuple[Sensor, str]:
    """The sensor, and its token: the only time anybody sees it."""
    token = secrets.token_urlsafe(32)
    try:
        with transaction.atomic():
            sensor = Sensor.objects.create(
                name=name, room=room, token_hash=token_hash(token), token_hint=token[-4:]
            )
    except IntegrityError:
        raise Refused(f"There is a sensor called {name} already.", field="name") from None
    return sensor, token


def renew_token(*, sensor: Sensor) -> str:
    """A new token; the old one opens nothing from now on. Brings a withdrawn sensor back."""
    token = secrets.token_urlsafe(32)
    sensor.token_hash, sensor.token_hint, sensor.in_use = token_hash(token), token[-4:], True
    sensor.save(update_fields=["token_hash", "token_hint", "in_use"])
    return token


def withdraw(*, sensor: Sensor) -> None:
    sensor.in_use = False
    sensor.save(update_fields=["in_use"])


def take_pack(*, sensor: Sensor, body: bytes, now: dt.datetime) -> Taken:
    """All of a SenML pack or, with BadPack, nothing of it."""
    records = read_pack(body, now.timestamp())
    readings = readings_of(records, sensor.room, now)
    try:
        with transaction.atomic():
            Sensor.objects.filter(pk=sensor.pk).update(last_heard=now)
            return take(
                room=sensor.room, readings=readings, source=Reading.Source.SENSOR, sensor=sensor
            )
    except Differs as refusal:
        raise Contradicts(refusal.message, refusal.new.index) from None


def readings_of(records: Sequence[Record], room: Room, now: dt.datetime) -> list[Air]:
    """Temperature and humidity of one moment belong together."""
    celsius: dict[dt.datetime, tuple[float, int]] = {}
    humidity: dict[dt.datetime, tuple[float, int]] = {}
    for record in records:
        at = _moment(record, now)
        kind = humidity if record.unit == "%RH" else celsius
        value = _fraction(record) if record.unit == "%RH" else _celsius(record, room)
        if at in kind and kind[at][0] != value:
            raise BadPack(f"Record {kind[at][1]} has another value for this time.", record.index)
        kind.setdefault(at, (value, record.index))
    for at, (_, index) in humidity.items():
        if at not in celsius:
            raise BadPack("A humidity needs a temperature (Cel) of the same time.", index)
    return [
        Air(at, value, humidity[at][0] if at in humidity else None, index)
        for at, (value, index) in celsius.items()
    ]


def _moment(record: Record, now: dt.datetime) -> dt.datetime:
    try:
        # Whole milliseconds: a temperature and a humidity must not part over a float's last bit.
        at = dt.datetime.fromtimestamp(round(record.time, 3), tz=dt.UTC)
        at = at.replace(microsecond=at.microsecond // 1000 * 1000)
    except (OverflowError, OSError, ValueError):
        raise BadPack(f"{record.time:g} is not a time in seconds.", record.index) from None
    if fault := time_fault(at, now, OLDEST):
        raise BadPack(fault, record.index)
    return at


def _celsius(record: Record, room: Room) -> float:
    if record.unit not in {"Cel", "K"}:
        got = repr(record.unit[:20]) if record.unit else "no unit"
        raise BadPack(f"Send Cel, K or %RH, not {got}.", record.index)
    celsius = record.value - KELVIN if record.unit == "K" else record.value
    if fault := temperature_fault(celsius, room, unit_is_sure=record.unit == "K"):
        raise BadPack(fault, record.index)
    return celsius


def _fraction(record: Record) -> float:
    fraction = record.value / 100.0
    if fault := humidity_fault(fraction):
        raise BadPack(fault, record.index)
    return fraction
