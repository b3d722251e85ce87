"""Strength laws against published figures and a reference library."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import curve_fit
from structuralcodes.codes import ec2_2004

from curing.strength import (
    ACI209,
    DAY,
    EN1992,
    PLACEHOLDER,
    PSI,
    Exponential,
    Hyperbolic,
    aci318_modulus_of_rupture,
    activation_energy,
    beta_cc,
    characteristic_strength,
    fit_hyperbolic,
    flexural_tensile,
    mean_tensile,
    tensile_at,
)

CURVES = [
    PLACEHOLDER,
    Exponential(60.0, 20.0, 0.8),
    EN1992(48.0, 0.25),
    ACI209(40.0, 4.0, 0.85),
]


@pytest.mark.parametrize(("days", "expected"), [(10, 0.8450749), (56, 1.075970779)])
def test_share_of_the_28_day_strength(days: float, expected: float) -> None:
    """EN 1992-1-1:2004, equation 3.2, s = 0.25."""
    assert float(beta_cc(days, 0.25)) == pytest.approx(expected, abs=1e-7 if days == 10 else 1e-9)


@pytest.mark.parametrize("s", [0.20, 0.25, 0.38])
@pytest.mark.parametrize("days", [0.5, 1.0, 3.0, 28.0, 365.0])
def test_strength_in_time_agrees_with_structuralcodes(days: float, s: float) -> None:
    beta = float(ec2_2004.beta_cc(days, s))
    assert float(beta_cc(days, s)) == pytest.approx(beta)
    assert float(EN1992(48.0, s).at(days * DAY)) == pytest.approx(ec2_2004.fcm_time(48.0, beta))
    alpha = 1.0 if days < 28 else 2 / 3
    assert tensile_at(beta, alpha, 3.5) == pytest.approx(ec2_2004.fctm_time(3.5, beta, alpha))


def test_degree_of_hydration_is_the_exponential_curve() -> None:
    """A finite-element code's test: final degree 0.85, tau 48,600 s, beta 0.9, at 27 h equivalent
    age. Its adiabatic temperature has no law here by intention: the engine counts no heat of
    hydration, since a ¾ in piece takes the air's temperature within the hour."""
    degree = Exponential(su=0.85, tau=48600.0 / 3600.0, alpha=0.9)
    assert float(degree.at(27.0)) == pytest.approx(0.497378, abs=1e-5)


def test_characteristic_strength_at_seven_days() -> None:
    """EN 1992-1-1:2004, 3.1.2 (5): C40, class N."""
    assert characteristic_strength(7, 40.0, 0.25) == pytest.approx(29.38243759, abs=1e-7)


@pytest.mark.parametrize(
    ("a", "b", "days", "expected"),
    [
        (4.0, 0.85, [3, 7, 14, 28, 91], [0.46, 0.70, 0.88, 1.0, 1.12]),
        (2.3, 0.92, [3, 7, 14, 28, 91], [0.59, 0.80, 0.92, 1.0, 1.06]),
    ],
)
def test_aci_209_ratios(a: float, b: float, days: list[float], expected: list[float]) -> None:
    """From memory of ACI 209R-92, table 2.2.1, moist cured, cement types I and III."""
    ratios = ACI209(1.0, a, b).at(np.array(days) * DAY)
    np.testing.assert_allclose(ratios, expected, atol=0.015)


@pytest.mark.parametrize(
    ("fck", "expected"),
    [(12, 1.6), (20, 2.2), (30, 2.9), (40, 3.5), (50, 4.1), (60, 4.4), (90, 5.0)],
)
def test_mean_tensile_strength_table(fck: float, expected: float) -> None:
    """EN 1992-1-1:2004, table 3.1, to its rounding, and structuralcodes exactly."""
    assert mean_tensile(fck) == pytest.approx(expected, abs=0.05)
    assert mean_tensile(fck) == pytest.approx(float(ec2_2004.fctm(fck)), rel=1e-6)


def test_tensile_strength_at_an_age() -> None:
    """EN 1992-1-1:2004, equation 3.4."""
    assert tensile_at(0.32, 2 / 3, 3.45) == pytest.approx(1.614058, abs=1e-6)


def test_flexural_strength_of_a_thin_slab() -> None:
    """EN 1992-1-1:2004, equation 3.23, h = 19 mm."""
    assert flexural_tensile(19.0, 1.0) == pytest.approx(1.581, abs=1e-3)
    assert flexural_tensile(700.0, 1.0) == 1.0


def test_modulus_of_rupture() -> None:
    """From memory of ACI 318, 19.2.3.1: 7.5 sqrt(4000) is 474 psi."""
    assert aci318_modulus_of_rupture(4000.0) == pytest.approx(474, abs=0.5)


@pytest.mark.parametrize(
    ("hours", "psi"), [(8, 550), (12, 1450), (16, 2200), (24, 3300), (48, 5200), (168, 7500)]
)
def test_placeholder_curve(hours: float, psi: float) -> None:
    """Arithmetic from the placeholder's own equation, to the rounding of the table."""
    assert float(PLACEHOLDER.at(hours)) / PSI == pytest.approx(psi, abs=60)


@pytest.mark.parametrize("curve", CURVES)
@given(share=st.floats(0.01, 0.95))
def test_age_at_turns_at_round(curve, share: float) -> None:
    strength = share * float(curve.at(90 * DAY))

    assert float(curve.at(curve.age_at(strength))) == pytest.approx(strength, rel=1e-9)


