"""Invented strength tests of one mix, so that its page has something to show. No fit is taken."""

from __future__ import annotations

import datetime as dt

from curing.maturity import age_factor
from curing.strength import Hyperbolic
from shop.models import Mix, Person, Room, SpecimenKind, StrengthTest

# What this invented concrete does: a little slower at first than the usual curve.
TRUE = Hyperbolic(su=60.5, k=0.0288, t0=6.6)
TRUE_ENERGY = 39000.0

# hours by the clock, °C, how far off the break came out
CUBES = (
    (13.0, 20.0, 0.05), (16.5, 20.0, -0.04), (18.0, 20.0, 0.02), (24.0, 20.0, 0.03),
    (24.0, 20.0, -0.03), (48.0, 20.0, -0.02), (168.0, 20.0, 0.04), (672.0, 20.0, -0.01),
    (24.0, 10.0, -0.02), (40.0, 10.0, 0.03), (72.0, 10.0, -0.03), (168.0, 10.0, 0.01),
    (10.0, 30.0, 0.01), (16.0, 30.0, -0.02), (30.0, 30.0, 0.03), (96.0, 30.0, -0.02),
)  # fmt: skip
DAYS_AGO = 45  # the first cast of specimens
CYLINDER = (72.0, 20.0, -0.12)
CHIPPED = (24.0, 20.0, -0.42)


def break_some(mix: Mix, room: Room, now: dt.datetime, by: Person) -> None:
    start = (now - dt.timedelta(days=DAYS_AGO)).replace(minute=0)
    tests = [_cube(mix, start, by, cube) for cube in CUBES]
    cylinder = _cube(mix, start, by, CYLINDER)
    cylinder.kind = SpecimenKind.CYLINDER
    tests.append(cylinder)
    tests.append(_coupon(mix, start, by))
    tests.append(_with_the_pieces(mix, room, now, by))
    struck = _cube(mix, start, by, CHIPPED)
    struck.struck_at, struck.struck_by = struck.tested_at + dt.timedelta(hours=1), by
    struck.struck_because = "corner was chipped before the press"
    StrengthTest.objects.bulk_create([*tests, struck])


def _cube(
    mix: Mix, start: dt.datetime, by: Person, broken: tuple[float, float, float]
) -> StrengthTest:
    hours, celsius, off = broken
    age = hours * float(age_factor(celsius, TRUE_ENERGY))
    return StrengthTest(
        mix=mix,
        age_hours=hours,
        tested_at=start + dt.timedelta(hours=hours),
        celsius=celsius,
        strength_mpa=round(float(TRUE.at(age)) * (1.0 + off), 2),
        by=by,
    )


def _coupon(mix: Mix, start: dt.datetime, by: Person) -> StrengthTest:
    return StrengthTest(
        mix=mix,
        kind=SpecimenKind.COUPON,
        age_hours=168.0,
        tested_at=start + dt.timedelta(hours=168),
        celsius=20.0,
        strength_mpa=7.1,
        by=by,
        note="limit of proportionality",
    )


def _with_the_pieces(mix: Mix, room: Room, now: dt.datetime, by: Person) -> StrengthTest:
    return StrengthTest(
        mix=mix,
        age_hours=41.0,
        tested_at=now - dt.timedelta(days=3),
        room=room,
        strength_mpa=26.4,
        by=by,
    )
