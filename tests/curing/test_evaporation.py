"""Early evaporation against the published table."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curing.evaporation import (
    LB_PER_SQUARE_FOOT,
    THRESHOLD,
    UNCERTAINTY,
    early_evaporation,
    evaporation_rate,
    evaporation_rate_menzel,
)

MPH = 0.44704  # m/s
SEVENTY = (70.0 - 32.0) / 1.8  # °F


def test_threshold() -> None:
    """ACI 305R: 0.2 lb/ft²/h, quoted as 1 kg/m²/h."""
    assert pytest.approx(0.976, abs=0.001) == THRESHOLD


@pytest.mark.parametrize("law", [evaporation_rate, evaporation_rate_menzel])
def test_rates_by_wind(law) -> None:
    """From memory of the drying table of Menzel, PCA and ACI 305R: all at 70 °F, RH 70 %."""
    wind = np.array([10.0, 15.0, 20.0, 25.0]) * MPH
    rates = law(SEVENTY, SEVENTY, 0.70, wind) / LB_PER_SQUARE_FOOT
    np.testing.assert_allclose(rates, [0.062, 0.085, 0.110, 0.135], rtol=0.05)


def test_the_two_forms_agree_within_the_methods_uncertainty() -> None:
    concrete, air, humidity, wind = np.meshgrid(
        [10, 20, 35], [10, 20, 35], [0.2, 0.5], [0.5, 5, 11], indexing="ij"
    )
    first = evaporation_rate(concrete, air, humidity, wind)
    second = evaporation_rate_menzel(concrete, air, humidity, wind)
    open_face = first > 0.1
    assert open_face.sum() > 20
    assert (np.abs(first - second) < UNCERTAINTY * first)[open_face].all()


def test_the_band_tells_a_likely_caution_from_a_possible_one() -> None:
    calm = early_evaporation(20.0, 20.0, 0.5, 0.5)
    assert not calm.possible
    breezy = early_evaporation(25.0, 25.0, 0.5, 5.5)
    assert (breezy.caution, breezy.possible) == (False, True)
    assert breezy.most == pytest.approx(1.4 * breezy.likely)
    assert breezy.least == pytest.approx(0.6 * breezy.likely)
    assert early_evaporation(35.0, 35.0, 0.2, 8.0).caution


def test_water_that_condenses_is_none_lost() -> None:
    assert float(evaporation_rate(5.0, 35.0, 0.9, 3.0)) == 0.0


@pytest.mark.parametrize(
    ("air", "humidity", "wind", "named"),
    [(0.0, 0.5, 1.0, "4.4 to 37.8"), (20.0, 50.0, 1.0, "0 to 1"), (20.0, 0.5, 20.0, "11.2")],
)
def test_outside_the_nomograph(air: float, humidity: float, wind: float, named: str) -> None:
    with pytest.raises(ValueError, match=named):
        evaporation_rate(20.0, air, humidity, wind)


@given(st.floats(5, 37), st.floats(5, 37), st.floats(0, 0.9), st.floats(0, 10))
def test_wind_and_dry_air_pull_harder(
    concrete: float, air: float, humidity: float, wind: float
) -> None:
    rate = float(evaporation_rate(concrete, air, humidity, wind))
    assert float(evaporation_rate(concrete, air, humidity + 0.1, wind)) <= rate
    assert float(evaporation_rate(concrete, air, humidity, wind + 1.0)) >= rate
