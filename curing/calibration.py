"""What a shop's own strength tests say of its mix: from specimens to a curve in its band.

Tests are brought to equivalent age and to one kind of specimen by a named law, both forms of
curve are fitted, tests far off are pointed out and kept, and with fewer than three tests or ages
the answer is the placeholder with its ±30 %.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from curing.activation import Energy, energy_from
from curing.fitting import FEWEST, Fit, SideBySide, curve_from, nearest, side_by_side
from curing.maturity import age_factor
from curing.specimens import USUAL, Kind, Law
from curing.strength import PLACEHOLDER, Curve

Array = NDArray[np.float64]

REFERENCE = 20.0  # °C
PLACEHOLDER_BAND = 0.30
PLACEHOLDER_WORDS = "placeholder, not your concrete"

# A test is far off when the curve through the others misses it by so many times their scatter,
# and by a quarter of its strength at least.
FAR_SCATTERS, FAR_SHARE, FEWEST_TO_JUDGE = 3.5, 0.25, 5


@dataclass(frozen=True)
class StrengthTest:
    """One specimen broken by the shop.

    hours : real age [h]; mpa : its strength; celsius : steady curing temperature, None where it
    changed or is not known; equivalent_hours : age at 20 °C [h] where it is known better than from
    `celsius`, as for a specimen that lay with the pieces; why_not : why it is too unsure to fit
    """

    hours: float
    mpa: float
    kind: Kind = Kind.CUBE
    celsius: float | None = REFERENCE
    equivalent_hours: float | None = None
    why_not: str = ""

    def age(self, activation_energy: float) -> float:
        """Equivalent age [h at 20 °C]; without any temperature the age is taken as such."""
        if self.equivalent_hours is not None:
            return self.equivalent_hours
        if self.celsius is None:
            return self.hours
        return self.hours * float(age_factor(self.celsius, activation_energy, REFERENCE))


@dataclass(frozen=True)
class Point:
    """A test as the fit sees it. compressive : MPa, None where it is shown and not fitted.

    why_not : what keeps it out of the fit; far_off : the other tests speak against it
    """

    test: StrengthTest
    age: float
    compressive: float | None
    why_not: str = ""
    far_off: bool = False


class Missing(StrEnum):
    """Why there is no fit."""

    NOTHING = ""
    TESTS = "tests"
    AGES = "ages"
    RISE = "rise"


MEANING: dict[Missing, str] = {
    Missing.NOTHING: "",
    Missing.TESTS: "fewer than three tests that count as compression",
    Missing.AGES: "tests at fewer than three different ages",
    Missing.RISE: "the tests do not gain strength with age: look at their ages and units",
}


@dataclass(frozen=True)
class Calibration:
    """points : all tests, in their order; fits : None where `missing` says why."""

    points: tuple[Point, ...]
    fits: SideBySide | None
    missing: Missing
    energy: Energy
    activation_energy: float
    laws: Mapping[Kind, Law] = field(default_factory=lambda: USUAL)

    @property
    def fitted(self) -> tuple[Point, ...]:
        """The tests that count as compression."""
        return tuple(point for point in self.points if point.compressive is not None)

    @property
    def span(self) -> tuple[float, float]:
        """Least and greatest age [h] of a test that counts; beyond them a curve is a guess."""
        ages = [point.age for point in self.fitted] or [math.nan]
        return min(ages), max(ages)

    @property
    def open_ended(self) -> bool:
        """The tests stop so early that they say little of the strength in the long run."""
        if self.fits is None:
            return False
        best = self.fits.better
        return best.curve.su > 1.5 * float(best.strengths.max())

    @property
    def label(self) -> str:
        """'placeholder, not your concrete' until there is a fit."""
        return "" if self.fits else PLACEHOLDER_WORDS

    @property
    def curve(self) -> Curve:
        """The better fit, or the placeholder."""
        return self.fits.better.curve if self.fits else PLACEHOLDER

    def band(self, age_hours: Array) -> tuple[Array, Array]:
        """Lower and upper strength [MPa] at (m,) ages [h]: 90 % of the bootstrap, or ±30 %."""
        if self.fits:
            return self.fits.better.band(age_hours)
        return placeholder_band(age_hours)


def placeholder_band(age_hours: Array, curve: Curve = PLACEHOLDER) -> tuple[Array, Array]:
    """Strength [MPa] of a curve that is nobody's concrete, less and plus 30 %, at (m,) ages [h]."""
    middle = curve.at(age_hours)
    return middle * (1.0 - PLACEHOLDER_BAND), middle * (1.0 + PLACEHOLDER_BAND)


