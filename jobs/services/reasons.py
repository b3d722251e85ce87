"""Why a job is ready when it is, in one sentence."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from jobs.models import JobPlanned
from jobs.services.chances import in_words
from jobs.services.facts import Facts
from jobs.services.outlook import JobOutlook, PieceOutlook, StepOutlook
from shop.measures import words

NOTEWORTHY = 1.5  # K off the plan over the last day


def clock(moment: dt.datetime | None, facts: Facts) -> str:
    if moment is None:
        return "a time too far ahead to tell"
    local = moment.astimezone(facts.shop.zone)
    return f"{local:%a} {local.day} {local:%b} {local:%H:%M}"


def ready_words(outlook: JobOutlook | PieceOutlook, facts: Facts) -> str:
    """'likely Tue 31 Mar 10:00, late Wed 1 Apr 09:00'; one time where there is only one."""
    if outlook.ready_at is None:
        return "later than can be told"
    if outlook.ready_late == outlook.ready_early:
        return clock(outlook.ready_at, facts)
    return f"likely {clock(outlook.ready_at, facts)}, late {clock(outlook.ready_late, facts)}"


def chance_words(outlook: JobOutlook) -> str:
    """'9 in 10 to keep the promise', or nothing where none is made or drawn."""
    if outlook.chance is None or outlook.promised_at is None:
        return ""
    return f"{in_words(outlook.chance)} to keep the promise"


def doubt_words(
    facts: Facts, ready_at: dt.datetime, late: dt.datetime | None, chance: float | None
) -> str:
    """Why a promise that the likely time would keep is short by the late one."""
    how = "" if chance is None else f": {in_words(chance)} to keep the promise"
    return f"Likely ready in time, {clock(ready_at, facts)}, but late {clock(late, facts)}{how}"


def reason_of(
    facts: Facts,
    slowest: PieceOutlook | None,
    pieces: Sequence[PieceOutlook],
    doubt: str = "",
) -> str:
    """doubt : what is to be said before it, as `doubt_words` has it"""
    if slowest is None:
        return "No pieces yet."
    parts = _holds(pieces)
    parts += [doubt, _waiting_for(facts, slowest)]
    parts.append(_air(facts, slowest))
    return " ".join(f"{part.rstrip('.')}." for part in parts if part)


def plan_reason(
    facts: Facts,
    pieces: Sequence[PieceOutlook],
    planned: JobPlanned,
    promised_at: dt.datetime | None,
) -> str:
    """Where the plan decides: when it has the job leave, and what holds it there."""
    late = ""
    if planned.early and planned.late != planned.leaves_at:
        late = clock(planned.late, facts)
    leaves = clock(planned.leaves_at, facts)
    if promised_at and planned.late and planned.late <= promised_at:
        words = f"By the plan it leaves in time, {leaves}{f', late {late}' if late else ''}"
    elif promised_at and late and planned.leaves_at <= promised_at:
        words = f"By the plan it leaves in time, {leaves}, but late {late}"
    else:
        words = f"By the plan it leaves {leaves}{f', late {late}' if late else ''}"
    parts = [*_holds(pieces), words, planned.held_words]
    return " ".join(f"{part.rstrip('.')}." for part in parts if part)


def _holds(pieces: Sequence[PieceOutlook]) -> list[str]:
    held = [piece for piece in pieces if piece.on_hold]
    return [f"{held[0].code} is on hold: {held[0].on_hold}"] if held else []


def _waiting_for(facts: Facts, piece: PieceOutlook) -> str:
    if piece.finished:
        return f"{piece.code} is done"
    if piece.cast_at is None:
        return _not_cast(facts, piece)
    step = piece.governing_step
    if step is None:
        return ""
    return f"{piece.code}: {step.name} {_criterion(facts, step)}"


def _criterion(facts: Facts, step: StepOutlook) -> str:
    if step.earliest and step.earliest <= facts.now:
        held = f" ({step.held_by_words})" if step.held_by else ""
        return f"may be done, from {clock(step.workable, facts)}{held}"
    return f"waits for {step.governs_words} until about {clock(step.earliest, facts)}"


def _not_cast(facts: Facts, piece: PieceOutlook) -> str:
    when = (
        f"is to be cast {clock(piece.cast_planned, facts)}"
        if piece.cast_planned and piece.cast_planned >= facts.now
        else f"should have been cast {clock(piece.cast_planned, facts)}"
        if piece.cast_planned
        else "has no casting time"
    )
    latest = f"; latest cast {clock(piece.latest_cast, facts)}" if piece.latest_cast else ""
    return f"{piece.code} {when}{latest}"


def _air(facts: Facts, piece: PieceOutlook) -> str:
    climate = facts.climates.get(piece.room_id)
    if climate is None or piece.finished:
        return ""
    if climate.stale:
        return f"{piece.room} has no fresh readings, so its air is expected, not measured"
    if abs(climate.offset) < NOTEWORTHY:
        return ""
    off = words(abs(climate.offset), "temperature_step", facts.shop)
    side = "colder" if climate.offset < 0 else "warmer"
    return f"{piece.room} ran {off} {side} than planned over the last day"
