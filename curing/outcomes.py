"""What the shop's demolds say about the equivalent age at which it may trust a kind of piece.

Each demold is recorded with how it came out: clean, soft, chipped or broken. The chance of a
clean one rises with the logarithm of equivalent age t:

    logit p(t) = logit(expected) + slope (ln t - ln location),   slope > 0

`location` is the age at which the share `expected` (95 %) comes out clean; it starts from a prior
that leaves the shop at its default gate while nothing is recorded. Two-number posterior on a grid,
no sampling, so the same outcomes always give the same answer.

Bound, not mean
    The trusted age is where the 5 % edge of the chance of a clean demold reaches the target: with
    credence 95 % at least that share comes out clean. The mean would trust an age that is too
    early about half the time, and an early demold can break a piece over somebody's feet; a late
    one costs hours. The prior sets the same bound at the default gate: before any outcome it is
    95 % sure that the gate gives the expected share. Clean demolds then earn an earlier age.

Slopes at their prior weight
    Where both numbers are learned at once, one clean demold at a very early age flattens the curve
    and can make the trusted age later, and one soft at a very early age steepens it and can make it
    earlier. Nobody should be told that. So the trusted age, and the curve that is drawn with
    it, learn the location for each slope and give the slopes their prior weight. For a fixed slope
    every clean outcome moves the location down and every other one up, in the likelihood-ratio
    order, and so moves any mixture of slopes with fixed weights. The price is a slope that stays
    our judgement: where most demolds were far from the target the age stays later than it need be.
    The joint posterior stands beside it (`location`, `mode`, `joint_age`).

Two guards, both in that order
    Broken: the trusted age stays 5 % above the greatest age at which a piece broke, however many
    came out clean there. A piece broken by something else than its youth (dropped, hit) is for
    the caller to leave out.
    Step: the trusted age never goes more than 10 % below an age by which ten came out clean, and
    never below the default gate before that. So it comes down by steps that were seen to hold, and
    neither a handful of demolds nor one lucky early one brings it down.

The spreads, the slope, the 5 %, the 10 % and the ten are our judgement, no source.

References
----------
Gelman et al., Bayesian Data Analysis, the bioassay example: logistic dose and response, its
posterior on a grid of two numbers (from memory).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from curing.demold_chance import ChanceGrid, Prior

__all__ = [
    "Because",
    "ChanceCurve",
    "Evidence",
    "Location",
    "Mode",
    "Outcome",
    "Point",
    "Prior",
    "Suggestion",
    "Trusted",
    "learn",
]

Array = NDArray[np.float64]

LOW_EDGE, HIGH_EDGE = 0.05, 0.95  # of the band; the lower one is the trusted age's
BROKEN_MARGIN = 0.05
STEP_BELOW, STEP_CLEAN = 0.10, 10
LEAST_TO_ASK = 0.25  # h; for less nobody need be asked


class Outcome(StrEnum):
    """How a piece came out of its form."""

    CLEAN = "clean"
    SOFT = "soft"
    CHIPPED = "chipped"
    BROKEN = "broken"


class Because(StrEnum):
    """What sets an age."""

    OUTCOMES = "outcomes"  # the bound from the recorded demolds
    BROKEN = "broken"  # just above an age at which a piece broke
    STEP = "step"  # a step below ten clean demolds, or the default gate before there are ten
    FLOOR = "floor"  # the owner's floor
    IN_FORCE = "in_force"  # the gate in force


def _above_zero(name: str, value: float) -> None:
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"{name} must be finite and above 0 h, got {value}")


@dataclass(frozen=True)
class Point:
    """The demolds at one age [h at 20 °C], counted by how they came out."""

    age_hours: float
    clean: int = 0
    soft: int = 0
    chipped: int = 0
    broken: int = 0

    @property
    def not_clean(self) -> int:
        """Soft, chipped and broken count alike for the chance of a clean demold."""
        return self.soft + self.chipped + self.broken

    @property
    def count(self) -> int:
        return self.clean + self.not_clean


@dataclass(frozen=True)
class ChanceCurve:
    """Chance of a clean demold: ages (m,) [h]; mean, low, high (m,) 0 to 1, low to high 5-95 %."""

    ages: Array
    mean: Array
    low: Array
    high: Array


@dataclass(frozen=True)
class Location:
    """Age [h] at which `expected` come out clean, in the joint posterior: median and 5-95 %."""

    middle: float
    low: float
    high: float


@dataclass(frozen=True)
class Mode:
    """The likeliest pair in the joint posterior of ln location and ln slope. location : [h]"""

    location: float
    slope: float


@dataclass(frozen=True)
class Trusted:
    """An age [h at 20 °C] and what sets it."""

    hours: float
    because: Because


@dataclass(frozen=True)
class Suggestion:
    """What to do with the gate. All ages h at 20 °C.

    hours : the gate that applies now; in_force : the one that applied; trusted : from the
    outcomes and their guards, before the floor; suggested : what the owner is asked to accept, or
    the same as `hours`; asks_yes : an earlier gate waits for the owner's yes; warns : `hours` is
    later than the gate in force and applies at once; because : what sets `suggested`
    """

    hours: float
    in_force: float
    floor: float
    trusted: float
    suggested: float
    target: float
    asks_yes: bool
    warns: bool
    because: Because


@dataclass(frozen=True)
class Evidence:
    """What the outcomes of one kind of piece say. Made by `learn`.

    points : one an age, ascending; gate_hours : the default gate, on which the prior stands
    """

    points: tuple[Point, ...]
    gate_hours: float
    prior: Prior = field(default_factory=Prior)

    @property
    def counts(self) -> dict[Outcome, int]:
        """How many came out each way."""
        return {kind: sum(getattr(point, kind) for point in self.points) for kind in Outcome}

    def trusted_age(self, target: float = 0.95) -> float:
        """Equivalent age [h at 20 °C] from which at least `target` come out clean, credence 95 %.

        One more clean demold never raises it, one more that was not clean never lowers it.
        Without outcomes it is the default gate for any target up to the prior's `expected`; for
        that share the grid ends at 20 times the default gate.

        Raises
        ------
        ValueError
            `target` not from 0.5 to 0.999.
        """
        return self.trusted(target).hours

    def trusted(self, target: float = 0.95) -> Trusted:
        """As `trusted_age`, with what sets it."""
        found = [
            Trusted(self._age(self._grid.bound(self._grid.guarded, target)), Because.OUTCOMES),
            Trusted(self._least_step(), Because.STEP),
            Trusted(self._above_broken(), Because.BROKEN),
        ]
        return max(found, key=lambda each: each.hours)

    def joint_age(self, target: float = 0.95) -> float:
        """The same bound [h] where the slope is learned too, without the guards: to compare.

        It can move against a single early outcome (see the module). ValueError as `trusted_age`.
        """
        return self._age(self._grid.bound(self._grid.joint, target))

    def curve(self, ages: ArrayLike) -> ChanceCurve:
        """Chance of a clean demold at (m,) ages [h at 20 °C]: mean and 5-95 % band.

        The lower edge reaches the target at the trusted age, unless a guard holds that later. The
        mean and both edges rise with age.

        Raises
        ------
        ValueError
            Ages that are not one row of finite numbers above 0.
        """
        at = np.asarray(ages, dtype=float)
        if at.ndim != 1 or not np.all(np.isfinite(at)) or np.any(at <= 0):
            raise ValueError("ages must be one row of finite hours above 0")
        times, grid = np.log(at / self.gate_hours), self._grid
        low, high = (grid.quantile(times, share) for share in (LOW_EDGE, HIGH_EDGE))
        return ChanceCurve(at, grid.mean(times), low, high)

    def location(self) -> Location:
        """Where `expected` come out clean, by the joint posterior: median and 5-95 % [h]."""
        low, middle, high = map(self._age, self._grid.locations(LOW_EDGE, 0.5, HIGH_EDGE))
        return Location(middle, low, high)

    def mode(self) -> Mode:
        """The likeliest location [h] and slope."""
        location, log_slope = self._grid.mode()
        return Mode(self._age(location), math.exp(log_slope))

    def suggested(
        self, floor_hours: float, *, in_force: float | None = None, target: float = 0.95
    ) -> Suggestion:
        """What to do with the gate.

        Raising is automatic: the app applies `hours` at once, says that it did (`warns`), and keeps
        it as the gate in force. Lowering needs the owner's yes (`asks_yes`): until then `hours` is
        the gate in force; with it the app takes `suggested`, never below the owner's floor, and
        keeps name and time. A gain of less than a quarter of an hour asks nobody. The default
        gate on which the prior stands stays what it was, or the same outcomes would count twice.

        Parameters
        ----------
        floor_hours : the owner's floor [h at 20 °C]: no gate below it, whatever the outcomes
        in_force : the gate that applies now [h at 20 °C]; None: the default gate
        target : share of clean demolds to reach, 0.5 to 0.999

        Raises
        ------
        ValueError
            A floor or gate not above 0 or not finite; `target` outside its range.
        """
        now = self.gate_hours if in_force is None else in_force
        _above_zero("the floor", floor_hours)
        _above_zero("the gate in force", now)
        trusted = self.trusted(target)
        wanted = max(trusted, Trusted(floor_hours, Because.FLOOR), key=lambda each: each.hours)
        asks = now - wanted.hours >= LEAST_TO_ASK
        warns = wanted.hours > now
        because = wanted.because if asks or warns else Because.IN_FORCE
        return Suggestion(
            hours=max(now, wanted.hours),
            in_force=now,
            floor=floor_hours,
            trusted=trusted.hours,
            suggested=wanted.hours if asks else max(now, wanted.hours),
            target=target,
            asks_yes=asks,
            warns=warns,
            because=because,
        )

    @cached_property
    def _grid(self) -> ChanceGrid:
        return ChanceGrid(
            times=np.log([point.age_hours / self.gate_hours for point in self.points]),
            yes=np.array([point.clean for point in self.points], dtype=float),
            no=np.array([point.not_clean for point in self.points], dtype=float),
            prior=self.prior,
        )

    def _age(self, time: float) -> float:
        return self.gate_hours * math.exp(time)

    def _least_step(self) -> float:
        clean = 0
        for point in self.points:
            clean += point.clean
            if clean >= STEP_CLEAN:
                return min(self.gate_hours, point.age_hours * (1.0 - STEP_BELOW))
        return self.gate_hours

    def _above_broken(self) -> float:
        broken = [point.age_hours for point in self.points if point.broken]
        return max(broken, default=0.0) * (1.0 + BROKEN_MARGIN)


def learn(
    outcomes: Iterable[tuple[float, Outcome | str]],
    *,
    gate_hours: float,
    prior: Prior | None = None,
) -> Evidence:
    """What the demolds of one kind of piece say.

    Parameters
    ----------
    outcomes : pairs of equivalent age at demold [h at 20 °C] and how it came out, in any order. The
        caller groups (by mix, flat or with cutout) and leaves out what was struck
    gate_hours : the default gate of that kind of piece [h at 20 °C]
    prior : see `Prior`

    Raises
    ------
    ValueError
        An age or gate not above 0 or not finite, or an outcome that is none of the four.
    """
    _above_zero("the default gate", gate_hours)
    counted: Counter[tuple[float, Outcome]] = Counter()
    for age, outcome in outcomes:
        _above_zero("the age at demold", age)
        counted[float(age), _outcome(outcome)] += 1
    points = tuple(
        Point(age, **{kind.value: counted[age, kind] for kind in Outcome})
        for age in sorted({age for age, _ in counted})
    )
    return Evidence(points, float(gate_hours), prior or Prior())


def _outcome(word: Outcome | str) -> Outcome:
    try:
        return Outcome(word)
    except ValueError:
        known = ", ".join(Outcome)
        raise ValueError(f"a demold comes out as one of {known}, got {word!r}") from None
