"""When the sealer may be handled and bears light and full use: hours at 23 °C after the last coat,
in the air of the piece's room. Likely, and with the last coat at its late time."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence

from curing.climate import Climate
from curing.doubt import quantiles
from curing.spread import Spread
from curing.timeline import Milestone
from jobs.models import Piece
from jobs.services.route_steps import PieceStep
from shop.localtime import from_hours

Dates = tuple[dt.datetime | None, dt.datetime | None, dt.datetime | None]
NONE: Dates = (None, None, None)


def film_dates(
    milestones: Sequence[Milestone],
    of: Spread | None,
    steps: Sequence[PieceStep],
    piece: Piece,
    climate: Climate,
) -> Dates:
    """Handled, light use, full use, from when the last coat is likely on."""
    coats = [number for number, step in enumerate(steps) if step.engine.coat]
    if not coats or not milestones:
        return NONE
    last = milestones[coats[-1]].finish
    return _after(last if of is None else float(quantiles(of.finish[coats[-1]])[1]), piece, climate)


def late_dates(
    likely: Dates, of: Spread | None, steps: Sequence[PieceStep], piece: Piece, climate: Climate
) -> Dates:
    """The same where the last coat is on at its late time; never before the likely dates."""
    coats = [number for number, step in enumerate(steps) if step.engine.coat]
    if of is None or not coats:
        return NONE
    late = _after(float(quantiles(of.finish[coats[-1]])[2]), piece, climate)
    handle, light, full = (
        max(one, other) if one and other else None for one, other in zip(likely, late, strict=True)
    )
    return handle, light, full


def _after(last_coat: float, piece: Piece, climate: Climate) -> Dates:
    if not math.isfinite(last_coat):
        return NONE
    sealer = piece.sealer
    handle, light, full = (
        _moment(climate.time_of_film(last_coat, hours))
        for hours in (sealer.handle_hours, sealer.light_use_hours, sealer.full_use_hours)
    )
    return handle, light, full


def _moment(hours: float) -> dt.datetime | None:
    return from_hours(hours) if math.isfinite(hours) else None
