"""A room's air: what is measured, what is expected, and the sums over both."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from curing.climate import Climate, Readings, compose
from curing.maturity import (
    age_factor,
    equivalent_age,
    equivalent_age_steps,
    temperature_time_factor,
)
from curing.sealing import CoatLimits

NOW = 200.0


def plan(celsius: float = 18.0, humidity: float = 0.5, until: float = 600.0) -> Readings:
    hours = np.arange(0.0, until + 1)
    return Readings.of(hours, np.full(len(hours), celsius), np.full(len(hours), humidity))


def steady(celsius: float, start: float = 0.0, end: float = NOW, every: float = 0.25) -> Readings:
    hours = np.arange(start, end + 1e-9, every)
    return Readings.of(hours, np.full(len(hours), celsius))


def air(readings: Readings, **more: float) -> Climate:
    return compose(readings=readings, planned=plan(), now=NOW, **more)


def test_measured_hours_are_what_was_measured() -> None:
    climate = air(steady(12.0))

    assert float(climate.celsius_at(100.0)) == 12.0
    assert climate.measured_share(50.0, 150.0) == 1.0
    assert climate.last_measured == NOW
    assert not climate.stale


def test_expected_hours_start_at_the_last_reading_and_fade_to_the_plan() -> None:
    climate = air(steady(12.0))
    after = climate.celsius_at(NOW + np.array([0.0, 6.0, 24.0, 72.0, 200.0]))

    assert climate.offset == pytest.approx(-6.0)
    assert after[0] == pytest.approx(12.0, abs=1e-6)
    assert (np.diff(after) > 0).all()
    assert after[2] == pytest.approx(18.0 - 6.0 * math.exp(-1), abs=0.05)
    assert after[4] == pytest.approx(18.0, abs=0.01)
    assert climate.measured_share(NOW, NOW + 10) == 0.0


def test_a_reading_after_now_is_left_out() -> None:
    hours = np.array([190.0, 195.0, 205.0])
    climate = air(Readings.of(hours, [15.0, 15.0, 40.0]), gap_after=6.0)

    assert climate.last_measured == 195.0
    assert float(climate.celsius_at(205.0)) < 20.0


def test_a_gap_is_bridged_by_the_plan_shifted_to_meet_both_ends_and_said_so() -> None:
    both = np.concatenate([np.arange(0.0, 101.0), np.arange(120.0, 201.0)])
    celsius = np.where(both <= 100, 14.0, 20.0)
    climate = air(Readings.of(both, celsius))

    assert climate.gaps == ((100.0, 120.0),)
    assert float(climate.celsius_at(110.0)) == pytest.approx(17.0, abs=0.01)
    assert climate.measured_share(100.0, 120.0) == 0.0
    assert climate.measured_share(90.0, 130.0) == pytest.approx(0.5)


def test_a_sensor_that_stopped_is_flagged() -> None:
    assert air(steady(18.0, end=195.0)).stale
    assert not air(steady(18.0, end=195.0), stale_after=6.0).stale
    assert air(Readings.of([], [])).stale


def test_without_readings_the_plan_is_all_there_is() -> None:
    climate = air(Readings.of([], []))

    assert float(climate.celsius_at(10.0)) == 18.0
    assert climate.last_measured is None
    assert climate.measured_share(0.0, 100.0) == 0.0


def test_one_reading_is_enough() -> None:
    climate = air(Readings.of([150.0], [10.0]))

    assert float(climate.celsius_at(150.0)) == pytest.approx(10.0)
    assert float(climate.equivalent_age(100.0, 300.0)) > 0


def test_a_step_in_the_plan_stays_a_step() -> None:
    planned = Readings.of([0, 100, 100, 400], [10, 10, 20, 20])
    climate = compose(readings=Readings.of([], []), planned=planned, now=0.0)

    assert float(climate.temperature_time(90.0, 110.0)) == pytest.approx(10 * 10 + 10 * 20)


def test_humidity_that_was_not_measured_is_the_planned_one() -> None:
    assert float(air(steady(18.0)).humidity_at(100.0)) == 0.5


@st.composite
def climates(draw: st.DrawFn) -> Climate:
    count = draw(st.integers(0, 30))
    gaps = draw(st.lists(st.floats(0.05, 12.0), min_size=count, max_size=count))
    celsius = draw(st.lists(st.floats(-10.0, 40.0), min_size=count, max_size=count))
    hours = np.cumsum(gaps) if gaps else np.zeros(0)
    low, high = sorted(draw(st.tuples(st.floats(-5.0, 30.0), st.floats(-5.0, 30.0))))
    knots = np.arange(0.0, 600.0)
    planned = low + (high - low) * (0.5 + 0.5 * np.sin(knots / 24 * 2 * np.pi))
    return compose(
        readings=Readings.of(hours, celsius),
        planned=Readings.of(knots, planned, np.full(len(knots), 0.5)),
        now=draw(st.floats(0.0, 300.0)),
    )


@given(climates(), st.floats(0.0, 500.0), st.floats(0.0, 90.0))
def test_sums_agree_with_integrating_the_history(
    climate: Climate, start: float, length: float
) -> None:
    end = start + length
    inside = (climate.hours > start) & (climate.hours < end)
    hours = np.concatenate([[start], climate.hours[inside], [end]])
    celsius = np.concatenate(
        [climate.celsius_at([start]), climate.celsius[inside], climate.celsius_at([end])]
    )

    aged = float(climate.equivalent_age(start, end))
    assert aged == pytest.approx(float(equivalent_age(hours, celsius)[-1]), rel=1e-3, abs=1e-4)
    for datum in (-10.0, 0.0, 12.0):
        factor = float(climate.temperature_time(start, end, datum))
        expected = float(temperature_time_factor(hours, celsius, datum)[-1])
        assert factor == pytest.approx(expected, rel=1e-9, abs=1e-6)
    warm, dry = celsius >= 15.6, climate.humidity_at(hours) <= 0.7
    if (warm & dry).all() and length:
        assert float(climate.drying_hours(start, end)) == pytest.approx(length)


def test_far_apart_readings_are_read_true_between_them() -> None:
    """Ten hours from -15 to 25 °C: the age at each hour as an integral by a library (scipy)."""
    planned = Readings.of([0.0, 10.0, 400.0], [-15.0, 25.0, 25.0])
    climate = compose(readings=Readings.of([], []), planned=planned, now=0.0)

    for end in (1.0, 3.3, 5.0, 8.1, 10.0):
        expected, _ = quad(lambda hour: float(age_factor(-15.0 + 4.0 * hour)), 0.0, end)
        assert float(climate.equivalent_age(0.0, end)) == pytest.approx(expected, rel=1e-3)


def test_drying_slows_where_the_air_turns_cold_between_two_readings() -> None:
    """From 20.6 to 10.6 °C in 10 h the air is warm for 5 h: 5 + 5 / 2 hours of drying."""
    planned = Readings.of([0.0, 10.0, 400.0], [20.6, 10.6, 10.6], [0.5, 0.5, 0.5])
    climate = compose(readings=Readings.of([], []), planned=planned, now=0.0)

    assert float(climate.drying_hours(0.0, 10.0)) == pytest.approx(7.5)
    assert climate.time_of_drying(0.0, 7.5) == pytest.approx(10.0)


def test_beyond_the_plan_the_mean_of_its_last_week_goes_on() -> None:
    hours = np.arange(0.0, 400.0)
    planned = Readings.of(hours, np.where(hours < 300, 5.0, 15.0), np.full(400, 0.4))
    climate = compose(readings=Readings.of([], []), planned=planned, now=0.0)

    share = (399 - 299.5) / 168
    assert float(climate.celsius_at(500.0)) == pytest.approx(5 + 10 * share, abs=0.01)
    assert float(climate.humidity_at(500.0)) == pytest.approx(0.4)
    assert float(climate.celsius_at(-50.0)) == 5.0


@given(climates(), st.floats(-20.0, 700.0), st.floats(0.01, 400.0))
def test_the_time_of_an_age_turns_the_age_round(climate: Climate, start: float, age: float) -> None:
    at = climate.time_of_age(start, age)
    dried = climate.time_of_drying(start, age)
    cured = climate.time_of_film(start, age)

    assert float(climate.equivalent_age(start, at)) == pytest.approx(age, rel=1e-6, abs=1e-6)
    assert float(climate.drying_hours(start, dried)) == pytest.approx(age, rel=1e-6, abs=1e-6)
    assert float(climate.film_hours(start, cured)) == pytest.approx(age, rel=1e-6, abs=1e-6)


@given(climates(), st.floats(0.0, 500.0), st.floats(0.0, 50.0), st.floats(0.1, 200.0))
def test_starting_later_is_never_there_sooner(
    climate: Climate, start: float, wait: float, age: float
) -> None:
    for search in (climate.time_of_age, climate.time_of_drying, climate.time_of_film):
        assert search(start + wait, age) >= search(start, age) - 1e-6


@given(climates(), st.floats(0.0, 300.0), st.floats(0.1, 15.0), st.floats(1.0, 200.0))
def test_warmer_is_never_later(climate: Climate, start: float, more: float, age: float) -> None:
    warmer = Climate(
        climate.hours, climate.celsius + more, climate.humidity, climate.measured, climate.now
    )

    assert warmer.time_of_age(start, age) <= climate.time_of_age(start, age) + 1e-6


def test_temperature_time_between_knots() -> None:
    climate = air(steady(12.0, every=1.0))

    assert float(climate.temperature_time(10.0, 20.0)) == pytest.approx(
        float(temperature_time_factor([10, 20], [12, 12])[-1])
    )


def test_drying_takes_twice_as_long_in_the_cold_and_in_damp_air() -> None:
    """Common practice, no source: double below 60 °F or above 70 % RH."""
    warm, cold = (
        compose(readings=Readings.of([], []), planned=plan(celsius), now=0.0)
        for celsius in (20.0, 10.0)
    )
    damp = compose(readings=Readings.of([], []), planned=plan(20.0, 0.75), now=0.0)

    assert warm.time_of_drying(10.0, 48.0) == pytest.approx(58.0)
    assert cold.time_of_drying(10.0, 48.0) == pytest.approx(106.0)
    assert damp.time_of_drying(10.0, 48.0) == pytest.approx(106.0)


def test_air_windows_for_a_coat_open_and_close_with_the_day() -> None:
    knots = np.arange(0.0, 96.0)
    swing = 15.0 + 5.0 * np.sin((knots - 6) / 24 * 2 * np.pi)
    climate = compose(
        readings=Readings.of([], []),
        planned=Readings.of(knots, swing, np.full(len(knots), 0.5)),
        now=0.0,
    )
    windows = climate.coatable_windows(CoatLimits(15.6, 29.4, 0.8, 3.0))

    assert len(windows) == 4
    for start, end in windows:
        assert (climate.celsius_at(np.linspace(start + 0.1, end - 0.1, 9)) >= 15.6).all()
    assert float(climate.celsius_at(windows[1, 0] - 0.2)) < 15.6


def test_the_coldest_and_warmest_of_a_night() -> None:
    hours = np.array([0.0, 6.0, 12.0])
    climate = compose(
        readings=Readings.of(hours, [18.0, 4.0, 15.0]), planned=plan(), now=12.0, gap_after=8.0
    )

    assert climate.extremes(0.0, 12.0) == (4.0, 18.0)


def test_the_times_of_many_pieces_are_those_of_each() -> None:
    climate = air(steady(12.0))
    casts = np.array([-10.0, 3.3, 150.0, 250.0, 900.0])

    assert climate.times_of_age(casts, 18.0) == pytest.approx(
        [climate.time_of_age(cast, 18.0) for cast in casts.tolist()], rel=1e-12
    )
    assert climate.times_of_age(casts[:, None], [0.0, 18.0, math.inf]).shape == (5, 3)


# Steps of nothing are two readings at one hour; the long ones leave holes.
HISTORY = st.lists(
    st.tuples(
        st.sampled_from([0.0, 0.1, 1.0, 2.9, 4.0, 30.0]),
        st.floats(-10.0, 40.0),
        st.none() | st.floats(0.0, 1.0),
    ),
    min_size=1,
    max_size=14,
)


def summed(climate: Climate, times: np.ndarray) -> np.ndarray:
    return np.array(
        [
            climate.equivalent_age(-5.0, times),
            climate.equivalent_age(-5.0, times, 33500.0, 23.0),
            climate.drying_hours(-5.0, times),
            climate.film_hours(-5.0, times),
            climate.temperature_time(-5.0, times, 5.0),
            climate._measured_clock().between(-5.0, times),
        ]
    )


@given(HISTORY, st.sets(st.integers(0, 14)), st.sets(st.integers(0, 14)), st.floats(0.0, 5.0))
def test_readings_added_one_after_the_other_give_the_air_and_sums_of_all_at_once(
    history: list[tuple[float, float, float | None]], cuts: set[int], read: set[int], late: float
) -> None:
    """Whatever was summed already when a reading came, and whatever was not."""
    hours = 5.5 + np.cumsum([step for step, _, _ in history])
    celsius = np.array([degrees for _, degrees, _ in history])
    humidity = np.array([np.nan if part is None else part for _, _, part in history])
    knots = np.arange(0.0, 120.0)
    planned = Readings.of(
        np.sort(np.append(knots, 60.0)),
        14.0 + 6.0 * np.sin(np.arange(121) / 4.0),
        0.6 + 0.3 * np.cos(np.arange(121) / 5.0),
    )
    times = np.linspace(-5.0, 600.0, 61)

    climate = compose(readings=Readings.of([], []), planned=planned, now=0.0)
    edges = sorted({0, len(hours), *(cut for cut in cuts if cut < len(hours))})
    for number, (start, end) in enumerate(itertools.pairwise(edges)):
        if number in read:
            summed(climate, times)
        part = slice(start, end)
        now = float(hours[end - 1]) + late
        climate = climate.extended(hours[part], celsius[part], humidity[part], now=now)
    whole = compose(readings=Readings.of(hours, celsius, humidity), planned=planned, now=now)

    for name in ("hours", "celsius", "humidity"):
        assert getattr(climate, name) == pytest.approx(getattr(whole, name), rel=1e-12, abs=1e-12)
    for name in ("now", "last_measured", "gaps", "offset", "stale", "settled"):
        assert getattr(climate, name) == getattr(whole, name)
    assert climate.measured.tolist() == whole.measured.tolist()
    assert summed(climate, times) == pytest.approx(summed(whole, times), rel=1e-9, abs=1e-9)
    for age in (0.5, 18.0, 400.0):
        assert climate.time_of_age(10.0, age) == pytest.approx(whole.time_of_age(10.0, age))


def test_one_more_reading_sums_only_what_comes_after_the_last(monkeypatch) -> None:
    before = air(steady(12.0, every=1 / 60))
    before.equivalent_age(0.0, 100.0)
    worked: list[int] = []

    def counted(hours: np.ndarray, *more: object) -> tuple[np.ndarray, np.ndarray]:
        worked.append(len(hours))
        return equivalent_age_steps(hours, *more)

    monkeypatch.setattr("curing.air.equivalent_age_steps", counted)
    after = before.extended(NOW + 1 / 60, 14.0)
    after.equivalent_age(0.0, 100.0)

    expected = int((after.hours >= after.last_measured).sum())
    assert 0 < sum(worked) <= expected + 5 < 500 < len(after.hours)
    assert after.now == after.last_measured == NOW + 1 / 60


def test_a_reading_after_now_is_not_added() -> None:
    before = air(steady(12.0))
    after = before.extended([NOW + 1, NOW + 5], [13.0, 40.0], now=NOW + 2)

    assert after.last_measured == NOW + 1
    assert after.extended([], [], now=NOW + 9).stale


def test_readings_go_on_only_from_the_last_one_of_air_as_it_was_composed() -> None:
    before = air(steady(12.0))

    with pytest.raises(ValueError, match="lies before the last one at 200: compose"):
        before.extended(NOW - 1, 12.0)
    with pytest.raises(ValueError, match="before the last reading"):
        before.extended([], [], now=NOW - 1)
    with pytest.raises(ValueError, match="as compose made it"):
        replace(before, celsius=before.celsius + 1, _clocks={}).extended(NOW + 1, 12.0)
    with pytest.raises(ValueError, match="made by compose"):
        Climate(
            before.hours, before.celsius, before.humidity, before.measured, before.now
        ).extended(NOW + 1, 12.0)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Readings.of([0, 1], [20, 20], [0.5, 55]), "fraction"),
        (lambda: Readings.of([1, 0], [20, 20]), "run back"),
        (
            lambda: compose(readings=steady(20.0), planned=Readings.of([0], [20]), now=1.0),
            "two knots",
        ),
        (lambda: air(steady(20.0), fade=0.0), "above 0"),
    ],
)
def test_impossible_air_is_refused(make, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        make()
