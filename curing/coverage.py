"""Are the stated chances true? Simulated shops whose truth is drawn from the stated uncertainty.

In each shop a piece is cast into a room with readings up to now. Its range is made from what the
shop knows; then the truth is drawn, by other code than the range uses, and the timeline gone
through with it. Where people work round the clock every time is possible and the late time is
kept as often as it says. Where they work shifts, many draws share the start of a shift: the late
time is then kept at least as often, and the rank of the truth among the draws, ties drawn by lot,
is what must be level.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curing.climate import Climate, Readings, compose
from curing.doubt import NINETY, TENTH, AirDoubt, Doubt, within
from curing.drying_rate import DryingRate
from curing.moisture import Concrete, Slab
from curing.sealing import CoatLimits, Sealer
from curing.spread import spread
from curing.strength import PLACEHOLDER, Hyperbolic
from curing.timeline import Shifts, Step, derive

Array = NDArray[np.float64]

CASES = 2000
BAND = 0.30
LEVELS = (0.1, 0.5, 0.9)
AHEAD = 35 * 24.0
SEALER = Sealer(limits=CoatLimits(celsius_least=-20.0, celsius_greatest=55.0))


@dataclass(frozen=True, eq=False)
class Coverage:
    """at_or_before, ranked : by the levels 10, 50 and 90 %, the share of cases [0..1]"""

    crew: str
    cases: int
    at_or_before: Array
    ranked: Array


def coverage(cases: int = CASES, *, seed: int = 1, round_the_clock: bool = False) -> Coverage:
    """How often the truth came by the time that was given for each level.

    Parameters
    ----------
    cases : simulated shops, 1 or more; seed : of all of them

    Raises
    ------
    ValueError
        No cases.
    """
    if cases < 1:
        raise ValueError("coverage needs one case or more")
    chance = np.random.default_rng(seed)
    came = np.array([_case(chance, round_the_clock) for _ in range(cases)])
    crew = "round the clock" if round_the_clock else "in shifts"
    ranked = [(came[:, 3] <= level).mean() for level in LEVELS]
    return Coverage(crew, cases, came[:, :3].mean(axis=0), np.array(ranked))


def _case(chance: np.random.Generator, round_the_clock: bool) -> tuple[float, ...]:
    now = float(chance.uniform(48.0, 72.0))
    cast = now + float(chance.uniform(-30.0, 8.0))
    doubt = Doubt(
        AirDoubt(sd=float(chance.uniform(0.5, 4.0)), memory=float(chance.uniform(5.0, 40.0))),
        seed=int(chance.integers(1 << 30)),
    )
    known: dict[str, Any] = {
        "cast": cast,
        "steps": _route(chance),
        "climate": _room(chance, now),
        "curve": PLACEHOLDER,
        "shifts": _shifts(chance, round_the_clock),
        "sealer": SEALER,
        "now": now,
        "done": {"cast": cast} if cast <= now else {},
    }
    found = spread(**known, doubt=doubt, curves=within(PLACEHOLDER, BAND, doubt))
    ready = found.workable[-1]
    truth = derive(**{**known, **_truth(chance, known, doubt)})[-1].workable
    one = found.ranges()[-1]
    below, level = np.mean(ready < truth - 1e-3), np.mean(np.abs(ready - truth) <= 1e-3)
    rank = below + level * chance.uniform()
    return truth <= one.early + 1e-3, truth <= one.likely + 1e-3, truth <= one.late + 1e-3, rank


def _room(chance: np.random.Generator, now: float) -> Climate:
    knots = np.arange(-48.0, now + AHEAD)
    day, night = chance.uniform(15.0, 24.0), chance.uniform(6.0, 18.0)
    plan = np.where((knots % 24 > 6) & (knots % 24 < 18), day, night)
    hours = np.arange(0.0, now, 1.0)
    off = chance.normal(0.0, 1.0) + np.cumsum(chance.normal(0.0, 0.2, len(hours)))
    damp = float(chance.uniform(0.35, 0.65))
    return compose(
        readings=Readings.of(hours, np.interp(hours, knots, plan) + off, np.full(len(hours), damp)),
        planned=Readings.of(knots, plan, np.full(len(knots), damp)),
        now=now,
    )


def _shifts(chance: np.random.Generator, round_the_clock: bool) -> Shifts:
    if round_the_clock:
        return Shifts([(-48.0, AHEAD * 2)])
    start, length = float(chance.uniform(6.0, 8.0)), float(chance.uniform(8.0, 10.0))
    days = range(int(AHEAD / 24))
    return Shifts([(d * 24 + start, d * 24 + start + length) for d in days if d % 7 < 5])


def _route(chance: np.random.Generator) -> tuple[Step, ...]:
    """With drying by the model or by hours, and work of an hour or two at each step."""

    def hours() -> float:
        return float(chance.uniform(0.3, 2.5))

    drying: dict[str, Any] = {"drying_hours": float(chance.uniform(24.0, 72.0))}
    if chance.random() < 0.5:
        slab = Slab(float(chance.uniform(0.015, 0.025)))
        drying = {"dries": DryingRate.of(slab, Concrete(), 0.85)}
    strength = float(chance.uniform(8.0, 22.0))
    return (
        Step("cast", "cast"),
        Step("demold", "demold", strength_mpa=strength, kind="demold", labour_hours=hours()),
        Step("hone", "hone", equivalent_hours=30.0, wets=True, labour_hours=hours()),
        Step("seal-1", "coat 1", coat=1, labour_hours=0.5, **drying),
        Step("seal-2", "coat 2", coat=2, labour_hours=0.5),
        Step("crate", "crate", film=True, labour_hours=hours()),
        Step("deliver", "deliver"),
    )


def _truth(chance: np.random.Generator, known: dict[str, Any], doubt: Doubt) -> dict[str, Any]:
    """What is so in the end: one draw of each stated uncertainty, made here by other means."""
    climate = known["climate"]
    scale = max(1.0 + BAND / NINETY * chance.normal(), 0.1)
    z = chance.normal()
    early, late = doubt.drying
    slower = early ** (-z / TENTH) if z < 0 else late ** (z / TENTH)

    def true(step: Step) -> Step:
        longer = 1.0 if step.coat else math.exp(doubt.labour * chance.normal())
        return replace(step, labour_hours=step.labour_hours * longer, dries=_slower(step, slower))

    return {
        "climate": replace(climate, celsius=_true_air(chance, climate, doubt.air), _clocks={}),
        # The air that a coat needs is no part of the range, nor of what is tried here.
        "coating_climate": climate,
        "curve": Hyperbolic(PLACEHOLDER.su * scale, PLACEHOLDER.k, PLACEHOLDER.t0),
        "steps": [true(step) for step in known["steps"]],
    }


def _slower(step: Step, factor: float) -> DryingRate | None:
    if step.dries is None:
        return None
    concrete = Concrete(d1=Concrete().d1 / factor)
    return DryingRate.of(step.dries.slab, concrete, step.dries.target)


def _true_air(chance: np.random.Generator, climate: Climate, doubt: AirDoubt) -> Array:
    """Expected air plus one path of the error after the last reading, and a bridge before."""
    last = climate.hours[0] if climate.last_measured is None else climate.last_measured
    since = np.maximum(climate.hours - last, 0.0)
    # In the time of a Brownian motion: sd exp(-t / memory) W(exp(2 t / memory) - 1).
    far = np.minimum(since / doubt.memory, 300.0)
    moved = np.diff(np.expm1(2.0 * far), prepend=0.0)
    with np.errstate(over="ignore"):
        walk = np.cumsum(np.sqrt(np.maximum(moved, 0.0)) * chance.standard_normal(len(far)))
    return np.asarray(climate.celsius + doubt.sd * np.exp(-far) * walk)


def as_text(found: Coverage) -> list[str]:
    """For the command."""
    lines = [f"{found.cases} simulated shops, people at work {found.crew}"]
    for level, came, ranked in zip(LEVELS, found.at_or_before, found.ranked, strict=True):
        lines.append(
            f"  the {level * 100:.0f} % time: ready by then in {came * 100:5.1f} % of the cases; "
            f"truth ranked so low in {ranked * 100:5.1f} %"
        )
    return lines
