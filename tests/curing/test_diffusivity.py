"""How D falls with humidity and rises with warmth."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curing.diffusivity import (
    CONSTANT,
    MODEL_CODE,
    HumidityLaw,
    bazant_najjar_ratio,
    bazant_thonguthai,
    drying_factor,
    model_code_d1,
)


def test_model_code_ratios() -> None:
    """CEB-FIP MC90, 2.1.8.4, its coefficients from memory."""
    ratios = bazant_najjar_ratio([0.9, 0.85, 0.80, 0.75, 0.5])
    np.testing.assert_allclose(ratios, [0.99997, 0.98747, 0.525, 0.08229, 0.0500], atol=5e-5)


def test_model_code_d1() -> None:
    """CEB-FIP MC90, 2.1.8.4, from memory: 1e-9 m²/s over fck / 10 MPa."""
    assert model_code_d1(40.0) == pytest.approx(2.5e-10)
    with pytest.raises(ValueError, match="12 to 80"):
        model_code_d1(100.0)


def test_warm_concrete() -> None:
    """A finite-element code's own reference output, the form of Bažant and Thonguthai."""
    found = float(bazant_thonguthai(0.5, 32.0, 3e-10, critical=0.75, n=16.0))
    assert found == pytest.approx(5.3548500381977e-11, rel=1e-9)


@pytest.mark.parametrize("celsius", [20.0, 24.9, 95.1, np.nan])
def test_the_warm_form_is_for_warm_concrete(celsius: float) -> None:
    with pytest.raises(ValueError, match="25 to 95"):
        bazant_thonguthai(0.5, celsius, 3e-10)


def test_at_25_degrees_the_warm_form_is_the_plain_one() -> None:
    humidity = np.linspace(0.0, 1.0, 21)
    plain = 3e-10 * bazant_najjar_ratio(humidity, 0.05, 0.75, 16.0)
    np.testing.assert_allclose(bazant_thonguthai(humidity, 25.0, 3e-10), plain, rtol=1e-12)


def test_drying_factor() -> None:
    """Ten kelvin colder, nearly twice as slow: the trade's rule for a cold room."""
    assert float(drying_factor(20.0)) == 1.0
    assert 0.5 < float(drying_factor(10.0)) < 0.6
    np.testing.assert_array_equal(drying_factor([0.0, -8.0]), [0.0, 0.0])
    with pytest.raises(ValueError, match="50 °C"):
        drying_factor(51.0)


@pytest.mark.parametrize("kelvin", [0.0, 2700.0, 4700.0])
def test_warmth_hastens(kelvin: float) -> None:
    assert (np.diff(drying_factor(np.linspace(-5.0, 50.0, 111), kelvin)) >= 0).all()


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_wet_concrete_passes_more(first: float, second: float) -> None:
    low, high = sorted((first, second))
    assert MODEL_CODE.at(low) <= MODEL_CODE.at(high)
    assert float(CONSTANT.at(low)) == 1.0


@pytest.mark.parametrize(
    "wrong", [{"alpha0": 0.0}, {"alpha0": 1.1}, {"critical": 1.0}, {"n": 0.0}, {"n": np.inf}]
)
def test_laws_outside_their_range(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="got"):
        HumidityLaw(**wrong)


def test_humidity_is_a_fraction() -> None:
    with pytest.raises(ValueError, match="0 to 1"):
        bazant_najjar_ratio(50.0)
