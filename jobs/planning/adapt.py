"""A known plan brought to changed facts: what can stay where it was stays, the rest goes around.

The known plan may be of an older problem: pieces have come or gone, people are away, waits have
grown, marks have been made. Its slots count from the same moment as the problem's.
"""

from __future__ import annotations

from itertools import product
from typing import Any, NamedTuple

import numpy as np

from jobs.planning.bring_in import brought_in
from jobs.planning.lists import (
    again_from,
    begun,
    earliest,
    earliest_due_first,
    give_back,
    place,
    schedule_of,
)
from jobs.planning.problem import Plan
from jobs.planning.state import State, entry, inner
from jobs.planning.tables import Ints, ints
from jobs.planning.taking import count, obstacle, take, take_hold
from jobs.planning.tasks import NONE, Arrays, Schedule, Tasks


class Wish(NamedTuple):
    """The known plan by the problem's numbers; NONE where it says nothing of an event."""

    start: Ints  # per event
    who: Ints  # per event, bits


def wish_of(tasks: Tasks, known: Plan) -> tuple[Arrays, Wish]:
    """The problem's arrays with each hold trying first the place where it was known to be."""
    a = tasks.arrays
    start = np.full(len(a.event), NONE, dtype=np.int64)
    who = np.zeros(len(a.event), dtype=np.int64)
    bit = {person.name: 1 << index for index, person in enumerate(tasks.people)}
    for key, v in tasks.event.items():
        if key in known.starts:
            # Pieces that are now done together and were not wait for the last of them.
            start[v] = max(int(start[v]), known.starts[key])
            who[v] = sum(bit.get(name, 0) for name in set(known.people.get(key, ())))
    fit = a.fit.copy()
    number = {place.name: index for index, place in enumerate(tasks.problem.shop.places)}
    for held, index in tasks.hold.items():
        row = a.hold[index]
        fits = fit[row.fit : row.fit_end]
        was = number.get(known.held.get(held, ""), -1)
        fit[row.fit : row.fit_end] = [*fits[fits == was], *fits[fits != was]]
    return a._replace(fit=fit), Wish(start, who)


@inner
def can_do(a: Arrays, s: State, v: int, who: int, t: int) -> bool:
    if who & ~a.event[v].able or count(who) != a.event[v].crew:
        return False
    for slot in range(max(t, 0), min(t + a.event[v].slots, a.horizon)):
        if who & ~s.free[slot]:
            return False
    return True


@inner
def hand_over(a: Arrays, s: State, v: int, who: int) -> None:
    """Gives event v, where it stands, to those it was known to be done by, if they are free."""
    if s.who[v] == who:
        return
    take(a, s, v, -1)
    if can_do(a, s, v, who, s.start[v]):
        s.who[v] = who
    take(a, s, v, 1)


@inner
def keep(a: Arrays, s: State, g: int, wish: Wish) -> bool:
    """Puts a group where it was known to be, by the same people. If anything there is in its way,
    all is as before and the answer is no."""
    for index in range(a.group[g].open, a.group[g].open_end):
        hold = a.open[index]
        take_hold(a, s, hold, a.horizon, -1)
        s.at[hold] = -1
    for index in range(a.group[g].seq, a.group[g].seq + a.group[g].events):
        v = a.seq[index]
        if a.event[v].fact:
            continue
        t = wish.start[v]
        right = t >= earliest(a, s, v) and t <= a.horizon - a.event[v].slots
        if a.event[v].fixed != NONE:
            right = right and s.start[v] == t
        elif right:
            right = (
                a.opening[a.event[v].kind, t] == t
                and obstacle(a, s, v, t) < 0
                and can_do(a, s, v, wish.who[v], t)
            )
            if right:
                s.start[v] = t
                s.who[v] = wish.who[v]
                take(a, s, v, 1)
        if not right or again_from(a, s, v, t) != NONE:
            give_back(a, s, g)
            return False
    s.placed[g] = 1
    return True


@inner
def place_after(a: Arrays, s: State, g: int, wish: Wish) -> bool:
    """Lists a group with no step before it was known to begin."""
    for index in range(a.group[g].seq, a.group[g].seq + a.group[g].events):
        v = a.seq[index]
        s.bound[v] = max(wish.start[v], 0)
    return place(a, s, g)


@inner
def is_where(a: Arrays, s: State, g: int, wish: Wish) -> bool:
    for index in range(a.group[g].seq, a.group[g].seq + a.group[g].events):
        v = a.seq[index]
        if not a.event[v].fact and s.start[v] != wish.start[v]:
            return False
    return True


@entry
def keep_all(a: Arrays, s: State, order: Ints, wish: Wish) -> None:
    """All that can be where it was, first by the same people, then by others at the same times.

    A piece that stands somewhere and cannot go as it was known to is listed at once: its place is
    taken for good until it has its steps.
    """
    for v in range(len(a.event)):
        if a.event[v].fixed != NONE and not a.event[v].fact and s.start[v] == wish.start[v]:
            hand_over(a, s, v, wish.who[v])
    for g in order:
        if s.placed[g] or keep(a, s, g, wish):
            continue
        if a.group[g].open < a.group[g].open_end:
            place_after(a, s, g, wish)
    for g in order:
        if not s.placed[g] and place_after(a, s, g, wish) and not is_where(a, s, g, wish):
            give_back(a, s, g)


