"""How readily moisture moves through hardened concrete: by its humidity, strength, temperature.

`H` is the relative humidity in the pores [0..1] and the potential that drives the moisture.

References
----------
CEB-FIP Model Code 1990, 2.1.8.4. Z. P. Bažant and L. J. Najjar, Nonlinear water diffusion in
nonsaturated concrete, Materials and Structures 5, 1972. Z. P. Bažant and W. Thonguthai, Pore
pressure and drying of concrete at high temperature, ASCE EM5, 1978.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from curing.maturity import ABSOLUTE_ZERO

Array = NDArray[np.float64]

THONGUTHAI_KELVIN = 2700.0  # K, activation energy over the gas constant
THONGUTHAI_RANGE = (25.0, 95.0)  # °C
DRYING_KELVIN = 4700.0  # K, from memory of Bažant and Najjar 1972
DRYING_RANGE = (0.0, 50.0)  # °C
REFERENCE = 20.0  # °C


def bazant_najjar_ratio(
    humidity: ArrayLike, alpha0: float = 0.05, critical: float = 0.80, n: float = 15.0
) -> Array:
    """D(H) / D1 = alpha0 + (1 - alpha0) / (1 + ((1 - H) / (1 - Hc))^n).

    Parameters
    ----------
    humidity : pore humidity H [0..1], any shape
    alpha0 : D at H = 0 over D1 [-], above 0, up to 1 (1 makes D constant)
    critical : Hc [-], 0 up to below 1
    n : above 0 [-]; the defaults are the Model Code's, from memory

    Raises
    ------
    ValueError
        Outside these ranges.

    Reference: CEB-FIP MC90, equation 2.1-77 (from memory of its number); Bažant and Najjar 1972.

    >>> round(float(bazant_najjar_ratio(0.8)), 3)
    0.525
    """
    shares = fractions(humidity)
    if not 0 < alpha0 <= 1:
        raise ValueError(f"alpha0 lies above 0, up to 1, got {alpha0}")
    if not 0 <= critical < 1:
        raise ValueError(f"the critical humidity lies from 0 up to below 1, got {critical}")
    if not (math.isfinite(n) and n > 0):
        raise ValueError(f"n must be a finite number above 0, got {n}")
    # Far below Hc the power leaves the range of a float, and the term is 0 anyway.
    dryness = np.minimum(n * np.log(np.maximum((1.0 - shares) / (1.0 - critical), 1e-300)), 600.0)
    return np.asarray(alpha0 + (1.0 - alpha0) / (1.0 + np.exp(dryness)))


def fractions(humidity: ArrayLike) -> Array:
    """Humidity as floats; `ValueError` for anything outside 0 to 1."""
    shares = np.asarray(humidity, dtype=float)
    if not ((shares >= 0) & (shares <= 1)).all():
        raise ValueError("humidity is a fraction from 0 to 1")
    return shares


@dataclass(frozen=True)
class HumidityLaw:
    """The coefficients of `bazant_najjar_ratio`, checked there."""

    alpha0: float = 0.05
    critical: float = 0.80
    n: float = 15.0

    def __post_init__(self) -> None:
        self.at(1.0)

    def at(self, humidity: ArrayLike) -> Array:
        """D(H) / D1 [-] at humidity [0..1], any shape."""
        return bazant_najjar_ratio(humidity, self.alpha0, self.critical, self.n)


MODEL_CODE = HumidityLaw()
CONSTANT = HumidityLaw(alpha0=1.0)


def model_code_d1(fck: float) -> float:
    """D1, the diffusivity at H = 1 and 20 °C [m²/s]: 1e-9 / (fck / 10).

    Parameters
    ----------
    fck : characteristic cylinder strength at 28 d [MPa], 12 to 80

    Raises
    ------
    ValueError
        Outside the strengths of the Model Code.

    Reference: CEB-FIP MC90, 2.1.8.4, from memory. In terms of the mean strength, 1e-8 / (fcm - 8).

    >>> model_code_d1(40.0)
    2.5e-10
    """
    if not 12 <= fck <= 80:
        raise ValueError("CEB-FIP MC90 2.1.8.4 holds for fck from 12 to 80 MPa")
    return 1e-8 / fck


def bazant_thonguthai(
    humidity: ArrayLike, celsius: ArrayLike, d1: float, critical: float = 0.75, n: float = 16.0
) -> Array:
    """D(H, T) [m²/s] of warm concrete, D1 f1(H, T) f2(T).

    f1 is `bazant_najjar_ratio` with alpha0 = 0.05 + 0.95 (T - 25) / 70,
    f2 = exp(2700 K (1 / 298.15 K - 1 / T)).

    Parameters
    ----------
    humidity : [0..1]; celsius : [°C], 25 to 95; the two broadcast
    d1 : at H = 1 and 25 °C [m²/s]
    critical, n : as `bazant_najjar_ratio`

    Raises
    ------
    ValueError
        Outside 25 to 95 °C: below, alpha0 would fall under its 0.05 and at 21 °C under 0.

    Reference: Bažant and Thonguthai 1978, below 95 °C.
    """
    shares, temperatures = np.broadcast_arrays(fractions(humidity), np.asarray(celsius, float))
    low, high = THONGUTHAI_RANGE
    if not ((temperatures >= low) & (temperatures <= high)).all():
        raise ValueError("the form of Bažant and Thonguthai holds from 25 to 95 °C only")
    if not (math.isfinite(d1) and d1 > 0):
        raise ValueError(f"d1 must be a finite number above 0, got {d1}")
    alpha = 0.05 + 0.95 * (temperatures - low) / 70.0
    # With alpha0 = a the ratio is a + (1 - a) s, s the part that falls with humidity.
    falling = (bazant_najjar_ratio(shares, 0.5, critical, n) - 0.5) / 0.5
    inverse = 1.0 / (low - ABSOLUTE_ZERO) - 1.0 / (temperatures - ABSOLUTE_ZERO)
    return np.asarray(d1 * (alpha + (1 - alpha) * falling) * np.exp(THONGUTHAI_KELVIN * inverse))


def drying_factor(
    celsius: ArrayLike, kelvin: float = DRYING_KELVIN, reference: float = REFERENCE
) -> Array:
    """How much faster moisture moves than at the reference, (T / T0) exp(E (1 / T0 - 1 / T)).

    Parameters
    ----------
    celsius : [°C], up to 50, any shape; at 0 °C and below water stands still and the factor is 0
    kelvin : E, activation energy over the gas constant [K]; 4700 from memory of Bažant and Najjar
        1972, 2700 as in `bazant_thonguthai`; published values reach from one to the other
    reference : at which the factor is 1 [°C]

    Raises
    ------
    ValueError
        Above 50 °C or not a number; `kelvin` negative or not finite; a reference outside 0 to 50.

    Reference: Bažant and Najjar 1972. That frost stops it is common practice, without a source.
    """
    temperatures = np.asarray(celsius, dtype=float)
    low, high = DRYING_RANGE
    if not ((temperatures > ABSOLUTE_ZERO) & (temperatures <= high)).all():
        raise ValueError("drying by temperature holds up to 50 °C")
    if not (math.isfinite(kelvin) and kelvin >= 0):
        raise ValueError(f"kelvin must be finite and not negative, got {kelvin}")
    if not low < reference <= high:
        raise ValueError(f"the reference lies above 0, up to 50 °C, got {reference}")
    absolute, base = temperatures - ABSOLUTE_ZERO, reference - ABSOLUTE_ZERO
    factor = absolute / base * np.exp(kelvin * (1.0 / base - 1.0 / absolute))
    return np.asarray(np.where(temperatures > low, factor, 0.0))
