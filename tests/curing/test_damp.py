"""Drying where the air comes up to the target, by march and rule together."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curing.climate import Climate, Readings, compose
from curing.damp import moisture_clock, moisture_until
from curing.drying_rate import DryingRate
from curing.moisture import Concrete, Slab, dry_out

DAYS = 60


def climate(driest: float, dampest: float, *, celsius: float = 18.0) -> Climate:
    """Days and nights: warm and dry at three in the afternoon, damp at three in the morning."""
    knots = np.arange(0.0, DAYS * 24.0)
    day = np.sin((knots - 9.0) / 24.0 * 2.0 * np.pi)
    humidity = 0.5 * (driest + dampest) - 0.5 * (dampest - driest) * day
    planned = Readings.of(knots, celsius + 4.0 * day, np.clip(humidity, 0.0, 1.0))
    return compose(readings=Readings.of([], []), planned=planned, now=0.0)


def marched(air: Climate, slab: Slab, wetted: float) -> float:
    """The whole march, from the wetting on: what rule and shared march are measured against."""
    hours = np.concatenate([[wetted], air.hours[air.hours > wetted]])
    run = dry_out(
        slab, Concrete(), hours, air.celsius_at(hours), air.humidity_at(hours), until=0.85
    )
    return wetted + run.hours_to(0.85)


@pytest.mark.parametrize("thickness", [0.010, 0.019, 0.038])
@pytest.mark.parametrize(("driest", "dampest"), [(0.5, 0.95), (0.6, 1.0), (0.4, 0.9)])
@pytest.mark.parametrize("wetted", [50.0, 61.7])
def test_damp_nights_are_never_taken_for_dry(
    thickness: float, driest: float, dampest: float, wetted: float
) -> None:
    air, slab = climate(driest, dampest), Slab(thickness)
    until = moisture_until(air, DryingRate.of(slab, Concrete()), wetted) - wetted
    full = marched(air, slab, wetted) - wetted
    # 2 % sooner at the most, where the rule alone is up to 40 % too soon; later by what the rule
    # itself is late in such air, and by the hours to the next wetting marched.
    assert full * 0.98 - 0.3 <= until <= full * 1.2 + 4.0


def test_nights_at_the_target_and_over_make_the_rule_too_soon() -> None:
    """What this module is for: without the march the rule is a quarter too soon here."""
    air, slab = climate(0.6, 1.0), Slab(0.038)
    rate = DryingRate.of(slab, Concrete())
    full = marched(air, slab, 50.0) - 50.0
    ruled = moisture_clock(air, rate).time_of(50.0, 1.0) - 50.0
    assert ruled < 0.8 * full
    assert moisture_until(air, rate, 50.0) - 50.0 > 0.98 * full


def test_clear_air_is_left_to_the_rule_and_nothing_is_marched() -> None:
    air, rate = climate(0.4, 0.75), DryingRate.of(Slab(0.019), Concrete())
    assert moisture_until(air, rate, 50.0) == moisture_clock(air, rate).time_of(50.0, 1.0)
    assert not any(key[0] == "marches" for key in air._clocks if isinstance(key, tuple))


def test_a_march_serves_every_wetting_near_it() -> None:
    air, rate = climate(0.5, 0.95), DryingRate.of(Slab(0.019), Concrete())
    for wetted in np.arange(97.0, 190.0, 7.0):
        moisture_until(air, rate, wetted)
    marches = next(made for key, made in air._clocks.items() if key[0] == "marches")
    assert list(marches.blocks) == [1]


def test_air_that_never_dries_never_ends() -> None:
    air, rate = climate(0.97, 0.99), DryingRate.of(Slab(0.019), Concrete())
    assert moisture_until(air, rate, 50.0) == math.inf
    assert moisture_until(air, rate, math.inf) == math.inf


def test_one_damp_week_is_waited_out() -> None:
    """A week of fog right after the wetting: dry no sooner than if it were wetted after it."""
    air = climate(0.4, 0.6)
    fog = (air.hours > 60.0) & (air.hours < 228.0)
    humidity = np.where(fog, 0.98, air.humidity)
    foggy = compose(
        readings=Readings.of([], []),
        planned=Readings.of(air.hours, air.celsius, humidity),
        now=0.0,
    )
    slab = Slab(0.019)
    rate = DryingRate.of(slab, Concrete())
    until = moisture_until(foggy, rate, 50.0)
    assert until == pytest.approx(marched(foggy, slab, 50.0), abs=6.0)
    assert until <= moisture_until(foggy, rate, 230.0)
    ruled = moisture_clock(foggy, rate).time_of(50.0, 1.0)
    assert until > ruled + 1.0


spells = st.tuples(st.floats(0.0, 900.0), st.floats(1.0, 90.0), st.floats(0.7, 1.0))


@settings(deadline=None, max_examples=40)
@given(
    st.floats(0.3, 0.7),
    st.floats(0.0, 0.5),
    st.lists(spells, max_size=4),
    st.sampled_from([0.008, 0.019, 0.03]),
    st.lists(st.floats(0.0, 900.0), min_size=2, max_size=12),
)
def test_a_later_wetting_is_never_sooner_dry(
    driest: float, swing: float, damp: list, thickness: float, wettings: list
) -> None:
    air = climate(driest, min(driest + swing, 1.0))
    humidity = air.humidity.copy()
    for start, length, wet in damp:
        humidity[(air.hours >= start) & (air.hours <= start + length)] = wet
    air = compose(
        readings=Readings.of([], []),
        planned=Readings.of(air.hours, air.celsius, humidity),
        now=0.0,
    )
    rate = DryingRate.of(Slab(thickness), Concrete())
    ends = [moisture_until(air, rate, wetted) for wetted in sorted(wettings)]
    for sooner, later in pairwise(ends):
        assert later >= sooner - 1e-6
