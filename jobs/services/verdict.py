"""Whether a promise holds: one verdict, the worse of what the concrete and the plan say.

The concrete, with the working hours, says when a job is ready; the accepted plan, with tables,
people, booth and truck, when its last piece leaves. Whichever is later on the time that the shop
judges by decides, and state, spare hours, chance and the day that can be told all follow from it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from jobs.models import JobPlanned, PromiseState
from jobs.services.facts import Facts
from jobs.services.how_sure import ReadyRange
from jobs.services.outlook import CONCRETE, PLAN, PieceOutlook
from shop.localtime import to_hours
from shop.models import JudgedOn


@dataclass(frozen=True)
class Verdict:
    state: PromiseState
    spare_hours: float | None  # None: no promise, or no pieces
    at: dt.datetime | None  # held against the promise; None: not within what is looked ahead
    decided_by: str  # CONCRETE or PLAN
    chance: float | None


def verdict_of(
    facts: Facts,
    pieces: Sequence[PieceOutlook],
    promised_at: dt.datetime | None,
    ready: ReadyRange,
    planned: JobPlanned | None,
) -> Verdict:
    kept = bool(pieces) and all(piece.left_shop for piece in pieces)
    own = ready.late if facts.shop.judged_on == JudgedOn.LATE else ready.likely
    at, decided_by, chance = own, CONCRETE, ready.chance
    if planned is not None and own is not None and not kept:
        by_plan = plan_time(planned, facts.shop.judged_on)
        if by_plan is None or by_plan > own:
            at, decided_by = by_plan, PLAN
        if planned.chance is not None and chance is not None:
            chance = min(chance, planned.chance)
    spare = _spare(facts, promised_at, at) if pieces else None
    state = PromiseState.KEPT if kept else state_of(spare, facts.shop.margin_hours)
    return Verdict(state, spare, at, decided_by, chance)


def plan_time(planned: JobPlanned, judged_on: str) -> dt.datetime | None:
    """When the last piece leaves, as the shop judges it. None: beyond what is planned ahead."""
    return judged_time(planned.leaves_at, (planned.early, planned.likely, planned.late), judged_on)


def judged_time(
    leaves: dt.datetime | None,
    drawn: tuple[dt.datetime | None, dt.datetime | None, dt.datetime | None],
    judged_on: str,
) -> dt.datetime | None:
    """drawn : early, likely and late; where nothing was drawn, all None, the plan itself counts"""
    if not any(drawn):
        return leaves
    return drawn[2] if judged_on == JudgedOn.LATE else drawn[1]


def state_of(spare: float | None, margin_hours: float) -> PromiseState:
    if spare is None:
        return PromiseState.NONE
    if spare < 0:
        return PromiseState.SHORT
    return PromiseState.TIGHT if spare < margin_hours else PromiseState.HOLDS


def _spare(facts: Facts, promised_at: dt.datetime | None, at: dt.datetime | None) -> float | None:
    """Hours between it and the promise. Not within what is looked ahead: at the least so."""
    if promised_at is None:
        return None
    by = to_hours(at) if at else _last_shift(facts)
    return round(to_hours(promised_at) - by, 4)


def _last_shift(facts: Facts) -> float:
    windows = facts.shifts.windows
    return float(windows[-1][1]) if len(windows) else to_hours(facts.now)
