"""What a room's past misses say: held against rooms whose misses are known."""

from __future__ import annotations

import numpy as np
import pytest

from curing.climate import Readings, compose
from curing.misses import EVERY, LEAST_SD, PRESUMED, learn

KNOTS = np.arange(-48.0, 24.0 * 400)
PLAN = Readings.of(KNOTS, np.where((KNOTS % 24 > 6) & (KNOTS % 24 < 18), 20.0, 15.0))


def wandering(days: float, sd: float, memory: float, seed: int = 4, step: float = 1.0) -> Readings:
    """A room off its plan by an Ornstein-Uhlenbeck error of known size."""
    chance = np.random.default_rng(seed)
    hours = np.arange(0.0, days * 24, step)
    kept = np.exp(-step / memory)
    off = np.zeros(len(hours))
    for number in range(1, len(hours)):
        off[number] = kept * off[number - 1] + sd * np.sqrt(1 - kept**2) * chance.normal()
    return Readings.of(hours, np.interp(hours, PLAN.hours, PLAN.celsius) + off)


def test_without_readings_the_presumed_holds() -> None:
    assert learn(Readings.of([], []), PLAN).doubt.sd == pytest.approx(PRESUMED.sd, rel=0.02)
    assert learn(wandering(0.8, 3.0, 10.0), PLAN).doubt.sd == pytest.approx(PRESUMED.sd, rel=0.02)


def test_a_room_that_keeps_to_its_plan_is_trusted() -> None:
    exact = Readings.of(KNOTS[48:2000], np.interp(KNOTS[48:2000], PLAN.hours, PLAN.celsius))
    found = learn(exact, PLAN)
    assert found.days == pytest.approx(81.3, abs=0.1)
    assert LEAST_SD <= found.doubt.sd < 0.7


@pytest.mark.parametrize(("sd", "memory"), [(1.0, 8.0), (3.0, 12.0), (4.0, 30.0)])
def test_the_size_of_known_misses_is_found(sd: float, memory: float) -> None:
    """A year of readings: what is drawn spreads as the misses did, at six hours and at two days.

    The expectation follows the last reading for a while, so its misses are not the wandering
    itself; what must agree is the drawn error with the misses that the readings show.
    """
    found = learn(wandering(360, sd, memory), PLAN)
    for ahead in (6, 12, 48):
        drawn = found.doubt.sd * np.sqrt(1 - np.exp(-2 * ahead / found.doubt.memory))
        assert drawn == pytest.approx(found.sd[ahead - 1], rel=0.2)


def test_the_misses_are_those_of_the_expected_air_itself() -> None:
    """By `compose` at many moments, another way to the same numbers."""
    readings = wandering(40, 3.0, 14.0, step=0.5)
    found = learn(readings, PLAN)
    missed: dict[int, list[float]] = {1: [], 6: [], 24: []}
    for moment in range(24, 40 * 24 - 1, EVERY):
        known = readings.hours <= moment
        air = compose(
            readings=Readings(
                readings.hours[known], readings.celsius[known], readings.humidity[known]
            ),
            planned=PLAN,
            now=float(moment),
        )
        for ahead, kept in missed.items():
            if moment + ahead < 40 * 24 - 1:
                came = np.interp(moment + ahead, readings.hours, readings.celsius)
                kept.append(float(came - air.celsius_at(moment + ahead)))
    for ahead, kept in missed.items():
        assert found.sd[ahead - 1] == pytest.approx(np.sqrt(np.mean(np.square(kept))), rel=0.05)


def test_hours_without_readings_are_left_out() -> None:
    whole = wandering(60, 2.0, 10.0)
    gone = (whole.hours > 300) & (whole.hours < 500)
    off = whole.celsius.copy()
    off[gone] += 500.0
    kept = ~gone
    with_gap = learn(Readings.of(whole.hours[kept], off[kept]), PLAN)
    assert with_gap.days == pytest.approx(60 - 200 / 24, abs=0.5)
    assert with_gap.doubt.sd == pytest.approx(learn(whole, PLAN).doubt.sd, rel=0.25)


def test_more_readings_draw_away_from_the_presumed() -> None:
    sds = [learn(wandering(days, 5.0, 15.0), PLAN).doubt.sd for days in (2, 10, 60)]
    assert sds[2] > sds[0]
