"""Jobs listed one after the other, each at the first time at which all it needs is free.

A job's events are placed in order. Where a greatest lag is missed, or no place is free for as long
as the piece would keep it, what came before is taken back and begun later: so coat 1 waits until
coat 2 can be booked, and a form is not set up on a table that is wanted before the demold.
"""

from __future__ import annotations

import numpy as np

from jobs.planning.state import State, entry, fresh, inlined, inner
from jobs.planning.tables import Ints, ints
from jobs.planning.takeover import has_place_cleared, obstacle_yet
from jobs.planning.taking import (
    crew_for,
    hold_begin,
    last_below,
    obstacle,
    take,
    take_hold,
)
from jobs.planning.tasks import NONE, Arrays, Schedule, Tasks

UNPLACED = 10**9  # the cost of a job that finds no room before the horizon
TRIES = 2_000  # times a group may be taken back before it counts as not fitting


@inlined
def first_start(a: Arrays, s: State, v: int, early: int) -> int:
    if early > a.horizon - a.event[v].slots:
        return a.horizon
    opening = a.opening[a.event[v].kind]
    t = opening[early]
    while t < a.horizon:
        later = obstacle_yet(a, s, v, t) if s.asks[0] else obstacle(a, s, v, t)
        if later < 0:
            return t
        if later > a.horizon:
            return a.horizon
        t = opening[later]
    return a.horizon


@inner
def unplace(a: Arrays, s: State, v: int) -> None:
    t = s.start[v]
    if t == NONE:
        return
    for index in range(a.event[v].closing, a.event[v].closing_end):
        hold = a.closing[index]
        if s.at[hold] >= 0:
            take_hold(a, s, hold, t + a.event[v].slots, -1)
            s.at[hold] = -1
    if a.event[v].fixed == NONE:
        take(a, s, v, -1)
        s.start[v] = NONE
        s.who[v] = 0


@inlined
def close_hold(a: Arrays, s: State, hold: int, end: int) -> int:
    """Finds the hold a place. -1 if there is one, else the earliest slot it could begin at."""
    begin = hold_begin(a, s, hold)
    best = a.horizon
    for index in range(a.hold[hold].fit, a.hold[hold].fit_end):
        k = a.fit[index]
        stretch = s.room[k, max(begin, 0) : max(0, min(end, a.horizon))]
        taken = last_below(stretch, a.hold[hold].amount, max(begin, 0))
        if taken < 0:
            s.at[hold] = k
            take_hold(a, s, hold, end, 1)
            return -1
        best = min(best, taken + 1)
    return -1 if s.asks[0] and has_place_cleared(a, s, hold, end) else best


@inlined
def earliest(a: Arrays, s: State, v: int) -> int:
    early = max(s.bound[v], 0)
    for arc in range(a.event[v].before, a.event[v].before_end):
        u = a.before[arc].source
        day = a.day[min(max(s.start[u], 0), a.horizon)]
        early = max(early, s.start[u] + a.event[u].slots + a.lag[a.before[arc].lag, day])
    return early


@inner
def again_from(a: Arrays, s: State, v: int, t: int) -> int:
    """The event that has to begin later for v to be at t, its bound set; NONE if nothing has to,
    -1 if nothing can."""
    end = t + a.event[v].slots
    for arc in range(a.event[v].before, a.event[v].before_end):
        u = a.before[arc].source
        most = a.before[arc].most
        if (
            most >= 0
            and t > s.start[u] + a.event[u].slots + most
            and not (a.event[u].fact and a.event[v].fact)
        ):
            if a.event[u].fixed != NONE:
                return -1
            s.bound[u] = t - most - a.event[u].slots
            return u
    for index in range(a.event[v].closing, a.event[v].closing_end):
        hold = a.closing[index]
        # What begins it may be out of the plan, to come back when this has made way for it.
        if s.at[hold] >= 0 or s.start[a.hold[hold].first] == NONE:
            continue
        later = close_hold(a, s, hold, end)
        if later >= 0:
            u = a.hold[hold].first
            if a.event[u].fixed != NONE or later >= a.horizon:
                return -1
            s.bound[u] = max(
                s.start[u] + 1, later - (a.event[u].slots if a.hold[hold].from_end else 0)
            )
            return u
    return NONE


@inner
def give_back(a: Arrays, s: State, g: int) -> None:
    """Takes a group out of the plan. What has begun and what is pinned stays."""
    for index in range(a.group[g].seq + a.group[g].events - 1, a.group[g].seq - 1, -1):
        v = a.seq[index]
        if not a.event[v].fact:
            unplace(a, s, v)
        s.bound[v] = 0
    for index in range(a.group[g].open, a.group[g].open_end):
        hold = a.open[index]
        s.at[hold] = a.fit[a.hold[hold].fit]
        take_hold(a, s, hold, a.horizon, 1)
    s.placed[g] = 0


@inner
def place(a: Arrays, s: State, g: int) -> bool:
    """Puts a group into what is free. If it does not fit, all is as before and the answer is no."""
    for index in range(a.group[g].open, a.group[g].open_end):
        hold = a.open[index]
        take_hold(a, s, hold, a.horizon, -1)
        s.at[hold] = -1
    begin = a.group[g].seq + s.turn[g] * a.group[g].events
    if not place_events(a, s, a.seq[begin : begin + a.group[g].events], TRIES):
        give_back(a, s, g)
        return False
    s.placed[g] = 1
    return True


