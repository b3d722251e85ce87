"""A chance that rises with age: its two numbers learned on a grid, from yes and no at known ages.

    logit p(t) = logit(expected) + slope (ln t - ln location),   slope > 0

Times here are ln(age / gate), so 0 is the gate. The posterior is summed over cells of the location
and nodes of ln slope: no sampler, the same data always give the same numbers. `curing.outcomes`
says what the numbers are for and why there are two posteriors.

References
----------
Gelman et al., Bayesian Data Analysis, the bioassay example: logistic dose and response, its
posterior on a grid of two numbers (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, log_ndtr, logit, ndtri

Array = NDArray[np.float64]

CREDENCE = 0.95  # that the chance at the bound reaches the target; at the gate before any data
SHARE_LEAST, SHARE_GREATEST = 0.5, 0.999

# 0 is the edge of a cell; the outer cells take the prior's tails.
CELL, CELLS_BELOW, CELLS_ABOVE = 0.01, 500, 300
EDGES: Array = CELL * np.arange(-CELLS_BELOW, CELLS_ABOVE + 1, dtype=float)
MIDDLES: Array = 0.5 * (EDGES[1:] + EDGES[:-1])
SLOPES, SLOPES_JOINT, SLOPE_REACH = 31, 41, 3.2  # nodes of ln slope, to so many spreads either side
HALVINGS = 60


def within(name: str, value: float, least: float, greatest: float) -> None:
    """ValueError with the range where a value is not finite or lies outside it."""
    if not (math.isfinite(value) and least <= value <= greatest):
        raise ValueError(f"{name} must be from {least:g} to {greatest:g}, got {value}")


@dataclass(frozen=True)
class Prior:
    """What is believed before the first outcome. All four are judgement, no source.

    expected : share of clean demolds that the default gate stands for, 0.5 to 0.999
    location_spread : standard deviation of ln(location), 0.05 to 1. At 0.3 the age at which 95 %
        come out clean lies with 90 % between 0.37 of the gate and the gate
    slope : middle of the slope, 1 to 40. At 8 the chance goes from 50 to 95 % while the age grows
        by 1.44. So it would be if strength grows as age to the 1.45 (the placeholder curve between
        12 and 16 h) and the strength that a demold needs scatters by 30 %
    slope_spread : standard deviation of ln(slope), 0.05 to 1

    Raises
    ------
    ValueError
        A value outside its range.
    """

    expected: float = 0.95
    location_spread: float = 0.3
    slope: float = 8.0
    slope_spread: float = 0.4

    def __post_init__(self) -> None:
        within("expected", self.expected, SHARE_LEAST, SHARE_GREATEST)
        within("location_spread", self.location_spread, 0.05, 1.0)
        within("slope", self.slope, 1.0, 40.0)
        within("slope_spread", self.slope_spread, 0.05, 1.0)

    @property
    def centre(self) -> float:
        """Mean of ln(location / gate): the gate is its 95 % quantile."""
        return -float(ndtri(CREDENCE)) * self.location_spread


@dataclass(frozen=True, eq=False)
class Posterior:
    """slopes : (s,); below : (edges, s) mass of locations up to each edge, all of it 1."""

    slopes: Array
    below: Array

    @classmethod
    def of(cls, slopes: Array, mass: Array) -> Posterior:
        """From the mass in each cell (cells, s)."""
        return cls(slopes, np.vstack([np.zeros((1, len(slopes))), np.cumsum(mass, axis=0)]))

    def up_to(self, times: Array) -> Array:
        """(m,) mass of locations up to `times` (m, s), one a slope."""
        steps = np.clip((times - EDGES[0]) / CELL, 0.0, len(MIDDLES))
        cell = np.minimum(steps.astype(int), len(MIDDLES) - 1)
        column = np.arange(len(self.slopes))
        start = self.below[cell, column]
        rise = self.below[cell + 1, column] - start
        return np.asarray((start + rise * (steps - cell)).sum(axis=1))


@dataclass(frozen=True, eq=False)
class ChanceGrid:
    """times : (n,) ln(age / gate); yes, no : (n,) how many of each; prior : see `Prior`.

    Rows of its arrays are locations, columns slopes.
    """

    times: Array
    yes: Array
    no: Array
    prior: Prior

    @cached_property
    def joint(self) -> Posterior:
        """Both numbers learned, on slopes as close as the data ask for."""
        heights = self._log_mass.max(axis=0)
        likely = np.flatnonzero(heights > heights.max() - 18.0)  # beyond lies less than 1e-7
        scores = self._scores[max(likely[0] - 1, 0)], self._scores[min(likely[-1] + 1, SLOPES - 1)]
        finer = np.linspace(*scores, SLOPES_JOINT)
        log_mass = self._log_cells(finer)
        mass = np.exp(log_mass - log_mass.max())
        return Posterior.of(self._slopes(finer), mass / mass.sum())

    @cached_property
    def guarded(self) -> Posterior:
        """Location learned for each slope, the slopes kept at their prior weight."""
        mass = np.exp(self._log_mass - self._log_mass.max(axis=0))
        weights = np.exp(-0.5 * self._scores**2)
        mass *= weights / weights.sum() / mass.sum(axis=0)
        return Posterior.of(self._slopes(self._scores), mass)

    def bound(self, posterior: Posterior, target: float) -> float:
        """Least time from which the chance is `target` or more with the credence.

        posterior : `joint` or `guarded`. ValueError for a target not from 0.5 to 0.999.
        """
        within("target", target, SHARE_LEAST, SHARE_GREATEST)
        shift = (float(logit(target)) - self._offset) / posterior.slopes
        early, late = float(EDGES[0] + shift.min()), float(EDGES[-1] + shift.max())
        for _ in range(HALVINGS):
            middle = 0.5 * (early + late)
            if float(posterior.up_to((middle - shift)[None, :])[0]) >= CREDENCE:
                late = middle
            else:
                early = middle
        # What rounding leaves of the gate is the gate.
        return late if abs(late) > 1e-9 else 0.0

    def mean(self, times: Array) -> Array:
        """(m,) mean chance at (m,) times, by `guarded`."""
        mass = np.diff(self.guarded.below, axis=0)
        total = np.zeros(len(times))
        for place, slope in enumerate(self.guarded.slopes):
            chances = expit(self._offset + slope * (times[:, None] - MIDDLES[None, :]))
            total += chances @ mass[:, place]
        return np.clip(total, 0.0, 1.0)

    def quantile(self, times: Array, share: float) -> Array:
        """(m,) quantile of the chance at (m,) times, by `guarded`; its logit is halved in."""
        low, high = np.full(len(times), -60.0), np.full(len(times), 60.0)
        for _ in range(HALVINGS):
            middle = 0.5 * (low + high)
            edge = times[:, None] - (middle[:, None] - self._offset) / self.guarded.slopes
            reached = self.guarded.up_to(edge) >= 1.0 - share
            low, high = np.where(reached, middle, low), np.where(reached, high, middle)
        return np.asarray(expit(low))

    def locations(self, *shares: float) -> list[float]:
        """Quantiles of ln(location / gate), by `joint`."""
        below = self.joint.below.sum(axis=1)
        return [float(np.interp(share, below, EDGES)) for share in shares]

    def mode(self) -> tuple[float, float]:
        """ln(location / gate) and ln slope where the joint density is greatest.

        From the best cell uphill, in steps that shrink.
        """
        row, column = np.unravel_index(int(self._log_mass.argmax()), self._log_mass.shape)
        start = float(self._scores[column]) * self.prior.slope_spread + math.log(self.prior.slope)
        best = np.array([MIDDLES[row], start])
        half = np.array([CELL, 2.0 * SLOPE_REACH * self.prior.slope_spread / (SLOPES - 1)])
        sides = np.linspace(-1.0, 1.0, 5)
        steps = np.stack(np.meshgrid(sides, sides), axis=-1).reshape(-1, 2)
        for _ in range(400):
            tried = best + steps * half
            place = int(self._log_density(tried[:, 0], tried[:, 1]).argmax())
            best = tried[place]
            # Shrink only where the best lies inside: a slanting ridge is followed, not cut off.
            if np.abs(steps[place]).max() < 1:
                half = half * 0.5
            if half.max() < 1e-9:
                break
        return float(best[0]), float(best[1])

    @cached_property
    def _offset(self) -> float:
        return float(logit(self.prior.expected))

    @cached_property
    def _scores(self) -> Array:
        """Nodes of ln slope, in the prior's spreads from its middle."""
        return np.linspace(-SLOPE_REACH, SLOPE_REACH, SLOPES)

    def _slopes(self, scores: Array) -> Array:
        return np.asarray(self.prior.slope * np.exp(self.prior.slope_spread * scores))

    @cached_property
    def _log_mass(self) -> Array:
        return self._log_cells(self._scores)

    def _log_cells(self, scores: Array) -> Array:
        """Log of the joint mass (cells, s) at (s,) nodes of ln slope, up to a constant."""
        likely = self._log_likelihood(MIDDLES[:, None], self._slopes(scores)[None, :])
        cells = _normal_cells((EDGES - self.prior.centre) / self.prior.location_spread)
        return np.asarray(likely + cells[:, None] - 0.5 * scores[None, :] ** 2)

    def _log_likelihood(self, location: Array, slope: Array) -> Array:
        total = np.zeros(np.broadcast_shapes(location.shape, slope.shape))
        for time, yes, no in zip(self.times, self.yes, self.no, strict=True):
            score = self._offset + slope * (time - location)
            # ln(1 + exp(x)) is max(x, 0) and a bend, alike for yes and no.
            total -= (yes + no) * np.log(1.0 + np.exp(-np.abs(score)))
            total -= yes * np.maximum(-score, 0.0) + no * np.maximum(score, 0.0)
        return total

    def _log_density(self, location: Array, log_slope: Array) -> Array:
        """Joint posterior density of (ln(location / gate), ln slope), up to a constant."""
        first = (location - self.prior.centre) / self.prior.location_spread
        second = (log_slope - math.log(self.prior.slope)) / self.prior.slope_spread
        return np.asarray(
            self._log_likelihood(location, np.exp(log_slope)) - 0.5 * (first**2 + second**2)
        )


def _normal_cells(scores: Array) -> Array:
    """Log of a standard normal's mass between (n + 1,) scores; the outer cells take the tails."""
    # From the nearer tail, or the far cells would be differences of ones.
    upper = scores[:-1] > 0
    near = np.where(upper, -scores[:-1], scores[1:])
    far = np.where(upper, -scores[1:], scores[:-1])
    inner = log_ndtr(near) + np.log1p(-np.exp(log_ndtr(far) - log_ndtr(near)))
    inner[0], inner[-1] = log_ndtr(scores[1]), log_ndtr(-scores[-2])
    return np.asarray(inner)
