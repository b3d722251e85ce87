"""From a shop's tests to its mix's curve, or to the words that it has none yet."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curing.activation import Lacking, energy_from, one_temperature_each
from curing.calibration import (
    Missing,
    StrengthTest,
    calibrate,
    placeholder_band,
)
from curing.maturity import age_factor
from curing.specimens import (
    COUPON_ACI318,
    CYLINDER_EN1992,
    USUAL,
    Kind,
    aci318_compression_from_flexure,
    en1992_cube_from_cylinder,
    law_for,
)
from curing.strength import PLACEHOLDER, PSI, aci318_modulus_of_rupture

HOURS = (12.0, 16.0, 24.0, 48.0, 96.0, 240.0, 672.0)


def cubes(*hours: float, celsius: float = 20.0, energy: float = 41500.0) -> list[StrengthTest]:
    """Cubes of the placeholder's concrete, without scatter."""
    factor = float(age_factor(celsius, energy))
    return [
        StrengthTest(at, float(PLACEHOLDER.at(at * factor)), celsius=celsius)
        for at in hours
        if at * factor > PLACEHOLDER.t0
    ]


@pytest.mark.parametrize(
    ("tests", "missing"),
    [
        ([], Missing.TESTS),
        (cubes(12, 24), Missing.TESTS),
        (cubes(24, 24, 24, 24), Missing.AGES),
        (cubes(24, 24, 48, 48), Missing.AGES),
        ([*cubes(12, 24), StrengthTest(48, 7.0, Kind.COUPON)], Missing.TESTS),
        ([StrengthTest(at, 20.0) for at in (12, 24, 48)], Missing.RISE),
        ([StrengthTest(at, 50.0 - at) for at in (12, 24, 48)], Missing.RISE),
    ],
)
def test_too_little_leaves_the_placeholder_with_its_band(tests, missing: Missing) -> None:
    result = calibrate(tests)
    low, high = result.band(np.array([16.0]))

    assert result.fits is None
    assert result.missing == missing
    assert result.label == "placeholder, not your concrete"
    assert result.curve == PLACEHOLDER
    middle = float(PLACEHOLDER.at(16.0))
    assert (float(low[0]), float(high[0])) == pytest.approx((0.7 * middle, 1.3 * middle))


def test_three_tests_at_three_ages_are_enough() -> None:
    result = calibrate(cubes(12, 24, 168))

    assert result.fits is not None
    assert result.label == ""
    assert float(result.curve.at(24.0)) == pytest.approx(float(PLACEHOLDER.at(24.0)), rel=1e-3)


def test_ages_are_brought_to_twenty_degrees() -> None:
    tests = [*cubes(*HOURS), *cubes(*HOURS, celsius=8.0), *cubes(*HOURS, celsius=32.0)]
    result = calibrate(tests)

    assert result.fits is not None
    assert result.fits.hyperbolic.misses_by < 0.01
    assert result.points[0].age == 12.0
    assert result.points[len(HOURS)].age == pytest.approx(
        tests[len(HOURS)].hours * float(age_factor(8.0, 41500.0))
    )


def test_an_age_that_is_known_better_is_taken() -> None:
    lay_with_the_piece = StrengthTest(30.0, 20.0, celsius=None, equivalent_hours=21.5)
    unknown = StrengthTest(30.0, 20.0, celsius=None)

    assert lay_with_the_piece.age(41500.0) == 21.5
    assert unknown.age(41500.0) == 30.0


def test_an_outlier_is_pointed_out_and_kept() -> None:
    tests = cubes(*HOURS)
    tests[3] = StrengthTest(48.0, 0.45 * tests[3].mpa)
    result = calibrate(tests)

    assert [point.far_off for point in result.points] == [n == 3 for n in range(len(tests))]
    assert len(result.fitted) == len(tests)


def test_good_tests_are_not_pointed_at() -> None:
    chance = np.random.default_rng(17)
    for _ in range(8):
        tests = [
            StrengthTest(test.hours, test.mpa * (1 + 0.06 * float(chance.standard_normal())))
            for test in cubes(*HOURS)
        ]
        assert not any(point.far_off for point in calibrate(tests).points)


def test_tests_that_stop_early_say_little_of_the_long_run() -> None:
    early, whole = calibrate(cubes(10, 12, 14, 16)), calibrate(cubes(*HOURS))

    assert early.open_ended
    assert not whole.open_ended
    assert early.span == (10.0, 16.0)
    low, high = early.band(np.array([168.0]))
    assert float(high[0] - low[0]) > float(PLACEHOLDER.at(168.0))


def test_a_coupon_is_shown_and_not_fitted() -> None:
    result = calibrate([*cubes(*HOURS), StrengthTest(24.0, 6.0, Kind.COUPON)])

    assert result.points[-1].compressive is None
    assert "not fitted" in result.points[-1].why_not
    assert result.curve == calibrate(cubes(*HOURS)).curve


def test_a_named_law_lets_it_count() -> None:
    laws = {**USUAL, Kind.COUPON: COUPON_ACI318, Kind.CYLINDER: CYLINDER_EN1992}
    tests = [StrengthTest(24.0, 3.27, Kind.COUPON), StrengthTest(48.0, 30.0, Kind.CYLINDER)]
    coupon, cylinder = calibrate(tests, laws=laws).points

    assert coupon.compressive == pytest.approx(27.6, abs=0.1)
    assert cylinder.compressive == 37.0


