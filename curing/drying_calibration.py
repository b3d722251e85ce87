"""How much slower or faster a shop's own concrete dries than the model: from pieces weighed dry.

The loss a day alone cannot tell it: early on slow concrete loses less a day than fast concrete,
late it loses more. The shape of the whole course can. So for each piece the model is marched
through the air that the piece stood in, stretched in time by many factors; weight in air and the
amount of water are free, and the factor whose course lies nearest to the weights is the piece's.

The factors of a mix's pieces are put together by their logarithms, with a prior of 1 that is as
wide as `curing.moisture.BAND`: one odd piece moves little, ten pieces have their way.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from curing.diffusion import Grid, march
from curing.diffusivity import drying_factor, fractions
from curing.maturity import checked
from curing.moisture import BAND, Concrete, Slab

Array = NDArray[np.float64]

LEAST_WEIGHINGS = 4  # one more than what is fitted: weight, water, factor
LEAST_PIECES = 3
FACTORS = np.geomspace(0.2, 6.0, 69)
WORST = 0.06  # of the loss weighed, the most that weights may lie off a course; our judgement
NORMAL_90 = 1.6448536269514722  # standard deviations to either side hold the middle 90 %
# The prior's spread of ln(factor): the band's early and late are taken as its middle 90 %.
SPREAD = math.log(BAND[2] / BAND[0]) / (2.0 * NORMAL_90)
_SCATTER_WEIGHT = 2.0  # pieces that the prior's spread counts as, for the scatter
_CELLS = 24
_STEP = 1.0  # h
_FIRST_STEPS = (np.arange(1, 9) / 8.0) ** 3


@dataclass(frozen=True)
class PieceFactor:
    """Real drying time over the model's, of one piece.

    misfit : root mean square of what its weights lie off the course [kg]
    """

    factor: float
    misfit: float


def piece_factor(
    slab: Slab,
    concrete: Concrete,
    hours: ArrayLike,
    celsius: ArrayLike,
    humidity: ArrayLike,
    *,
    weighed: ArrayLike,
    kg: ArrayLike,
) -> PieceFactor | None:
    """The factor that a piece's weights show; None where they show none.

    Parameters
    ----------
    slab, concrete : what it is, as the uncalibrated model takes it
    hours, celsius, humidity : (n,) its air from the last wetting at `hours[0]` on; [°C], [0..1]
    weighed, kg : (m,) when it was weighed, on the same axis and within it, and what it weighed

    Returns
    -------
    None for fewer than `LEAST_WEIGHINGS`, for weights that do not fall or not along any course,
    and where the nearest factor is the first or last that is tried (0.2 and 6)

    Raises
    ------
    ValueError
        Lengths that differ, weighings outside the hours, weights not above 0.
    """
    times, temperatures = checked(hours, celsius)
    moist = fractions(np.atleast_1d(np.asarray(humidity, dtype=float)))
    at, weights = np.asarray(weighed, dtype=float), np.asarray(kg, dtype=float)
    if moist.shape != times.shape or at.shape != weights.shape:
        raise ValueError("hours and humidity, times and weights must be of one length")
    if at.size and not ((at >= times[0]) & (at <= times[-1])).all():
        raise ValueError("a piece is weighed within the hours whose air is given")
    if not (weights > 0).all():
        raise ValueError("weights are above 0")
    if len(at) < LEAST_WEIGHINGS or np.ptp(at) <= 0:
        return None
    air = (times - times[0], temperatures, moist)
    errors, water = _fitted(_courses(slab, concrete, air, at - times[0]), weights)
    errors = np.where(water > 0, errors, np.inf)
    best = int(np.argmin(errors))
    misfit = math.sqrt(errors[best] / len(weights))
    if best in (0, len(FACTORS) - 1) or not misfit <= WORST * np.ptp(weights):
        return None
    return PieceFactor(_between(errors, best), misfit)


def _courses(slab: Slab, concrete: Concrete, air: tuple[Array, Array, Array], at: Array) -> Array:
    """(f, m) share of its water lost by each time of weighing, for each factor."""
    times, celsius, moist = air
    end = float(at.max())
    edges = np.concatenate([[0.0], _FIRST_STEPS, np.arange(1.0 + _STEP, end + _STEP, _STEP)])
    middle = 0.5 * (edges[1:] + edges[:-1])
    # The last knot of equal ones holds from there on, as elsewhere.
    warmth = drying_factor(np.interp(middle, times, celsius), concrete.kelvin)
    pace = concrete.fo_per_hour(slab) * warmth * np.diff(edges)
    outside = np.interp(middle, times, moist)
    run = march(
        concrete.law,
        Grid.of(cells=_CELLS),
        pace[:, None] / FACTORS,
        np.broadcast_to(outside[:, None], (len(outside), len(FACTORS))),
        inverse_biot=concrete.inverse_biot(slab),
    )
    return np.array([np.interp(at, edges, lost) for lost in run.lost.T])


def _fitted(courses: Array, weights: Array) -> tuple[Array, Array]:
    """Least squares of weight = w0 - water x course, for each factor: squared error and water."""
    centred = courses - courses.mean(axis=1, keepdims=True)
    fall = weights.mean() - weights
    square = (centred**2).sum(axis=1)
    water = np.divide(centred @ fall, square, out=np.zeros(len(courses)), where=square > 0)
    errors = ((fall - water[:, None] * centred) ** 2).sum(axis=1)
    return np.asarray(errors), np.asarray(water)


def _between(errors: Array, best: int) -> float:
    """The bottom of the parabola through the best factor and its neighbours, by logarithm."""
    before, here, after = errors[best - 1 : best + 2]
    bend = before - 2.0 * here + after
    shift = 0.5 * (before - after) / bend if math.isfinite(bend) and bend > 0 else 0.0
    step = math.log(FACTORS[1] / FACTORS[0])
    return float(FACTORS[best] * math.exp(min(1.0, max(-1.0, shift)) * step))


@dataclass(frozen=True)
class DryingCalibration:
    """The factor of a mix, from its pieces.

    factor : real drying time over the model's
    low, high : the middle 90 % for another piece of the mix
    scatter : of the pieces about it, one standard deviation as a share
    pieces : how many spoke
    """

    factor: float
    low: float
    high: float
    scatter: float
    pieces: int

    @property
    def calibrated(self) -> bool:
        return self.pieces >= LEAST_PIECES


def calibrate_drying(factors: Sequence[float]) -> DryingCalibration:
    """Put the factors of pieces together; with none it is the model's own band about 1.

    Parameters
    ----------
    factors : each above 0

    Raises
    ------
    ValueError
        A factor that is not finite and above 0.

    Reference: a normal mean with a normal prior; the scatter pooled with the prior's spread as
    with that of two more pieces. Gelman et al., Bayesian Data Analysis, 2.5, for the mean.

    >>> round(calibrate_drying([1.5, 1.4, 1.6]).factor, 2)
    1.41
    """
    seen = np.asarray(factors, dtype=float)
    if not (np.isfinite(seen) & (seen > 0)).all():
        raise ValueError("a drying factor is finite and above 0")
    logs = np.log(seen)
    count = len(logs)
    off = float(((logs - logs.mean()) ** 2).sum()) if count else 0.0
    variance = (_SCATTER_WEIGHT * SPREAD**2 + off) / (_SCATTER_WEIGHT + max(count - 1, 0))
    precision = 1.0 / SPREAD**2 + count / variance
    middle = float(logs.sum()) / variance / precision
    # Without a piece the prior's spread is all there is: it holds the pieces' scatter already.
    reach = NORMAL_90 * (math.sqrt(variance + 1.0 / precision) if count else SPREAD)
    return DryingCalibration(
        factor=math.exp(middle),
        low=math.exp(middle - reach),
        high=math.exp(middle + reach),
        scatter=math.sqrt(variance),
        pieces=count,
    )
