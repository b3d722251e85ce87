"""What no plan can undercut: each job by itself, with nobody and nothing in its way.

Only shifts, waits, marks and pins are looked at, so the bound is weak where a shop is full; where
a plan reaches it, there is no cheaper one.
"""

from __future__ import annotations

import numpy as np

from jobs.planning.tables import Ints
from jobs.planning.tasks import NONE, Arrays, Tasks


def least_cost(tasks: Tasks) -> int:
    a, ends = tasks.arrays, earliest_finish(tasks)
    rows = ((row, ends[name]) for name, row in zip(tasks.jobs, a.job, strict=True) if name in ends)
    return sum(
        int(row.weight) * max(0, end - int(row.due)) + (a.move_cost if end > row.told else 0)
        for row, end in rows
    )


def earliest_finish(tasks: Tasks) -> dict[str, int]:
    """By job with pieces, and by visit: the end of its last step if every step could have what it
    needs."""
    a = tasks.arrays
    ready = np.full(len(a.event), NONE, dtype=np.int64)  # earliest start
    for group in a.group:
        for v in map(int, a.seq[group.seq : group.seq + group.events]):
            ready[v] = start_of(a, ready, v)
    return {
        name: max(
            int(ready[v] + a.event[v].slots) for v in map(int, a.last[row.last : row.last_end])
        )
        for name, row in zip(tasks.jobs, a.job, strict=True)
        if row.last_end > row.last
    }


def start_of(a: Arrays, ready: Ints, v: int) -> int:
    row = a.event[v]
    if row.fixed != NONE:
        return int(row.fixed)
    early = 0
    for arc in a.before[row.before : row.before_end]:
        u = int(arc.source)
        early = max(early, end_of_wait(a, int(ready[u]), u, a.lag[arc.lag]))
    if early >= a.horizon:
        return int(a.horizon)
    return int(a.opening[row.kind][early])


def end_of_wait(a: Arrays, begin: int, u: int, least: Ints) -> int:
    """The wait goes by the day: begun later, it may be over sooner."""
    slots = int(a.event[u].slots)
    first = int(a.day[min(max(begin, 0), a.horizon)])
    soonest = begin + slots + int(least[first])
    if a.event[u].fixed != NONE:
        return soonest
    opening = a.opening[a.event[u].kind]
    for day in range(first + 1, len(least)):
        start = int(np.searchsorted(a.day, day))
        if start >= a.horizon or start + slots >= soonest:
            break
        soonest = min(soonest, int(opening[start]) + slots + int(least[day]))
    return soonest
