"""Curves through strength tests: the nearest one of each form, and how sure it is.

Ages are equivalent hours at the reference temperature, strengths MPa. Both forms are a shape of
two numbers times a strength in the long run, and that strength follows from the shape by one
division; so only two numbers are searched, for as many sets of tests at once as there are.

References
----------
ASTM C1074, Annex A1 (hyperbolic) and X1 (exponential). Golub and Pereyra (1973) for the split.
Efron and Tibshirani (1993), chapter 6, for the bootstrap from a model of the scatter.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import least_squares

from curing.strength import Exponential, Hyperbolic

Array = NDArray[np.float64]

FEWEST = 3  # tests, and ages they were broken at: as many as a curve has numbers
DRAWS, SEED = 300, 1074
LEVEL = 0.9  # of the band

# What a mix may have, so that a fit is always one that can be used and edited.
SU_LEAST, SU_GREATEST = 1.0, 200.0  # MPa
K_LEAST, K_GREATEST = 1e-5, 10.0  # 1/h
T0_GREATEST = 72.0  # h
TAU_LEAST, TAU_GREATEST = 0.1, 2000.0  # h
ALPHA_LEAST, ALPHA_GREATEST = 0.05, 10.0

# Tests scatter in proportion to strength. What is presumed before the tests have shown their own:
# 8 % [cp], worth three tests. Three tests alone would otherwise lie on their curve and look sure.
PRESUMED_SCATTER, PRESUMED_TESTS = 0.08, 3.0
LOW_SHARE = 0.2  # of the strongest test: below it the scatter shrinks no further

COARSE, ROUNDS, STEPS = 40, 8, 14


class Form(StrEnum):
    """The two forms of curve, by the names that a mix has for them."""

    HYPERBOLIC = "hyperbolic"
    EXPONENTIAL = "exponential"


def _hyperbolic_shape(ages: Array, first: Array, second: Array) -> Array:
    run = np.exp(first) * np.maximum(ages - second, 0.0)
    return np.asarray(run / (1.0 + run))


def _exponential_shape(ages: Array, first: Array, second: Array) -> Array:
    return np.asarray(np.exp(-np.exp(np.exp(second) * (first - np.log(ages)))))


# (ages, ln k or ln tau, t0 or ln alpha) -> share of the strength in the long run
Shape = Callable[[Array, Array, Array], Array]
SHAPES: dict[Form, Shape] = {
    Form.HYPERBOLIC: _hyperbolic_shape,
    Form.EXPONENTIAL: _exponential_shape,
}


def _limits(form: Form, ages: Array) -> tuple[Array, Array]:
    if form is Form.EXPONENTIAL:
        low = [math.log(TAU_LEAST), math.log(ALPHA_LEAST)]
        return np.array(low), np.array([math.log(TAU_GREATEST), math.log(ALPHA_GREATEST)])
    last = min(T0_GREATEST, float(ages.min()) * (1.0 - 1e-9))  # a test lies after setting
    return np.array([math.log(K_LEAST), 0.0]), np.array([math.log(K_GREATEST), last])


def _scaled(shape: Array, values: Array) -> tuple[Array, Array]:
    """The best `su` for shapes (..., n) of values (..., n), and the squares it misses them by."""
    across, along = (shape * values).sum(-1), (shape * shape).sum(-1)
    su = np.clip(across / np.maximum(along, 1e-300), SU_LEAST, SU_GREATEST)
    return su, ((su[..., None] * shape - values) ** 2).sum(-1)


def nearest(form: Form, ages: ArrayLike, strengths: ArrayLike) -> Array:
    """The nearest curve of a form to each of many sets of tests at the same ages.

    Parameters
    ----------
    form : which curve
    ages : (n,) [h], above 0
    strengths : (m, n) [MPa], one row a set

    Returns
    -------
    (m, 3) : su [MPa], then ln k and t0 [h] or ln tau and ln alpha, each within the module's limits.
    A grid over the two numbers of the shape, smaller ones round the best, then downhill.
    """
    times, sets = np.asarray(ages, dtype=float), np.asarray(strengths, dtype=float)
    low, high = _limits(form, times)
    shape = SHAPES[form]
    axes = [np.linspace(low[n], high[n], COARSE) for n in (0, 1)]
    first, second = (axis.ravel() for axis in np.meshgrid(*axes, indexing="ij"))
    coarse = shape(times, first[:, None], second[:, None])
    across, along = sets @ coarse.T, (coarse * coarse).sum(1)
    su = np.clip(across / np.maximum(along, 1e-300), SU_LEAST, SU_GREATEST)
    best = (su * su * along - 2.0 * su * across).argmin(1)
    centre = np.stack([first[best], second[best]], axis=1)
    half = np.repeat(((high - low) / (COARSE - 1))[None, :], len(sets), axis=0)
    steps = np.stack(np.meshgrid([-1, -0.5, 0, 0.5, 1], [-1, -0.5, 0, 0.5, 1]), -1).reshape(-1, 2)
    rows = np.arange(len(sets))
    for _ in range(ROUNDS):
        tried = np.clip(centre[:, None, :] + steps * half[:, None, :], low, high)
        missed = _scaled(shape(times, tried[..., :1], tried[..., 1:]), sets[:, None, :])[1]
        best = missed.argmin(1)
        centre = tried[rows, best]
        # Shrink only where the best lies inside: a narrow valley is followed, not cut off.
        half *= np.where(np.abs(steps[best]).max(1) < 1, 0.5, 1.0)[:, None]
    centre = _descended(shape, times, sets, centre, (low, high))
    su = _scaled(shape(times, centre[:, :1], centre[:, 1:]), sets)[0]
    return np.column_stack([su, centre])


def _descended(
    shape: Shape, times: Array, sets: Array, centre: Array, limits: tuple[Array, Array]
) -> Array:
    """Damped Gauss-Newton steps of (m, 2) shapes, each set by itself; worse ones are not taken."""
    small, damping = 1e-5, np.full(len(sets), 1e-3)

    def missed_by(at: Array) -> Array:
        shares = shape(times, at[:, :1], at[:, 1:])
        return np.asarray(_scaled(shares, sets)[0][:, None] * shares - sets)

    missed = missed_by(centre)
    for _ in range(STEPS):
        slopes = np.stack(
            [(missed_by(centre + small * one) - missed) / small for one in np.eye(2)], axis=2
        )
        pull = np.einsum("mni,mn->mi", slopes, missed)
        # What lies at a limit and would go beyond it stays there: cut off after the step, it would
        # spoil the other number's, which was chosen to go with it.
        held = ((centre <= limits[0]) & (pull > 0)) | ((centre >= limits[1]) & (pull < 0))
        slopes, pull = np.where(held[:, None, :], 0.0, slopes), np.where(held, 0.0, pull)
        normal = np.einsum("mni,mnj->mij", slopes, slopes)
        diagonal = np.einsum("mii->mi", normal)
        normal = normal + np.eye(2) * (damping[:, None] * diagonal + 1e-12)[:, None, :]
        step = np.linalg.solve(normal, pull[..., None])[..., 0]
        tried = np.clip(centre - step, *limits)
        result = missed_by(tried)
        better = (result**2).sum(1) < (missed**2).sum(1)
        centre = np.where(better[:, None], tried, centre)
        missed = np.where(better[:, None], result, missed)
        damping = np.clip(damping * np.where(better, 0.2, 8.0), 1e-9, 1e9)
    return centre


def curve_from(form: Form, numbers: Array) -> Hyperbolic | Exponential:
    """The curve that a row of `nearest` stands for."""
    su, first, second = (float(number) for number in numbers)
    if form is Form.EXPONENTIAL:
        return Exponential(su=su, tau=math.exp(first), alpha=math.exp(second))
    return Hyperbolic(su=su, k=math.exp(first), t0=second)


def _polished(form: Form, times: Array, values: Array) -> Hyperbolic | Exponential:
    """From the best of the grid to the least squares, within the module's limits."""
    low, high = _limits(form, times)
    bounds = (np.append(SU_LEAST, low), np.append(SU_GREATEST, high))
    inside = 1e-9 * (bounds[1] - bounds[0])

    def missed(guess: Array) -> Array:
        return np.asarray(guess[0] * SHAPES[form](times, guess[1], guess[2]) - values)

    start = nearest(form, times, values[None, :])[0]
    found = least_squares(
        missed,
        x0=np.clip(start, bounds[0] + inside, bounds[1] - inside),
        bounds=bounds,
        x_scale=[float(values.max()), 1.0, max(0.1 * float(high[1] - low[1]), 1e-3)],
        xtol=1e-13,
        ftol=1e-13,
        gtol=1e-13,
        max_nfev=2000,
    )
    return curve_from(form, found.x)