@pytest.mark.parametrize("curve", CURVES)
def test_strength_never_falls_and_what_is_not_reached_is_never(curve) -> None:
    strengths = curve.at(np.linspace(0, 4000, 400))

    assert (np.diff(strengths) >= 0).all()
    assert strengths[0] == 0
    assert curve.age_at(1000.0) == math.inf
    assert curve.age_at(0.0) == 0


@pytest.mark.parametrize("curve", [*CURVES, Exponential(60.0, 20.0, 10.0)])
def test_a_moment_after_casting_is_no_strength_and_no_strength_takes_no_time(curve) -> None:
    """Where the figures leave the range of a float."""
    assert float(curve.at(5e-324)) == 0
    assert curve.age_at(5e-324) < 100
    assert float(curve.at(math.inf)) > 0


def test_free_fit_trap_keeps_the_setting_time_from_running_negative() -> None:
    """Ages and strengths from the concrete data of Yeh (1998); a free fit returns t0 = -1.2 d."""
    ages = np.array([3, 7, 28, 56, 91]) * DAY
    strengths = [41.100, 54.096, 68.499, 73.698, 75.498]
    fitted = fit_hyperbolic(ages, strengths)

    free, _ = curve_fit(
        lambda t, su, k, t0: su * k * (t - t0) / (1 + k * (t - t0)),
        ages / DAY,
        strengths,
        p0=[80.0, 0.3, 0.0],
    )
    assert free[2] == pytest.approx(-1.20, abs=0.005)
    assert fitted.t0 >= 0
    np.testing.assert_allclose(fitted.at(ages), [41.1, 54.1, 68.5, 73.7, 75.5], rtol=0.12)


def test_the_fit_is_scipys_where_that_is_free_to_set_the_setting_time() -> None:
    """Tests that scatter by 3 %, another routine (scipy's curve_fit) without bounds."""
    ages = np.array([8.0, 12, 18, 24, 48, 96, 168, 672])
    scatter = 1.0 + 0.03 * np.random.default_rng(4).standard_normal(len(ages))
    tests = PLACEHOLDER.at(ages) * scatter
    free, _ = curve_fit(
        lambda t, su, k, t0: su * k * (t - t0) / (1 + k * (t - t0)), ages, tests, p0=[60, 0.03, 5]
    )
    fitted = fit_hyperbolic(ages, tests)

    assert free[2] > 0
    assert (fitted.su, fitted.k, fitted.t0) == pytest.approx(tuple(free), rel=1e-4)


@given(su=st.floats(20.0, 90.0), k=st.floats(0.01, 0.1), t0=st.floats(0.5, 8.0))
def test_fit_recovers_the_curve_that_made_the_tests(su: float, k: float, t0: float) -> None:
    true = Hyperbolic(su, k, t0)
    ages = t0 + np.array([2.0, 6.0, 14.0, 30.0, 72.0, 168.0, 672.0])
    fitted = fit_hyperbolic(ages, true.at(ages))

    np.testing.assert_allclose(fitted.at(ages), true.at(ages), rtol=1e-3)


def test_activation_energy_from_rates_at_three_temperatures() -> None:
    """Rates made by the Arrhenius law give back the energy that made them."""
    rates = {
        celsius: 0.03 * math.exp(-45000 / 8.314 * (1 / (celsius + 273.15) - 1 / 293.15))
        for celsius in (10.0, 20.0, 35.0)
    }
    energy = activation_energy({c: Hyperbolic(60, k, 5) for c, k in rates.items()})

    assert energy == pytest.approx(45000, rel=1e-6)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Hyperbolic(0, 1, 0), "su must be"),
        (lambda: Hyperbolic(60, 0.03, -1), "t0 must not be negative"),
        (lambda: Exponential(60, float("nan"), 1), "tau must be"),
        (lambda: characteristic_strength(3, 40, 0.25), "beyond 3 days"),
        (lambda: mean_tensile(8), "12 to 90"),
        (lambda: beta_cc(0, 0.25), "above 0"),
        (lambda: fit_hyperbolic([24, 24, 48], [5, 5, 9]), "three ages"),
        (lambda: fit_hyperbolic([24, 48], [5, 9, 10]), "one length"),
        (lambda: activation_energy({20.0: PLACEHOLDER}), "two temperatures"),
        (
            lambda: activation_energy({10.0: Hyperbolic(60, 0.05), 30.0: Hyperbolic(60, 0.02)}),
            "check the tests",
        ),
        (lambda: PLACEHOLDER.at(float("nan")), "numbers"),
        (lambda: PLACEHOLDER.age_at(float("nan")), "number of MPa"),
        (lambda: Exponential(60, 20, 1).age_at(float("nan")), "number of MPa"),
        (lambda: EN1992(48.0).age_at(float("nan")), "number of MPa"),
        (lambda: ACI209(40.0).age_at(float("nan")), "number of MPa"),
        (lambda: mean_tensile(91.0), "12 to 90"),
        (lambda: tensile_at(-0.1, 1.0, 3.5), "beta must be"),
        (lambda: flexural_tensile(0.0, 3.5), "thickness_mm must be"),
        (lambda: aci318_modulus_of_rupture(-1.0), "fc_psi must be"),
        (
            lambda: activation_energy({-300.0: PLACEHOLDER, 20.0: PLACEHOLDER}),
            "above -273.15",
        ),
    ],
)
def test_impossible_figures_are_refused(make, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        make()
