"""The coats of a piece: when each goes on, in what air, inside which recoat window, and why then.

Pure but for `seal_coats`, which asks for the last reading where coats go on.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curing.climate import Climate
from curing.coats import GRID
from curing.sealing import recoat_state
from curing.shifts import Shifts
from curing.timeline import ABRADE, HELD
from jobs.models import Piece
from jobs.services.coat_air import Air, AirNow, CoatingRooms, air_of
from jobs.services.facts import Facts
from jobs.services.outlook import PieceOutlook, StepOutlook
from jobs.services.route_steps import engine_sealer
from shop.localtime import from_hours, to_hours
from shop.models import Sealer, StepKind

Stretches = NDArray[np.float64]

# A coat that is on, or goes on, within this of the readings rests on them [h].
NEAR = 0.05
# How a coat came to stand where it stands.
BY_WINDOW, BY_ABRADING, BY_AIR, BY_CREW = "window", "abrading", "air", "crew"


@dataclass(frozen=True)
class Window:
    """Too early until `opens`; abrade first after `closes`, None for never."""

    opens: dt.datetime
    closes: dt.datetime | None


@dataclass(frozen=True)
class Moved:
    """What moved a coat past the moment at which the concrete allows it.

    missed : the window that the next coat would have had, where nobody could have put it on
    """

    by: str
    soonest: dt.datetime
    taken: dt.datetime
    missed: Window | None = None


@dataclass(frozen=True)
class Coat:
    number: int
    step: StepOutlook
    at: dt.datetime | None  # None: not within the time that is looked ahead
    measured: bool  # its air
    air: Air | None
    window: Window | None  # None for the first coat, and where the one before is out of sight
    state: str  # 'too early', 'in the window', 'abrade first' at `at`, or nothing
    moved: Moved | None

    @property
    def done(self) -> bool:
        return self.step.done


@dataclass(frozen=True)
class FilmUse:
    """What the film bears from when on: hours by the data sheet at 23 °C, and in this room."""

    key: str  # handle, light or full
    sheet_hours: float
    room_hours: float | None
    at: dt.datetime | None


@dataclass(frozen=True, eq=False)
class SealCoats:
    """fits, workable : (m, 2) stretches in which the air fits, and somebody is there as well [h]"""

    sealer: Sealer
    room: str
    is_booth: bool
    cures_in: str
    climate: Climate
    coats: tuple[Coat, ...]
    film: tuple[FilmUse, ...]
    now: AirNow
    fits: Stretches
    workable: Stretches

    @property
    def humidity_assumed(self) -> bool:
        """The last reading has none: what the timeline used is the room's usual."""
        return self.now.air is None or self.now.air.humidity is None


def seal_coats(facts: Facts, piece: Piece, outlook: PieceOutlook) -> SealCoats | None:
    """None for a route without coats. Two queries."""
    steps = [step for step in outlook.steps if step.kind == StepKind.COAT]
    if not steps:
        return None
    rooms = CoatingRooms.read([piece.room_id])
    room = rooms.room_for(piece.room_id)
    climate, limits = facts.climate_of(room.pk), engine_sealer(piece.sealer).limits
    fits = climate.coatable_windows(limits)
    workable = facts.shifts.within(fits)
    return SealCoats(
        sealer=piece.sealer,
        room=room.name,
        is_booth=room == rooms.booth,
        cures_in=piece.room.name,
        climate=climate,
        coats=tuple(_coats(steps, piece.sealer, climate, workable, facts.now)),
        film=film_uses(outlook, piece.sealer, steps[-1]),
        now=rooms.now(
            piece.room_id, limits, now=facts.now, stale_after_hours=facts.shop.stale_after_hours
        ),
        fits=fits,
        workable=workable.windows,
    )