def fit_within_limits(ages: ArrayLike, strengths: ArrayLike) -> Hyperbolic:
    """The hyperbolic curve nearest to tests, by least squares within the module's limits.

    The same curve as `curing.strength.fit_hyperbolic` wherever that one lies within them. It leaves
    them where tests still rise in a straight line, which say nothing of the long run: there the
    strength without bound runs off, slowly. Arguments and errors as `checked`.

    Reference: ASTM C1074, Annex A1.1.8.
    """
    curve = _polished(Form.HYPERBOLIC, *checked(ages, strengths))
    assert isinstance(curve, Hyperbolic)
    return curve


def fit_exponential(ages: ArrayLike, strengths: ArrayLike) -> Exponential:
    """The exponential curve nearest to tests, by least squares within the module's limits.

    Parameters
    ----------
    ages : (n,) equivalent ages [h], n at least 3, above 0
    strengths : (n,) [MPa], above 0

    Raises
    ------
    ValueError
        Fewer than three different ages, lengths that differ, or values that are not above 0.

    Reference: ASTM C1074, X1 (the three-parameter exponential form).
    """
    curve = _polished(Form.EXPONENTIAL, *checked(ages, strengths))
    assert isinstance(curve, Exponential)
    return curve


def checked(ages: ArrayLike, strengths: ArrayLike) -> tuple[Array, Array]:
    """Both as float arrays of one length. ValueError says what is wrong with them."""
    times, values = np.asarray(ages, dtype=float), np.asarray(strengths, dtype=float)
    if times.shape != values.shape or times.ndim != 1:
        raise ValueError("ages and strengths must be of one length")
    if not (np.isfinite(times + values).all() and (times > 0).all() and (values > 0).all()):
        raise ValueError("ages and strengths must be finite and above 0")
    if len(np.unique(times)) < FEWEST:
        raise ValueError("a curve of three parameters needs tests at three ages or more")
    return times, values


