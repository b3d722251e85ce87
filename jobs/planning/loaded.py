"""A plan loaded into a state to be searched from, and what all searches go by: draws, fitness.

Draws are a generator's of the search's own, so that a plan can be had again from the same facts.
"""

from __future__ import annotations

import numpy as np

from jobs.planning.lists import cost_now, give_back, place, schedule_of
from jobs.planning.state import State, copy_state, entry, fresh, inner
from jobs.planning.tables import Ints, ints
from jobs.planning.taking import crew_for, obstacle, take, take_hold
from jobs.planning.tasks import NONE, Arrays, Schedule, Tasks


@entry
def load(a: Arrays, s: State) -> None:
    """Takes everything that the starts, people and places in the state ask for."""
    for v in range(len(a.event)):
        if s.start[v] != NONE:
            take(a, s, v, 1)
    # Pins of what was left out, where nothing else is by now.
    for v in range(len(a.event)):
        fixed = a.event[v].fixed
        if s.start[v] == NONE and fixed != NONE and obstacle(a, s, v, fixed) < 0:
            s.start[v] = fixed
            s.who[v] = crew_for(a, s, v, fixed)
            take(a, s, v, 1)
    for hold in range(len(a.hold)):
        last = a.hold[hold].last
        if s.at[hold] >= 0 and s.start[last] != NONE:
            take_hold(a, s, hold, s.start[last] + a.event[last].slots, 1)
        elif a.event[a.hold[hold].first].fact:
            s.at[hold] = a.fit[a.hold[hold].fit]
            take_hold(a, s, hold, a.horizon, 1)


def state_of(tasks: Tasks, schedule: Schedule) -> State:
    state = fresh(tasks.arrays)
    state.start[:] = schedule.start
    state.who[:] = schedule.who
    state.at[:] = schedule.at
    state.placed[:] = 1
    state.placed[list(schedule.left_out)] = 0
    load(tasks.arrays, state)
    return state


@inner
def fitness(a: Arrays, s: State) -> float:
    """The cost, and a little for each slot in which a job ends later, to lead over plateaus."""
    ends = 0.0
    for job in range(len(a.job)):
        for index in range(a.job[job].last, a.job[job].last_end):
            v = a.last[index]
            if s.start[v] != NONE:
                ends += a.job[job].weight * (s.start[v] + a.event[v].slots)
    return cost_now(a, s) + 1e-3 * ends


@inner
def draw(seed: Ints, below: int) -> int:
    """A draw of the multiplicative generator modulo 2^31 - 1 (Park and Miller 1988)."""
    seed[0] = seed[0] * 48271 % 2147483647
    return seed[0] % below


@inner
def middle(a: Arrays, s: State, g: int) -> int:
    first, last = a.seq[a.group[g].seq], a.seq[a.group[g].seq + a.group[g].events - 1]
    return (s.start[first] + s.start[last]) // 2


@entry
def squeeze_state(a: Arrays, s: State, kept: State, order: Ints) -> None:
    """Takes each group out and puts it back once, where that is no loss."""
    now = fitness(a, s)
    for g in order:
        give_back(a, s, g)
        place(a, s, g)
        got = fitness(a, s)
        if got <= now:
            now = got
            copy_state(s, kept)
        else:
            copy_state(kept, s)


def squeeze(tasks: Tasks, schedule: Schedule) -> Schedule:
    state, kept = state_of(tasks, schedule), state_of(tasks, schedule)
    begins = [int(schedule.start[tasks.arrays.seq[row.seq]]) for row in tasks.arrays.group]
    squeeze_state(tasks.arrays, state, kept, np.argsort(ints(begins), kind="stable"))
    return schedule_of(tasks, kept)
