"""Maturity against published figures."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from structuralcodes.codes import mc2010

from curing.maturity import (
    GAS_CONSTANT,
    adjusted_age_at_loading,
    age_factor,
    en1992_age_factor,
    equivalent_age,
    temperature_time_factor,
)

Q5000 = 5000 * GAS_CONSTANT


def test_the_interval_below_the_datum_counts_zero() -> None:
    """ASTM C1074, the rule of equation 1 (constructed case)."""
    factor = temperature_time_factor([0, 10, 10, 20], [-15, -15, 20, 20], datum=-10.0)

    assert factor[-1] == 300.0


def test_a_week_of_warm_days_and_cool_nights() -> None:
    """7 d of 12 h at 20 °C and 12 h at 10 °C, datum -11 °C: 4368 °C·h (from memory of a textbook
    example in M. S. Shetty, Concrete Technology)."""
    hours = [12.0 * part for part in range(15) for _ in (0, 1)][1:-1]
    celsius = [20.0 if part % 2 == 0 else 10.0 for part in range(14) for _ in (0, 1)]

    assert temperature_time_factor(hours, celsius, datum=-11.0)[-1] == pytest.approx(4368.0)


def test_a_line_that_crosses_the_datum_is_split_there() -> None:
    """From -10 to 10 °C in 10 h only the last 5 h, 5 °C in the mean, count: 25 °C·h (by hand)."""
    assert temperature_time_factor([0, 10], [-10, 10])[-1] == pytest.approx(25.0)
    assert temperature_time_factor([0, 10], [10, -10])[-1] == pytest.approx(25.0)


@pytest.mark.parametrize(
    ("celsius", "expected"), [(5, 0.3986), (10, 0.5475), (30, 1.7553), (40, 2.9723)]
)
def test_age_factors_for_q_5000(celsius: float, expected: float) -> None:
    """Arithmetic from ASTM C1074, equation 2, Q = 5000 K, reference 20 °C."""
    assert float(age_factor(celsius, Q5000)) == pytest.approx(expected, abs=5e-5)


@pytest.mark.parametrize(("celsius", "expected"), [(5, 0.3360), (20, 0.8416), (40, 2.4968)])
def test_age_factors_for_another_reference(celsius: float, expected: float) -> None:
    """Arithmetic from ASTM C1074, equation 2, Ea 41.5 kJ/mol, reference 23 °C."""
    assert float(age_factor(celsius, 41500.0, 23.0)) == pytest.approx(expected, abs=5e-5)


@pytest.mark.parametrize(
    ("fahrenheit", "arrhenius", "nurse_saul"),
    [
        (40, "42", "72"),
        (50, "29", "32"),
        (60, "21", "21"),
        (75, "12.8", "13.4"),
        (80, "10.9", "12"),
        (90, "8.1", "9.9"),
    ],
)
def test_hours_equal_to_sixteen_at_68_fahrenheit(
    fahrenheit: float, arrhenius: str, nurse_saul: str
) -> None:
    """Arithmetic from ASTM C1074, Q = 5000 K and datum 0 °C, to the rounding of the table."""
    celsius = (fahrenheit - 32) / 1.8
    factor = temperature_time_factor([0, 1], [celsius, celsius])[-1] / 20.0

    for hours, printed in (
        (16 / float(age_factor(celsius, Q5000)), arrhenius),
        (16 / factor, nurse_saul),
    ):
        half_a_digit = 0.05 if "." in printed else 0.5
        assert hours == pytest.approx(float(printed), abs=half_a_digit)


@pytest.mark.parametrize(("celsius", "expected"), [(5, 0.25), (10, 0.5), (30, 1.5)])
def test_nurse_saul_against_20_degrees(celsius: float, expected: float) -> None:
    """Arithmetic: with datum 0 °C the factor is T / 20."""
    factor = temperature_time_factor([0, 1], [celsius, celsius])[-1]
    assert factor / temperature_time_factor([0, 1], [20, 20])[-1] == pytest.approx(expected)


def test_en1992_is_not_quite_one_at_twenty_degrees() -> None:
    """EN 1992-1-1:2004, equation B.10."""
    assert float(en1992_age_factor(20.0)) == pytest.approx(0.99812, abs=1e-5)


@pytest.mark.parametrize("celsius", [0.0, 5.0, 12.5, 20.0, 35.0, 60.0, 80.0])
def test_en1992_agrees_with_structuralcodes(celsius: float) -> None:
    """fib MC2010, equation 5.1-85, is EN 1992-1-1, equation B.10."""
    assert float(en1992_age_factor(celsius)) == pytest.approx(float(mc2010.t_T(celsius, 1.0)))


@pytest.mark.parametrize(("alpha", "expected"), [(-1, 4.04647), (0, 7.0), (1, 12.10932)])
def test_age_at_loading_by_cement_class(alpha: int, expected: float) -> None:
    """EN 1992-1-1 equation B.9 / fib MC2010 5.1-73; values as in the tests of structuralcodes."""
    assert adjusted_age_at_loading(7.0, alpha) == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize("alpha", [-1, 0, 1])
@pytest.mark.parametrize("days", [1.0, 7.0, 28.0])
def test_age_at_loading_agrees_with_structuralcodes(alpha: int, days: float) -> None:
    cement = {-1: "32.5 N", 0: "32.5 R", 1: "42.5 R"}[alpha]
    assert adjusted_age_at_loading(days, alpha) == pytest.approx(
        float(mc2010.t0_adj(days, cement)), rel=1e-6
    )


@given(
    st.lists(st.tuples(st.floats(0.01, 60.0), st.floats(-30.0, 60.0)), min_size=1, max_size=8),
    st.floats(-30.0, 60.0),
)
def test_equivalent_age_is_integrated_to_a_thousandth(
    parts: list[tuple[float, float]], first: float
) -> None:
    """Against scipy's adaptive quadrature, however far apart the readings lie."""
    hours = np.concatenate([[0.0], np.cumsum([length for length, _ in parts])])
    celsius = np.array([first, *[degrees for _, degrees in parts]])
    exact = sum(
        quad(
            lambda t, i=i: float(age_factor(np.interp(t, hours[i : i + 2], celsius[i : i + 2]))),
            hours[i],
            hours[i + 1],
            limit=200,
        )[0]
        for i in range(len(parts))
    )

    assert equivalent_age(hours, celsius)[-1] == pytest.approx(exact, rel=1e-3)