@entry
def list_rest(a: Arrays, s: State, order: Ints, early: bool, wish: Wish) -> None:
    for g in order:
        if s.placed[g]:
            continue
        if early or not place_after(a, s, g, wish):
            place(a, s, g)
    for v in range(len(a.event)):
        if not a.event[v].fact and s.start[v] != NONE and s.start[v] == wish.start[v]:
            hand_over(a, s, v, wish.who[v])


def adapt(tasks: Tasks, known: Plan) -> Schedule:
    """A whole plan as near to a known one as lists can make it.

    Several orders of what cannot stay are tried, and what found no room before all that can. The
    best leaves the fewest out, and of those the fewest whose customers were told a date, then moves
    the fewest told dates, then costs the least, then moves the fewest steps.
    """
    arrays, wish = wish_of(tasks, known)
    best = schedule_of(tasks, begun(tasks))
    if not tasks.groups:
        return best
    front: tuple[int, ...] = ()
    for _ in range(3):
        for order in orders_of(tasks, wish):
            for early, before in product((False, True), (front, ()) if front else ((),)):
                state = begun(tasks)
                list_rest(arrays, state, ints(before), early, wish)
                keep_all(arrays, state, order, wish)
                list_rest(arrays, state, first_of(order, front), early, wish)
                best = nearer(tasks, wish, best, schedule_of(tasks, state))
                if is_all_kept(tasks, wish, best):  # so it is in every other order, too
                    return best
        if not best.left_out:
            return best
        front = (*best.left_out, *front)
    return nearer(tasks, wish, best, brought_in(tasks, earliest_due_first(tasks)))


def nearer(tasks: Tasks, wish: Wish, best: Schedule, found: Schedule) -> Schedule:
    return found if rating(tasks, wish, found) < rating(tasks, wish, best) else best


def is_all_kept(tasks: Tasks, wish: Wish, found: Schedule) -> bool:
    """Whether all there is to do is where it was known to be, by the same people."""
    ahead = tasks.arrays.event.fact == 0
    same = (wish.start == found.start) & (wish.who == found.who) & (wish.start != NONE)
    return not found.left_out and bool(same[ahead].all())


def first_of(order: Ints, front: tuple[int, ...]) -> Ints:
    return ints(sorted(map(int, order), key=lambda g: g not in front))


def orders_of(tasks: Tasks, wish: Wish) -> list[Ints]:
    """What stands on a place, what has a fact or a pin, the rest: each as the known plan began it,
    as it was told or is due, and by how little it can spare. What is new goes last."""
    a = tasks.arrays
    groups = range(len(tasks.groups))
    begins, wanted, spare = [], [], []
    for g in groups:
        events = a.seq[a.group[g].seq : a.group[g].seq + a.group[g].events]
        known = [int(wish.start[v]) for v in events if wish.start[v] != NONE]
        begins.append(min(known, default=a.horizon))
        rows = [a.job[job] for job in tasks.groups[g]]
        wanted.append(min(min(int(row.told), max(int(row.due), 0)) for row in rows))
        spare.append(
            min(
                min(int(row.told), a.horizon)
                - max(int(wish.start[v]) for v in a.last[row.last : row.last_end])
                for row in rows
            )
        )
    return [
        ints(sorted(groups, key=lambda g: (tasks.rank[g], begins[g] == a.horizon, by[g], g)))
        for by in (begins, wanted, spare)
    ]


def rating(tasks: Tasks, wish: Wish, found: Schedule) -> tuple[int, ...]:
    moved = np.count_nonzero((wish.start != NONE) & (wish.start != found.start))
    out, late = told_left_out(tasks, found), len(told_moved_in(tasks, found))
    return len(found.left_out), out, late, found.cost, int(moved)


def told_left_out(tasks: Tasks, found: Schedule) -> int:
    """How many jobs whose customers were told a date have none in the plan."""
    told = {job.name for job in tasks.problem.jobs if job.told is not None}
    return sum(tasks.jobs[job] in told for g in found.left_out for job in tasks.groups[g])


def told_moved_in(tasks: Tasks, found: Schedule) -> tuple[int, ...]:
    """Jobs that end after the date their customers were told."""
    return tuple(
        job
        for job, row in enumerate(tasks.arrays.job)
        if finish_in(tasks, found, job) > int(row.told)
    )


def finish_in(tasks: Tasks, found: Schedule, job: int) -> int:
    """NONE if a piece of the job is left out."""
    row: Any = tasks.arrays.job[job]
    lasts = tasks.arrays.last[row.last : row.last_end]
    if not len(lasts) or (found.start[lasts] == NONE).any():
        return NONE
    return int((found.start[lasts] + tasks.arrays.event.slots[lasts]).max())
