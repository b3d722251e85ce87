"""Dew point and sealing limits against published figures and a reference library."""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest

from curing.sealing import (
    CoatLimits,
    Sealer,
    dew_point,
    dew_point_alduchov,
    film_rate,
    may_coat,
    recoat_state,
    saturation_pressure,
    saturation_pressure_fao56,
)

psychrolib.SetUnitSystem(psychrolib.SI)


def test_dew_point_of_hot_wet_air() -> None:
    """WMO-No. 8 / Sonntag 1990: 50 °C, 90 %."""
    assert float(dew_point(50.0, 0.9)) == pytest.approx(47.9, abs=0.01)


def test_dew_point_with_the_other_constants() -> None:
    """Alduchov and Eskridge: 304.15 K, 56 % gives 294.34844141 K (a weather library's own test)."""
    found = float(dew_point_alduchov(304.15 - 273.15, 0.56)) + 273.15
    assert found == pytest.approx(294.34844141, abs=1e-6)


def test_saturation_pressure_at_fifteen_degrees() -> None:
    """FAO Irrigation and Drainage Paper 56, chapter 3: 1.70535 kPa."""
    assert float(saturation_pressure_fao56(15.0)) / 1000 == pytest.approx(1.70535, abs=1e-4)


@pytest.mark.parametrize(("celsius", "pascal"), [(5, 872.6), (25, 3169.7), (50, 12351.3)])
def test_saturation_pressure_table(celsius: float, pascal: float) -> None:
    """ASHRAE Fundamentals 2017, chapter 1, table 3."""
    assert float(saturation_pressure(celsius)) == pytest.approx(pascal, rel=0.005)


@pytest.mark.parametrize("celsius", [0.0, 4.0, 10.0, 20.0, 38.0, 60.0])
def test_saturation_pressure_agrees_with_psychrolib(celsius: float) -> None:
    """From 0 °C on: below, the library gives the pressure over ice. It sits 0.5 % higher, since it
    holds for pure vapour and the Magnus form is rounded."""
    reference = psychrolib.GetSatVapPres(celsius)
    assert float(saturation_pressure(celsius)) == pytest.approx(reference, rel=0.006)
    assert float(saturation_pressure_fao56(celsius)) == pytest.approx(reference, rel=0.006)


def test_below_freezing_the_dew_point_is_over_water() -> None:
    """The trap of a reference library that gives the frost point there, up to 1 K higher per 10 K."""
    frost = psychrolib.GetTDewPointFromRelHum(-5.0, 0.6)
    dew = float(dew_point(-5.0, 0.6))
    assert dew < frost - 0.5
    ratio = saturation_pressure(dew) / saturation_pressure(-5.0)
    assert float(ratio) == pytest.approx(0.6, rel=1e-9)


@pytest.mark.parametrize("celsius", [2.0, 12.0, 20.0, 31.0])
@pytest.mark.parametrize("humidity", [0.2, 0.5, 0.9])
def test_dew_point_agrees_with_psychrolib(celsius: float, humidity: float) -> None:
    """Above freezing only: the library gives the frost point below 0 °C."""
    reference = psychrolib.GetTDewPointFromRelHum(celsius, humidity)
    if reference < 0:
        assert float(dew_point(celsius, humidity)) < 0.1
    else:
        assert float(dew_point(celsius, humidity)) == pytest.approx(reference, abs=0.1)


def test_three_degree_rule() -> None:
    """ISO 8502-4, a maker's worked examples: 16 °C and 71 % on a surface at 13 °C, dew point 10.7;
    and a dew point of 14.7 under a surface at 19 °C."""
    damp = float(dew_point(16.0, 0.71))
    assert damp == pytest.approx(10.7, abs=0.05)
    assert not may_coat(13.0, damp)
    assert may_coat(19.0, 14.7)


def test_limits_of_the_air() -> None:
    limits = CoatLimits(15.6, 29.4, 0.8, 3.0)
    celsius = [15.5, 20.0, 20.0, 29.5, 20.0]
    humidity = [0.5, 0.5, 0.81, 0.5, np.nan]

    assert limits.fits(celsius, humidity).tolist() == [False, True, False, False, True]


def test_the_dew_margin_can_rule_where_humidity_does_not() -> None:
    """At 20 °C and 84 % the dew point is 17.2 °C: less than 3 K below."""
    assert not CoatLimits(15.6, 29.4, 0.95, 3.0).fits(20.0, 0.84)
    assert CoatLimits(15.6, 29.4, 0.95, 2.0).fits(20.0, 0.84)


@pytest.mark.parametrize(
    ("hours", "state"),
    [(3.9, "too early"), (4.0, "in the window"), (24.0, "in the window"), (24.1, "abrade first")],
)
def test_recoat_window(hours: float, state: str) -> None:
    assert recoat_state(hours, Sealer(recoat_least=4.0, recoat_greatest=24.0)) == state


def test_a_sealer_without_a_greatest_recoat_is_never_too_late() -> None:
    assert recoat_state(1000, Sealer(recoat_greatest=None)) == "in the window"


def test_sealer_cures_twice_as_fast_ten_kelvin_warmer() -> None:
    """Common practice, no source."""
    np.testing.assert_allclose(film_rate([13.0, 23.0, 33.0]), [0.5, 1.0, 2.0])


@pytest.mark.parametrize(
    "make",
    [
        lambda: dew_point(20.0, 0.0),
        lambda: dew_point(20.0, 55.0),
        lambda: saturation_pressure(80.0),
        lambda: CoatLimits(30.0, 20.0),
        lambda: CoatLimits(humidity_greatest=80.0),
        lambda: Sealer(recoat_least=8.0, recoat_greatest=4.0),
        lambda: Sealer(coats=0),
        lambda: Sealer(handle=-1.0),
        lambda: Sealer(light_use=float("nan")),
        lambda: Sealer(recoat_greatest=float("nan")),
        lambda: CoatLimits(dew_margin=-1.0),
        lambda: CoatLimits(celsius_least=float("nan")),
        lambda: may_coat(float("nan"), 10.0),
        lambda: may_coat(20.0, 10.0, margin=-3.0),
        lambda: recoat_state(float("nan"), Sealer()),
        lambda: film_rate([20.0, float("inf")]),
    ],
)
def test_impossible_figures_are_refused(make) -> None:
    with pytest.raises(
        ValueError,
        match=r"humidity|holds|below|more than|at least|negative|finite|0 K or more|a number",
    ):
        make()
