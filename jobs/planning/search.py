"""From the list to a good plan: shaken lists first, then neighbourhoods solved exactly.

Each plan found is handed out at once, so whoever asked can show it, stop, or go on. What is spent
is counted in tries and in the solver's deterministic seconds, never by the clock: the same facts,
budget and seed give the same plan.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, replace

from jobs.planning.exact import Budget, optimum, solve
from jobs.planning.faults import sift
from jobs.planning.lists import earliest_due_first
from jobs.planning.problem import Fault, Plan, Problem
from jobs.planning.shake import shake, squeeze
from jobs.planning.tasks import Schedule, Tasks, compile_tasks, plan_of

TRIES = 200_000  # of events placed again in one round of shaken lists
IDLE = 2  # rounds that found nothing, after which no other is tried
WHOLE = 90  # events up to which the plan is solved as one
FREE = (40, 70, 100)  # events in a neighbourhood


@dataclass(frozen=True)
class Spend:
    """How much may be spent: rounds of shaken lists, neighbourhoods, and the work in each."""

    rounds: int = 12
    neighbourhoods: int = 40
    work: float = 0.05
    whole_work: float = 1.0
    seed: int = 1


@dataclass(frozen=True)
class Found:
    schedule: Schedule
    by: str  # list, shaken, whole, neighbourhood
    proved: bool = False  # there is no cheaper plan


def search(tasks: Tasks, spend: Spend, known: Schedule | None = None) -> Iterator[Found]:
    """The best plan so far, after each round: the caller may stop at any."""
    best = earliest_due_first(tasks)
    if known is not None and known.cost <= best.cost:
        best = known
    yield Found(best, "list", best.cost == 0)
    if not tasks.groups:
        return
    events = len(tasks.steps)
    tries, idle = max(20, TRIES // events), 0
    for number in range(spend.rounds):
        if best.cost == 0:
            return
        got = shake(tasks, best, tries, spend.seed * 1000 + number)
        idle = 0 if got.cost < best.cost else idle + 1
        best = min(best, got, key=lambda schedule: schedule.cost)
        yield Found(best, "shaken", best.cost == 0)
        if idle == IDLE:
            break
    if events <= WHOLE and not best.left_out:
        answer = optimum(tasks, best, Budget(spend.whole_work, seed=spend.seed))
        if answer.schedule is not None:
            best = answer.schedule
        yield Found(best, "whole", answer.proved)
        if answer.proved:
            return
    yield from neighbourhoods(tasks, spend, best)


def neighbourhoods(tasks: Tasks, spend: Spend, best: Schedule) -> Iterator[Found]:
    draw = random.Random(spend.seed)  # noqa: S311 - which jobs to look at, no secret
    for number in range(spend.neighbourhoods):
        if best.cost == 0:
            return
        free = neighbourhood(tasks, best, draw)
        answer = solve(tasks, free, best, Budget(spend.work, seed=spend.seed + number))
        got = answer.schedule
        if got is not None and got.cost < best.cost:
            best = squeeze(tasks, got)
        elif got is not None:
            best = got  # sideways: the next neighbourhood starts from elsewhere
        if number % 8 == 7:
            best = shake(tasks, best, max(20, TRIES // len(tasks.steps) // 2), spend.seed + number)
        yield Found(best, "neighbourhood", best.cost == 0)


def neighbourhood(tasks: Tasks, known: Schedule, draw: random.Random) -> list[int]:
    """A late group, by what it costs, and those that are at work when it is."""
    groups = [g for g in range(len(tasks.groups)) if g not in known.left_out]
    spans = {g: span_of(tasks, known, g) for g in groups}
    costs = [group_cost(tasks, known, g) for g in groups]
    seed = draw.choices(groups, [cost + 1 for cost in costs])[0]
    room = draw.choice(FREE)
    begin, end = spans[seed]
    rest = sorted(
        (g for g in groups if g != seed),
        key=lambda g: -overlap(spans[g], (begin, end)) * draw.uniform(0.3, 1.0),
    )
    chosen, events = [seed], int(tasks.arrays.group[seed].events)
    for g in rest:
        size = int(tasks.arrays.group[g].events)
        if events + size <= room:
            chosen.append(g)
            events += size
    return chosen


def span_of(tasks: Tasks, known: Schedule, group: int) -> tuple[int, int]:
    row = tasks.arrays.group[group]
    starts = known.start[tasks.arrays.seq[row.seq : row.seq + row.events]]
    return int(starts.min()), int(starts.max())


def overlap(one: tuple[int, int], other: tuple[int, int]) -> int:
    return max(0, min(one[1], other[1]) - max(one[0], other[0]))


def group_cost(tasks: Tasks, known: Schedule, group: int) -> int:
    a = tasks.arrays
    total = 0
    for job in tasks.groups[group]:
        row = a.job[job]
        ends = [
            int(known.start[v] + a.event[v].slots)
            for v in map(int, a.last[row.last : row.last_end])
        ]
        total += int(row.weight) * max(0, max(ends) - int(row.due))
    return total


def plans(problem: Problem, spend: Spend | None = None) -> Iterator[tuple[Plan, Found]]:
    """Ever better plans of a problem as it is stated; what could not be planned is in `faults`."""
    kept, faults = sift(problem)
    tasks = compile_tasks(kept)
    for found in search(tasks, spend or Spend()):
        yield planned(problem, tasks, faults, found.schedule), found


def planned(problem: Problem, tasks: Tasks, faults: tuple[Fault, ...], schedule: Schedule) -> Plan:
    """The schedule as a plan of the whole problem, with what was sifted out or found no room."""
    out = {fault.about for fault in faults if fault.key != "past"}
    broken = {piece.job for piece in problem.pieces if piece.code in out}
    plan = plan_of(tasks, schedule)
    unplaced = tuple(
        Fault(
            tasks.jobs[job],
            "room",
            f"Job {tasks.jobs[job]} finds no room before the plan ends, or its pin leaves "
            "none. Plan further ahead, or move the pin.",
        )
        for group in schedule.left_out
        for job in tasks.groups[group]
    )
    finish = {name: end for name, end in plan.finish.items() if name not in broken}
    return replace(plan, finish=finish, faults=(*faults, *unplaced))
