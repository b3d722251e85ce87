"""How sure a plan's dates are: early, likely and late, drawn from what is not known."""

from __future__ import annotations

import datetime as dt
import math

from jobs.planning.fill import doubt
from jobs.planning.problem import Plan
from jobs.planning.simulate import simulate
from jobs.services.plan_read import PlanRead

Ranges = dict[str, tuple[dt.datetime | None, ...]]


def ranges_of(read: PlanRead, plan: Plan) -> tuple[Ranges, dict[str, float]]:
    """By job (early, likely, late), None for beyond what is planned, and the chance of leaving by
    the promise."""
    drawn = simulate(read.problem, plan, doubt(read.facts, read.filled))
    promised = {job.number for job in read.jobs if job.promised_on}
    ranges = {
        job: tuple(
            moment_of(read, slot - read.leaving(job))
            for slot in (each.early, each.likely, each.late)
        )
        for job, each in drawn.jobs.items()
    }
    return ranges, {job: each.chance for job, each in drawn.jobs.items() if job in promised}


def moment_of(read: PlanRead, slot: float) -> dt.datetime | None:
    if not math.isfinite(slot):
        return None
    return read.filled.starts_at + dt.timedelta(hours=slot * read.slot_hours)
