"""How fast water leaves the open face of fresh concrete.

Both formulas are read for the weather at the casting, wind half a metre above the face. They say
how hard the air pulls, not what a given mix loses: a published review (ACI SP-338, Hover 2020)
puts the method's own uncertainty at about 40 %.

References
----------
ACI 305R, Guide to Hot Weather Concreting, the evaporation nomograph and its limit.
P. J. Uno, Plastic Shrinkage Cracking and Evaporation Formulas, ACI Materials Journal 95-M34, 1998.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from curing.sealing import saturation_pressure

Array = NDArray[np.float64]

LB_PER_SQUARE_FOOT = 0.45359237 / 0.3048**2  # kg/m²
THRESHOLD = 0.2 * LB_PER_SQUARE_FOOT  # kg/m²/h; ACI 305R: take precautions from here on
UNCERTAINTY = 0.40  # of the rate, either way
KMH = 3.6  # km/h in a m/s

# The nomograph's axes: 40 to 100 °F, and to 25 mph.
_COLDEST, _HOTTEST, _WINDIEST = 4.4, 37.8, 11.2
_ROUNDING = 0.05


def evaporation_rate(
    concrete_celsius: ArrayLike, air_celsius: ArrayLike, humidity: ArrayLike, wind: ArrayLike
) -> Array:
    """Evaporation from a wet face, 5 ((Tc + 18)^2.5 - r (Ta + 18)^2.5) (V + 4) 10^-6, V in km/h.

    Parameters
    ----------
    concrete_celsius, air_celsius : temperatures [°C], 4.4 to 37.8
    humidity : relative humidity of the air [0..1]
    wind : at the face [m/s], 0 to 11.2; all four broadcast

    Returns
    -------
    rate [kg/m²/h], never negative (water that condenses counts as none lost)

    Raises
    ------
    ValueError
        Outside the nomograph's axes (40 to 100 °F, to 25 mph), which the formula was fitted to.

    Reference: Uno 1998, the metric form of the ACI 305R nomograph.

    >>> round(float(evaporation_rate(30.0, 30.0, 0.5, 5.0)), 2)
    0.88
    """
    concrete, air, share, speed = _checked(concrete_celsius, air_celsius, humidity, wind)
    pull = (concrete + 18.0) ** 2.5 - share * (air + 18.0) ** 2.5
    return np.asarray(5e-6 * np.maximum(pull, 0.0) * (KMH * speed + 4.0))


def evaporation_rate_menzel(
    concrete_celsius: ArrayLike, air_celsius: ArrayLike, humidity: ArrayLike, wind: ArrayLike
) -> Array:
    """As `evaporation_rate`, by Menzel: 0.315 (e0 - r ea) (0.253 + 0.060 V), e in kPa, V in km/h.

    Reference: Menzel 1954 in the metric form of Uno 1998, from memory.
    """
    concrete, air, share, speed = _checked(concrete_celsius, air_celsius, humidity, wind)
    pull = (saturation_pressure(concrete) - share * saturation_pressure(air)) / 1000.0
    return np.asarray(0.315 * np.maximum(pull, 0.0) * (0.253 + 0.060 * KMH * speed))


@dataclass(frozen=True)
class Evaporation:
    """A rate with what is not known about it, all [kg/m²/h].

    likely, least, most : the rate, and `UNCERTAINTY` either way
    caution : the rate reaches `THRESHOLD`
    possible : it may, within the uncertainty
    """

    likely: float
    least: float
    most: float
    caution: bool
    possible: bool


def early_evaporation(
    concrete_celsius: float, air_celsius: float, humidity: float, wind: float
) -> Evaporation:
    """What the air takes from a piece just cast, with its band and whether to take care.

    Parameters and errors as `evaporation_rate`.

    Reference: ACI 305R (0.2 lb/ft²/h); ACI SP-338 (about 40 %).
    """
    rate = float(evaporation_rate(concrete_celsius, air_celsius, humidity, wind))
    least, most = rate * (1.0 - UNCERTAINTY), rate * (1.0 + UNCERTAINTY)
    return Evaporation(rate, least, most, rate >= THRESHOLD, most >= THRESHOLD)


def _checked(
    concrete_celsius: ArrayLike, air_celsius: ArrayLike, humidity: ArrayLike, wind: ArrayLike
) -> tuple[Array, Array, Array, Array]:
    concrete, air = np.asarray(concrete_celsius, float), np.asarray(air_celsius, float)
    share, speed = np.asarray(humidity, float), np.asarray(wind, float)
    for celsius in (concrete, air):
        within = (celsius >= _COLDEST - _ROUNDING) & (celsius <= _HOTTEST + _ROUNDING)
        if not within.all():
            raise ValueError("the evaporation nomograph holds from 4.4 to 37.8 °C")
    if not ((share >= 0) & (share <= 1)).all():
        raise ValueError("humidity is a fraction from 0 to 1")
    if not ((speed >= 0) & (speed <= _WINDIEST + _ROUNDING)).all():
        raise ValueError("the evaporation nomograph holds for wind from 0 to 11.2 m/s (25 mph)")
    return concrete, air, share, speed
