"""When a sealer may go on: dew point, air limits, recoat window.

References
----------
WMO-No. 8, Guide to Instruments and Methods of Observation (constants of Sonntag 1990).
ISO 8502-4 and ASTM D3276: surface at least 3 °C (5 °F) above the dew point.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

FILM_REFERENCE = 23.0  # °C, at which data sheets state their hours
FILM_DOUBLING = 10.0  # K; common practice, no source: reactions go twice as fast for 10 K


def saturation_pressure(celsius: ArrayLike) -> Array:
    """Saturation vapour pressure over water, 6.112 exp(17.62 T / (243.12 + T)) hPa, in Pa.

    Parameters
    ----------
    celsius : any shape [°C], -45 to 60

    Raises
    ------
    ValueError
        Outside -45 to 60 °C.

    Reference: WMO-No. 8, Annex 4.B.
    """
    temperatures = np.asarray(celsius, dtype=float)
    if not ((temperatures >= -45) & (temperatures <= 60)).all():
        raise ValueError("the saturation pressure formula holds from -45 to 60 °C")
    return np.asarray(611.2 * np.exp(17.62 * temperatures / (243.12 + temperatures)))


def saturation_pressure_fao56(celsius: ArrayLike) -> Array:
    """As `saturation_pressure`, 0.6108 exp(17.27 T / (T + 237.3)) kPa, in Pa.

    Reference: FAO Irrigation and Drainage Paper 56, equation 11.
    """
    temperatures = np.asarray(celsius, dtype=float)
    if not ((temperatures >= -45) & (temperatures <= 60)).all():
        raise ValueError("the saturation pressure formula holds from -45 to 60 °C")
    return np.asarray(610.8 * np.exp(17.27 * temperatures / (temperatures + 237.3)))


def dew_point(celsius: ArrayLike, humidity: ArrayLike) -> Array:
    """Dew point over water (over supercooled water below 0 °C, not the frost point).

    Parameters
    ----------
    celsius : air temperature [°C]
    humidity : relative humidity [0..1], above 0; broadcast against `celsius`

    Returns
    -------
    dew point [°C]

    Raises
    ------
    ValueError
        Humidity not above 0 or over 1, or temperatures outside -45 to 60 °C.

    Reference: WMO-No. 8, Annex 4.B, constants 6.112, 17.62, 243.12.

    >>> round(float(dew_point(50.0, 0.9)), 1)
    47.9
    """
    return _inverse_magnus(celsius, humidity, 17.62, 243.12)


def dew_point_alduchov(celsius: ArrayLike, humidity: ArrayLike) -> Array:
    """As `dew_point`, with the constants 17.625 and 243.04 of Alduchov and Eskridge (1996)."""
    return _inverse_magnus(celsius, humidity, 17.625, 243.04)


def _inverse_magnus(celsius: ArrayLike, humidity: ArrayLike, a: float, b: float) -> Array:
    temperatures = np.asarray(celsius, dtype=float)
    fractions = np.asarray(humidity, dtype=float)
    if not ((temperatures >= -45) & (temperatures <= 60)).all():
        raise ValueError("the dew point formula holds from -45 to 60 °C")
    if not ((fractions > 0) & (fractions <= 1)).all():
        raise ValueError("humidity is a fraction above 0, up to 1")
    gamma = np.log(fractions) + a * temperatures / (b + temperatures)
    return np.asarray(b * gamma / (a - gamma))


def may_coat(surface_celsius: float, dew_point_celsius: float, margin: float = 3.0) -> bool:
    """Whether the surface lies at least `margin` [K] above the dew point (ISO 8502-4).

    Raises
    ------
    ValueError
        A temperature or margin that is not a finite number, or a margin below 0.
    """
    if not (math.isfinite(surface_celsius) and math.isfinite(dew_point_celsius)):
        raise ValueError("surface and dew point must be finite numbers")
    if not (math.isfinite(margin) and margin >= 0):
        raise ValueError(f"the margin over the dew point is 0 K or more, got {margin}")
    return surface_celsius - dew_point_celsius >= margin - 1e-9


@dataclass(frozen=True)
class CoatLimits:
    """Air that a sealer's data sheet asks for. Temperatures °C, humidity 0..1, margin K.

    Raises
    ------
    ValueError
        Temperatures that are not finite or not in order, humidity not above 0 or over 1, or a
        margin below 0.
    """

    celsius_least: float = 15.6
    celsius_greatest: float = 29.4
    humidity_greatest: float = 0.80
    dew_margin: float = 3.0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.celsius_least) and math.isfinite(self.celsius_greatest)):
            raise ValueError("celsius_least and celsius_greatest must be finite numbers")
        if self.celsius_least >= self.celsius_greatest:
            raise ValueError("celsius_least must lie below celsius_greatest")
        if not 0 < self.humidity_greatest <= 1:
            raise ValueError("humidity_greatest is a fraction above 0, up to 1")
        if not (math.isfinite(self.dew_margin) and self.dew_margin >= 0):
            raise ValueError(f"dew_margin must be 0 K or more, got {self.dew_margin}")

    def fits(self, celsius: ArrayLike, humidity: ArrayLike) -> NDArray[np.bool_]:
        """Whether each air fits. Humidity that is not known (NaN) is not held against it."""
        temperatures = np.asarray(celsius, dtype=float)
        fractions = np.asarray(humidity, dtype=float)
        known = np.isfinite(fractions)
        within = (temperatures >= self.celsius_least) & (temperatures <= self.celsius_greatest)
        dry = ~known | (fractions <= self.humidity_greatest)
        dew = dew_point(
            np.clip(temperatures, -45, 60), np.where(known, np.clip(fractions, 1e-3, 1.0), 0.5)
        )
        return np.asarray(within & dry & (~known | (temperatures - dew >= self.dew_margin)))


@dataclass(frozen=True)
class Sealer:
    """A sealer as its data sheet and the shop have it.

    Recoat hours are clock hours after the coat before; handle, light_use and full_use are film
    hours at 23 °C after the last coat; least_age is clock hours after casting.

    Raises
    ------
    ValueError
        No coat, hours that are negative or not finite, or a recoat window that is not open.
    """

    coats: int = 2
    recoat_least: float = 4.0
    recoat_greatest: float | None = 24.0
    handle: float = 24.0
    light_use: float = 72.0
    full_use: float = 168.0
    least_age: float = 48.0
    abrade_hours: float = 0.5
    limits: CoatLimits = CoatLimits()

    def __post_init__(self) -> None:
        if self.coats < 1:
            raise ValueError("a sealer has at least one coat")
        for name in (
            "recoat_least",
            "handle",
            "light_use",
            "full_use",
            "least_age",
            "abrade_hours",
        ):
            hours = getattr(self, name)
            if not (math.isfinite(hours) and hours >= 0):
                raise ValueError(f"{name} must be finite and not negative, got {hours} h")
        if self.recoat_greatest is not None and not self.recoat_greatest > self.recoat_least:
            raise ValueError("recoat_greatest must be more than recoat_least")


def recoat_state(hours_since: float, sealer: Sealer) -> str:
    """'too early', 'in the window' or 'abrade first', so many hours after the last coat.

    Raises
    ------
    ValueError
        Hours that are not a number.
    """
    if math.isnan(hours_since):
        raise ValueError("hours since the last coat must be a number")
    if hours_since < sealer.recoat_least:
        return "too early"
    if sealer.recoat_greatest is not None and hours_since > sealer.recoat_greatest:
        return "abrade first"
    return "in the window"


def film_rate(celsius: ArrayLike) -> Array:
    """Rate of a sealer's cure against 23 °C: doubling per 10 K (common practice, no source).

    Raises
    ------
    ValueError
        A temperature that is not finite.
    """
    temperatures = np.asarray(celsius, dtype=float)
    if not np.isfinite(temperatures).all():
        raise ValueError("celsius must be finite numbers")
    return np.asarray(2.0 ** ((temperatures - FILM_REFERENCE) / FILM_DOUBLING))
