"""Maturity of concrete: from its temperature history to hours that count.

Times are hours on one axis that never runs back, temperatures degrees Celsius, linear between
readings. Two readings at one hour make a step.

References
----------
ASTM C1074, Standard Practice for Estimating Concrete Strength by the Maturity Method.
EN 1992-1-1:2004, Annex B, equations B.9 and B.10.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

GAS_CONSTANT = 8.314  # J/(mol K), as ASTM C1074 takes it
ABSOLUTE_ZERO = -273.15  # °C

# Change of temperature within an interval [K] up to which a rule is taken. The trapezoid is within
# 0.04 % there, three Gauss nodes within 0.001 %, eight however far apart the readings lie.
TRAPEZOID, FEW_NODES = 1.0, 12.0
_FEW, _MANY = np.polynomial.legendre.leggauss(3), np.polynomial.legendre.leggauss(8)

# Intervals worked on at once, so that all that is needed of them stays in the processor's cache.
BLOCK = 32768
# Over the few kelvin of a block the Arrhenius rate is a polynomial to `WITHIN` of itself, cheaper
# than its exponential. Short or wide blocks, and those below `COLDEST` [°C], take the exponential.
WITHIN, SHORT, COLDEST = 1e-11, 512, -100.0
_NODES = 12
_ANGLES = np.pi * (np.arange(_NODES) + 0.5) / _NODES
# From values at the Chebyshev nodes to the series, and from the series to powers.
_TO_SERIES = np.cos(np.outer(np.arange(_NODES), _ANGLES)) * (2.0 / _NODES)
_TO_SERIES[0] *= 0.5
_TO_POWERS = np.zeros((_NODES, _NODES))
for _order, _unit in enumerate(np.eye(_NODES)):
    _powers = np.polynomial.chebyshev.cheb2poly(_unit[: _order + 1])
    _TO_POWERS[_order, : len(_powers)] = _powers


def checked(hours: ArrayLike, celsius: ArrayLike) -> tuple[Array, Array]:
    """Both as float arrays of one length.

    Raises
    ------
    ValueError
        No readings, lengths that differ, values that are not finite, hours that run back, or a
        temperature below absolute zero.
    """
    times, temperatures = _paired(hours, celsius)
    # Least and greatest are NaN where any value is: two passes where five would be plainer.
    coldest, warmest = temperatures.min(), temperatures.max()
    forward = times[1:] >= times[:-1]
    if not np.isfinite([coldest, warmest, times[0], times[-1]]).all() or np.isnan(times).any():
        raise ValueError("hours and celsius must be finite numbers")
    if not forward.all():
        raise ValueError(f"hours run back after position {int(np.argmin(forward))}")
    if coldest <= ABSOLUTE_ZERO:
        raise ValueError("a temperature lies below absolute zero")
    return times, temperatures


def _paired(hours: ArrayLike, celsius: ArrayLike) -> tuple[Array, Array]:
    """Both as float arrays of one length, their values not looked at yet."""
    times = np.atleast_1d(np.asarray(hours, dtype=float))
    temperatures = np.atleast_1d(np.asarray(celsius, dtype=float))
    if not times.size:
        raise ValueError("there are no readings")
    if times.ndim != 1 or times.shape != temperatures.shape:
        raise ValueError(
            f"hours and celsius must be of one length, got {times.shape} and {temperatures.shape}"
        )
    return times, temperatures


def temperature_time_factor(hours: ArrayLike, celsius: ArrayLike, datum: float = 0.0) -> Array:
    """Cumulative Nurse-Saul temperature-time factor, the sum of (T - datum) over time.

    Parameters
    ----------
    hours : (n,) elapsed hours, not decreasing
    celsius : (n,) temperature [°C], linear between readings
    datum : temperature below which nothing is gained [°C], finite

    Returns
    -------
    (n,) cumulative factor [°C h], first value 0. Where the line crosses the datum the interval is
    split there exactly, and the part below counts zero.

    Raises
    ------
    ValueError
        See `checked`; or a datum that is not finite.

    Reference: ASTM C1074, equation 1.

    >>> temperature_time_factor([0, 10, 10, 20], [-15, -15, 20, 20], datum=-10.0)[-1]
    300.0
    """
    if not math.isfinite(datum):
        raise ValueError(f"the datum must be a finite number of °C, got {datum}")
    times, temperatures = checked(hours, celsius)
    return _cumulated(temperature_time_steps(times, temperatures, datum))


def temperature_time_steps(times: Array, temperatures: Array, datum: float) -> Array:
    """(n-1,) factor gained in each interval [°C h], for inputs that are already checked."""
    above = temperatures - datum
    gained = 0.5 * (above[:-1] + above[1:])
    if above.size and above.min() < 0:
        gained = mean_above(above[:-1], above[1:])
    gained *= np.diff(times)
    return gained


def mean_above(left: Array, right: Array) -> Array:
    """Mean of what lies above zero of straight lines from `left` to `right`, any one shape."""
    mean = np.asarray(np.maximum(0.5 * (left + right), 0.0))
    crossing = (left < 0) != (right < 0)
    high, spread = np.maximum(left, right), np.abs(right - left)
    # A triangle above zero: half its height times the share of the line it stands on.
    np.divide(0.5 * high**2, spread, out=mean, where=crossing)
    return mean


def age_factor(
    celsius: ArrayLike, activation_energy: float = 41500.0, reference: float = 20.0
) -> Array:
    """Rate at which the concrete ages against the reference temperature (Arrhenius).

    exp(-Ea / R * (1 / T - 1 / Tref)), temperatures in kelvin.

    Parameters
    ----------
    celsius : any shape [°C]
    activation_energy : apparent activation energy [J/mol], not negative
    reference : reference temperature [°C]

    Returns
    -------
    array of the shape of `celsius`, 1 at the reference temperature [-]

    Raises
    ------
    ValueError
        A temperature at or below absolute zero, a value that is not finite, or a negative energy.

    Reference: ASTM C1074, equation 2.

    >>> round(float(age_factor(10.0, 5000 * GAS_CONSTANT)), 4)
    0.5475
    """
    temperatures = np.asarray(celsius, dtype=float)
    if not (np.isfinite(temperatures).all() and np.isfinite([activation_energy, reference]).all()):
        raise ValueError("celsius, activation_energy and reference must be finite numbers")
    if activation_energy < 0:
        raise ValueError("activation_energy must not be negative")
    if (temperatures <= ABSOLUTE_ZERO).any() or reference <= ABSOLUTE_ZERO:
        raise ValueError("a temperature lies below absolute zero")
    return age_rate(temperatures, activation_energy, reference)


def age_rate(temperatures: Array, activation_energy: float, reference: float) -> Array:
    """`age_factor` for inputs that are already checked."""
    per_kelvin = activation_energy / GAS_CONSTANT
    rate = np.asarray(temperatures - ABSOLUTE_ZERO)
    np.divide(-per_kelvin, rate, out=rate)
    rate += per_kelvin / (reference - ABSOLUTE_ZERO)
    return np.asarray(np.exp(rate, out=rate))


def equivalent_age(
    hours: ArrayLike,
    celsius: ArrayLike,
    activation_energy: float = 41500.0,
    reference: float = 20.0,
) -> Array:
    """Cumulative equivalent age: hours at the reference temperature that cure as far.

    Parameters
    ----------
    hours : (n,) elapsed hours, not decreasing
    celsius : (n,) temperature [°C], linear between readings
    activation_energy : [J/mol]
    reference : [°C]

    Returns
    -------
    (n,) equivalent age [h], first value 0, integrated to 0.1 % however far apart the readings lie

    Raises
    ------
    ValueError
        See `checked` and `age_factor`.

    Outside 0 to 40 °C it is an extrapolation, which `curing.limits.maturity_notes` says.

    Reference: ASTM C1074, equation 2; EN 1992-1-1 Annex B.
    """
    times, temperatures = _paired(hours, celsius)
    if len(times) == 1 or not np.isfinite([times[0], times[-1]]).all():
        checked(times, temperatures)
    age_factor(reference, activation_energy, reference)
    total = np.empty(len(times))
    total[0] = 0.0
    blocks = _Blocks(len(times), activation_energy, reference)
    gained = np.empty(min(len(total) - 1, BLOCK))
    # What is not finite fails the block's check, which is made on differences.
    with np.errstate(invalid="ignore"):
        for start in range(0, len(total) - 1, BLOCK):
            reach = slice(start, start + BLOCK + 1)
            part = gained[: len(times[reach]) - 1]
            if not blocks.steps(times[reach], temperatures[reach], out=part):
                checked(times, temperatures)
            part[0] += total[start]
            np.cumsum(part, out=total[start + 1 : start + BLOCK + 1])
    return total


def equivalent_age_steps(
    times: Array, temperatures: Array, activation_energy: float, reference: float
) -> tuple[Array, Array]:
    """For inputs that are already checked, (n-1,) each: the equivalent age gained in an interval
    [h], and ln of the rate at its end over the rate at its start."""
    gained = np.empty(max(len(times) - 1, 0))
    blocks = _Blocks(len(times), activation_energy, reference)
    for start in range(0, len(gained), BLOCK):
        reach = slice(start, start + BLOCK + 1)
        blocks.steps(times[reach], temperatures[reach], out=gained[start : start + BLOCK])
    exponent = temperatures - ABSOLUTE_ZERO
    np.divide(-activation_energy / GAS_CONSTANT, exponent, out=exponent)
    return gained, exponent[1:] - exponent[:-1]


class _Blocks:
    """Equivalent age gained in the intervals of a history, block by block, in memory used again."""

    def __init__(self, readings: int, activation_energy: float, reference: float) -> None:
        self.law = activation_energy, reference
        self.scratch = np.empty((3, min(readings, BLOCK + 1)))
        self.fitted, self.powers = (np.inf, -np.inf), list[float]()

    def steps(self, times: Array, temperatures: Array, *, out: Array) -> bool:
        """Fills `out`; False where the block is no history: not finite, running back or colder
        than can be. The first and the last hour are the caller's to check."""
        lengths, change = (part[: len(out)] for part in self.scratch[:2])
        coldest, warmest = float(temperatures.min()), float(temperatures.max())
        np.subtract(times[1:], times[:-1], out=lengths)
        # Least and greatest are NaN where any value is, and then no comparison holds.
        if not (ABSOLUTE_ZERO < coldest <= warmest < np.inf and lengths.min() >= 0):
            return False
        far = None
        if warmest - coldest > TRAPEZOID:
            np.subtract(temperatures[1:], temperatures[:-1], out=change)
            if max(change.max(), -change.min()) > TRAPEZOID:
                far = np.flatnonzero(np.abs(change) > TRAPEZOID)
        rates = self.rates(temperatures, coldest, warmest)
        np.add(rates[1:], rates[:-1], out=out)
        lengths *= 0.5
        out *= lengths
        if far is not None:
            ends = temperatures[far], temperatures[far + 1]
            out[far] = _mean_rate(*ends, *self.law) * (2.0 * lengths[far])
        return True

    def rates(self, temperatures: Array, coldest: float, warmest: float) -> Array:
        """`age_rate` of a block that spans these temperatures."""
        if len(temperatures) < SHORT or coldest < COLDEST:
            return age_rate(temperatures, *self.law)
        if not self.fitted[0] <= coldest <= warmest <= self.fitted[1]:
            self.fitted = coldest - 0.5, warmest + 0.5
            self.powers = _powers_of(*self.fitted, *self.law)
        if not self.powers:
            return age_rate(temperatures, *self.law)
        away: Array = self.scratch[1, : len(temperatures)]
        rates: Array = self.scratch[2, : len(temperatures)]
        np.subtract(temperatures, 0.5 * (self.fitted[0] + self.fitted[1]), out=away)
        np.multiply(away, self.powers[-1], out=rates)
        for power in self.powers[-2:0:-1]:
            rates += power
            rates *= away
        rates += self.powers[0]
        return rates


