"""What can't well be parted: steps that a greatest wait ties together, or a table kept from one to
the other; what is cast in one run. Blocks are finer than jobs, so a late job's piece can go before
another's without the whole job.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from jobs.planning.state import State
from jobs.planning.tables import Ints, Numbers, ints, ragged, table
from jobs.planning.tasks import NONE, Arrays, Tasks

SCARCE = 8  # a place with room for no more than so many such pieces ties the steps it is kept for
IN_WAY = 6  # blocks that make way for one, at the most
IN_AGAIN = -1  # of how many a block waits for (`Marks.waits`): it has been put in
MOST_OWED = 10**9  # the table of it has half the bits that costs have

BLOCK = (
    *("seq", "seq_end", "open", "open_end", "next", "next_end", "slide", "slide_end"),
    *("keep", "keep_end", "waits", "group"),
)
JOBS_OF = ("jobs", "jobs_end")


class Blocks(NamedTuple):
    row: Any  # columns of BLOCK
    seq: Numbers  # events, in an order in which they can be placed
    open: Numbers  # holds that a fact has begun and this block ends
    next: Numbers  # blocks that follow one
    slide: Numbers  # holds that an event begins which nothing outside the block waits for
    keep: Numbers  # holds that this block begins and another ends
    of: Ints  # block of each event, -1 for facts
    jobs: Numbers  # of the groups, one group's after the other's
    jobs_of: Any  # per group, columns of JOBS_OF
    longest: int  # slots of the longest event
    share: Any  # per event, one part in as many as its group has
    owed: Any  # per event and slot, what its job costs at least if it begins then
    in_time: Ints  # per event, the last slot at which its job need cost nothing, -1 for none


class Marks(NamedTuple):
    """What a try writes down, the state before it, and the best so far."""

    chosen: Ints  # per block, 1 for those taken out
    out: Ints  # their numbers; the last entry says how many there are
    late: Ints  # per group, weighted slots by which its jobs are late
    behind: Ints  # the same per job
    key: Ints  # per block, when its turn comes
    waits: Ints  # per block, how many of those taken out come before it
    owed: Ints  # per group, what it costs at least
    cost: Ints  # per group, what it cost before
    ends: Ints  # per group, its weighted slots up to the ends of its jobs before
    whole: Ints  # sums of these two over all groups
    seen: Ints  # per group, 1 while it has been counted
    pull: Any  # per block, its events' shares of what the group owes, before
    pulled: Any  # the same where the try puts it
    pulls: Any  # sums of these two over the blocks that are out
    near: Ints  # events about the time that is looked at
    in_way: Ints
    seed: Ints
    start: Ints  # as it was before the try
    who: Ints
    at: Ints
    best_start: Ints
    best_who: Ints
    best_at: Ints


class Tops:
    """Sets that grow together."""

    def __init__(self, size: int) -> None:
        self.parent = list(range(size))

    def of(self, index: int) -> int:
        while self.parent[index] != index:
            index = self.parent[index]
        return index

    def join(self, one: int, other: int) -> None:
        one, other = self.of(one), self.of(other)
        self.parent[max(one, other)] = min(one, other)


def blocks_of(tasks: Tasks) -> Blocks:
    a = tasks.arrays
    events = len(a.event)
    fact = [bool(each) for each in a.event.fact]
    arcs = [
        (int(arc.source), v, int(arc.most))
        for v in range(events)
        for arc in a.before[a.event[v].before : a.event[v].before_end]
        if not fact[v] and not fact[arc.source]
    ]
    tops = Tops(events)
    for u, v, most in arcs:
        if most >= 0:
            tops.join(u, v)
    for row in a.hold:
        first, last = int(row.first), int(row.last)
        room = max((int(a.room[k]) for k in a.fit[row.fit : row.fit_end]), default=0)
        if not fact[first] and not fact[last] and SCARCE * int(row.amount) >= room:
            tops.join(first, last)
    for group in range(len(a.group)):
        join_circles(tops, arcs, set(map(int, seq_of(a, group))))
    return numbered(a, tops, [(u, v) for u, v, _ in arcs])


def seq_of(a: Arrays, group: int) -> Numbers:
    return seq_of_row(a, a.group[group])


def seq_of_row(a: Arrays, row: Any) -> Numbers:
    return a.seq[row.seq : row.seq + row.events]


def join_circles(tops: Tops, arcs: Sequence[tuple[int, int, int]], mine: set[int]) -> None:
    """Where blocks of a group would wait for each other, the group is one block."""
    after: dict[int, set[int]] = defaultdict(set)
    waits: dict[int, int] = defaultdict(int)
    for u, v, _ in arcs:
        one, other = tops.of(u), tops.of(v)
        if u in mine and one != other and other not in after[one]:
            after[one].add(other)
            waits[other] += 1
    every = {tops.of(v) for v in mine}
    ready = [block for block in every if not waits[block]]
    done = 0
    while ready:
        block = ready.pop()
        done += 1
        for other in after[block]:
            waits[other] -= 1
            if not waits[other]:
                ready.append(other)
    if done < len(every):
        first = min(mine)
        for v in mine:
            tops.join(first, v)


def numbered(a: Arrays, tops: Tops, arcs: list[tuple[int, int]]) -> Blocks:
    rows: dict[int, list[int]] = defaultdict(list)
    for group in range(len(a.group)):
        for v in map(int, seq_of(a, group)):
            if not a.event[v].fact:
                rows[tops.of(v)].append(v)
    of = np.full(len(a.event), -1, dtype=np.int64)
    for number, seq in enumerate(rows.values()):
        of[seq] = number
    follow: list[set[int]] = [set() for _ in rows]
    waits: list[set[int]] = [set() for _ in rows]
    for u, v in arcs:
        if of[u] != of[v]:
            follow[of[u]].add(int(of[v]))
            waits[of[v]].add(int(of[u]))
    opened: list[list[int]] = [[] for _ in rows]
    for hold, row in enumerate(a.hold):
        if a.event[row.first].fact and of[row.last] >= 0:
            opened[of[row.last]].append(hold)
    waited = {u for u, v in arcs if of[u] != of[v]}
    sliding: list[list[int]] = [[] for _ in rows]
    for hold, row in enumerate(a.hold):
        first = int(row.first)
        if of[first] < 0 or of[first] != of[row.last] or row.from_end or first in waited:
            continue
        if a.event[first].fixed == NONE:
            sliding[of[first]].append(hold)
    seq_flat, seq_cuts = ragged(list(rows.values()))
    keep_flat, keep_cuts = ragged(kept_over(a, of, len(rows)))
    slide_flat, slide_cuts = ragged(sliding)
    open_flat, open_cuts = ragged(opened)
    next_flat, next_cuts = ragged([sorted(each) for each in follow])
    groups = [int(a.event[seq[0]].group) for seq in rows.values()]
    owed = owed_from(a)
    cuts = (*seq_cuts, *open_cuts, *next_cuts, *slide_cuts, *keep_cuts)
    rows_of = table(BLOCK, *cuts, [len(each) for each in waits], groups)
    jobs_flat, jobs_cuts = ragged(jobs_of_groups(a))
    return Blocks(
        rows_of,
        seq_flat,
        open_flat,
        next_flat,
        slide_flat,
        keep_flat,
        of,
        jobs_flat,
        table(JOBS_OF, *jobs_cuts),
        max((int(each.slots) for each in a.event), default=0),
        share_of(a),
        owed,
        last_without(owed),
    )


def jobs_of_groups(a: Arrays) -> list[list[int]]:
    rows: list[list[int]] = [[] for _ in range(len(a.group))]
    for job, row in enumerate(a.job):
        if row.last < row.last_end:
            rows[a.event[a.last[row.last]].group].append(job)
    return rows


def kept_over(a: Arrays, of: Ints, blocks: int) -> list[list[int]]:
    rows: list[list[int]] = [[] for _ in range(blocks)]
    for hold, row in enumerate(a.hold):
        if of[row.first] >= 0 and of[row.first] != of[row.last]:
            rows[of[row.first]].append(hold)
    return rows


def share_of(a: Arrays) -> Any:
    """What has begun and what is pinned can't help, and has none."""
    share = np.zeros(len(a.event))
    for row in a.group:
        seq = [v for v in seq_of_row(a, row) if a.event[v].fixed == NONE]
        share[seq] = 1 / max(1, len(seq))
    return share


