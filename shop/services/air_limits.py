"""What air a shop can have: every reading, whoever sends it, passes here."""

from __future__ import annotations

import datetime as dt
import math

from django.utils import timezone

from shop.models import Room
from shop.models.air import COLDEST, HOTTEST

# A sensor's clock may run ahead by this much.
CLOCK_SKEW = dt.timedelta(minutes=2)
# Below this, a wrong unit cannot be told from warm air.
SUSPICIOUS_FROM = 40.0
HOTTEST_FAHRENHEIT = 140.0  # 60 °C


def to_celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8


def looks_like_fahrenheit(celsius: float, room: Room) -> bool:
    """Whether the number fits the room better as °F: 58 in a room that usually has 18 °C."""
    if not SUSPICIOUS_FROM < celsius <= HOTTEST_FAHRENHEIT:
        return False
    as_fahrenheit = abs(to_celsius(celsius) - room.usual_celsius)
    return celsius > HOTTEST or as_fahrenheit < abs(celsius - room.usual_celsius)


def temperature_fault(celsius: float, room: Room, *, unit_is_sure: bool = False) -> str:
    """Why this cannot be the room's air, or nothing."""
    if not math.isfinite(celsius):
        return "The temperature is not a number."
    if not unit_is_sure and looks_like_fahrenheit(celsius, room):
        return (
            f"{celsius:g} °C looks like Fahrenheit: {celsius:g} °F is "
            f"{to_celsius(celsius):.1f} °C, and {room.name} usually has {room.usual_celsius:g} °C."
        )
    if not COLDEST <= celsius <= HOTTEST:
        return (
            f"{celsius:.1f} °C is outside {COLDEST:g} to {HOTTEST:g} °C: "
            "a wrong unit or a broken sensor."
        )
    return ""


def humidity_fault(fraction: float | None) -> str:
    if fraction is None or 0.0 <= fraction <= 1.0:
        return ""
    return f"A humidity of {fraction * 100:.1f} % is outside 0 to 100 %."


def clock_words(at: dt.datetime) -> str:
    """In the shop's time, with its zone, for a message about one reading."""
    return f"{timezone.localtime(at):%Y-%m-%d %H:%M:%S %Z}"


def time_fault(at: dt.datetime, now: dt.datetime, oldest: dt.timedelta) -> str:
    if at > now + CLOCK_SKEW:
        return f"{clock_words(at)} is in the future: check the clock and the time zone."
    if at < now - oldest:
        return f"{at:%Y-%m-%d} is more than {oldest.days} days ago: check the clock."
    return ""
