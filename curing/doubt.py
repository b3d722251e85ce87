"""What is not known of a piece's dates, and draws of it: the same facts give the same draws.

Each cause is drawn by itself from a stream of its own, so that pieces in one room share its air,
pieces of one mix its curve and its way of drying, and only labour is a piece's own. Draws of one
number are stratified: one from each of n equally likely stretches, in a shuffled order.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from curing.fitting import Form, curve_from
from curing.moisture import BAND
from curing.strength import Curve

Array = NDArray[np.float64]

TENTH = float(ndtri(0.9))  # standard deviations from the middle to the 10 or the 90 % value
NINETY = float(ndtri(0.95))  # the same to an end of the middle 90 %
DRAWS, SEED = 200, 2026
# A curve that somebody typed, from tests that are not known here: our judgement, no source.
TYPED_BAND = 0.15
WEAKEST = 0.1  # of the likely strength; no draw is weaker


@dataclass(frozen=True)
class AirDoubt:
    """How far the expected temperature of a room may lie off.

    sd : standard deviation of the error well after the last reading [K], 0 or above
    memory : the error keeps 1/e of itself for so long [h], above 0

    The defaults hold until a room's own misses are known (`curing.misses`): our judgement of a
    heated shop, no source.
    """

    sd: float = 2.0
    memory: float = 18.0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.sd) and self.sd >= 0):
            raise ValueError(f"sd must be finite, 0 K or above, got {self.sd}")
        if not (math.isfinite(self.memory) and self.memory > 0):
            raise ValueError(f"memory must be finite and above 0 h, got {self.memory}")


@dataclass(frozen=True)
class Doubt:
    """The stated uncertainty of a piece's dates, but for its curve.

    drying : early and late drying time (10 and 90 %) as multiples of the likely one, where a
        model or an expectation tells it; hours that the shop has set are a rule, not a guess
    labour : standard deviation of ln(hours of work over those set); common practice, no source
    draws : how often each is drawn, 10 or more; seed : of all draws
    """

    air: AirDoubt = AirDoubt()
    drying: tuple[float, float] = (BAND[0], BAND[2])
    labour: float = 0.25
    draws: int = DRAWS
    seed: int = SEED

    def __post_init__(self) -> None:
        early, late = self.drying
        if not (0 < early <= 1 <= late and math.isfinite(late)):
            raise ValueError("early drying lies from above 0 to 1, late drying from 1 on")
        if not (math.isfinite(self.labour) and self.labour >= 0):
            raise ValueError(f"labour must be finite, 0 or above, got {self.labour}")
        if self.draws < 10:
            raise ValueError(f"a range needs 10 draws or more, got {self.draws}")

    def stream(self, *parts: int | str) -> np.random.Generator:
        """Random numbers of one cause and one thing, such as the air of room 3."""
        return _stream(self.seed, parts)

    def normal(self, *parts: int | str) -> Array:
        """(draws,) stratified standard normal numbers of a stream; to be read only."""
        return _normal(self.seed, self.draws, parts)

    def drying_factors(self, *parts: int | str) -> Array:
        """(draws,) real drying time over the likely one, with 1 in the middle."""
        early, late = (math.log(share) / TENTH for share in self.drying)
        z = self.normal("drying", *parts)
        return np.exp(np.where(z < 0, -early * z, late * z))

    def labour_factors(self, *parts: int | str) -> Array:
        """(draws,) real hours of work over those set, with 1 in the middle."""
        return np.exp(self.labour * self.normal("labour", *parts))


def _stream(seed: int, parts: tuple[int | str, ...]) -> np.random.Generator:
    words = [part if isinstance(part, int) else _number(part) for part in parts]
    return np.random.default_rng([seed, *words])


@lru_cache(maxsize=4096)  # every casting that is tried of a piece asks for the piece's own
def _normal(seed: int, draws: int, parts: tuple[int | str, ...]) -> Array:
    chance = _stream(seed, parts)
    inside = (np.arange(draws) + chance.random(draws)) / draws
    found = np.asarray(ndtri(np.clip(chance.permutation(inside), 1e-9, 1.0 - 1e-9)))
    found.setflags(write=False)
    return found


def _number(word: str) -> int:
    return int.from_bytes(word.encode(), "big")


class CurveDraws(Protocol):
    """A strength curve as it may be."""

    def ages_at(self, mpa: float) -> Array:
        """(draws,) ages at which a strength is reached [h]; inf where it never is."""
        ...

    def strengths_at(self, ages: Array) -> Array:
        """(draws, n) strengths [MPa] at ages of each draw, (draws, n) [h]."""
        ...


@dataclass(frozen=True, eq=False)
class Curves:
    """A curve drawn as many curves, all of them alike likely."""

    each: Sequence[Curve]
    _found: dict[float, Array] = field(default_factory=dict, repr=False)

    def ages_at(self, mpa: float) -> Array:
        if mpa not in self._found:
            self._found[mpa] = np.array([curve.age_at(mpa) for curve in self.each])
        return self._found[mpa]

    def strengths_at(self, ages: Array) -> Array:
        return np.array([curve.at(row) for curve, row in zip(self.each, ages, strict=True)])


@dataclass(frozen=True, eq=False)
class ScaledCurves:
    """One curve, its strengths times a factor that is drawn.

    curve : the likely one; factors : (draws,) above 0
    """

    curve: Curve
    factors: Array
    _found: dict[float, Array] = field(default_factory=dict, repr=False)

    def ages_at(self, mpa: float) -> Array:
        if mpa not in self._found:
            ages = [self.curve.age_at(mpa / factor) for factor in self.factors.tolist()]
            self._found[mpa] = np.array(ages)
        return self._found[mpa]

    def strengths_at(self, ages: Array) -> Array:
        return np.asarray(self.factors[:, None] * self.curve.at(ages))


def within(curve: Curve, band: float, doubt: Doubt, *stream: int | str) -> ScaledCurves:
    """A curve that may lie `band` (a share of its strength) off either way, 9 times in 10.

    Raises
    ------
    ValueError
        A band outside 0 to under 1.
    """
    if not 0 <= band < 1:
        raise ValueError(f"a band is a share of the strength, 0 to under 1, got {band}")
    factors = 1.0 + band / NINETY * doubt.normal("curve", *stream)
    return ScaledCurves(curve, np.maximum(factors, WEAKEST))


def from_fit(form: Form, rows: Array, doubt: Doubt, *stream: int | str) -> Curves:
    """Curves from a fit's bootstrap, (m, 3) as `curing.fitting` gives them, drawn anew."""
    order = np.argsort(doubt.normal("curve", *stream))
    chosen = np.empty(doubt.draws, dtype=int)
    chosen[order] = np.arange(doubt.draws) * len(rows) // doubt.draws
    return Curves([curve_from(form, rows[number]) for number in chosen])


def quantiles(values: Array, levels: Sequence[float] = (0.1, 0.5, 0.9)) -> Array:
    """Quantiles along the last axis, of which some values may be inf: the value at or above.

    No mean is taken between two draws, one of which may lie behind a night and be no time that
    anybody works.
    """
    ordered = np.sort(values, axis=-1)
    count = values.shape[-1]
    places = [min(count - 1, max(0, math.ceil(level * count) - 1)) for level in levels]
    return np.asarray(ordered[..., places])
