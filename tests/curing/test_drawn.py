"""A room's air as it may be: the closed form of its error, and sums over all draws at once."""

from __future__ import annotations

import math

import numpy as np
import pytest

from curing.climate import Climate, Readings, compose
from curing.doubt import AirDoubt, Doubt, within
from curing.drawn import DrawnAir, air_paths, error_sd
from curing.strength import PLACEHOLDER

AIR = AirDoubt(sd=2.0, memory=18.0)
MANY = Doubt(air=AIR, draws=4000)


def room(*, gap: tuple[float, float] | None = None) -> Climate:
    """Measured for 100 hours, then planned."""
    hours = np.arange(0.0, 100.01, 0.5)
    if gap:
        hours = hours[(hours <= gap[0]) | (hours >= gap[1])]
    planned = np.arange(-48.0, 24.0 * 30)
    return compose(
        readings=Readings.of(hours, 17.0 + 0.0 * hours, 0.5 + 0.0 * hours),
        planned=Readings.of(planned, 18.0 + 0.0 * planned, 0.5 + 0.0 * planned),
        now=100.0,
    )


def test_after_the_last_reading_the_error_grows_by_its_law() -> None:
    """Variance of an Ornstein-Uhlenbeck process started from 0: sd² (1 - exp(-2 t / memory))."""
    air = room()
    sd = error_sd(air, AIR)

    inside = (air.hours >= 0.0) & (air.hours <= 100.0)
    assert (sd[inside] == 0.0).all()
    for later in (1.0, 6.0, 18.0, 200.0):
        found = float(np.interp(100.0 + later, air.hours, sd))
        assert found == pytest.approx(2.0 * math.sqrt(1 - math.exp(-2 * later / 18.0)), rel=0.02)


@pytest.mark.parametrize("gap", [None, (40.0, 70.0)])
def test_it_is_the_deviation_of_what_is_drawn(gap: tuple[float, float] | None) -> None:
    air = room(gap=gap)
    paths = air_paths(air, MANY, "room")

    assert paths.error.std(axis=0) == pytest.approx(error_sd(air, AIR)[paths.knots], abs=0.1)


def test_in_a_gap_the_error_is_greatest_in_its_middle() -> None:
    """Of the process held to both ends: sd² 2 sinh(s/m) sinh((L-s)/m) / sinh(L/m)."""
    air = room(gap=(40.0, 70.0))
    sd = error_sd(air, AIR)

    middle = float(np.interp(55.0, air.hours, sd))
    by_hand = 2.0 * math.sqrt(2 * math.sinh(15 / 18) ** 2 / math.sinh(30 / 18))
    assert middle == pytest.approx(by_hand, rel=0.01)
    assert float(np.interp(40.0, air.hours, sd)) == 0.0
    assert float(np.interp(70.0, air.hours, sd)) == 0.0


def test_sums_along_common_times_are_those_of_each_time() -> None:
    clock = DrawnAir.of(room(), Doubt(air=AIR, draws=50), "room").age(41500.0, 20.0)
    times = np.array([10.0, 99.9, 100.0, 107.3, 400.0])

    along = clock.along(times)
    for place, time in enumerate(times.tolist()):
        assert along[:, place] == pytest.approx(clock.at(np.full(50, time)), abs=1e-9)
    since = along - along[:, :1]  # what lies before the first reading is not known either
    assert np.ptp(since[:, 2]) == pytest.approx(0.0, abs=1e-9)
    assert np.ptp(since[:, 4]) > 1.0


def test_a_strength_is_reached_at_the_age_at_which_it_is_had() -> None:
    curves = within(PLACEHOLDER, 0.3, Doubt(draws=40), "mix")
    ages = curves.ages_at(20.0)

    assert curves.strengths_at(ages[:, None])[:, 0] == pytest.approx(np.full(40, 20.0), rel=1e-6)


def test_several_amounts_at_once_are_had_when_each_is_by_itself() -> None:
    doubt = Doubt(air=AIR, draws=50)
    clock = DrawnAir.of(room(gap=(40.0, 60.0)), doubt, 0).age(41500.0, 20.0)
    start = np.linspace(30.0, 75.0, 50)
    start[3] = math.inf
    amounts = np.linspace(0.0, 400.0, 5)[:, None] * np.linspace(0.9, 1.1, 50)
    amounts[2, 7] = math.inf

    found = clock.time_of(start, amounts)

    assert np.array_equal(found, [clock.time_of(start, row) for row in amounts])
    assert np.isinf(found[:, 3]).all()
    assert math.isinf(found[2, 7])
    gained = clock.between(np.where(np.isfinite(start), start, 0.0), found[1])
    known = np.isfinite(found[1])
    assert gained[known] == pytest.approx(amounts[1][known], rel=1e-4)