def _powers_of(
    coldest: float, warmest: float, activation_energy: float, reference: float
) -> list[float]:
    """Factors of the powers of what lies from the middle of these temperatures, which give
    `age_rate` between them to `WITHIN` of itself; none where they lie too far apart for it."""
    middle, half = 0.5 * (coldest + warmest), 0.5 * (warmest - coldest)
    values = age_rate(middle + half * np.cos(_ANGLES), activation_energy, reference)
    series = _TO_SERIES @ values
    left_out = np.cumsum(np.abs(series[::-1]))[::-1]  # when the series ends before each order
    enough = np.flatnonzero(left_out[2:-1] <= WITHIN * values.min())
    if not len(enough):
        return []
    orders = int(enough[0]) + 2
    powers = series[:orders] @ _TO_POWERS[:orders, :orders]
    return [float(power) for power in powers / half ** np.arange(orders)]


def _mean_rate(low: Array, high: Array, activation_energy: float, reference: float) -> Array:
    """Mean rate over intervals in which the temperature runs straight, by Gauss's rule."""
    means = np.empty(len(low))
    many = np.abs(high - low) > FEW_NODES
    for (places, weights), chosen in ((_FEW, ~many), (_MANY, many)):
        middle, half = 0.5 * (low + high)[chosen], 0.5 * (high - low)[chosen]
        inside = middle + np.outer(places, half)
        means[chosen] = 0.5 * weights @ age_rate(inside, activation_energy, reference)
    return means