def test_a_year_of_minutes_agrees_with_a_plain_loop() -> None:
    hours = np.arange(0, 24 * 30, 1 / 60)
    celsius = 15 + 6 * np.sin(hours / 24 * 2 * np.pi)
    middle = 0.5 * (celsius[:-1] + celsius[1:])
    plain = sum(np.exp(41500 / GAS_CONSTANT * (1 / 293.15 - 1 / (middle + 273.15)))) / 60

    assert equivalent_age(hours, celsius)[-1] == pytest.approx(plain, rel=1e-5)


@pytest.mark.parametrize("energy", [0.0, 41500.0, 90000.0])
@pytest.mark.parametrize("swing", [0.0, 0.3, 6.0, 25.0, 150.0])
def test_many_readings_agree_with_summing_the_rates_at_their_ends(
    energy: float, swing: float
) -> None:
    """Whatever the temperatures span, and from one block of readings to the next."""
    hours = np.arange(70_001) / 60
    celsius = 15 + swing * np.sin(hours / 24 * 2 * np.pi)
    rates = age_factor(celsius, energy)
    plain = np.concatenate([[0.0], np.cumsum(0.5 * (rates[1:] + rates[:-1]) * np.diff(hours))])

    np.testing.assert_allclose(equivalent_age(hours, celsius, energy), plain, rtol=1e-9)


@pytest.mark.parametrize("place", [0, 1, 40_000, 69_999, 70_000])
@pytest.mark.parametrize(
    ("bad_hour", "bad_celsius", "message"),
    [
        (float("nan"), 20.0, "finite"),
        (float("inf"), 20.0, "finite|run back"),
        (float("-inf"), 20.0, "finite|run back"),
        (None, float("nan"), "finite"),
        (None, float("-inf"), "finite"),
        (None, float("inf"), "finite"),
        (None, -274.0, "absolute zero"),
    ],
)
def test_one_bad_reading_among_many_is_refused(place, bad_hour, bad_celsius, message) -> None:
    hours, celsius = np.arange(70_001) / 60, np.full(70_001, 18.0)
    hours[place] = hours[place] if bad_hour is None else bad_hour
    celsius[place] = bad_celsius

    with pytest.raises(ValueError, match=message):
        equivalent_age(hours, celsius)


def test_an_hour_that_runs_back_among_many_is_named() -> None:
    hours = np.arange(70_001) / 60
    hours[40_001] = hours[40_000] - 1e-6

    with pytest.raises(ValueError, match="run back after position 40000"):
        equivalent_age(hours, np.full(70_001, 18.0))


@pytest.mark.parametrize("law", [temperature_time_factor, equivalent_age])
@pytest.mark.parametrize(
    ("hours", "celsius", "message"),
    [
        ([0, 2, 1], [20, 20, 20], "run back after position 1"),
        ([0, 1], [20], "one length"),
        ([], [], "no readings"),
        ([0, float("nan")], [20, 20], "finite"),
        ([0, 1], [20, float("inf")], "finite"),
        ([0, 1], [20, -300], "absolute zero"),
    ],
)
def test_bad_histories_are_refused(law, hours, celsius, message) -> None:
    with pytest.raises(ValueError, match=message):
        law(hours, celsius)


def test_laws_are_refused_out_of_their_range() -> None:
    with pytest.raises(ValueError, match="0 to 80"):
        en1992_age_factor(-1.0)
    with pytest.raises(ValueError, match="negative"):
        age_factor(20.0, -1.0)
    with pytest.raises(ValueError, match="finite"):
        age_factor(20.0, reference=float("nan"))
    with pytest.raises(ValueError, match="datum must be a finite"):
        temperature_time_factor([0, 1], [20, 20], float("nan"))
    with pytest.raises(ValueError, match="above 0"):
        adjusted_age_at_loading(0.0, 0)
    with pytest.raises(ValueError, match="-1 to 1"):
        adjusted_age_at_loading(7.0, 2)
