"""Running sums: the quick way for one time, and the way for many, against each other and scipy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from curing.clock import Clock

TIMES = st.floats(-50.0, 200.0)
AMOUNTS = st.floats(-5.0, 300.0)


@st.composite
def clocks(draw: st.DrawFn) -> Clock:
    """Lengths of nothing (steps) and stretches in which nothing is gained are among them."""
    count = draw(st.integers(1, 8))
    lengths = draw(st.lists(st.just(0.0) | st.floats(0.01, 30.0), min_size=count, max_size=count))
    rates = draw(st.lists(st.just(0.0) | st.floats(0.05, 4.0), min_size=count, max_size=count))
    bend = draw(st.lists(st.just(0.0) | st.floats(-1.5, 1.5), min_size=count, max_size=count))
    return Clock.from_steps(
        np.concatenate([[0.0], np.cumsum(lengths)]),
        np.array(lengths) * np.array(rates),
        np.array(bend),
        draw(st.floats(0.05, 2.0)),
        draw(st.just(0.0) | st.floats(0.05, 2.0)),
    )


@given(clocks(), st.lists(TIMES, min_size=1, max_size=6))
def test_one_time_is_read_as_many_are(clock: Clock, times: list[float]) -> None:
    times += clock.hours.tolist()

    one_by_one = [float(clock.at(time)) for time in times]
    assert one_by_one == pytest.approx(clock.at(times).tolist(), rel=1e-12, abs=1e-12)


@given(clocks(), st.lists(st.tuples(TIMES, AMOUNTS), min_size=1, max_size=6))
def test_one_amount_is_sought_as_many_are(clock: Clock, asked: list[tuple[float, float]]) -> None:
    starts, amounts = np.array(asked).T

    one_by_one = [clock.time_of(start, amount) for start, amount in asked]
    found = clock.times_of(starts, amounts)
    # Where next to nothing is gained a rounding of the sum is a long time: the sums must agree.
    known = np.isfinite(found)
    assert np.isfinite(one_by_one).tolist() == known.tolist()
    assert clock.at(np.array(one_by_one)[known]) == pytest.approx(
        clock.at(found[known]), rel=1e-12, abs=1e-12
    )
    assert all(type(time) is float for time in one_by_one)


@given(clocks(), TIMES, st.floats(0.01, 300.0))
def test_at_the_time_of_an_amount_it_has_been_gained(
    clock: Clock, start: float, amount: float
) -> None:
    time = clock.time_of(start, amount)

    if math.isinf(time):
        assert clock.after == 0
        assert clock.total[-1] - float(clock.at(start)) < amount
    else:
        assert float(clock.between(start, time)) == pytest.approx(amount, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("bend", [0.0, 1e-12, 0.3, -1.2])
def test_within_an_interval_the_rate_goes_exponentially(bend: float) -> None:
    """Against scipy's quadrature of exp(bend t / 10)."""
    whole, part = (quad(lambda t: math.exp(bend * t / 10.0), 0.0, end)[0] for end in (10.0, 3.7))
    clock = Clock.from_steps(np.array([0.0, 10.0]), np.array([whole]), np.array([bend]), 1.0, 1.0)

    assert float(clock.at(3.7)) == pytest.approx(part, rel=1e-9)
    assert clock.time_of(0.0, part) == pytest.approx(3.7, rel=1e-9)


def test_starts_and_amounts_broadcast() -> None:
    clock = Clock.from_steps(np.array([0.0, 10.0]), np.array([20.0]), np.zeros(1), 1.0, 0.5)

    assert clock.times_of([[0.0], [5.0]], [4.0, 0.0, math.inf]).tolist() == [
        [2.0, 0.0, math.inf],
        [7.0, 5.0, math.inf],
    ]
    assert clock.times_of([-4.0, 8.0], 4.0).tolist() == [0.0, 10.0]
    assert clock.times_of(9.0, [2.0, 3.0]).tolist() == [10.0, 12.0]
