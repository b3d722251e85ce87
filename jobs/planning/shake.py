"""Search by lists: a few groups are taken out of the plan and put back in another order.

Compiled; a budget counts tries, not seconds, and the draws are its own, so that a plan can be had
again from the same facts.
"""

from __future__ import annotations

import numpy as np

from jobs.planning.lists import cost_now, give_back, place, schedule_of
from jobs.planning.state import State, copy_state, entry, entry_with_arrays, fresh, inner
from jobs.planning.tables import Ints, ints
from jobs.planning.taking import crew_for, obstacle, take, take_hold
from jobs.planning.tasks import NONE, TURNS, Arrays, Schedule, Tasks


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


@inner
def choose(a: Arrays, s: State, seed: Ints, chosen: Ints, many: int) -> None:
    """One group at random and those nearest to it in time, some passed over."""
    groups = len(a.group)
    chosen[0] = draw(seed, groups)
    near = draw(seed, 2) == 0
    for index in range(1, many):
        best, distance = -1, 0
        for g in range(groups):
            again = False
            for before in range(index):
                again = again or chosen[before] == g
            if again:
                continue
            far = draw(seed, 1000)
            if near:
                far = abs(middle(a, s, g) - middle(a, s, chosen[0])) + draw(seed, 240)
            if best < 0 or far < distance:
                best, distance = g, far
        chosen[index] = best


@entry_with_arrays
def shake_states(a: Arrays, states: tuple[State, State, State], tries: int, seed: Ints) -> None:
    """Tries in the first state, goes on from the second, leaves the best in the third.

    A try is kept if it is no worse than the one before, or than the one kept some tries ago
    (late acceptance, after Burke and Bykov 2017).
    """
    s, kept, best = states
    groups = len(a.group)
    chosen = np.zeros(8, dtype=np.int64)
    now = fitness(a, s)
    top = fitness(a, best)
    past = np.full(30, now)
    for number in range(tries):
        many = min(groups, 1 + draw(seed, 5))
        choose(a, s, seed, chosen, many)
        for index in range(many):
            give_back(a, s, chosen[index])
        for index in range(many - 1, 0, -1):
            other = draw(seed, index + 1)
            chosen[index], chosen[other] = chosen[other], chosen[index]
        for index in range(many):
            g = chosen[index]
            s.turn[g] = draw(seed, TURNS) if draw(seed, 2) else s.turn[g]
            place(a, s, g)
        got = fitness(a, s)
        if got <= now or got <= past[number % 30]:
            now = got
            copy_state(s, kept)
        else:
            copy_state(kept, s)
        past[number % 30] = now
        if now < top:
            top = now
            copy_state(s, best)


def shake(tasks: Tasks, schedule: Schedule, tries: int, seed: int) -> Schedule:
    """The best plan of so many tries from here; never a worse one."""
    best = state_of(tasks, schedule)
    states = (state_of(tasks, schedule), state_of(tasks, schedule), best)
    numbers = np.array([seed % 2147483646 + 1], dtype=np.int64)
    shake_states(tasks.arrays, states, tries, numbers)
    return schedule_of(tasks, best)


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
