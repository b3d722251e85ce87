"""Working hours: the first moment for some work, and the last."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curing.shifts import Shifts

DAY = Shifts([(7.0, 12.0), (12.5, 15.5)])


@pytest.mark.parametrize(
    ("moment", "labour", "expected"),
    [
        (10.0, 0.0, 10.0),
        (12.0, 0.0, 11 + 59 / 60),  # at noon nobody is there any more
        (12.2, 1.0, 11.0),
        (20.0, 0.0, 15 + 29 / 60),
        (20.0, 2.0, 13.5),
        (20.0, 4.0, 8.0),
        (20.0, 9.0, 15 + 29 / 60),  # fits no shift: begun while somebody is there
        (7.0, 5.0, 7.0),
        (6.9, 0.0, -math.inf),
    ],
)
def test_the_last_start(moment: float, labour: float, expected: float) -> None:
    assert DAY.last_start(moment, labour) == pytest.approx(expected)


def test_a_shift_shorter_than_a_minute_can_be_started_with() -> None:
    assert Shifts([(7.001, 7.01)]).last_start(9.0) == 7.001


@st.composite
def calendars(draw: st.DrawFn) -> Shifts:
    lengths = draw(st.lists(st.tuples(st.floats(0.1, 9.0), st.floats(0.1, 9.0)), min_size=1))
    edges = np.cumsum(np.array(lengths).ravel())
    return Shifts(edges.reshape(-1, 2))


@given(calendars(), st.floats(0.0, 60.0), st.floats(0.0, 5.0), st.floats(0.0, 20.0))
def test_work_that_begins_later_never_ends_earlier(
    shifts: Shifts, moment: float, wait: float, labour: float
) -> None:
    sooner, later = shifts.first_fit(moment, labour), shifts.first_fit(moment + wait, labour)

    assert later[0] >= sooner[0]
    assert later[1] >= sooner[1]
    assert sooner[0] >= moment


@given(calendars(), st.floats(0.0, 80.0), st.floats(0.0, 5.0))
def test_the_last_start_is_a_first_fit_of_its_own(
    shifts: Shifts, moment: float, labour: float
) -> None:
    start = shifts.last_start(moment, labour)
    if math.isinf(start) or not shifts.fits_one(labour):
        return

    assert start <= moment + 1e-9
    assert shifts.first_fit(start, labour)[0] == pytest.approx(start, abs=1e-8)


def test_a_stretch_lies_within_one_shift_or_not() -> None:
    starts, ends = np.array([7.0, 11.0, 12.5, 3.0]), np.array([12.0, 13.0, 13.0, 4.0])

    assert DAY.holds(starts, ends).tolist() == [True, False, True, False]
    assert Shifts([]).holds(starts, ends).tolist() == [False] * 4
