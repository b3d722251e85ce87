"""Moisture on its way out of a body in one dimension, by conservative finite volumes.

Everything is without dimension: position from 0 (sealed face, mid-plane or axis) to 1 (open face),
Fo = D1 t / L², Bi = film coefficient L / D1, diffusivity D(H) / D1. Many columns with different air
are marched side by side.

The flux between cells is taken from the Kirchhoff potential, the integral of D over H, so that a
steep D(H) costs no accuracy; time by the two-stage, second-order, L-stable implicit method; each
stage by Newton's method. What a cell loses its neighbour gains, to rounding.

References
----------
S. V. Patankar, Numerical Heat Transfer and Fluid Flow (finite volumes). R. Alexander, Diagonally
implicit Runge-Kutta methods for stiff ODEs, SIAM J. Numer. Anal. 14, 1977 (the time step).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.linalg.lapack import dgtsv

from curing.diffusivity import HumidityLaw, fractions

Array = NDArray[np.float64]
Stop = Callable[[Array, Array], bool]

SLAB, CYLINDER, SPHERE = 0, 1, 2
CELLS = 40
GRADING = 1.5  # cells narrow toward the open face
_GAMMA = 1.0 - 0.5 * 2.0**0.5
_INTERVALS = 4096
_NEWTON_STEPS = 60
_BOUND = 0.25  # of humidity, the most that one Newton step may move
_EXACT = 1e-9
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(4)


class Potential:
    """The integral of D(H) / D1 from 0 to H, tabled finely and linear in between."""

    def __init__(self, law: HumidityLaw) -> None:
        width = 1.0 / _INTERVALS
        self.knots = np.linspace(0.0, 1.0, _INTERVALS + 1)
        points = self.knots[:-1, None] + 0.5 * width * (1.0 + _NODES)
        self.slopes = np.asarray(0.5 * (law.at(points) * _WEIGHTS).sum(axis=1))
        self.values = np.concatenate([[0.0], np.cumsum(self.slopes * width)])

    def at(self, humidity: Array) -> tuple[Array, Array]:
        """Potential and its slope, the mean D / D1 nearby; runs on straight outside 0 to 1."""
        index = np.clip((humidity * _INTERVALS).astype(np.intp), 0, _INTERVALS - 1)
        slope = self.slopes[index]
        return self.values[index] + (humidity - self.knots[index]) * slope, slope

    def humidity(self, potential: Array) -> Array:
        return np.asarray(np.interp(potential, self.values, self.knots))


@lru_cache(maxsize=32)
def potential_of(law: HumidityLaw) -> Potential:
    return Potential(law)


@dataclass(frozen=True, eq=False)
class Grid:
    """Cells of a body from its middle (0) to its open face (1).

    centres, volumes : (n,); the volumes sum to 1
    links : (n,) area over distance, from each cell to the next and from the last to the face
    face : area of the open face
    """

    centres: Array
    volumes: Array
    links: Array
    face: float

    @classmethod
    def of(cls, cells: int = CELLS, geometry: int = SLAB, grading: float = GRADING) -> Grid:
        """A grid with areas that go as position to the power `geometry`.

        Parameters
        ----------
        cells : 4 or more
        geometry : 0 slab, 1 cylinder, 2 sphere
        grading : 1 for even cells, above 1 for cells that narrow toward the face

        Raises
        ------
        ValueError
            Any of them outside its range.
        """
        if cells < 4 or geometry not in (SLAB, CYLINDER, SPHERE) or not 1 <= grading <= 3:
            raise ValueError("a grid has 4 cells or more, geometry 0, 1 or 2, grading 1 to 3")
        edges = 1.0 - (1.0 - np.linspace(0.0, 1.0, cells + 1)) ** grading
        power = geometry + 1
        volumes = np.diff(edges**power)
        centres = 0.5 * (edges[1:] + edges[:-1])
        spans = np.diff(np.append(centres, 1.0))
        return cls(centres, volumes, power * edges[1:] ** geometry / spans, float(power))


@dataclass(frozen=True, eq=False)
class March:
    """What became of m columns over k steps.

    fo : (k + 1, m) Fourier numbers; cells : (k + 1, m, n) humidity [0..1]
    surface : (k + 1, m) humidity of the open face; lost : (k + 1, m) mean humidity lost through it
    """

    law: HumidityLaw
    grid: Grid
    fo: Array
    cells: Array
    surface: Array
    lost: Array

    def mean(self) -> Array:
        """(k + 1, m) mean humidity of the body."""
        return np.asarray(self.cells @ self.grid.volumes)

    def at(self, depth: float) -> Array:
        """(k + 1, m) humidity at a depth below the open face, 0 to 1 (the middle).

        Raises
        ------
        ValueError
            A depth outside 0 to 1.
        """
        return humidity_at(self.law, self.grid, self.cells, self.surface, depth)


def humidity_at(law: HumidityLaw, grid: Grid, cells: Array, surface: Array, depth: float) -> Array:
    """(...) humidity at a depth, from cells (..., n) and surface (...), by the potential."""
    if not 0 <= depth <= 1:
        raise ValueError("a depth runs from 0 at the open face to 1 in the middle")
    place, centres = 1.0 - depth, grid.centres
    table = potential_of(law)
    if place <= centres[0]:  # even about the middle
        first, second = table.at(cells[..., 0])[0], table.at(cells[..., 1])[0]
        bend = (second - first) / (centres[1] ** 2 - centres[0] ** 2)
        return table.humidity(first + bend * (place**2 - centres[0] ** 2))
    right = int(np.searchsorted(centres, place))
    outer = surface if right == len(centres) else cells[..., right]
    end = 1.0 if right == len(centres) else centres[right]
    share = (place - centres[right - 1]) / (end - centres[right - 1])
    inner = table.at(cells[..., right - 1])[0]
    return table.humidity(inner + share * (table.at(outer)[0] - inner))


def march(
    law: HumidityLaw,
    grid: Grid,
    steps: ArrayLike,
    air: ArrayLike,
    *,
    inverse_biot: ArrayLike = 0.0,
    start: ArrayLike = 1.0,
    stop: Stop | None = None,
    ordered: bool = False,
) -> March:
    """Dry (or wet) m columns through their open face, over k steps.

    Parameters
    ----------
    law : D(H) / D1
    grid : of n cells
    steps : (k,) or (k, m) steps of Fo, not negative
    air : (k,) or (k, m) humidity of the air over each step [0..1]
    inverse_biot : scalar or (m,), D1 / (film coefficient L); 0 when there is no film
    start : humidity at the start, scalar or (n,)
    stop : told the cells (m, n) and the faces (m,) after each step; True ends the march early
    ordered : step by the implicit Euler method, of first order only, by which of two columns in
        one air the wetter stays the wetter, however long the step

    Raises
    ------
    ValueError
        A value outside its range, or shapes that do not fit.
    ArithmeticError
        Newton's method does not settle.
    """
    advances, airs = _columns(steps, air, inverse_biot)
    films = np.broadcast_to(np.asarray(inverse_biot, dtype=float), advances.shape[1:])
    if not (np.isfinite(films) & (films >= 0)).all():
        raise ValueError("the inverse Biot number must be finite and not negative")
    system = _System(potential_of(law), grid, films)
    state = np.empty((advances.shape[1], len(grid.centres) + 1))
    state[:, :-1] = fractions(start)
    state[:, -1] = state[:, -2]
    states, lost = [state], [np.zeros(len(state))]
    step = system.ordered_step if ordered else system.step
    for advance, outside in zip(advances, airs, strict=True):
        state, loss = step(state, advance, outside)
        states.append(state)
        lost.append(lost[-1] + loss)
        if stop is not None and stop(state[:, :-1], state[:, -1]):
            break
    done = advances[: len(states) - 1]
    fo = np.concatenate([np.zeros((1, len(state))), np.cumsum(done, axis=0)])
    history = np.array(states)
    return March(law, grid, fo, history[..., :-1], history[..., -1], np.array(lost))


def _columns(steps: ArrayLike, air: ArrayLike, inverse_biot: ArrayLike) -> tuple[Array, Array]:
    advances, airs = np.asarray(steps, dtype=float), fractions(air)
    if not (np.isfinite(advances) & (advances >= 0)).all():
        raise ValueError("steps of Fo must be finite and not negative")
    advances = advances[:, None] if advances.ndim == 1 else advances
    airs = airs[:, None] if airs.ndim == 1 else airs
    films = np.atleast_1d(np.asarray(inverse_biot, dtype=float))[None, :]
    advances, airs, _ = np.broadcast_arrays(advances, airs, films)
    return advances, airs


class _System:
    """The equations of one step. A state is (m, n + 1): the cells, then the open face."""

    def __init__(self, table: Potential, grid: Grid, films: Array) -> None:
        self.table, self.grid, self.films = table, grid, films
        self.links, self.volumes = grid.links, np.append(grid.volumes, 0.0)

    def step(self, state: Array, advance: Array, air: Array) -> tuple[Array, Array]:
        share = _GAMMA * advance
        middle, early = self._solve(state, state, share, air)
        rest = (1.0 - _GAMMA) / _GAMMA
        end, late = self._solve(middle, state + rest * (middle - state), share, air)
        return end, advance * ((1.0 - _GAMMA) * early + _GAMMA * late)

    def ordered_step(self, state: Array, advance: Array, air: Array) -> tuple[Array, Array]:
        end, flux = self._solve(state, state, advance, air)
        return end, advance * flux

    def _solve(self, guess: Array, base: Array, share: Array, air: Array) -> tuple[Array, Array]:
        """State with V (state - base) = share x inflow, and the flux out of the last cell."""
        state = guess.copy()
        state[:, -1] = np.where(self.films == 0.0, air, state[:, -1])
        for _ in range(_NEWTON_STEPS):
            potential, slope = self.table.at(state)
            flux = self.links * (potential[:, :-1] - potential[:, 1:])
            missed = self._missed(state - base, state[:, -1] - air, share, flux)
            move = self._newton(missed, share, slope)
            if np.abs(move).max() < _EXACT:
                # The flux of the state moved to, so that the loss is what the cells gave up.
                inner, outer = slope[:, -2] * move[:, -2], slope[:, -1] * move[:, -1]
                return state + move, flux[:, -1] + self.links[-1] * (inner - outer)
            state = state + np.clip(move, -_BOUND, _BOUND)
        raise ArithmeticError("moisture did not settle within a step")

    def _missed(self, change: Array, above: Array, share: Array, flux: Array) -> Array:
        passed = share[:, None] * flux
        missed = self.volumes * change
        missed[:, :-1] += passed
        missed[:, 1:-1] -= passed[:, :-1]
        # At the face, what comes up goes off through the film: face Bi (H - air) = flux.
        missed[:, -1] = self.grid.face * above - self.films * flux[:, -1]
        return np.asarray(missed)

    def _newton(self, missed: Array, share: Array, slope: Array) -> Array:
        pull = self.links * slope[:, :-1]  # of a link on its inner end
        push = self.links * slope[:, 1:]  # and on its outer end
        scale = share[:, None]
        diagonal = np.broadcast_to(self.volumes, missed.shape).copy()
        diagonal[:, :-1] += scale * pull
        diagonal[:, 1:-1] += scale * push[:, :-1]
        diagonal[:, -1] = self.grid.face + self.films * push[:, -1]
        upper, lower = np.zeros_like(missed), np.zeros_like(missed)
        upper[:, :-1] = -scale * push
        lower[:, :-2] = -scale * pull[:, :-1]
        lower[:, -2] = -self.films * pull[:, -1]
        # Columns stand one after another in a single tridiagonal system, with nothing between.
        *_, moved, failed = dgtsv(
            lower.ravel()[:-1], diagonal.ravel(), upper.ravel()[:-1], -missed.ravel()
        )
        if failed:
            raise ArithmeticError("the equations of a step have no solution")
        return np.asarray(moved).reshape(missed.shape)


def first_fall(times: Array, values: Array, target: float) -> Array:
    """When each column of values first comes down to a target, linear between steps; inf if never.

    Parameters
    ----------
    times : (k + 1, 1) or (k + 1, m); values : (k + 1, m)

    Returns
    -------
    (m,) in the unit of `times`
    """
    times = np.broadcast_to(times, values.shape)
    below = values <= target
    reached = below.any(axis=0)
    after = np.argmax(below, axis=0)
    before = np.maximum(after - 1, 0)
    column = np.arange(values.shape[1])
    high, low = values[before, column], values[after, column]
    drop = high - low
    share = np.where(drop > 0, (high - target) / np.where(drop > 0, drop, 1.0), 1.0)
    found = times[before, column] + share * (times[after, column] - times[before, column])
    return np.asarray(np.where(reached, np.where(after == 0, times[0], found), np.inf))
