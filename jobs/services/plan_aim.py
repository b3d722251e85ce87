"""Plans aimed at the late dates, where promises are judged on those.

A plan is searched by its own dates, and what is drawn of it lies behind them: packed to the hour of
each promise it would keep few of them nine times in ten. So each job is made due sooner by as much
as its late date lies behind the planned one, and the plan that keeps more is taken.
"""

from __future__ import annotations

import math
from dataclasses import replace

from jobs.planning.fill import doubt
from jobs.planning.problem import Job, Plan, Problem, told_moved, visits_late
from jobs.planning.simulate import simulate
from jobs.services.plan_read import PlanRead
from shop.models import JudgedOn

MOST_HOURS = 72.0  # that a job is made due sooner: beyond that its doubt is not the plan's to mend


def late_slots(read: PlanRead, plan: Plan) -> dict[str, float]:
    """By job, by when it is through in 90 % of the draws."""
    drawn = simulate(read.problem, plan, doubt(read.facts, read.filled))
    return {job: each.late for job, each in drawn.jobs.items()}


def aimed(read: PlanRead, plan: Plan, late: dict[str, float]) -> Problem | None:
    """None where nothing is judged on late dates, or all of them are in time."""
    problem = read.problem
    if read.shop.judged_on != JudgedOn.LATE:
        return None
    most = round(MOST_HOURS / read.slot_hours)
    due = {
        job.name: max(0, job.due - math.ceil(min(most, late[job.name] - plan.finish[job.name])))
        for job in problem.jobs
        if job.name in late and job.name in plan.finish and counts(problem, job)
    }
    if all(late[job.name] <= job.due for job in problem.jobs if job.name in due):
        return None
    return replace(
        problem,
        jobs=tuple(replace(job, due=due.get(job.name, job.due)) for job in problem.jobs),
    )


def counts(problem: Problem, job: Job) -> bool:
    """Whether a promise is still to be kept."""
    return job.weight > 0 and 0 <= job.due < problem.shop.horizon


def missed(read: PlanRead, plan: Plan, late: dict[str, float]) -> tuple[int, int, float]:
    """Jobs left out, told dates that move, and weighted slots by which late dates miss promises and
    the plan itself days agreed with a site.

    In this order: a job without a date moves none that was told, and is worse than one that does.
    """
    problem = read.problem
    behind = sum(
        job.weight * max(0.0, min(late.get(job.name, math.inf), problem.shop.horizon) - job.due)
        for job in problem.jobs
        if counts(problem, job)
    )
    left_out = sum(1 for job in problem.jobs if job.name not in plan.finish)
    moved = len(told_moved(problem, plan.finish))
    return left_out, moved, behind + visits_late(problem, plan)