def test_beyond_its_law_a_test_is_shown_with_the_reason() -> None:
    laws = {**USUAL, Kind.COUPON: COUPON_ACI318}
    point = calibrate([StrengthTest(24.0, 9.0, Kind.COUPON)], laws=laws).points[0]

    assert point.compressive is None
    assert "holds up to 750 psi" in point.why_not


@pytest.mark.parametrize(
    ("cylinder", "cube"), [(12, 15), (20, 25), (30, 37), (32.5, 41), (50, 60), (90, 105), (6, 7.5)]
)
def test_cubes_from_cylinders_by_the_strength_classes(cylinder: float, cube: float) -> None:
    """EN 1992-1-1:2004, table 3.1; below its first class the same ratio."""
    assert en1992_cube_from_cylinder(cylinder) == pytest.approx(cube)


@given(st.floats(500, 9900))
def test_flexure_turned_round_is_the_law_itself(psi: float) -> None:
    """From memory of ACI 318, 19.2.3.1."""
    rupture = aci318_modulus_of_rupture(psi) * PSI

    assert aci318_compression_from_flexure(rupture) == pytest.approx(psi * PSI, rel=1e-9)


def test_laws_end_where_they_say() -> None:
    for mpa in (0.0, -1.0, 91.0, float("nan")):
        with pytest.raises(ValueError, match="90 MPa"):
            en1992_cube_from_cylinder(mpa)
    for mpa in (0.0, float("inf"), 6.0):
        with pytest.raises(ValueError, match="flexur"):
            aci318_compression_from_flexure(mpa)
    with pytest.raises(ValueError, match="there are: measured, en1992"):
        law_for(Kind.CYLINDER, "guess")


@settings(max_examples=8, deadline=None)
@given(energy=st.floats(30000, 60000))
def test_the_activation_energy_that_made_the_tests_is_found(energy: float) -> None:
    tests = [test for c in (10.0, 20.0, 32.0) for test in cubes(*HOURS, celsius=c, energy=energy)]
    found = calibrate(tests).energy

    assert found.value == pytest.approx(energy, rel=1e-3)
    assert found.low < energy < found.high
    assert found.lacking == Lacking.NOTHING
    assert not found.unchecked


def test_noisy_tests_put_it_within_their_own_band() -> None:
    chance = np.random.default_rng(23)
    held = []
    for _ in range(10):
        tests = [
            StrengthTest(t.hours, t.mpa * (1 + 0.05 * float(chance.standard_normal())), celsius=c)
            for c in (10.0, 20.0, 32.0)
            for t in cubes(*HOURS, celsius=c)
        ]
        found = energy_from(
            [t.hours for t in tests], [t.mpa for t in tests], [t.celsius or 0 for t in tests]
        )
        held.append(found.value is None or found.low < 41500 < found.high)

    assert sum(held) >= 8


@pytest.mark.parametrize(
    ("tests", "lacking"),
    [
        (cubes(*HOURS), Lacking.ONE_TEMPERATURE),
        ([*cubes(*HOURS), *cubes(24, 48, celsius=35.0)], Lacking.ONE_TEMPERATURE),
        ([*cubes(*HOURS), *cubes(*HOURS, celsius=24.0)], Lacking.TOO_CLOSE),
        (
            [
                *cubes(*HOURS),
                *(StrengthTest(t.hours * 2, t.mpa, celsius=35.0) for t in cubes(*HOURS)),
            ],
            Lacking.NOT_RISING,
        ),
        (
            [*cubes(*HOURS), *cubes(*HOURS, celsius=30.0, energy=130000.0)],
            Lacking.UNBELIEVABLE,
        ),
    ],
)
def test_too_little_gives_no_activation_energy(tests, lacking: Lacking) -> None:
    energy = calibrate(tests).energy

    assert energy.value is None
    assert energy.lacking == lacking


def test_two_temperatures_leave_nothing_to_check_the_line_with() -> None:
    energy = calibrate([*cubes(*HOURS), *cubes(*HOURS, celsius=32.0)]).energy

    assert energy.value == pytest.approx(41500, rel=1e-3)
    assert energy.unchecked


def test_a_temperature_with_too_few_ages_is_named() -> None:
    energy = calibrate([*cubes(*HOURS), *cubes(24, 48, celsius=35.0)]).energy

    assert energy.too_few == (35.0,)


def test_thermometers_differ_by_a_little() -> None:
    assert one_temperature_each([20.4, 35.0, 19.6, 20.9, 34.2]) == [[2, 0, 3], [4, 1]]


@pytest.mark.parametrize(
    "test",
    [StrengthTest(0.0, 20.0), StrengthTest(12.0, -1.0), StrengthTest(float("nan"), 5.0)],
)
def test_impossible_tests_are_refused(test: StrengthTest) -> None:
    with pytest.raises(ValueError, match="finite and above 0"):
        calibrate([test])


def test_the_band_of_a_placeholder_is_thirty_percent_of_any_curve() -> None:
    low, high = placeholder_band(np.array([24.0]))

    assert float(high[0] / low[0]) == pytest.approx(13 / 7)
