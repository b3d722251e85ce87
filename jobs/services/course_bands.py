"""How far a piece's air, age and strength may lie off the likely lines, and its gates with them.

Everything here is of the draws that its dates are of (`how_sure`): 10 and 90 of 100, so that the
edge of a band meets a gate at the gate's own early or late time.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curing.doubt import TENTH, quantiles
from curing.drawn import error_sd
from jobs.services.how_sure import Drawn
from shop.localtime import from_hours, to_hours

Floats = NDArray[np.float64]

EDGES = (0.1, 0.9)


@dataclass(frozen=True, eq=False)
class Band:
    """low, high : (n,); alike where nothing is left to doubt"""

    low: Floats
    high: Floats

    @classmethod
    def of(cls, draws: Floats, likely: Floats) -> Band:
        """draws : (draws, n); the likely line lies inside."""
        edges = quantiles(draws.T, EDGES)
        return cls(np.minimum(edges[:, 0], likely), np.maximum(edges[:, 1], likely))


@dataclass(frozen=True, eq=False)
class Bands:
    celsius: Band
    ages: Band
    strengths: Band


def bands_of(
    drawn: Drawn,
    energy: float,
    *,
    hours: Floats,
    cast: float,
    celsius: Floats,
    ages: Floats,
    strengths: Floats,
) -> Bands:
    """hours and the likely lines over them : (n,)"""
    climate = drawn.air.climate
    off = TENTH * np.interp(hours, climate.hours, error_sd(climate, drawn.doubt.air))
    clock = drawn.age_clock(energy)
    started = clock.along(np.array([cast]))
    aged = np.maximum(clock.along(np.maximum(hours, cast)) - started, 0.0)
    return Bands(
        celsius=Band(celsius - off, celsius + off),
        ages=Band.of(aged, ages),
        strengths=Band.of(drawn.curves.strengths_at(aged), strengths),
    )


def reached_within(
    drawn: Drawn, energy: float, cast: float, ages: Floats | float, likely: dt.datetime | None
) -> tuple[dt.datetime | None, dt.datetime | None]:
    """Early and late time at which an age is reached; None: not within sight.

    ages : the same for every draw, or (draws,)
    """
    asked = np.broadcast_to(np.asarray(ages, dtype=float), drawn.doubt.draws).copy()
    times = drawn.age_clock(energy).time_of(np.full(drawn.doubt.draws, cast), asked)
    early, late = quantiles(times, EDGES).tolist()
    if likely is not None:
        early, late = min(early, to_hours(likely)), max(late, to_hours(likely))
    return _moment(early), _moment(late)


def _moment(hours: float) -> dt.datetime | None:
    return from_hours(hours) if math.isfinite(hours) else None