def calibrate(
    tests: Sequence[StrengthTest],
    *,
    activation_energy: float = 41500.0,
    laws: Mapping[Kind, Law] = USUAL,
) -> Calibration:
    """Fit a mix's curve to its tests.

    Parameters
    ----------
    tests : in any order; the answer depends on nothing but them
    activation_energy : [J/mol], for the equivalent age of tests at a steady temperature
    laws : how each kind of specimen counts as compression

    Raises
    ------
    ValueError
        An age or strength that is not finite and above 0, or a temperature below absolute zero.
    """
    points = [_point(test, activation_energy, laws[test.kind]) for test in tests]
    counted = [place for place, point in enumerate(points) if point.compressive is not None]
    ages = np.array([points[place].age for place in counted])
    strengths = np.array([points[place].compressive for place in counted], dtype=float)
    missing = _missing(ages, strengths)
    fits = None if missing else side_by_side(ages, strengths)
    if fits:
        for place, off in zip(counted, far_off(fits.better, ages, strengths), strict=True):
            if off:
                points[place] = Point(
                    points[place].test, points[place].age, points[place].compressive, far_off=True
                )
    steady = [p for p in points if p.compressive is not None and _is_steady(p.test)]
    energy = energy_from(
        [point.test.hours for point in steady],
        [float(point.compressive or 0.0) for point in steady],
        [float(point.test.celsius or 0.0) for point in steady],
    )
    return Calibration(tuple(points), fits, missing, energy, activation_energy, laws)


def _is_steady(test: StrengthTest) -> bool:
    return test.celsius is not None and test.equivalent_hours is None


def _point(test: StrengthTest, activation_energy: float, law: Law) -> Point:
    age = test.age(activation_energy)
    for name, value in (("age", test.hours), ("age", age), ("strength", test.mpa)):
        if not (math.isfinite(value) and value > 0):
            raise ValueError(f"the {name} of a test must be finite and above 0, got {value}")
    if test.why_not:
        return Point(test, age, None, why_not=test.why_not)
    try:
        compressive = law.convert(test.mpa)
    except ValueError as error:
        return Point(test, age, None, why_not=str(error))
    return Point(test, age, compressive, why_not="" if compressive is not None else law.name)


def _missing(ages: Array, strengths: Array) -> Missing:
    if len(ages) < FEWEST:
        return Missing.TESTS
    if len(np.unique(ages)) < FEWEST:
        return Missing.AGES
    slope = float(np.polyfit(np.log(ages), strengths, 1)[0])
    # A curve of either form would go through tests that fall or stand still as a step at once.
    return Missing.NOTHING if slope > 1e-6 * float(strengths.max()) else Missing.RISE


def far_off(best: Fit, ages: Array, strengths: Array) -> list[bool]:
    """Which of (n,) tests the curve through the others speaks against. None of fewer than five.

    Each test is left out in turn; it is far off when the curve through the rest misses it by 3.5
    times the scatter of the rest and a quarter of its strength. It is pointed out, never dropped.
    """
    count = len(ages)
    flags = [False] * count
    if count < FEWEST_TO_JUDGE:
        return flags
    for place in range(count):
        rest = np.arange(count) != place
        if len(np.unique(ages[rest])) < FEWEST:
            continue
        numbers = nearest(best.form, ages[rest], strengths[rest][None, :])[0]
        curve = curve_from(best.form, numbers)
        expected = curve.at(ages)
        about = np.maximum(expected, 0.2 * float(expected.max()))
        misses = np.abs(strengths - expected) / about
        free = max(int(rest.sum()) - 3, 1)
        usual = max(math.sqrt(float((misses[rest] ** 2).sum()) / free), 0.02)
        flags[place] = bool(misses[place] > max(FAR_SCATTERS * usual, FAR_SHARE))
    return flags
