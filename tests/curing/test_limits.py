"""What is said where a law is used beyond its data."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curing.drying_rate import DryingRate
from curing.limits import (
    Note,
    Reach,
    age_notes,
    drying_notes,
    maturity_notes,
    sealing_notes,
    strength_notes,
    together,
)
from curing.moisture import Concrete, Slab, dry_out
from curing.sealing import CoatLimits
from curing.strength import ACI209, EN1992, PLACEHOLDER, Exponential

TESTS = Reach(youngest=12.0, oldest=168.0, strongest=50.0)
AIR = {"coldest": 18.0, "warmest": 24.0, "driest": 0.45, "dampest": 0.6}
COAT = CoatLimits(celsius_least=15.6, celsius_greatest=29.4)


def keys(notes: tuple[Note, ...]) -> list[str]:
    return [note.key for note in notes]


@pytest.mark.parametrize(
    ("coldest", "warmest", "said"),
    [
        (0.0, 40.0, []),
        (-0.5, 20.0, ["cold"]),
        (10.0, 40.5, ["hot"]),
        (-12.0, 44.0, ["cold", "hot"]),
    ],
)
def test_air_outside_what_the_age_law_was_fitted_to(coldest, warmest, said) -> None:
    """From memory of ASTM C1074, appendix X1: 0 to 40 °C."""
    notes = maturity_notes(coldest, warmest)
    assert keys(notes) == said
    assert all("C1074" in note.basis and "extrapolation" in note.text for note in notes)


def test_a_note_holds_the_figures_of_its_text() -> None:
    (close,) = maturity_notes(-0.3, 40.0)
    assert "-0.3 °C is below the 0 °C" in close.text
    (hot,) = maturity_notes(20.0, 44.0)
    assert hot.figures == {"celsius": 44.0, "celsius_greatest": 40.0}
    assert "44 °C" in hot.text
    assert "40 °C" in hot.text
    assert hash(hot) == hash(maturity_notes(20.0, 44.0)[0])


@pytest.mark.parametrize(
    ("age", "tests", "said"),
    [
        (12.0, TESTS, []),
        (168.0, TESTS, []),
        (math.inf, TESTS, []),
        (11.9, TESTS, ["younger-than-tests"]),
        (168.5, TESTS, ["older-than-tests"]),
        (24.0, None, ["untested"]),
        (5.0, TESTS, ["before-setting"]),
        (6.0, None, ["before-setting"]),
    ],
)
def test_an_age_beyond_the_tests(age: float, tests: Reach | None, said: list[str]) -> None:
    """The placeholder sets at 6 h."""
    assert keys(age_notes(age, tests, PLACEHOLDER)) == said


def test_without_a_curve_setting_is_not_looked_at() -> None:
    assert keys(age_notes(5.0, TESTS)) == ["younger-than-tests"]


@pytest.mark.parametrize(
    ("mpa", "tests", "said"),
    [
        (0.0, None, []),
        (20.0, TESTS, []),
        (5.0, TESTS, ["younger-than-tests"]),
        (20.0, None, ["untested"]),
        (55.0, TESTS, ["stronger-than-tests", "older-than-tests"]),
        (PLACEHOLDER.su, TESTS, ["never-reached", "stronger-than-tests"]),
        (90.0, None, ["never-reached", "untested"]),
    ],
)
def test_a_strength_beyond_curve_or_tests(mpa: float, tests: Reach | None, said) -> None:
    assert keys(strength_notes(mpa, PLACEHOLDER, tests)) == said


@pytest.mark.parametrize(
    ("curve", "most"),
    [
        (PLACEHOLDER, PLACEHOLDER.su),
        (Exponential(60.0, 20.0, 0.8), 60.0),
        (EN1992(48.0, 0.25), 48.0 * math.exp(0.25)),
        (ACI209(40.0, 4.0, 0.85), 40.0 / 0.85),
    ],
)
def test_what_a_curve_ends_at_is_said_for_every_curve(curve, most: float) -> None:
    (note,) = strength_notes(200.0, curve, Reach(12.0, 168.0, 300.0))
    assert note.key == "never-reached"
    assert note.figures["mpa_greatest"] == pytest.approx(most)


@given(st.floats(0.1, 80.0))
def test_a_strength_is_said_never_reached_just_where_its_age_is_endless(mpa: float) -> None:
    said = "never-reached" in keys(strength_notes(mpa, PLACEHOLDER, TESTS))
    assert said == math.isinf(PLACEHOLDER.age_at(mpa))


def test_what_tests_reach() -> None:
    assert Reach.of([168.0, 12.0, 24.0], [50.0, 9.0, 22.0]) == TESTS
    assert Reach.of([], []) is None


@pytest.mark.parametrize(
    ("thickness", "air", "said"),
    [
        (0.019, {}, []),
        (0.001, {}, ["drying-thickness"]),
        (0.25, {}, ["drying-thickness"]),
        (0.019, {"coldest": 4.0}, ["drying-temperature"]),
        (0.019, {"warmest": 31.0}, ["drying-temperature"]),
        (0.019, {"coldest": 0.0}, ["drying-frost"]),
        (0.019, {"driest": 0.3}, ["drying-arid"]),
        (0.019, {"dampest": 0.9}, ["drying-rewetted"]),
        (0.019, {"driest": 0.85, "dampest": 0.9}, ["drying-never"]),
        (0.019, {"coldest": -2.0, "warmest": 31.0}, ["drying-frost", "drying-temperature"]),
        (0.019, {"driest": math.nan, "dampest": math.nan}, []),
    ],
)
def test_drying_beyond_its_law(thickness: float, air: dict[str, float], said: list[str]) -> None:
    """CEB-FIP MC90, 2.1.6.4: 5 to 30 °C, 40 to 100 % RH, from memory."""
    assert keys(drying_notes(thickness, **{**AIR, **air})) == said


@given(st.floats(1e-4, 0.5))
def test_the_thickness_that_is_noted_is_the_one_the_model_refuses(thickness: float) -> None:
    try:
        Slab(thickness)
    except ValueError:
        refused = True
    else:
        refused = False
    assert ("drying-thickness" in keys(drying_notes(thickness, **AIR))) == refused


@pytest.mark.parametrize("humidity", [0.5, 0.84, 0.85, 0.95])
def test_never_is_said_just_where_the_model_never_gets_there(humidity: float) -> None:
    air = {**AIR, "driest": humidity, "dampest": humidity}
    hours = float(DryingRate.of(Slab(0.019), Concrete()).hours(humidity, 20.0))
    assert ("drying-never" in keys(drying_notes(0.019, **air))) == math.isinf(hours)


def test_wet_nights_make_the_sum_too_soon_as_the_note_says() -> None:
    """Nights at 95 %: against a full march, by no more than the 40 % of the note."""
    hours = np.arange(0.0, 60 * 24.0)
    humidity = np.where(hours % 24 < 10, 0.95, 0.5)
    celsius = np.full_like(hours, 20.0)
    marched = dry_out(Slab(0.019), Concrete(), hours, celsius, humidity, until=0.85).hours_to(0.85)
    share = DryingRate.of(Slab(0.019), Concrete()).share(hours, celsius, humidity)
    summed = float(np.interp(1.0, share, hours))

    assert 0.6 * marched < summed < 0.95 * marched
    assert keys(drying_notes(0.019, **{**AIR, "dampest": 0.95})) == ["drying-rewetted"]
    assert not drying_notes(0.019, **{**AIR, "dampest": 0.95}, marched=True)


@pytest.mark.parametrize(
    ("known", "coldest", "warmest", "said"),
    [
        (True, 16.0, 29.0, []),
        (False, 16.0, 29.0, ["humidity-unknown"]),
        (True, 12.0, 20.0, ["cure-temperature"]),
        (False, 16.0, 33.0, ["humidity-unknown", "cure-temperature"]),
    ],
)
def test_sealing_beyond_what_is_known(known: bool, coldest: float, warmest: float, said) -> None:
    assert keys(sealing_notes(known, coldest, warmest, COAT)) == said


def test_notes_of_several_questions_are_said_once() -> None:
    first, second = maturity_notes(-3.0, 20.0), maturity_notes(-9.0, 45.0)
    assert together(first, second) == (first[0], second[1])
    assert together() == ()


def test_no_note_calls_anything_safe() -> None:
    every = (
        *maturity_notes(-3.0, 45.0),
        *age_notes(2.0, None, PLACEHOLDER),
        *strength_notes(90.0, PLACEHOLDER, None),
        *drying_notes(0.3, coldest=-1.0, warmest=45.0, driest=0.2, dampest=0.99),
        *sealing_notes(False, -1.0, 45.0, COAT),
    )
    assert len(every) == len({note.key for note in every}) == 12
    for note in every:
        assert "safe" not in note.text.lower()
        assert note.basis


@pytest.mark.parametrize(
    ("make", "named"),
    [
        (lambda: maturity_notes(20.0, 10.0), "in order"),
        (lambda: maturity_notes(math.nan, 10.0), "finite"),
        (lambda: age_notes(-1.0, TESTS), "0 h or more"),
        (lambda: age_notes(math.nan, TESTS), "0 h or more"),
        (lambda: strength_notes(-1.0, PLACEHOLDER, TESTS), "0 MPa or more"),
        (lambda: strength_notes(math.inf, PLACEHOLDER, TESTS), "0 MPa or more"),
        (lambda: drying_notes(0.0, **AIR), "thickness"),
        (lambda: drying_notes(0.02, **{**AIR, "dampest": 60.0}), "0 to 1"),
        (lambda: drying_notes(0.02, **{**AIR, "driest": 0.9}), "in order"),
        (lambda: drying_notes(0.02, **AIR, target=85.0), "up to 1"),
        (lambda: sealing_notes(True, 20.0, math.inf, COAT), "finite"),
        (lambda: Reach(24.0, 12.0, 30.0), "youngest first"),
        (lambda: Reach(12.0, 24.0, 0.0), "above 0 MPa"),
        (lambda: Reach.of([12.0], [30.0, 40.0]), "one length"),
        (lambda: Reach.of([12.0, 24.0], [30.0, math.nan]), "finite"),
    ],
)
def test_questions_that_make_no_sense_are_refused(make, named: str) -> None:
    with pytest.raises(ValueError, match=named):
        make()
