"""Order that the air must keep, through a room's climate and a mix's curve.

Warmer air never brings a strength later, damper air never a dry piece sooner, and whoever starts
later is never done sooner.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from curing.climate import Climate, Readings, compose
from curing.strength import ACI209, EN1992, Exponential, Hyperbolic

HOURS = np.arange(0.0, 25 * 24.0)
# Between knots an age runs exponentially, true to 0.03 % of an hour of knots: seconds.
NEAR = 1e-3

curves = st.one_of(
    st.builds(Hyperbolic, st.floats(20.0, 90.0), st.floats(0.005, 0.1), st.floats(0.0, 10.0)),
    st.builds(Exponential, st.floats(20.0, 90.0), st.floats(5.0, 40.0), st.floats(0.4, 1.5)),
    st.builds(EN1992, st.floats(20.0, 60.0), st.floats(0.2, 0.38)),
    st.builds(ACI209, st.floats(20.0, 60.0), st.floats(2.3, 4.0), st.floats(0.85, 0.92)),
)


@st.composite
def rooms(draw: st.DrawFn) -> Climate:
    """Days and nights, a cold snap, readings of their own, humidity that crosses 70 %."""
    day = np.sin((HOURS + draw(st.floats(0.0, 24.0))) / 24 * 2 * np.pi)
    celsius = draw(st.floats(-5.0, 30.0)) + draw(st.floats(0.0, 9.0)) * day
    humidity = draw(st.floats(0.3, 0.9)) - draw(st.floats(0.0, 0.3)) * day
    snap = draw(st.integers(0, 400))
    celsius[snap : snap + draw(st.integers(0, 40))] -= draw(st.floats(0.0, 12.0))
    count = draw(st.integers(0, 8))
    times = np.cumsum(draw(st.lists(st.floats(0.1, 9.0), min_size=count, max_size=count)))
    values = st.tuples(st.floats(-5.0, 38.0), st.floats(0.2, 1.0))
    read = draw(st.lists(values, min_size=count, max_size=count))
    readings = Readings.of(times, [one for one, _ in read], [moist for _, moist in read])
    planned = Readings.of(HOURS, celsius, np.clip(humidity, 0.05, 1.0))
    return compose(readings=readings, planned=planned, now=draw(st.floats(0.0, 90.0)))


def with_air(climate: Climate, **changed: np.ndarray) -> Climate:
    return replace(climate, **changed, _clocks={})


@settings(max_examples=60, deadline=None)
@given(rooms(), curves, st.floats(0.05, 0.95), st.floats(0.0, 600.0), st.floats(0.0, 15.0))
def test_warmer_is_never_later_to_a_strength(
    room: Climate, curve, share: float, cast: float, more: float
) -> None:
    age = curve.age_at(share * float(curve.at(28 * 24.0)))
    warmer = with_air(room, celsius=room.celsius + more)

    assert warmer.time_of_age(cast, age) <= room.time_of_age(cast, age) + NEAR


@settings(max_examples=60, deadline=None)
@given(rooms(), curves, st.floats(0.0, 600.0), st.floats(1.0, 200.0), st.integers(0, 500))
def test_a_room_warmed_for_a_night_is_never_weaker(
    room: Climate, curve, cast: float, until: float, night: int
) -> None:
    celsius = room.celsius.copy()
    celsius[night : night + 12] += 6.0
    warmer = with_air(room, celsius=celsius)
    ages = [one.equivalent_age(cast, cast + until) for one in (warmer, room)]

    assert float(curve.at(ages[0])) >= float(curve.at(ages[1])) - NEAR


@settings(max_examples=60, deadline=None)
@given(rooms(), st.floats(0.0, 600.0), st.floats(1.0, 150.0), st.floats(0.0, 0.5))
def test_damper_is_never_sooner_dry_by_the_hours_rule(
    room: Climate, wetted: float, hours: float, more: float
) -> None:
    damper = with_air(room, humidity=np.minimum(room.humidity + more, 1.0))

    assert damper.time_of_drying(wetted, hours) >= room.time_of_drying(wetted, hours) - 1e-6


@settings(max_examples=60, deadline=None)
@given(rooms(), st.floats(0.0, 600.0), st.floats(1.0, 150.0), st.floats(0.0, 15.0))
def test_warmer_is_never_later_dry_or_cured(
    room: Climate, since: float, hours: float, more: float
) -> None:
    warmer = with_air(room, celsius=room.celsius + more)

    assert warmer.time_of_drying(since, hours) <= room.time_of_drying(since, hours) + 1e-6
    assert warmer.time_of_film(since, hours) <= room.time_of_film(since, hours) + NEAR


@settings(max_examples=60, deadline=None)
@given(rooms(), curves, st.floats(0.0, 600.0), st.floats(0.0, 60.0), st.floats(0.05, 0.95))
def test_a_later_start_is_never_sooner_done(
    room: Climate, curve, start: float, wait: float, share: float
) -> None:
    age = curve.age_at(share * float(curve.at(28 * 24.0)))
    for search, amount in (
        (room.time_of_age, age),
        (room.time_of_drying, 72.0 * share),
        (room.time_of_film, 168.0 * share),
    ):
        assert search(start + wait, amount) >= search(start, amount) - 1e-6