@dataclass(frozen=True)
class Fit:
    """A curve through tests. `draws` are curves through tests as they might have come out."""

    form: Form
    curve: Hyperbolic | Exponential
    ages: Array  # (n,) h
    strengths: Array  # (n,) MPa
    scatter: float  # of a test about the curve, as a share of its strength
    draws: Array  # (m, 3), as `nearest` gives them

    @cached_property
    def residuals(self) -> Array:
        """(n,) test less curve [MPa]."""
        return np.asarray(self.strengths - self.curve.at(self.ages))

    @property
    def squares(self) -> float:
        """Sum of squared residuals [MPa²]."""
        return float((self.residuals**2).sum())

    @property
    def misses_by(self) -> float:
        """Root of the mean squared residual [MPa]."""
        return math.sqrt(self.squares / len(self.ages))

    def band(self, age_hours: ArrayLike, level: float = LEVEL) -> tuple[Array, Array]:
        """Lower and upper strength [MPa] of the middle `level` of curves at (m,) ages [h]."""
        ages = np.atleast_1d(np.asarray(age_hours, dtype=float))
        started = np.maximum(ages, 1e-9)
        shares = SHAPES[self.form](started, self.draws[:, 1:2], self.draws[:, 2:3])
        tail = (1.0 - level) / 2.0
        low, high = np.quantile(self.draws[:, :1] * shares, [tail, 1.0 - tail], axis=0)
        return np.where(ages > 0, low, 0.0), np.where(ages > 0, high, 0.0)

    def age_band(self, mpa: float, level: float = LEVEL) -> tuple[float, float]:
        """Earlier and later age [h] of the middle `level` at which `mpa` is reached; inf: never."""
        reached = np.array([curve_from(self.form, row).age_at(mpa) for row in self.draws])
        tail = (1.0 - level) / 2.0
        low, high = np.quantile(reached, [tail, 1.0 - tail], method="nearest")
        return float(low), float(high)