def owed_from(a: Arrays) -> Any:
    """What the dearest job that waits for an event costs at least, by the slot in which the event
    begins: if nothing but the hours and the waits between steps kept what follows."""
    slots = np.arange(a.horizon + 1)
    owed = np.zeros((len(a.event), a.horizon + 1), dtype=np.int32)
    for job in a.job:
        for v in a.last[job.last : job.last_end]:
            ends = slots + a.event[v].slots
            cost = job.weight * np.maximum(0, ends - job.due) + a.move_cost * (ends > job.told)
            owed[v] = np.maximum(owed[v], np.minimum(cost, MOST_OWED))
    done: set[int] = set()
    for v in reversed([int(v) for row in a.group for v in seq_of_row(a, row)]):
        if v in done:
            continue
        done.add(v)
        event = a.event[v]
        begins = owed[v]
        if event.fixed != NONE:
            begins = np.full_like(begins, begins[min(max(int(event.fixed), 0), a.horizon)])
        else:
            # Begun later it may be over sooner: some waits go by the day.
            later = begins[np.minimum(a.opening[event.kind], a.horizon)]
            begins = np.minimum.accumulate(later[::-1])[::-1]
        for arc in a.before[event.before : event.before_end]:
            u = int(arc.source)
            ready = slots + a.event[u].slots + a.lag[arc.lag, a.day]
            np.maximum(owed[u], begins[np.minimum(ready, a.horizon)], out=owed[u])
    return owed


def last_without(owed: Any) -> Ints:
    """Per row the last column that owes nothing, -1 where all do."""
    nothing = owed == 0
    return ints(
        np.where(nothing.any(axis=1), owed.shape[1] - 1 - nothing[:, ::-1].argmax(axis=1), -1)
    )


def marks_of(tasks: Tasks, blocks: Blocks, state: State, seed: int) -> Marks:
    many = len(blocks.row)
    empty = np.zeros(many, dtype=np.int64)
    return Marks(
        chosen=empty,
        out=ints([0] * (many + 1)),
        late=ints([0] * len(tasks.groups)),
        behind=ints([0] * len(tasks.jobs)),
        key=empty.copy(),
        waits=empty.copy(),
        owed=ints([0] * len(tasks.groups)),
        cost=ints([0] * len(tasks.groups)),
        ends=ints([0] * len(tasks.groups)),
        whole=ints([0, 0]),
        seen=ints([0] * len(tasks.groups)),
        pull=np.zeros(many),
        pulled=np.zeros(many),
        pulls=np.zeros(2),
        near=ints([0] * (len(tasks.steps) + 1)),
        in_way=ints([0] * IN_WAY),
        seed=ints([seed % 2147483646 + 1]),
        start=state.start.copy(),
        who=state.who.copy(),
        at=state.at.copy(),
        best_start=state.start.copy(),
        best_who=state.who.copy(),
        best_at=state.at.copy(),
    )
