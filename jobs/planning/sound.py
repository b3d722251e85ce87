"""What a plan breaks is left out of it before anybody sees it.

A fault in what makes plans would else be met only by whoever takes the plan, or carries it out. The
checker shares no code with what makes plans; all that keeps the rules is planned as it was found.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from jobs.planning.check import broken_rules, dated, jobs_named
from jobs.planning.problem import Fault, Plan, Problem

BROKEN = "rules"


def sound(problem: Problem, plan: Plan) -> tuple[Plan, list[str]]:
    """The plan without the jobs that have to go for the rest to keep every rule, each named as a
    fault; and the rules that it broke.

    Of the jobs that break rules together one goes at a time: first those that have not begun, as
    what has begun is where it is; then those that most rules name, then those whose lateness costs
    least.
    """
    weight = {job.name: job.weight for job in problem.jobs}
    begun = {p.job for p in problem.pieces for step in p.steps if step.began is not None}
    told: list[str] = []
    while broken := broken_rules(problem, plan):
        told = told or broken
        out = {fault.about for fault in plan.faults}
        named = Counter(
            job
            for rule in broken
            for job in jobs_named(problem, rule) or dated(rule)
            if job in weight and job not in out
        )
        if not named:
            raise ValueError(f"a plan breaks a rule, and no job can go for it: {broken[0]}")
        goes = min(named, key=lambda job: (job in begun, -named[job], weight[job], job))
        plan = without(problem, plan, goes)
    return plan, told


def without(problem: Problem, plan: Plan, job: str) -> Plan:
    codes = {piece.code for piece in problem.pieces if piece.job == job}
    fault = Fault(
        job,
        BROKEN,
        f"Job {job} is left out: what was found for it breaks a rule of the shop. Pin its cast to "
        "a day that suits, or move a pin it has, and plan again.",
    )
    return replace(
        plan,
        starts={key: at for key, at in plan.starts.items() if key.piece not in codes},
        people={key: who for key, who in plan.people.items() if key.piece not in codes},
        held={key: at for key, at in plan.held.items() if key[0] not in codes},
        finish={name: end for name, end in plan.finish.items() if name != job},
        faults=(*plan.faults, fault),
    )
