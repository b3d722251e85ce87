"""Making way for one job: it and a few beside it taken out of the plan and put back, it first more
often than not; which neighbourhood to solve for it; and when it could be through at the soonest.
"""

from __future__ import annotations

import random

import numpy as np

from jobs.planning.lists import cost_now, give_back, place, schedule_of
from jobs.planning.loaded import draw, fitness, middle, state_of
from jobs.planning.search import overlap, span_of
from jobs.planning.state import State, copy_state, entry_with_arrays, inner
from jobs.planning.tables import Ints, ints
from jobs.planning.tasks import NONE, TURNS, Arrays, Schedule, Tasks

NEAR = 480  # slots before it, ten days of half hours: who is at work then is beside it


def soonest_alone(tasks: Tasks, group: int, job: int) -> int:
    """No plan has the job through before this: its own waits and hours, in an empty shop."""
    a = tasks.arrays
    row = a.group[group]
    start: dict[int, int] = {}
    for v in map(int, a.seq[row.seq : row.seq + row.events]):
        event = a.event[v]
        if event.fixed != NONE:
            start[v] = int(event.fixed)
            continue
        early = 0
        for arc in a.before[event.before : event.before_end]:
            u = int(arc.source)
            end = start[u] + int(a.event[u].slots)
            # The wait goes by the day of a start that may come later: the least of those ahead.
            early = max(early, end + int(a.lag[arc.lag, a.day[max(0, start[u])] :].min()))
        start[v] = int(a.opening[event.kind, min(early, a.horizon)])
    lasts = a.last[a.job[job].last : a.job[job].last_end]
    return max(start[v] + int(a.event[v].slots) for v in map(int, lasts))


def beside(tasks: Tasks, known: Schedule, group: int, draws: random.Random) -> list[int]:
    """The group, and others that are at work while it is or shortly before it."""
    spans = {
        g: span_of(tasks, known, g) for g in range(len(tasks.groups)) if g not in known.left_out
    }
    begin, end = spans[group]
    around = (begin - NEAR, end)
    rest = sorted(
        (g for g in spans if g != group),
        key=lambda g: -overlap(spans[g], around) * draws.uniform(0.3, 1.0),
    )
    chosen, events = [group], int(tasks.arrays.group[group].events)
    room = draws.choice((40, 70, 100))
    for g in rest:
        more = int(tasks.arrays.group[g].events)
        if events + more <= room:
            chosen.append(g)
            events += more
    return chosen


@inner
def choose_beside(a: Arrays, s: State, seed: Ints, chosen: Ints, many: int) -> None:
    """After the group that stands first, others near to it in time, some from further away."""
    for index in range(1, many):
        best, distance = -1, 0
        for g in range(len(a.group)):
            again = False
            for before in range(index):
                again = again or chosen[before] == g
            if again:
                continue
            far = abs(middle(a, s, g) - middle(a, s, chosen[0])) + draw(seed, 960)
            if best < 0 or far < distance:
                best, distance = g, far
        chosen[index] = best


@entry_with_arrays
def make_way_in(
    a: Arrays, states: tuple[State, State, State], group: int, limits: tuple[int, int], seed: Ints
) -> None:
    """Takes the group and a few beside it out and puts them back, it first in half of the tries.

    A try is kept if it is no worse than the one before, or than the one kept some tries ago. Limits
    are the tries, and the cost at which it is good enough.
    """
    s, kept, best = states
    tries, enough = limits
    groups = len(a.group)
    chosen = np.zeros(8, dtype=np.int64)
    now = fitness(a, s)
    top = fitness(a, best)
    past = np.full(20, now)
    for number in range(tries):
        if cost_now(a, best) <= enough:
            return
        many = min(groups, 1 + draw(seed, 6))
        chosen[0] = group
        choose_beside(a, s, seed, chosen, many)
        for index in range(many):
            give_back(a, s, chosen[index])
        first = draw(seed, 2) if many > 1 else 0
        for index in range(many - 1, first, -1):
            other = first + draw(seed, index + 1 - first)
            chosen[index], chosen[other] = chosen[other], chosen[index]
        for index in range(many):
            g = chosen[index]
            s.turn[g] = draw(seed, TURNS) if draw(seed, 2) else s.turn[g]
            place(a, s, g)
        got = fitness(a, s)
        if got <= now or got <= past[number % 20]:
            now = got
            copy_state(s, kept)
        else:
            copy_state(kept, s)
        past[number % 20] = now
        if now < top:
            top = now
            copy_state(s, best)


def make_way(
    tasks: Tasks, known: Schedule, group: int, limits: tuple[int, int], seed: int
) -> Schedule:
    """The best plan of so many tries from here; never a dearer one."""
    best = state_of(tasks, known)
    states = (state_of(tasks, known), state_of(tasks, known), best)
    make_way_in(tasks.arrays, states, group, limits, ints([seed % 2147483646 + 1]))
    return schedule_of(tasks, best)
