"""A mix's strength curve as it may be: from the tests it was taken from, or in a stated band."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from curing.calibration import PLACEHOLDER_BAND
from curing.doubt import TYPED_BAND, CurveDraws, Doubt, from_fit, within
from curing.fitting import SHAPES, Fit, Form
from curing.strength import Exponential, Hyperbolic
from shop.models import Mix
from shop.models.materials import CurveForm

Array = NDArray[np.float64]

KEPT = 100  # curves of a fit's bootstrap, spread evenly over it
DIGITS = 5


def curve_of(mix: Mix) -> Hyperbolic | Exponential:
    if mix.curve == CurveForm.EXPONENTIAL:
        return Exponential(su=mix.su_mpa, tau=mix.tau_hours, alpha=mix.alpha)
    return Hyperbolic(su=mix.su_mpa, k=mix.rate_per_hour, t0=mix.setting_hours)


def draws_of(fit: Fit) -> list[list[float]]:
    """What a mix keeps of a fit that is taken."""
    step = max(1, len(fit.draws) // KEPT)
    return [[float(f"{value:.{DIGITS}g}") for value in row] for row in fit.draws[::step][:KEPT]]


def curves_of(mix: Mix, doubt: Doubt) -> CurveDraws:
    """The same draws for every piece of the mix."""
    stream = f"mix {mix.pk}"
    if mix.curve_draws:
        return from_fit(Form(mix.curve), np.array(mix.curve_draws, dtype=float), doubt, stream)
    return within(curve_of(mix), band_of(mix), doubt, stream)


def band_of(mix: Mix) -> float:
    """Share of the strength, either way, within which 9 in 10 curves lie; without tests."""
    return PLACEHOLDER_BAND if mix.placeholder else TYPED_BAND


def strength_band(mix: Mix, age_hours: ArrayLike) -> tuple[Array, Array]:
    """Low and high strength [MPa] at ages (m,) of the middle 90 % of curves."""
    ages = np.atleast_1d(np.asarray(age_hours, dtype=float))
    if not mix.curve_draws:
        likely, band = curve_of(mix).at(ages), band_of(mix)
        return np.asarray(likely * (1.0 - band)), np.asarray(likely * (1.0 + band))
    rows = np.array(mix.curve_draws, dtype=float)
    shape = SHAPES[Form(mix.curve)]
    started = np.maximum(ages, 1e-9)
    strengths = rows[:, :1] * shape(started, rows[:, 1:2], rows[:, 2:3])
    low, high = np.quantile(strengths, [0.05, 0.95], axis=0)
    return np.where(ages > 0, low, 0.0), np.where(ages > 0, high, 0.0)


def basis_shortly(mix: Mix) -> str:
    """As `basis_of`, where a phone has no room for it."""
    if mix.curve_draws and not mix.placeholder:
        return "by the shop's own tests"
    return f"{'placeholder' if mix.placeholder else 'typed'}, ±{band_of(mix) * 100:.0f} % band"


def basis_of(mix: Mix) -> str:
    """Where the curve comes from and how far it may lie off, in a few words."""
    if mix.placeholder:
        return f"placeholder, not this shop's concrete: ±{PLACEHOLDER_BAND * 100:.0f} % band"
    if mix.curve_draws:
        return "the shop's own tests, with their band"
    return f"typed, without tests behind it here: ±{TYPED_BAND * 100:.0f} % band"
