"""A piece's drying over time, from its last wetting, the way its route counts it. Pure."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curing.climate import Climate
from curing.damp import HOTTEST, known
from curing.drying_rate import DryingRate
from curing.moisture import PROBE_SHARE, dry_out
from jobs.models import Piece
from jobs.services.outlook import PieceOutlook, StepOutlook
from jobs.services.route_steps import PieceStep
from jobs.services.weighing import losses, standing_weighings
from shop.localtime import to_hours
from shop.models import StepKind

Floats = NDArray[np.float64]

# By the criterion of the step that waits for drying.
HOURS, MODEL, WEIGHING = "drying", "moisture", "weighing"


@dataclass(frozen=True, eq=False)
class DryingCourse:
    """hours, values : (n,) from the last wetting on, or at each weighing but the first.

    rule : `HOURS` drying hours counted; `MODEL` humidity at the probe's depth [%]; `WEIGHING`
        loss a day [% of the weight]
    needed : what is asked for, in the unit of the values
    reached_at : when it is reached, None for not within sight
    step : the step that waits for it
    calibrated : with the shop's own weighings, for the model
    low, high : (n,) between which the model's humidity lies 8 times in 10; None for what is counted
        or weighed
    """

    rule: str
    hours: Floats
    values: Floats
    needed: float
    reached_at: dt.datetime | None
    step: str
    wetted_at: dt.datetime
    calibrated: bool = False
    low: Floats | None = None
    high: Floats | None = None
    soonest_at: dt.datetime | None = None  # it is reached, by the model, from this wetting on
    latest_at: dt.datetime | None = None

    @property
    def share(self) -> float:
        """Depth of the probe as a share of the thickness: pieces stand and dry from both faces."""
        return PROBE_SHARE[2]


def drying_course(
    piece: Piece,
    steps: Sequence[PieceStep],
    outlook: PieceOutlook,
    climate: Climate,
    until: float,
    *,
    off: tuple[float, float] = (1.0, 1.0),
) -> DryingCourse | None:
    """None where no step waits for drying, or its last wetting is not in sight.

    off : early and late drying time by the model, as multiples of the likely one
    """
    place = next((n for n, step in enumerate(steps) if _dries(step)), None)
    if place is None or place >= len(outlook.steps):
        return None
    wetted_at = _wetted(outlook.steps[:place])
    if wetted_at is None or to_hours(wetted_at) >= until:
        return None
    engine, shown = steps[place].engine, outlook.steps[place]
    start = to_hours(wetted_at)
    if shown.done_at:  # once it is coated it dries no more
        until = max(min(until, to_hours(shown.done_at)), start + 0.1)
    edges: tuple[Floats | None, Floats | None] = (None, None)
    if engine.dries is not None:
        times, likely, low, high = _humidity(engine.dries, climate, start, until, off)
        found, edges = (times, likely), (low, high)
        rule, needed = MODEL, 100.0 * engine.dries.target
    elif engine.weighed is not None:
        found = _losses(piece, wetted_at)
        rule, needed = WEIGHING, piece.route.weigh_percent
    else:
        times = np.linspace(start, until, 200)
        found = times, np.asarray(climate.drying_hours(start, times))
        rule, needed = HOURS, float(engine.drying_hours or 0.0)
    reached = next((wait.until for wait in shown.waits if wait.criterion == rule), None)
    return DryingCourse(
        rule=rule,
        hours=found[0],
        values=found[1],
        needed=needed,
        reached_at=reached,
        step=engine.name,
        wetted_at=wetted_at,
        calibrated=piece.mix.drying_calibrated,
        low=edges[0],
        high=edges[1],
        **_within(wetted_at, reached, off if rule == MODEL else None),
    )


def _within(
    wetted_at: dt.datetime, reached: dt.datetime | None, off: tuple[float, float] | None
) -> dict[str, dt.datetime]:
    if reached is None or off is None or reached <= wetted_at:
        return {}
    soonest, latest = (wetted_at + share * (reached - wetted_at) for share in off)
    return {"soonest_at": soonest, "latest_at": latest}


def _dries(step: PieceStep) -> bool:
    engine = step.engine
    return bool(engine.drying_hours) or engine.dries is not None or engine.weighed is not None


def _wetted(before: Sequence[StepOutlook]) -> dt.datetime | None:
    """When the last step that wets or uncovers the piece was, or will be, finished."""
    wetting = [s.done_at or s.finish for s in before if s.wets or s.kind == StepKind.DEMOLD]
    if not wetting or any(at is None for at in wetting):
        return None
    return max(at for at in wetting if at)


def _humidity(
    rate: DryingRate, climate: Climate, start: float, until: float, off: tuple[float, float]
) -> tuple[Floats, Floats, Floats, Floats]:
    """Hours; likely, lowest and highest humidity [%]. A slab that dries so many times faster is
    now where the likely one will be after so many times as long."""
    early, late = off
    ends = start + (until - start) / early
    inside = climate.hours[(climate.hours > start) & (climate.hours < ends)]
    hours = np.concatenate([[start], inside, [ends]])
    dried = dry_out(
        rate.slab,
        rate.concrete,
        hours,
        np.minimum(climate.celsius_at(hours), HOTTEST),
        known(climate.humidity_at(hours)),
    )
    passed, humidity = dried.hours, 100.0 * dried.humidity()
    shown = np.append(passed[passed < until - start], until - start)
    likely, low, high = (np.interp(shown / share, passed, humidity) for share in (1.0, early, late))
    return start + shown, likely, low, high


def _losses(piece: Piece, wetted_at: dt.datetime) -> tuple[Floats, Floats]:
    kept = standing_weighings(list(piece.weighings.all()), wetted_at)
    found = losses(kept)
    at = np.array([to_hours(loss.until.at) for loss in found])
    return at, np.array([loss.percent_a_day for loss in found])


def value_at(course: DryingCourse, hour: float) -> float | None:
    """What it has come to at an hour; None before it starts, and after what is known."""
    if not len(course.hours) or not course.hours[0] <= hour <= course.hours[-1]:
        return None
    return float(np.interp(hour, course.hours, course.values))
