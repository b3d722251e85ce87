"""How fast the room's air will take water from a piece just cast, in figures and in words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from django.utils.translation import gettext as _

from curing.air import Climate
from curing.damp import UNKNOWN_HUMIDITY
from curing.evaporation import THRESHOLD, UNCERTAINTY, Evaporation, early_evaporation
from shop import measures
from shop.cautions import COVER_AT_ONCE, Caution
from shop.localtime import to_hours
from shop.models import Room, Shop
from shop.services.climate import climates

if TYPE_CHECKING:
    from collections.abc import Iterable

WATCH = 0.5  # of the limit; common practice, no source
# Around the casting: the air of the hours in which a piece is open.
OPEN_HOURS = 2.0
AROUND = dt.timedelta(hours=6)


@dataclass(frozen=True)
class CastAir:
    """The air over a cast, and what it takes from the open face; None beyond the nomograph."""

    celsius: float
    humidity: float
    humidity_known: bool
    speed: float  # m/s
    rate: Evaporation | None
    shop: Shop

    @property
    def over(self) -> bool:
        return self.rate is not None and self.rate.likely >= THRESHOLD

    @property
    def watch(self) -> bool:
        """From half of the limit on, the limit itself included."""
        return self.rate is not None and self.rate.likely >= WATCH * THRESHOLD

    @property
    def caution(self) -> Caution | None:
        return COVER_AT_ONCE if self.watch else None

    @property
    def headline(self) -> str:
        if self.rate is None:
            return _("Early evaporation: not reckoned, the air lies outside the method's range.")
        facts = {"rate": self._rate(self.rate.likely), "limit": self.limit}
        if self.over:
            return _("Early evaporation: about %(rate)s, over the limit of %(limit)s.") % facts
        if self.watch:
            return (
                _("Early evaporation: about %(rate)s, over half of the limit, %(limit)s.") % facts
            )
        return _("Early evaporation: about %(rate)s; limit %(limit)s.") % facts

    @property
    def basis(self) -> str:
        """What the figure rests on, whose limit it is, and how sure it is."""
        facts = {
            "air": measures.words(self.celsius, "temperature", self.shop),
            "humidity": f"{self.humidity * 100:.0f} %",
            "speed": measures.words(self.speed, "speed", self.shop),
            "percent": f"{UNCERTAINTY * 100:.0f} %",
            "coldest": measures.warmth(self.shop, 4.4),
            "warmest": measures.warmth(self.shop, 37.8),
        }
        if self.rate is None:
            return (
                _("ACI 305R gives it from %(coldest)s to %(warmest)s; the room is expected at "
                  "%(air)s. Cover at once all the same.") % facts
            )  # fmt: skip
        said = (
            _("Expected air %(air)s at %(humidity)s, moving at %(speed)s; the concrete taken at "
              "the air's temperature. An estimate, good to about %(percent)s. Limit: ACI 305R; "
              "watched from half of it, common practice.") % facts
        )  # fmt: skip
        if not self.humidity_known:
            said += " " + _("The room's humidity is not measured: %(humidity)s is taken.") % facts
        return said

    @property
    def limit(self) -> str:
        return "0.20 lb/ft²/h" if self.shop.us else "1.0 kg/m²/h"

    def _rate(self, rate: float) -> str:
        return measures.words(rate, "evaporation", self.shop)


def cast_air(room: Room, climate: Climate, at: dt.datetime, shop: Shop) -> CastAir:
    """The hardest pull within the hours after water-in."""
    hours = to_hours(at) + np.linspace(0.0, OPEN_HOURS, 9)
    found = [_at(room, climate, float(hour), shop) for hour in hours]
    return max(found, key=lambda air: air.rate.likely if air.rate else -1.0)


def _at(room: Room, climate: Climate, hour: float, shop: Shop) -> CastAir:
    celsius, humidity = float(climate.celsius_at(hour)), float(climate.humidity_at(hour))
    known = bool(np.isfinite(humidity))
    humidity = min(max(humidity, 0.0), 1.0) if known else UNKNOWN_HUMIDITY
    try:
        rate = early_evaporation(celsius, celsius, humidity, room.air_speed)
    except ValueError:
        rate = None
    return CastAir(celsius, humidity, known, room.air_speed, rate, shop)


def cast_airs(
    casts: Mapping[int, tuple[int, dt.datetime]], now: dt.datetime, shop: Shop
) -> dict[int, CastAir]:
    """By batch, from its room and time; one time that is past counts as now. Three queries."""
    if not casts:
        return {}
    moments = {key: max(at, now) for key, (_room, at) in casts.items()}
    rooms = _rooms({room for room, _at in casts.values()})
    airs = climates(
        rooms.values(),
        since=min(moments.values()) - AROUND,
        until=max(moments.values()) + AROUND,
        now=now,
        shop=shop,
    )
    return {
        key: cast_air(rooms[room], airs[room], moments[key], shop)
        for key, (room, _at) in casts.items()
    }


def _rooms(keys: Iterable[int]) -> dict[int, Room]:
    found = Room.objects.filter(pk__in=keys)
    return {room.pk: room for room in found}
