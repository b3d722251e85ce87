"""How sure a piece's dates are: its range by the engine's draws, and the chance of its promise."""

from __future__ import annotations

import datetime as dt
import math
import zoneinfo
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curing.coats import GRID
from curing.doubt import AirDoubt, CurveDraws, Doubt, quantiles
from curing.drawn import DrawnAir, DrawnClock
from curing.spread import Spread, Streams, chance, spread
from jobs.models import Piece
from jobs.services.facts import Facts
from jobs.services.outlook import DayChance, StepOutlook, WaitOutlook
from shop.localtime import from_hours, to_hours
from shop.models import StepKind
from shop.services.curves import curves_of

Floats = NDArray[np.float64]

DRAWS = 200
MINUTE = dt.timedelta(minutes=1)
QUARTER = dt.timedelta(hours=GRID)
DAYS = 60  # a range is told day by day for so long
# Drying by a model that the shop has calibrated with its own weighings: our judgement, no source.
CALIBRATED_DRYING = (0.8, 1.3)


@dataclass(frozen=True, eq=False)
class Sureness:
    """of : all steps; ready : (draws,) when the piece may leave the shop [h], inf: not in sight"""

    of: Spread
    ready: Floats


@dataclass(frozen=True, eq=False)
class Drawn:
    """A piece's air and curve as they may be: the very draws that its dates are of."""

    doubt: Doubt
    air: DrawnAir
    curves: CurveDraws

    def age_clock(self, activation_energy: float) -> DrawnClock:
        return self.air.age(activation_energy, 20.0)


def drawn_of(facts: Facts, piece: Piece, draws: int = DRAWS) -> Drawn:
    doubt = doubt_of(facts, piece, draws)
    air = DrawnAir.of(facts.climate_of(piece.room_id), doubt, _streams(piece).room)
    return Drawn(doubt, air, _curves(facts, piece, doubt))


def _streams(piece: Piece) -> Streams:
    return Streams(f"room {piece.room_id}", f"mix {piece.mix_id}", f"piece {piece.pk}")


def _curves(facts: Facts, piece: Piece, doubt: Doubt) -> CurveDraws:
    return facts.remembered(("curves", piece.mix_id, doubt), lambda: curves_of(piece.mix, doubt))


def doubt_of(facts: Facts, piece: Piece, draws: int = DRAWS) -> Doubt:
    air = facts.airs.get(piece.room_id)
    drying = CALIBRATED_DRYING if piece.mix.drying_calibrated else Doubt().drying
    return Doubt(air=air.doubt if air else AirDoubt(), drying=drying, draws=draws)


def sureness(
    facts: Facts,
    piece: Piece,
    arguments: dict[str, Any],
    *,
    ready_key: str | None,
    draws: int = DRAWS,
) -> Sureness:
    """arguments : of `curing.timeline.derive`, the casting time among them

    ready_key : the step that takes the piece out of the shop; None where the route has none: it is
        ready when its last step is finished
    """
    doubt = doubt_of(facts, piece, draws)
    found = spread(
        **arguments,
        doubt=doubt,
        curves=_curves(facts, piece, doubt),
        streams=_streams(piece),
    )
    ready = found.finish[-1] if ready_key is None else found.workable_of(ready_key)
    return Sureness(found, np.asarray(ready))


@dataclass(frozen=True)
class ReadyRange:
    """10, 50 and 90 % of the draws; None: not in sight. chance : of the promise, 0 to 1"""

    early: dt.datetime | None
    likely: dt.datetime | None
    late: dt.datetime | None
    chance: float | None

    @classmethod
    def of(cls, times: Floats, promised_at: dt.datetime | None) -> ReadyRange:
        early, likely, late = (_moment(hours) for hours in quantiles(times).tolist())
        in_time = None if promised_at is None else round(chance(times, to_hours(promised_at)), 3)
        return cls(early, likely, late, in_time)


def likely_step(step: StepOutlook, sure: Sureness) -> StepOutlook:
    """With its early, likely and late time, and all else that is told of it by the middle draw.

    The likely figures alone are no middle: work that only just fits a shift, or air just at the
    edge of a rule, goes the other way in more than half of the draws.
    """
    place = sure.of.keys.index(step.key)
    early, likely, late = (_moment(hours) for hours in quantiles(sure.of.workable[place]).tolist())
    earliest, finish = _middle(sure.of.earliest[place]), _middle(sure.of.finish[place])
    waits = _likely_waits(step.waits, sure.of.waits[place])
    held_by = step.held_by
    # A coat begins at quarter hours: up to the next one nobody and nothing holds it.
    within = QUARTER if step.kind == StepKind.COAT else dt.timedelta()
    if earliest and likely and likely - earliest < within + MINUTE:
        held_by = ""
    elif not held_by:
        held_by = "crew hours"
    return replace(
        step,
        earliest=earliest,
        workable=likely,
        finish=finish,
        governs=waits[0].criterion if waits and waits[0].until == earliest else step.governs,
        held_by=held_by,
        waits=waits,
        early=early,
        likely=likely,
        late=late,
    )


def _likely_waits(
    waits: Sequence[WaitOutlook], drawn: Mapping[str, Floats]
) -> tuple[WaitOutlook, ...]:
    """Each by its own middle draw, the last one first; what is never met has none."""
    found = []
    for wait in waits:
        until = _middle(drawn[wait.criterion]) if wait.criterion in drawn else wait.until
        if until is not None:
            found.append(replace(wait, until=until))
    return tuple(sorted(found, key=lambda wait: wait.until, reverse=True))


def _middle(times: Floats) -> dt.datetime | None:
    return _moment(float(quantiles(times)[1]))


def day_chances(
    times: Floats,
    deadline: Callable[[dt.date], dt.datetime],
    zone: zoneinfo.ZoneInfo,
    *,
    most: int = DAYS,
) -> tuple[DayChance, ...]:
    """Of being ready in time on each day on which the chance grows, looking at `most` days.

    deadline : by when a day is kept
    """
    known = times[np.isfinite(times)]
    if not len(known):
        return ()
    found: list[DayChance] = []
    first = from_hours(float(known.min())).astimezone(zone).date()
    for number in range(most):
        day = first + dt.timedelta(days=number)
        share = chance(times, to_hours(deadline(day)))
        if share > (found[-1].chance if found else 0.0) + 1e-9:
            found.append(DayChance(day, round(share, 3)))
        if share >= len(known) / len(times):
            break
    return tuple(found)


def _moment(hours: float) -> dt.datetime | None:
    return from_hours(hours) if math.isfinite(hours) else None


def all_ready(pieces: list[Floats]) -> Floats:
    """(draws,) when the last of several pieces is ready: what they share, they share a draw of."""
    return np.asarray(np.maximum.reduce(pieces))
