"""The activation energy from tests at several temperatures (ASTM C1074, Annex A1).

At each temperature the hyperbolic curve is fitted over real ages; the slope of ln k against 1 / T
is the apparent activation energy. What the tests cannot carry is said, not reckoned.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from curing.fitting import FEWEST, LEVEL, Fit, Form, fit
from curing.maturity import ABSOLUTE_ZERO, GAS_CONSTANT
from curing.strength import Hyperbolic, activation_energy

Array = NDArray[np.float64]

SAME_KELVIN = 1.5  # tests within this of the next are of one temperature
LEAST_SPAN = 8.0  # K between the coldest and the warmest curve
LEAST, GREATEST = 20000.0, 90000.0  # J/mol, what a mix may have
ADVISED_TEMPERATURES = 3  # ASTM C1074 asks for three; two leave nothing to check the line with


class Lacking(StrEnum):
    """Why the tests give no activation energy."""

    NOTHING = ""
    ONE_TEMPERATURE = "one temperature"
    TOO_CLOSE = "temperatures too close"
    NOT_RISING = "not faster when warmer"
    UNBELIEVABLE = "outside 20 to 90 kJ/mol"


MEANING: dict[Lacking, str] = {
    Lacking.NOTHING: "",
    Lacking.ONE_TEMPERATURE: "needs tests at three ages or more at each of two temperatures or "
    "more (ASTM C1074 asks for three temperatures)",
    Lacking.TOO_CLOSE: f"the temperatures lie within {LEAST_SPAN:g} K: too close for a slope",
    Lacking.NOT_RISING: "the curves do not go faster when it is warmer: check the tests",
    Lacking.UNBELIEVABLE: "the slope lies outside 20 to 90 kJ/mol, which no portland cement "
    "shows: check the tests",
}


@dataclass(frozen=True)
class AtTemperature:
    """The curve over real ages at one temperature. celsius : mean of its tests [°C]."""

    celsius: float
    fit: Fit

    @property
    def rate(self) -> float:
        """k of the curve [1/h]."""
        assert isinstance(self.fit.curve, Hyperbolic)
        return self.fit.curve.k


@dataclass(frozen=True)
class Energy:
    """value : J/mol, None where `lacking` says why; low, high : middle 90 % of the bootstrap.

    rates : the temperatures that have a curve; too_few : those [°C] with tests at fewer than three
    ages.
    """

    value: float | None
    low: float
    high: float
    rates: tuple[AtTemperature, ...]
    too_few: tuple[float, ...]
    lacking: Lacking

    @property
    def loose(self) -> bool:
        """The band leaves what any mix may have: the tests pin the slope down poorly."""
        return self.value is not None and (self.low < LEAST or self.high > GREATEST)

    @property
    def unchecked(self) -> bool:
        """A line through two points, which nothing checks."""
        return self.value is not None and len(self.rates) < ADVISED_TEMPERATURES


def one_temperature_each(celsius: Sequence[float]) -> list[list[int]]:
    """Positions of tests in groups of one temperature, coldest first [°C].

    A group ends where the next test is more than 1.5 K warmer.
    """
    order = sorted(range(len(celsius)), key=lambda place: celsius[place])
    groups: list[list[int]] = []
    for place in order:
        if groups and celsius[place] - celsius[groups[-1][-1]] <= SAME_KELVIN:
            groups[-1].append(place)
        else:
            groups.append([place])
    return groups


def energy_from(hours: Sequence[float], mpa: Sequence[float], celsius: Sequence[float]) -> Energy:
    """The activation energy that tests at steady temperatures show.

    Parameters
    ----------
    hours : (n,) real ages [h]; mpa : (n,) compressive strengths; celsius : (n,) curing temperature

    Returns
    -------
    Energy, with what is lacking where the tests give none. Seeded: the same for the same tests.

    Raises
    ------
    ValueError
        Lengths that differ, ages or strengths that are not above 0, or temperatures that are not
        finite and above absolute zero.

    Reference: ASTM C1074, Annex A1.
    """
    if not len(hours) == len(mpa) == len(celsius):
        raise ValueError("hours, mpa and celsius must be of one length")
    if not all(math.isfinite(degrees) and degrees > ABSOLUTE_ZERO for degrees in celsius):
        raise ValueError("curing temperatures must be finite and above -273.15 °C")
    rates: list[AtTemperature] = []
    too_few: list[float] = []
    for number, group in enumerate(one_temperature_each(celsius)):
        mean = float(np.mean([celsius[place] for place in group]))
        ages = [hours[place] for place in group]
        if len(set(ages)) < FEWEST:
            too_few.append(mean)
            continue
        strengths = [mpa[place] for place in group]
        # A seed each: temperatures that scatter together would look surer of their slope.
        curve = fit(Form.HYPERBOLIC, ages, strengths, draws=200, seed=2000 + number)
        rates.append(AtTemperature(mean, curve))
    value, lacking = _slope(rates)
    low, high = _band(rates) if value is not None else (math.nan, math.nan)
    return Energy(value, low, high, tuple(rates), tuple(too_few), lacking)


def _slope(rates: Sequence[AtTemperature]) -> tuple[float | None, Lacking]:
    if len(rates) < 2:
        return None, Lacking.ONE_TEMPERATURE
    if rates[-1].celsius - rates[0].celsius < LEAST_SPAN:
        return None, Lacking.TOO_CLOSE
    curves = {one.celsius: one.fit.curve for one in rates}
    try:
        value = activation_energy(
            {degrees: curve for degrees, curve in curves.items() if isinstance(curve, Hyperbolic)}
        )
    except ValueError:
        return None, Lacking.NOT_RISING
    if not LEAST <= value <= GREATEST:
        return None, Lacking.UNBELIEVABLE
    return value, Lacking.NOTHING


def _band(rates: Sequence[AtTemperature]) -> tuple[float, float]:
    """Middle 90 % of the slopes through rates drawn for each temperature."""
    inverse = np.array([1.0 / (one.celsius - ABSOLUTE_ZERO) for one in rates])
    logs = np.stack([one.fit.draws[:, 1] for one in rates])
    slopes = np.polyfit(inverse, logs, 1)[0]
    tail = (1.0 - LEVEL) / 2.0
    low, high = np.quantile(-slopes * GAS_CONSTANT, [tail, 1.0 - tail])
    return float(low), float(high)
