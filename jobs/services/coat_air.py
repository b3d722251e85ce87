"""Air in which a coat of sealer goes on, held against what the sealer asks for.

The surface is taken at the air's temperature: nothing else is measured.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable
from dataclasses import dataclass

from curing.sealing import CoatLimits, dew_point
from shop.models import Reading, Room
from shop.services.readings import latest_of

STANDARD_MARGIN = 3.0  # K above the dew point, ISO 8502-4
# The dew point's law ends here.
COLDEST, HOTTEST = -45.0, 60.0
COLD, HOT, HUMID, DEW = "cold", "hot", "humid", "dew"


@dataclass(frozen=True)
class Check:
    """One limit of the sealer: °C, a fraction, or K above the dew point."""

    key: str
    value: float | None  # None: not known
    limit: float
    met: bool | None


@dataclass(frozen=True)
class Air:
    """°C; humidity 0..1 and dew point None where they are not known."""

    celsius: float
    humidity: float | None
    dew_point: float | None
    checks: tuple[Check, ...]

    @property
    def above(self) -> float | None:
        """K of the air above its dew point."""
        return None if self.dew_point is None else self.celsius - self.dew_point

    @property
    def missed(self) -> tuple[Check, ...]:
        return tuple(check for check in self.checks if check.met is False)

    @property
    def unknown(self) -> bool:
        return any(check.met is None for check in self.checks)

    @property
    def fits(self) -> bool:
        """No limit is missed and none is left open."""
        return all(check.met for check in self.checks)


@dataclass(frozen=True)
class AirNow:
    """The last reading where coats go on."""

    room: str
    is_booth: bool
    at: dt.datetime | None  # None: there is no reading
    stale: bool  # or there is none
    air: Air | None


def air_of(limits: CoatLimits, celsius: float, humidity: float | None) -> Air:
    """Held against the same figures, in the same way, as `curing.sealing.CoatLimits.fits`."""
    known = humidity is not None and math.isfinite(humidity)
    moist = min(max(humidity, 1e-3), 1.0) if known and humidity is not None else None
    dew = None
    if moist is not None and COLDEST <= celsius <= HOTTEST:
        dew = float(dew_point(celsius, moist))
    above = None if dew is None else celsius - dew
    return Air(
        celsius=celsius,
        humidity=humidity if known else None,
        dew_point=dew,
        checks=(
            Check(COLD, celsius, limits.celsius_least, celsius >= limits.celsius_least),
            Check(HOT, celsius, limits.celsius_greatest, celsius <= limits.celsius_greatest),
            Check(
                HUMID,
                moist,
                limits.humidity_greatest,
                None if moist is None else moist <= limits.humidity_greatest,
            ),
            Check(
                DEW, above, limits.dew_margin, None if above is None else above >= limits.dew_margin
            ),
        ),
    )


@dataclass(frozen=True)
class CoatingRooms:
    """The booth, or each piece's own room where there is none, with the last readings there."""

    booth: Room | None
    rooms: dict[int, Room]
    latest: dict[int, Reading]

    @classmethod
    def read(cls, room_ids: Iterable[int] | None = None) -> CoatingRooms:
        """Two queries, whatever the number of rooms. All rooms, or the booth and those named."""
        rooms = {room.pk: room for room in Room.objects.all()}
        booth = next((room for room in rooms.values() if room.is_booth and room.in_use), None)
        asked = set(rooms) if room_ids is None else set(room_ids) & set(rooms)
        wanted = [booth] if booth else [rooms[key] for key in asked]
        return cls(booth, rooms, latest_of(wanted))

    def room_for(self, room_id: int) -> Room:
        return self.booth or self.rooms[room_id]

    def now(
        self, room_id: int, limits: CoatLimits, *, now: dt.datetime, stale_after_hours: float
    ) -> AirNow:
        """Of a piece that cures in this room."""
        room = self.room_for(room_id)
        reading = self.latest.get(room.pk)
        stale = reading is None or now - reading.at > dt.timedelta(hours=stale_after_hours)
        return AirNow(
            room=room.name,
            is_booth=room == self.booth,
            at=reading.at if reading else None,
            stale=stale,
            air=air_of(limits, reading.celsius, reading.humidity) if reading else None,
        )
