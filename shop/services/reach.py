"""How far a mix's strength tests reach: beyond them its curve is an extrapolation. Reads only."""

from __future__ import annotations

import datetime as dt

from curing.calibration import StrengthTest as EngineTest
from curing.limits import Reach
from curing.specimens import USUAL, Kind
from shop.localtime import to_hours
from shop.models import Mix, Shop, StrengthTest
from shop.services.climate import climates


def reach_of(mix: Mix, *, now: dt.datetime, shop: Shop) -> Reach | None:
    """None without a test that counts as compression. A fixed number of queries."""
    tests = list(mix.tests.filter(struck_at=None).select_related("room"))
    ages, strengths = [], []
    for test, age in zip(tests, _ages(tests, mix, now, shop), strict=True):
        mpa = _compressive(test)
        if mpa is not None and age > 0:
            ages.append(age)
            strengths.append(mpa)
    return Reach.of(ages, strengths)


def _compressive(test: StrengthTest) -> float | None:
    try:
        return USUAL[Kind(test.kind)].convert(test.strength_mpa)
    except ValueError:  # outside what the law for this kind of specimen takes
        return None


def _ages(tests: list[StrengthTest], mix: Mix, now: dt.datetime, shop: Shop) -> list[float]:
    """Equivalent ages [h at 20 °C]."""
    rooms = {test.room.pk: test.room for test in tests if test.room}
    airs = {}
    if rooms:
        since = min(test.cast_at for test in tests if test.room)
        airs = climates(rooms.values(), since=since, until=now, now=now, shop=shop)
    energy = mix.activation_energy
    return [
        float(
            airs[test.room.pk].equivalent_age(
                to_hours(test.cast_at), to_hours(test.tested_at), energy
            )
        )
        if test.room
        else EngineTest(test.age_hours, test.strength_mpa, celsius=test.celsius).age(energy)
        for test in tests
    ]