def en1992_age_factor(celsius: ArrayLike) -> Array:
    """Temperature adjustment of EN 1992-1-1, exp(13.65 - 4000 / (273 + T)).

    Parameters
    ----------
    celsius : any shape [°C], 0 to 80

    Returns
    -------
    array of that shape [-]; 0.99812, not 1, at 20 °C, as the equation is printed

    Raises
    ------
    ValueError
        Outside 0 to 80 °C, where the equation is not meant to hold.

    Reference: EN 1992-1-1:2004, equation B.10.
    """
    temperatures = np.asarray(celsius, dtype=float)
    if not ((temperatures >= 0) & (temperatures <= 80)).all():
        raise ValueError("EN 1992-1-1 B.10 holds from 0 to 80 °C")
    return np.asarray(np.exp(13.65 - 4000.0 / (273.0 + temperatures)))


def adjusted_age_at_loading(adjusted_days: float, alpha: float) -> float:
    """Age at loading adjusted for the type of cement.

    t0T * (9 / (2 + t0T^1.2) + 1)^alpha, not less than half a day.

    Parameters
    ----------
    adjusted_days : temperature-adjusted age [d], above 0
    alpha : -1 (class S), 0 (class N) or 1 (class R)

    Returns
    -------
    age [d]

    Raises
    ------
    ValueError
        An age that is not above 0, or alpha outside -1 to 1.

    Reference: EN 1992-1-1:2004, equation B.9.
    """
    if not adjusted_days > 0:
        raise ValueError("adjusted_days must be above 0")
    if not -1 <= alpha <= 1:
        raise ValueError("alpha must lie from -1 to 1")
    return float(max(0.5, adjusted_days * (9.0 / (2.0 + adjusted_days**1.2) + 1.0) ** alpha))


def _cumulated(steps: Array) -> Array:
    total = np.zeros(len(steps) + 1)
    np.cumsum(steps, out=total[1:])
    return total
