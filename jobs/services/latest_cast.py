"""The last moment at which a piece can be cast and its promise still hold."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Sequence
from typing import Any

from curing import timeline
from curing.doubt import quantiles
from jobs.models import Job, Piece
from jobs.services.facts import Facts
from jobs.services.how_sure import sureness
from jobs.services.route_steps import PieceStep, leaving_key
from shop.localtime import to_hours
from shop.models import JudgedOn

LEVELS = {JudgedOn.LATE.value: 0.9, JudgedOn.LIKELY.value: 0.5}
NEAR = 0.25  # h
MINUTE = 1.0 / 60.0  # h


def latest_cast_of(
    facts: Facts, job: Job, piece: Piece, arguments: dict[str, Any], steps: Sequence[PieceStep]
) -> dt.datetime | None:
    """On shift and to the minute, held against the time that promises are judged on; None where
    nothing is promised, or it is too late already.

    The likely figures find it, and the draws have the last word: where they say that it is too
    late, it is sought among them, as cast later nothing comes sooner.
    """
    promised_at = facts.promise_moment(job)
    if promised_at is None:
        return None
    deadline, now = to_hours(promised_at), to_hours(facts.now)
    level, leaving = LEVELS[facts.shop.judged_on], leaving_key(steps)

    def in_time(cast: float) -> bool:
        timed = {**arguments, "cast": cast, "done": {}, "now": now}
        ready = sureness(facts, piece, timed, ready_key=leaving).ready
        return bool(quantiles(ready, [level])[0] <= deadline + 1e-6)

    found = timeline.latest_cast(
        deadline, ready_key=leaving or steps[-1].engine.key, not_before=now, **arguments
    )
    if found is None:
        return None
    if not in_time(found):
        found = _sought(facts, in_time, found)
    # Rounded down: a casting time rounded up would no longer meet the promise.
    return None if found is None else floor_minute(found)


def _sought(facts: Facts, in_time: Callable[[float], bool], late: float) -> float | None:
    """Shift by shift back from `late`, which is too late, in steps that double: it is mostly near.
    Then between the shifts that were passed over, and in the one that is found."""
    first, _ = facts.shifts.first_fit(to_hours(facts.now), 0.0)
    windows = facts.shifts.windows
    stretches = [
        (max(first, start), min(late, end))
        for start, end in windows.tolist()
        if end > first and start < late
    ]
    if not stretches:
        return None
    held, missed, step = len(stretches) - 1, len(stretches), 1
    while not in_time(stretches[held][0]):
        if held == 0:
            return None
        missed, held, step = held, max(held - step, 0), 2 * step
    while missed - held > 1:
        middle = (held + missed) // 2
        held, missed = (middle, missed) if in_time(stretches[middle][0]) else (held, middle)
    early, over = stretches[held]
    if over < late and in_time(over - MINUTE):
        return over - MINUTE
    while over - early > NEAR:
        middle_of = 0.5 * (early + over)
        early, over = (middle_of, over) if in_time(middle_of) else (early, middle_of)
    return early


def floor_minute(hours: float) -> dt.datetime:
    return dt.datetime.fromtimestamp(math.floor(hours * 60 + 1e-6) * 60, tz=dt.UTC)
