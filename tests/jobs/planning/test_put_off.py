"""What can wait is put off while plans are sought; in a plan that is handed out nothing waits."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest

from jobs.planning.blocks import blocks_of
from jobs.planning.check import broken_rules
from jobs.planning.generate import SIZES, random_shop
from jobs.planning.lists import earliest_due_first
from jobs.planning.problem import Key, Piece, Plan, Problem
from jobs.planning.rearrange import Lane
from jobs.planning.tasks import Schedule, Tasks, compile_tasks, plan_of


def waiting(problem: Problem, tasks: Tasks, schedule: Schedule) -> list[Key]:
    """Steps with neither a place of their own to keep nor a greatest wait that could begin sooner,
    all else as it is: every slot and crew is tried, and the checker asked."""
    plan = plan_of(tasks, schedule)
    assert not broken_rules(problem, plan)
    found = []
    for piece, n in loose(problem):
        key, step = Key(piece.code, n), piece.steps[n]
        soonest = plan.starts[Key(piece.code, n - 1)] + piece.steps[n - 1].slots
        if any(
            not broken_rules(problem, moved(plan, key, t, crew))
            for t in range(soonest, plan.starts[key])
            if any(on.begin <= t <= on.end - step.slots for on in problem.shop.shifts)
            for crew in crews(problem, step.skill, step.crew)
        ):
            found.append(key)
    return found


def loose(problem: Problem) -> list[tuple[Piece, int]]:
    """Steps with neither a place of their own to keep nor a greatest wait."""
    rows = []
    for piece in problem.pieces:
        tied = {0} | {end for hold in piece.holds for end in (hold.first, hold.last)}
        for n, step in enumerate(piece.steps):
            greatest = step.lag.greatest or piece.steps[n - 1].lag.greatest
            if n not in tied and not step.together and not greatest:
                rows.append((piece, n))
    return rows


def crews(problem: Problem, skill: str, many: int) -> list[tuple[str, ...]]:
    able = [person.name for person in problem.shop.people if skill in person.skills]
    return list(combinations(able, many))


def moved(plan: Plan, key: Key, start: int, crew: tuple[str, ...]) -> Plan:
    return replace(plan, starts={**plan.starts, key: start}, people={**plan.people, key: crew})


@pytest.mark.parametrize("seed", [1, 5])
def test_what_waits_while_plans_are_sought_has_come_forward_in_the_one_handed_out(
    seed: int,
) -> None:
    problem = random_shop(SIZES["4 jobs"], seed)
    tasks = compile_tasks(problem)
    lane = Lane(tasks, blocks_of(tasks), earliest_due_first(tasks), seed)
    lane.go((200 * len(tasks.steps), 60.0, 60.0))
    state = lane.state
    as_left = Schedule(state.start, state.who, state.at, 0)
    assert waiting(problem, tasks, as_left)
    assert not waiting(problem, tasks, lane.schedule)


@pytest.mark.parametrize("seed", [1, 5])
def test_what_has_time_is_put_off_to_different_times_and_never_past_its_jobs_date(
    seed: int,
) -> None:
    """Nothing else sets a bound to such a step."""
    problem = random_shop(SIZES["4 jobs"], seed)
    tasks = compile_tasks(problem)
    blocks = blocks_of(tasks)
    lane = Lane(tasks, blocks, earliest_due_first(tasks), seed)
    seen = set()
    for _ in range(20):
        lane.go((20 * len(tasks.steps), 60.0, 60.0))
        for piece, n in loose(problem):
            v = tasks.event[Key(piece.code, n)]
            bound = int(lane.state.bound[v])
            assert bound <= max(0, int(blocks.in_time[v])), (piece.code, n)
            seen.add((v, bound))
    put_off = {v for v, bound in seen if bound}
    assert len(put_off) > len(loose(problem)) // 2
    assert len(seen) > 5 * len(put_off)
