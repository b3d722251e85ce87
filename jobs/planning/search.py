"""From the list to a good plan: blocks of work in other orders, and parts solved exactly.

Each plan found is handed out at once, so whoever asked can show it, stop, or go on. What is spent
is counted in tries and in the solver's deterministic seconds, never by the clock: the same facts,
budget and seed give the same plan.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, replace

from jobs.planning.blocks import Blocks, blocks_of
from jobs.planning.bound import least_cost
from jobs.planning.bring_in import brought_in
from jobs.planning.exact import Budget, optimum, solve_events
from jobs.planning.faults import sift
from jobs.planning.lists import earliest_due_first
from jobs.planning.loaded import squeeze
from jobs.planning.problem import Fault, Plan, Problem
from jobs.planning.rearrange import rearrange
from jobs.planning.tasks import Schedule, Tasks, compile_tasks, names_of_group, plan_of

WORK = 500  # times that each event is placed again in one round of rearranging
SHORT, BRIEF = 150, 6  # times in a round, and rounds, of the first annealing
LANES = 2  # annealings at a time
LONGER = 4  # times the rounds of the first by which each is longer than the one before
BETWEEN = 1  # neighbourhood solved between two of them
HOT = 150.0  # what a try of rearranging may lose at first, in weighted slots
WHOLE = 90  # events up to which the plan is solved as one
FREE = (40, 60, 80)  # events in a neighbourhood
REACH = (144, 288, 480)  # slots by which they may move


@dataclass(frozen=True)
class Spend:
    """How much may be spent: rounds of the first long annealing, neighbourhoods, and the work in
    each. After each neighbourhood there is another annealing, ever longer."""

    rounds: int = 12
    neighbourhoods: int = 2
    work: float = 0.02
    whole_work: float = 1.0
    seed: int = 1


@dataclass(frozen=True)
class Found:
    schedule: Schedule
    by: str  # list, rearranged, whole, neighbourhood
    proved: bool = False  # there is no cheaper plan


def search(tasks: Tasks, spend: Spend, known: Schedule | None = None) -> Iterator[Found]:
    """The best plan so far, after each round: the caller may stop at any."""
    best = brought_in(tasks, earliest_due_first(tasks))
    if known is not None and known.cost <= best.cost:
        best = known
    floor = least_cost(tasks)
    yield Found(best, "list", best.cost <= floor)
    if not tasks.groups or best.cost <= floor:
        return
    for found in first_annealed(tasks, spend, best):
        best = found.schedule
        yield replace(found, proved=best.cost <= floor)
        if best.cost <= floor:
            return
    if len(tasks.steps) <= WHOLE and not best.left_out and spend.whole_work:
        answer = optimum(tasks, best, Budget(spend.whole_work, seed=spend.seed))
        if answer.schedule is not None:
            best = answer.schedule
        yield Found(best, "whole", answer.proved)
        if answer.proved:
            return
    for found in refined(tasks, spend, best):
        yield replace(found, proved=found.schedule.cost <= floor)
        if found.schedule.cost <= floor:
            return


def first_annealed(tasks: Tasks, spend: Spend, best: Schedule) -> Iterator[Found]:
    """Short, so that there is soon something to show, and less left to prove."""
    seeds = [spend.seed * 1000 + 500 + lane for lane in range(LANES)]
    work = SHORT * len(tasks.steps)
    for got in rearrange(
        tasks, blocks_of(tasks), best, (work, HOT, min(BRIEF, spend.rounds)), seeds
    ):
        yield Found(got, "rearranged")


def refined(tasks: Tasks, spend: Spend, best: Schedule) -> Iterator[Found]:
    blocks = blocks_of(tasks)
    work = WORK * len(tasks.steps)
    draw = random.Random(spend.seed)  # noqa: S311 - which jobs to look at, no secret
    rounds = spend.rounds
    for begin in range(0, spend.neighbourhoods + 1, BETWEEN):
        seeds = [spend.seed * 1000 + begin * LANES + lane for lane in range(LANES)]
        for got in rearrange(tasks, blocks, best, (work, HOT, rounds), seeds):
            best = got
            yield Found(best, "rearranged")
        rounds += LONGER * spend.rounds
        for number in range(begin, min(begin + BETWEEN, spend.neighbourhoods)):
            free = events_of(tasks, neighbourhood(tasks, best, draw))
            if number % 2:
                free = window(tasks, blocks, best, draw)
            budget = Budget(spend.work, seed=spend.seed + number)
            solved = solve_events(tasks, free, best, budget, draw.choice(REACH)).schedule
            if solved is not None and solved.cost < best.cost:
                best = squeeze(tasks, solved)
            elif solved is not None:
                best = solved  # sideways: the next neighbourhood starts from elsewhere
            yield Found(best, "neighbourhood")


def events_of(tasks: Tasks, groups: list[int]) -> list[int]:
    a = tasks.arrays
    return [int(v) for g in groups for v in a.seq[a.group[g].seq :][: a.group[g].events]]


def late_group(tasks: Tasks, known: Schedule, draw: random.Random) -> int:
    groups = [g for g in range(len(tasks.groups)) if g not in known.left_out]
    return draw.choices(groups, [group_cost(tasks, known, g) + 1 for g in groups])[0]


def window(tasks: Tasks, blocks: Blocks, known: Schedule, draw: random.Random) -> list[int]:
    """A late group, and what others do about the time of one of its steps."""
    chosen = events_of(tasks, [late_group(tasks, known, draw)])
    seen = set(chosen)
    middle = int(known.start[draw.choice(chosen)])
    room = draw.choice(FREE)
    rows = [
        list(map(int, blocks.seq[row.seq : row.seq_end]))
        for row in blocks.row
        if row.group not in known.left_out
    ]
    rows.sort(key=lambda row: abs(int(known.start[row[0]]) - middle) + draw.randrange(48))
    for row in rows:
        if len(chosen) >= room:
            break
        chosen += [v for v in row if v not in seen]
        seen.update(row)
    return chosen


def neighbourhood(tasks: Tasks, known: Schedule, draw: random.Random) -> list[int]:
    """A late group, by what it costs, and those that are at work when it is."""
    groups = [g for g in range(len(tasks.groups)) if g not in known.left_out]
    spans = {g: span_of(tasks, known, g) for g in groups}
    seed = late_group(tasks, known, draw)
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
            name,
            "room",
            f"Job {name} finds no room in the days that are planned, or its pin leaves "
            "none. Move a pin, open more hours, or take a job out that can wait.",
        )
        for group in schedule.left_out
        for name in names_of_group(tasks, group)
    )
    finish = {name: end for name, end in plan.finish.items() if name not in broken}
    return replace(plan, finish=finish, faults=(*faults, *unplaced))
