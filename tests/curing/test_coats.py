"""Which starts the coats of a piece are given, against trying every way there is."""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curing.coats import Coat, CoatHours, CoatOptions, choose
from curing.shifts import Shifts


def hours_of(shifts: list[tuple[float, float]], fitting: list[tuple[float, float]]) -> CoatHours:
    working = Shifts(shifts)
    return CoatHours.of(working, working.within(fitting))


def test_coats_start_on_the_quarter_hour_or_when_their_hours_begin() -> None:
    options = hours_of([(8.1, 9.0)], [(0.0, 24.0)]).options(0.25, 0.0)

    assert options.starts.tolist() == [8.1, 8.25, 8.5, 8.75]
    assert options.finishes.tolist() == pytest.approx([8.35, 8.5, 8.75, 9.0])


def test_abrading_needs_a_shift_and_not_the_sealers_air() -> None:
    options = hours_of([(7.0, 12.0)], [(8.0, 9.0)]).options(0.5, 1.25)

    assert options.starts.tolist() == [8.0, 8.25, 8.5]
    assert options.abradable.tolist() == [False, True, True]


def test_a_coat_longer_than_any_stretch_runs_on_over_the_next() -> None:
    options = hours_of([(7.0, 8.0), (31.0, 32.0), (55.0, 56.0)], [(0.0, 99.0)]).options(1.5, 0.0)

    assert options.starts[0] == 7.0
    assert options.finishes[0] == 31.5
    assert options.finishes[-1] == 56.0


def test_the_first_option_within_the_window_and_after_it() -> None:
    options = hours_of([(7.0, 9.0), (31.0, 33.0)], [(0.0, 99.0)]).options(0.5, 1.0)

    assert options.first(7.1, math.inf) == (7.25, 7.75, False)
    assert options.first(9.0, 20.0) == (32.0, 32.5, True)
    assert options.first(40.0, 50.0) == (math.inf, math.inf, False)


@st.composite
def runs(draw: st.DrawFn) -> tuple[list[CoatOptions], float, float, float]:
    """Options of two or three coats, the least and greatest recoat, and the first bound."""
    windows, at = [], 0.0
    for _ in range(draw(st.integers(1, 4))):
        at += draw(st.floats(0.5, 14.0))
        windows.append((at, at + draw(st.floats(0.3, 1.5))))
        at = windows[-1][1]
    hours = hours_of(windows, [(0.0, 999.0)])
    count = draw(st.integers(2, 3))
    abrade = draw(st.floats(0.0, 1.5))
    options = [hours.options(draw(st.floats(0.0, 0.6)), abrade) for _ in range(count)]
    least = draw(st.floats(0.0, 6.0))
    return options, least, least + draw(st.floats(0.25, 12.0)), draw(st.floats(0.0, 10.0))


def ways(options: list[CoatOptions], least: float, greatest: float, bound: float):
    """Every way to put the coats on, as option numbers."""
    for way in product(*(range(len(option.starts)) for option in options)):
        closes, soonest = math.inf, bound
        for option, number in zip(options, way, strict=True):
            start = option.starts[number]
            if start < soonest - 1e-6 or (start > closes + 1e-6 and not option.abradable[number]):
                break
            closes = option.finishes[number] + greatest
            soonest = option.finishes[number] + least
        else:
            yield way


@given(runs())
def test_the_last_coat_is_on_soonest_then_the_one_before(run) -> None:
    options, least, greatest, bound = run
    coats = [
        Coat(option, lambda finishes: np.maximum(finishes + least, bound)) for option in options
    ]
    best = min(ways(options, least, greatest, bound), key=lambda way: way[::-1], default=None)
    taken = choose(coats, before=-math.inf, greatest=greatest, limit=math.inf)

    if best is None:
        assert len(taken) < len(options)
    else:
        assert taken == list(best)