@inner
def place_events(a: Arrays, s: State, seq: Ints, most: int) -> bool:
    """Events one after the other, going back where one has to begin later, so often at the most.

    If the answer is no, those from the front may be placed: the caller takes them back.
    """
    index = 0
    tries = 0
    while index < len(seq):
        v = seq[index]
        if a.event[v].fact:
            index += 1
            continue
        early = earliest(a, s, v)
        if a.event[v].fixed != NONE:
            t = a.event[v].fixed if s.start[v] != NONE and early <= a.event[v].fixed else a.horizon
        else:
            t = first_start(a, s, v, early)
            if t < a.horizon:
                s.start[v] = t
                s.who[v] = crew_for(a, s, v, t)
                take(a, s, v, 1)
        back = again_from(a, s, v, t) if t < a.horizon else -1
        if back == NONE:
            index += 1
            continue
        tries += 1
        if back == -1 or tries > most:
            return False
        while True:
            unplace(a, s, seq[index])
            if seq[index] == back:
                break
            index -= 1
            if index < 0:  # what has to begin later is not ours to move
                return False
    return True


@entry
def begin_plan(a: Arrays, s: State) -> None:
    """Facts first, then pins, then the places of pieces under way, kept until they are placed."""
    for v in range(len(a.event)):
        if a.event[v].fact:
            s.start[v] = a.event[v].fixed
            s.who[v] = a.event[v].by
            take(a, s, v, 1)
    for hold in range(len(a.hold)):
        first, last = a.hold[hold].first, a.hold[hold].last
        if a.event[first].fact and a.event[last].fact and s.start[last] + a.event[last].slots > 0:
            s.at[hold] = a.fit[a.hold[hold].fit]
            take_hold(a, s, hold, s.start[last] + a.event[last].slots, 1)
    for v in range(len(a.event)):
        if (
            a.event[v].fixed != NONE
            and not a.event[v].fact
            and obstacle(a, s, v, a.event[v].fixed) < 0
        ):
            s.start[v] = a.event[v].fixed
            s.who[v] = crew_for(a, s, v, a.event[v].fixed)
            take(a, s, v, 1)
    for hold in range(len(a.hold)):
        if a.event[a.hold[hold].first].fact and not a.event[a.hold[hold].last].fact:
            s.at[hold] = a.fit[a.hold[hold].fit]
            take_hold(a, s, hold, a.horizon, 1)


@entry
def cost_now(a: Arrays, s: State) -> int:
    total = 0
    for g in range(len(s.placed)):
        if not s.placed[g]:
            total += UNPLACED
    for job in range(len(a.job)):
        finish = NONE
        for index in range(a.job[job].last, a.job[job].last_end):
            v = a.last[index]
            if s.start[v] == NONE or not s.placed[a.event[v].group]:
                finish = NONE
                break
            finish = max(finish, s.start[v] + a.event[v].slots)
        if finish != NONE:
            total += a.job[job].weight * max(0, finish - a.job[job].due)
            if finish > a.job[job].told:
                total += a.move_cost
    return total


@entry
def list_all(a: Arrays, s: State, order: Ints) -> int:
    for g in order:
        place(a, s, g)
    return cost_now(a, s)


def begun(tasks: Tasks) -> State:
    state = fresh(tasks.arrays)
    begin_plan(tasks.arrays, state)
    return state


def schedule_of(tasks: Tasks, state: State) -> Schedule:
    """What the state holds, as a plan; groups that found no room are left out of it."""
    left_out = tuple(int(g) for g in np.flatnonzero(state.placed == 0))
    start, who, at = state.start.copy(), state.who.copy(), state.at.copy()
    a = tasks.arrays
    for g in left_out:
        for v in a.seq[a.group[g].seq : a.group[g].seq + a.group[g].events]:
            if not a.event[v].fact:
                start[v], who[v] = NONE, 0
    return Schedule(start, who, at, int(cost_now(a, state)), left_out)


def by_due_date(tasks: Tasks) -> Ints:
    """Groups by first due date, after those that stand on a place and those with a pin."""
    due = tasks.arrays.job.due
    return ints(
        sorted(
            range(len(tasks.groups)),
            key=lambda g: (tasks.rank[g], min(int(due[job]) for job in tasks.groups[g]), g),
        )
    )


def listed(tasks: Tasks, order: Ints) -> Schedule:
    state = begun(tasks)
    list_all(tasks.arrays, state, order)
    return schedule_of(tasks, state)


def earliest_due_first(tasks: Tasks) -> Schedule:
    """The baseline: the list by due date, nothing searched.

    A job that finds no room (its pin wants a table that another was given) goes to the front.
    """
    order = by_due_date(tasks)
    best = listed(tasks, order)
    for _ in range(3):
        if not best.left_out:
            break
        first = set(best.left_out)
        order = ints(sorted(order, key=lambda g: (tasks.rank[g] > 0, int(g) not in first)))
        best = min(best, listed(tasks, order), key=lambda schedule: schedule.cost)
    return best