def scatter_of(curve: Hyperbolic | Exponential, ages: Array, strengths: Array) -> float:
    """Scatter of tests about a curve as a share of strength, drawn towards the presumed 8 %."""
    expected = curve.at(ages)
    about = np.maximum(expected, LOW_SHARE * float(expected.max()))
    own = float((((strengths - expected) / about) ** 2).sum())
    free = PRESUMED_TESTS + max(len(ages) - 3, 0)
    return math.sqrt((PRESUMED_TESTS * PRESUMED_SCATTER**2 + own) / free)


def _made_up(expected: Array, scatter: float, draws: int, seed: int) -> Array:
    """(draws, n) tests as they might have come out; how much they scatter is drawn too."""
    chance = np.random.default_rng(seed)
    free = PRESUMED_TESTS + max(len(expected) - 3, 0)
    spread = scatter * np.sqrt(free / chance.chisquare(free, size=(draws, 1)))
    about = np.maximum(expected, LOW_SHARE * float(expected.max()))
    made = expected + about * spread * chance.standard_normal((draws, len(expected)))
    return np.maximum(made, 1e-3)


def fit(
    form: Form, ages: ArrayLike, strengths: ArrayLike, *, draws: int = DRAWS, seed: int = SEED
) -> Fit:
    """The nearest curve of a form with its bootstrap draws: the same for the same tests.

    Parameters
    ----------
    form : which curve
    ages : (n,) equivalent ages [h], at least three different ones, in any order
    strengths : (n,) [MPa]
    draws : curves for the band; seed : of their chance

    Raises
    ------
    ValueError
        See `checked`.
    """
    times, values = checked(ages, strengths)
    order = np.lexsort((values, times))
    times, values = times[order], values[order]
    fitter = fit_exponential if form is Form.EXPONENTIAL else fit_within_limits
    curve = fitter(times, values)
    scatter = scatter_of(curve, times, values)
    drawn = nearest(form, times, _made_up(curve.at(times), scatter, draws, seed))
    return Fit(form, curve, times, values, scatter, drawn)


@dataclass(frozen=True)
class SideBySide:
    """Both forms through the same tests."""

    hyperbolic: Fit
    exponential: Fit

    @property
    def better(self) -> Fit:
        """The one that misses the tests by less; the hyperbolic one when they are even."""
        closer = self.exponential.squares < self.hyperbolic.squares and self.lead > 0.01
        return self.exponential if closer else self.hyperbolic

    @property
    def lead(self) -> float:
        """How much better: the difference of Akaike's criterion, n ln(ratio of squares).

        Both have three parameters. Under 2 the tests hardly tell them apart; over 6 they do.
        """
        count, top = len(self.hyperbolic.ages), float(self.hyperbolic.strengths.max())
        least = count * (1e-4 * top) ** 2  # closer than any press reads
        pair = [max(one.squares, least) for one in (self.hyperbolic, self.exponential)]
        return count * math.log(max(pair) / min(pair))

    @property
    def clear(self) -> bool:
        """Whether the tests tell the two forms apart."""
        return self.lead >= 2.0


def side_by_side(
    ages: ArrayLike, strengths: ArrayLike, *, draws: int = DRAWS, seed: int = SEED
) -> SideBySide:
    """Hyperbolic and exponential fits of the same tests. Arguments and errors as `fit`."""
    return SideBySide(
        hyperbolic=fit(Form.HYPERBOLIC, ages, strengths, draws=draws, seed=seed),
        exponential=fit(Form.EXPONENTIAL, ages, strengths, draws=draws, seed=seed),
    )
