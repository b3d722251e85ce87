"""Diffusion into and out of a plane sheet in closed form, for a constant diffusivity.

Fo = D t / L² is the Fourier number; L is half the thickness of a sheet open on both faces, and the
thickness of one open on one face. Positions run from 0 at the sealed face or mid-plane to 1 at the
open face. What is given is the change done, 0 at the start and 1 in the end.

References
----------
J. Crank, The Mathematics of Diffusion, 2nd ed., 4.3. Incropera and DeWitt, Fundamentals of Heat
and Mass Transfer, 5.5.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

Array = NDArray[np.float64]

TERMS = 200
# Below this Fo the series needs ever more terms, and the sheet is a half-space to 1e-12.
SHORT = 0.01


def _fourier(fo: ArrayLike) -> Array:
    numbers = np.asarray(fo, dtype=float)
    if not (numbers >= 0).all():
        raise ValueError("Fourier numbers are not negative")
    return numbers


def sheet_loss(fo: ArrayLike) -> Array:
    """Mean change U of a sheet that starts uniform, its face at once at the air's value.

    Parameters
    ----------
    fo : Fourier numbers, any shape, not negative

    Raises
    ------
    ValueError
        A negative Fourier number.

    Reference: Crank, equation 4.18; 2 sqrt(Fo / pi) in the short run.

    >>> round(float(sheet_loss(0.25)), 9)
    0.562233542
    """
    numbers = _fourier(fo)
    roots = (np.arange(TERMS) + 0.5) * math.pi
    series = 1.0 - (2.0 / roots**2 * np.exp(-np.multiply.outer(numbers, roots**2))).sum(axis=-1)
    return np.asarray(np.where(numbers < SHORT, 2.0 * np.sqrt(numbers / math.pi), series))


def sheet_change(fo: float, position: ArrayLike) -> Array:
    """Change at positions [0..1] of the sheet of `sheet_loss`, at one Fo above 0.

    Raises
    ------
    ValueError
        Fo not above 0.001, where the series would want more terms than it has, or a position
        outside 0 to 1.

    Reference: Crank, equation 4.17.
    """
    if not fo > 1e-3:
        raise ValueError("the series for the profile is kept to Fo above 0.001")
    places = np.asarray(position, dtype=float)
    if not ((places >= 0) & (places <= 1)).all():
        raise ValueError("positions run from 0 to 1, the open face")
    index = np.arange(TERMS)
    roots = (index + 0.5) * math.pi
    waves = np.cos(np.multiply.outer(places, roots))
    weights = 2.0 * (-1.0) ** index / roots * np.exp(-(roots**2) * fo)
    return np.asarray(1.0 - (waves * weights).sum(axis=-1))


def triangular_loss(fo: ArrayLike) -> Array:
    """As `sheet_loss`, from a start that rises evenly from the air's value at the open face.

    Reference: the series of Crank, 4.3, for that start; tabled in soil mechanics.
    """
    numbers = _fourier(fo)
    index = np.arange(TERMS)
    roots = (index + 0.5) * math.pi
    weights = 4.0 * (-1.0) ** index / roots**3
    decay = np.exp(-np.multiply.outer(numbers, roots**2))
    return np.asarray(1.0 - (weights * decay).sum(axis=-1))


def film_roots(biot: float, count: int = 60) -> Array:
    """The first `count` positive roots of zeta tan(zeta) = Bi, Bi = film coefficient L / D.

    Raises
    ------
    ValueError
        A Biot number that is not finite and above 0.

    Reference: Crank, equation 4.52; Incropera, table 5.1.

    >>> round(float(film_roots(0.313)[0]), 3)
    0.532
    """
    if not (math.isfinite(biot) and biot > 0):
        raise ValueError(f"the Biot number is finite and above 0, got {biot}")

    def crossing(zeta: float) -> float:
        return zeta * math.sin(zeta) - biot * math.cos(zeta)

    starts = np.arange(count) * math.pi
    return np.array([brentq(crossing, low, low + math.pi / 2, xtol=1e-14) for low in starts])


def film_coefficients(biot: float, count: int = 60) -> Array:
    """Weight of each root in the profile, 4 sin(zeta) / (2 zeta + sin(2 zeta)).

    Reference: Incropera, equation 5.39b and table 5.1.

    >>> round(float(film_coefficients(0.313)[0]), 3)
    1.047
    """
    roots = film_roots(biot, count)
    return np.asarray(4.0 * np.sin(roots) / (2.0 * roots + np.sin(2.0 * roots)))


def film_loss(fo: ArrayLike, biot: float) -> Array:
    """Mean change of a sheet that starts uniform and dries through a film.

    Reference: Crank, equation 4.53.

    >>> round(float(film_loss(0.125, 20.0)), 9)
    0.352886178
    """
    numbers = _fourier(fo)
    roots = film_roots(biot)
    weights = 2.0 * biot**2 / (roots**2 * (roots**2 + biot**2 + biot))
    decay = np.exp(-np.multiply.outer(numbers, roots**2))
    return np.asarray(1.0 - (weights * decay).sum(axis=-1))
