"""Strength of concrete against its equivalent age, and what follows from it.

Ages are hours at the reference temperature, strengths MPa. Coefficients `s`, `a`, `b` are used as
the standards print them, for ages in days.

References
----------
ASTM C1074, Annex A1. EN 1992-1-1:2004, 3.1.2 and 3.1.8. ACI 209R-92, 2.2.1. ACI 318-19, 19.2.3.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import least_squares

from curing.maturity import ABSOLUTE_ZERO, GAS_CONSTANT

Array = NDArray[np.float64]

DAY = 24.0  # h
PSI = 0.006894757293168  # MPa


class Curve(Protocol):
    """Strength against equivalent age."""

    def at(self, age_hours: ArrayLike) -> Array:
        """Strength at each age [MPa]; 0 before setting."""
        ...

    def age_at(self, mpa: float) -> float:
        """Age at which a strength is reached [h]; inf if it never is. ValueError for NaN."""
        ...


def _ages(age_hours: ArrayLike) -> Array:
    ages = np.asarray(age_hours, dtype=float)
    if np.isnan(ages).any():
        raise ValueError("ages must be numbers")
    return ages


def _asked(mpa: float) -> float:
    if math.isnan(mpa):
        raise ValueError("a strength must be a number of MPa")
    return mpa


def _positive(**values: float) -> None:
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0):
            raise ValueError(f"{name} must be a finite number above 0, got {value}")


@dataclass(frozen=True)
class Hyperbolic:
    """S = su k (t - t0) / (1 + k (t - t0)), 0 before t0.

    su : strength in the long run [MPa]; k : rate [1/h]; t0 : setting time [h], not negative

    Reference: ASTM C1074, Annex A1, equation A1.1.
    """

    su: float
    k: float
    t0: float = 0.0

    def __post_init__(self) -> None:
        _positive(su=self.su, k=self.k)
        if not (math.isfinite(self.t0) and self.t0 >= 0):
            raise ValueError(f"t0 must not be negative, got {self.t0}")

    def at(self, age_hours: ArrayLike) -> Array:
        """Strength [MPa] at ages [h], any shape."""
        run = np.asarray(self.k * np.maximum(_ages(age_hours) - self.t0, 0.0))
        share = np.divide(run, 1.0 + run, out=np.ones_like(run), where=np.isfinite(run))
        return np.asarray(self.su * share)

    def age_at(self, mpa: float) -> float:
        """Age [h] at which `mpa` is reached; inf at or above `su`."""
        if _asked(mpa) <= 0:
            return 0.0
        if mpa >= self.su:
            return math.inf
        return self.t0 + mpa / (self.k * (self.su - mpa))


@dataclass(frozen=True)
class Exponential:
    """S = su exp(-(tau / t)^alpha), 0 at age 0.

    su [MPa]; tau : time constant [h]; alpha : shape [-]

    Reference: ASTM C1074, X1 (the three-parameter exponential form).
    """

    su: float
    tau: float
    alpha: float

    def __post_init__(self) -> None:
        _positive(su=self.su, tau=self.tau, alpha=self.alpha)

    def at(self, age_hours: ArrayLike) -> Array:
        """Strength [MPa] at ages [h], any shape."""
        ages = _ages(age_hours)
        started = ages > 0
        # A moment after casting the ratio leaves the range of a float; the strength is 0 then.
        with np.errstate(over="ignore"):
            ratio = self.tau / np.where(started, ages, self.tau)
            share = np.exp(-(ratio**self.alpha))
        return np.asarray(np.where(started, self.su * share, 0.0))

    def age_at(self, mpa: float) -> float:
        """Age [h] at which `mpa` is reached; inf at or above `su`."""
        if _asked(mpa) <= 0:
            return 0.0
        if mpa >= self.su:
            return math.inf
        return float(self.tau / (math.log(self.su) - math.log(mpa)) ** (1.0 / self.alpha))


def beta_cc(age_days: ArrayLike, s: float) -> Array:
    """Share of the 28-day strength, exp(s (1 - sqrt(28 / t))).

    Parameters
    ----------
    age_days : ages [d], above 0
    s : 0.20 (class R), 0.25 (N) or 0.38 (S)

    Raises
    ------
    ValueError
        An age that is not above 0, or s that is not.

    Reference: EN 1992-1-1:2004, equation 3.2.
    """
    ages = np.asarray(age_days, dtype=float)
    if not (ages > 0).all():
        raise ValueError("age_days must be above 0")
    _positive(s=s)
    return np.asarray(np.exp(s * (1.0 - np.sqrt(28.0 / ages))))


def characteristic_strength(age_days: float, fck: float, s: float) -> float:
    """fck(t) [MPa] for 3 d < t: fcm(t) - 8 before 28 d, fck from then on.

    Parameters
    ----------
    age_days : [d], above 3
    fck : characteristic strength at 28 d [MPa]
    s : as `beta_cc`

    Raises
    ------
    ValueError
        Up to 3 d, where the standard asks for tests.

    Reference: EN 1992-1-1:2004, 3.1.2 (5).
    """
    if not age_days > 3:
        raise ValueError("EN 1992-1-1 3.1.2 (5) gives fck(t) beyond 3 days; before, test")
    _positive(fck=fck)
    if age_days >= 28:
        return fck
    return float(beta_cc(age_days, s)) * (fck + 8.0) - 8.0


@dataclass(frozen=True)
class EN1992:
    """fcm(t) = beta_cc(t) fcm. fcm : mean strength at 28 d [MPa]; s : as printed, ages in days.

    Reference: EN 1992-1-1:2004, equations 3.1 and 3.2.
    """

    fcm: float
    s: float = 0.25

    def __post_init__(self) -> None:
        _positive(fcm=self.fcm, s=self.s)

    def at(self, age_hours: ArrayLike) -> Array:
        """Strength [MPa] at ages [h], any shape."""
        days = _ages(age_hours) / DAY
        started = days > 0
        days = np.where(started, days, 1.0)
        return np.asarray(np.where(started, self.fcm * beta_cc(days, self.s), 0.0))

    def age_at(self, mpa: float) -> float:
        """Age [h] at which `mpa` is reached; inf from fcm exp(s) on."""
        if _asked(mpa) <= 0:
            return 0.0
        root = 1.0 - (math.log(mpa) - math.log(self.fcm)) / self.s
        return 28.0 * DAY / root**2 if root > 0 else math.inf


@dataclass(frozen=True)
class ACI209:
    """fc(t) = fc28 t / (a + b t). fc28 [MPa]; a [d] and b [-] as printed, ages in days.

    Reference: ACI 209R-92, equation 2-1 and table 2.2.1.
    """

    fc28: float
    a: float = 4.0
    b: float = 0.85

    def __post_init__(self) -> None:
        _positive(fc28=self.fc28, a=self.a, b=self.b)

    def at(self, age_hours: ArrayLike) -> Array:
        """Strength [MPa] at ages [h], any shape."""
        days = np.maximum(_ages(age_hours), 0.0) / DAY
        whole = np.isinf(days)
        finite = np.where(whole, 0.0, days)
        strengths = self.fc28 * finite / (self.a + self.b * finite)
        return np.asarray(np.where(whole, self.fc28 / self.b, strengths))

    def age_at(self, mpa: float) -> float:
        """Age [h] at which `mpa` is reached; inf from fc28 / b on."""
        if _asked(mpa) <= 0:
            return 0.0
        left = self.fc28 - self.b * mpa
        return DAY * self.a * mpa / left if left > 0 else math.inf


# A placeholder, nobody's concrete: 9000 psi in the long run, about 2200 psi at 16 h at 20 °C.
PLACEHOLDER = Hyperbolic(su=9000.0 * PSI, k=0.0322, t0=6.0)


def fit_hyperbolic(ages: ArrayLike, strengths: ArrayLike) -> Hyperbolic:
    """The hyperbolic curve nearest to tests, by least squares with t0 kept from running negative.

    Parameters
    ----------
    ages : (n,) equivalent ages [h], n at least 3, above 0
    strengths : (n,) [MPa], above 0

    Raises
    ------
    ValueError
        Fewer than three tests, fewer than three different ages, or values that are not above 0.

    Reference: ASTM C1074, Annex A1.1.8.
    """
    times = np.asarray(ages, dtype=float)
    values = np.asarray(strengths, dtype=float)
    if times.shape != values.shape or times.ndim != 1:
        raise ValueError("ages and strengths must be of one length")
    if len(np.unique(times)) < 3:
        raise ValueError("a curve of three parameters needs tests at three ages or more")
    if not ((times > 0).all() and (values > 0).all() and np.isfinite(times + values).all()):
        raise ValueError("ages and strengths must be finite and above 0")
    last = float(times.min()) * (1.0 - 1e-9)  # a test with strength lies after setting

    def missed(guess: Array) -> Array:
        su, log_k, t0 = guess
        run = np.exp(log_k) * (times - t0)
        return np.asarray(su * run / (1.0 + run) - values)

    top = float(values.max())
    fits = [
        least_squares(
            missed,
            x0=[1.3 * top, math.log(1.0 / middle), share * last],
            bounds=([1e-6, -20.0, 0.0], [np.inf, 20.0, last]),
            x_scale=[top, 1.0, max(last, 1e-3)],
            max_nfev=300,  # tests on a straight line have no best curve: enough is enough
            xtol=1e-14,
            ftol=1e-14,
            gtol=1e-14,
        )
        for middle in (float(np.median(times)), float(times.min()))
        for share in (0.05, 0.6)
    ]
    best = min(fits, key=lambda fit: float(fit.cost))
    su, log_k, t0 = best.x
    return Hyperbolic(su=float(su), k=math.exp(log_k), t0=float(t0))


def activation_energy(fits: Mapping[float, Hyperbolic]) -> float:
    """Apparent activation energy [J/mol] from curves fitted at several temperatures.

    The slope of ln k against 1 / T, by least squares.

    Parameters
    ----------
    fits : curing temperature [°C] -> curve fitted to ages in hours at that temperature

    Raises
    ------
    ValueError
        Fewer than two temperatures, one that is not above absolute zero, or a rate that does not
        rise with temperature.

    Reference: ASTM C1074, Annex A1.
    """
    if len(fits) < 2:
        raise ValueError("the activation energy needs curves at two temperatures or more")
    if not all(math.isfinite(celsius) and celsius > ABSOLUTE_ZERO for celsius in fits):
        raise ValueError("curing temperatures must be finite and above -273.15 °C")
    inverse = np.array([1.0 / (celsius - ABSOLUTE_ZERO) for celsius in fits])
    logs = np.array([math.log(curve.k) for curve in fits.values()])
    slope = float(np.polyfit(inverse, logs, 1)[0])
    if slope >= 0:
        raise ValueError("these curves do not go faster when it is warmer: check the tests")
    return -slope * GAS_CONSTANT


def mean_tensile(fck: float) -> float:
    """fctm [MPa] from the characteristic cylinder strength fck [MPa], 12 to 90.

    0.30 fck^(2/3) up to C50/60, 2.12 ln(1 + fcm / 10) above.

    Raises
    ------
    ValueError
        Outside the strengths of the table.

    Reference: EN 1992-1-1:2004, table 3.1.
    """
    if not 12 <= fck <= 90:
        raise ValueError("EN 1992-1-1 table 3.1 holds for fck from 12 to 90 MPa")
    if fck <= 50:
        return float(0.30 * fck ** (2.0 / 3.0))
    return float(2.12 * math.log(1.0 + (fck + 8.0) / 10.0))


def tensile_at(beta: float, alpha: float, fctm: float) -> float:
    """fctm(t) = beta_cc(t)^alpha fctm [MPa]; alpha is 1 before 28 d and 2/3 from then on.

    Reference: EN 1992-1-1:2004, equation 3.4.
    """
    _positive(beta=beta, alpha=alpha, fctm=fctm)
    return float(beta**alpha * fctm)


def flexural_tensile(thickness_mm: float, fctm: float) -> float:
    """fctm,fl = max(1.6 - h / 1000, 1) fctm [MPa], h in mm.

    Reference: EN 1992-1-1:2004, equation 3.23.
    """
    _positive(thickness_mm=thickness_mm, fctm=fctm)
    return max(1.6 - thickness_mm / 1000.0, 1.0) * fctm


def aci318_modulus_of_rupture(fc_psi: float, lightness: float = 1.0) -> float:
    """fr = 7.5 lambda sqrt(fc') [psi], fc' in psi, lambda 1 for normal weight.

    Reference: ACI 318-19, 19.2.3.1.
    """
    _positive(fc_psi=fc_psi, lightness=lightness)
    return 7.5 * lightness * math.sqrt(fc_psi)