def _coats(
    steps: Sequence[StepOutlook],
    sealer: Sealer,
    climate: Climate,
    workable: Shifts,
    now: dt.datetime,
) -> list[Coat]:
    coats: list[Coat] = []
    limits = engine_sealer(sealer).limits
    for number, step in enumerate(steps):
        window = window_after(steps[number - 1], sealer) if number else None
        at = goes_on(step, sealer)
        hours = None if at is None else to_hours(at)
        coats.append(
            Coat(
                number=number + 1,
                step=step,
                at=at,
                measured=hours is not None
                and float(climate.measured_share(hours - NEAR, hours)) > 0.5,
                air=None
                if hours is None
                else air_of(
                    limits, float(climate.celsius_at(hours)), _known(climate.humidity_at(hours))
                ),
                window=window,
                state=_state(step, steps[number - 1], sealer) if number else "",
                moved=_moved(steps[number:], sealer, workable, now),
            )
        )
    return coats


def _known(humidity: NDArray[np.float64]) -> float | None:
    return float(humidity) if math.isfinite(float(humidity)) else None


def goes_on(step: StepOutlook, sealer: Sealer) -> dt.datetime | None:
    """When the coat is put on, or was: a coat that is abraded for starts with the abrading."""
    if step.done_at:
        return step.done_at
    if step.workable is None:
        return None
    abrading = sealer.abrade_hours if step.note == ABRADE else 0.0
    return step.workable + dt.timedelta(hours=abrading)


def window_after(before: StepOutlook, sealer: Sealer) -> Window | None:
    """The recoat window that a coat leaves for the next one."""
    finished = before.done_at or before.finish
    return None if finished is None else _window(finished, sealer)


def _window(finished: dt.datetime, sealer: Sealer) -> Window:
    greatest = sealer.recoat_greatest_hours
    return Window(
        opens=finished + dt.timedelta(hours=sealer.recoat_least_hours),
        closes=None if greatest is None else finished + dt.timedelta(hours=greatest),
    )


def _state(step: StepOutlook, before: StepOutlook, sealer: Sealer) -> str:
    """Where a coat's start falls. The mark of one that is on was made at its end: it started
    within its work before that."""
    at, finished = goes_on(step, sealer), before.done_at or before.finish
    if at is None or finished is None:
        return ""
    # Moments are whole minutes, rounded up: the edge of a window belongs to it.
    hours = round((at - finished).total_seconds() / 60) / 60
    engine = engine_sealer(sealer)
    state = recoat_state(hours, engine)
    if step.done and state == "abrade first":
        return recoat_state(max(hours - step.labour_hours, engine.recoat_least), engine)
    return state


def _moved(
    steps: Sequence[StepOutlook], sealer: Sealer, workable: Shifts, now: dt.datetime
) -> Moved | None:
    step = steps[0]
    if step.done or step.earliest is None or step.workable is None:
        return None
    soonest = max(step.earliest, now)
    if step.note == HELD:
        missed = _missed(steps, sealer, workable, soonest)
        return Moved(BY_WINDOW, soonest, step.workable, missed)
    if step.note == ABRADE:
        return Moved(BY_ABRADING, soonest, step.workable)
    by = {"sealing air": BY_AIR, "crew hours": BY_CREW}.get(step.held_by)
    late = step.workable - soonest > dt.timedelta(hours=GRID)
    return Moved(by, soonest, step.workable) if by and late else None


def _missed(
    steps: Sequence[StepOutlook], sealer: Sealer, workable: Shifts, soonest: dt.datetime
) -> Window | None:
    """The next coat's window if this one went on at once, where no coat could go on in it."""
    if len(steps) < 2 or sealer.recoat_greatest_hours is None:
        return None
    _, finish = workable.first_fit(to_hours(soonest), steps[0].labour_hours)
    if not math.isfinite(finish):
        return None
    window = _window(from_hours(finish), sealer)
    start, _ = workable.first_fit(to_hours(window.opens), steps[1].labour_hours)
    closes = math.inf if window.closes is None else to_hours(window.closes)
    return window if start > closes else None


def film_uses(outlook: PieceOutlook, sealer: Sealer, last: StepOutlook) -> tuple[FilmUse, ...]:
    finished = last.done_at or last.finish
    rows = (
        ("handle", sealer.handle_hours, outlook.handle_at),
        ("light", sealer.light_use_hours, outlook.light_use_at),
        ("full", sealer.full_use_hours, outlook.full_use_at),
    )
    return tuple(
        FilmUse(
            key,
            hours,
            (at - finished).total_seconds() / 3600 if at and finished else None,
            at,
        )
        for key, hours, at in rows
    )
