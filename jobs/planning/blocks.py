"""Search by pieces of work: some are taken out of the plan and put back in another order.

A block is what can't well be parted: steps that a greatest wait ties together, or a table kept
from one to the other; what is cast in one run. Blocks are finer than jobs, so a late job's piece
can go before another's without the whole job. Compiled; a budget counts tries, not seconds, and the
draws are its own: the same facts give the same plan.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np

from jobs.planning.lists import (
    State,
    entry,
    inner,
    place_events,
    schedule_of,
    take,
    take_hold,
    unplace,
)
from jobs.planning.shake import draw, fitness, state_of
from jobs.planning.tasks import NONE, Arrays, Ints, Schedule, Tasks, ints, ragged, table

SCARCE = 8  # a place with room for no more than so many such pieces ties the steps it is kept for
BACK = 60  # times a block may go back before a try is given up
MOST = 60  # blocks taken out in one try

BLOCK = ("seq", "seq_end", "open", "open_end", "next", "next_end", "waits", "group")


class Blocks(NamedTuple):
    row: Any  # columns of BLOCK
    seq: Ints  # events, in an order in which they can be placed
    open: Ints  # holds that a fact has begun and this block ends
    next: Ints  # blocks that follow one
    of: Ints  # block of each event, -1 for facts


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


def seq_of(a: Arrays, group: int) -> Ints:
    row = a.group[group]
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
    seq_flat, seq_cuts = ragged(list(rows.values()))
    open_flat, open_cuts = ragged(opened)
    next_flat, next_cuts = ragged([sorted(each) for each in follow])
    groups = [int(a.event[seq[0]].group) for seq in rows.values()]
    columns = (*seq_cuts, *open_cuts, *next_cuts, [len(each) for each in waits], groups)
    return Blocks(table(BLOCK, *columns), seq_flat, open_flat, next_flat, of)


@inner
def free_places(a: Arrays, s: State, b: Blocks, number: int) -> None:
    """Ends no longer known: before any of the blocks that a place is kept over is taken out."""
    for index in range(b.row[number].seq, b.row[number].seq_end):
        v = b.seq[index]
        for closing in range(a.event[v].closing, a.event[v].closing_end):
            hold = a.closing[closing]
            if s.at[hold] >= 0:
                take_hold(a, s, hold, s.start[v] + a.event[v].slots, -1)
                s.at[hold] = -1


@inner
def take_out(a: Arrays, s: State, b: Blocks, number: int) -> None:
    """A piece that stands on a place from before stays there till it is known when it goes."""
    for index in range(b.row[number].seq_end - 1, b.row[number].seq - 1, -1):
        v = b.seq[index]
        unplace(a, s, v)
        s.bound[v] = 0
    for index in range(b.row[number].open, b.row[number].open_end):
        hold = b.open[index]
        s.at[hold] = a.fit[a.hold[hold].fit]
        take_hold(a, s, hold, a.horizon, 1)


@inner
def let_go(a: Arrays, s: State, b: Blocks, number: int) -> None:
    for index in range(b.row[number].open, b.row[number].open_end):
        hold = b.open[index]
        take_hold(a, s, hold, a.horizon, -1)
        s.at[hold] = -1


@inner
def put_in(a: Arrays, s: State, b: Blocks, number: int) -> bool:
    let_go(a, s, b, number)
    if place_events(a, s, b.seq[b.row[number].seq : b.row[number].seq_end], BACK):
        return True
    take_out(a, s, b, number)
    return False


@inner
def put_back(a: Arrays, s: State, b: Blocks, out: Ints, old: tuple[Ints, Ints, Ints]) -> None:
    """All as it was before it was taken out."""
    start, who, at = old
    for number in out:
        let_go(a, s, b, number)
        for index in range(b.row[number].seq, b.row[number].seq_end):
            v = b.seq[index]
            if a.event[v].fixed == NONE:
                s.start[v], s.who[v] = start[v], who[v]
                take(a, s, v, 1)
    for number in out:
        for index in range(b.row[number].seq, b.row[number].seq_end):
            v = b.seq[index]
            for closing in range(a.event[v].closing, a.event[v].closing_end):
                hold = a.closing[closing]
                s.at[hold] = at[hold]
                if at[hold] >= 0:
                    take_hold(a, s, hold, start[v] + a.event[v].slots, 1)


@inner
def chance(seed: Ints) -> float:
    """Above 0, at most 1."""
    return (1 + draw(seed, 1_000_000)) / 1_000_000


@inner
def first_of(s: State, b: Blocks, number: int) -> int:
    return s.start[b.seq[b.row[number].seq]]


@inner
def add_with_followers(b: Blocks, chosen: Ints, out: Ints, number: int) -> None:
    """Marks the block and all that can only come after it; `out[-1]` counts them."""
    if chosen[number]:
        return
    begin = out[-1]
    chosen[number] = 1
    out[begin] = number
    out[-1] += 1
    while begin < out[-1]:
        row = out[begin]
        for index in range(b.row[row].next, b.row[row].next_end):
            other = b.next[index]
            if not chosen[other]:
                chosen[other] = 1
                out[out[-1]] = other
                out[-1] += 1
        begin += 1


@inner
def mark_late(a: Arrays, s: State, late: Ints) -> None:
    late[:] = 0
    for job in range(len(a.job)):
        for index in range(a.job[job].last, a.job[job].last_end):
            v = a.last[index]
            if s.start[v] + a.event[v].slots > a.job[job].due:
                late[a.event[v].group] = 1


@inner
def choose_blocks(
    a: Arrays, s: State, b: Blocks, seed: Ints, marks: tuple[Ints, Ints, Ints]
) -> None:
    """A block, as often as not a late job's, some at work about the same time, all that follow."""
    chosen, out, late = marks
    blocks = len(b.row)
    out[-1] = 0
    first = draw(seed, blocks)
    if draw(seed, 2):
        mark_late(a, s, late)
        for _ in range(8):
            if late[b.row[first].group]:
                break
            first = draw(seed, blocks)
    wanted = 1 + draw(seed, 6)
    reach = (48, 144, 480)[draw(seed, 3)]
    middle = first_of(s, b, first)
    if s.placed[b.row[first].group]:
        add_with_followers(b, chosen, out, first)
    for _ in range(8 * wanted):
        if wanted <= 1 or out[-1] > MOST:
            return
        other = draw(seed, blocks)
        if abs(first_of(s, b, other) - middle) <= reach and s.placed[b.row[other].group]:
            wanted -= 1
            add_with_followers(b, chosen, out, other)


@inner
def put_in_anew(a: Arrays, s: State, b: Blocks, seed: Ints, work: tuple[Ints, Ints, Ints]) -> int:
    """Takes the blocks out and puts them in about as they were, or a job's before others'.

    How many found room; when one finds none, the others are left out.
    """
    out, key, waits = work
    many = out[-1]
    spread = (12, 48, 240, 960)[draw(seed, 4)]
    hurry = b.row[out[draw(seed, many)]].group if draw(seed, 3) == 0 else -1
    for index in range(many):
        block = out[index]
        key[block] = first_of(s, b, block) + draw(seed, spread)
        if b.row[block].group == hurry:
            key[block] -= 960
        waits[block] = 0
        free_places(a, s, b, block)
    for index in range(many):
        take_out(a, s, b, out[index])
        for each in range(b.row[out[index]].next, b.row[out[index]].next_end):
            waits[b.next[each]] += 1
    done = 0
    while done < many:
        pick = -1
        for index in range(done, many):
            if not waits[out[index]] and (pick < 0 or key[out[index]] < key[out[pick]]):
                pick = index
        block = out[pick]
        if not put_in(a, s, b, block):
            return done
        out[pick], out[done] = out[done], block
        for each in range(b.row[block].next, b.row[block].next_end):
            waits[b.next[each]] -= 1
        done += 1
    return done


@entry
def rearrange_state(
    a: Arrays, s: State, b: Blocks, effort: tuple[int, float, float], seed: Ints
) -> tuple[Ints, Ints, Ints]:
    """The best starts, people and places by the time so many events have been placed again.

    Annealing (Kirkpatrick, Gelatt and Vecchi 1983): a try that loses a little is kept now and then,
    ever less often. `effort` is the events to place again and the heat at first and in the end.
    The state is left where the last try left it, so that it can be gone on from.
    """
    work, hot, cold = effort
    left = work
    blocks = len(b.row)
    best = s.start.copy(), s.who.copy(), s.at.copy()
    now = fitness(a, s)
    top = now
    chosen = np.zeros(blocks, dtype=np.int64)
    out = np.zeros(blocks + 1, dtype=np.int64)
    late = np.zeros(len(a.group), dtype=np.int64)
    key = np.zeros(blocks, dtype=np.int64)
    waits = np.zeros(blocks, dtype=np.int64)
    while left > 0:
        left -= 1
        choose_blocks(a, s, b, seed, (chosen, out, late))
        many = out[-1]
        if not many:
            continue
        old = s.start.copy(), s.who.copy(), s.at.copy()
        done = put_in_anew(a, s, b, seed, (out, key, waits))
        for index in range(many):
            left -= b.row[out[index]].seq_end - b.row[out[index]].seq
        got = fitness(a, s) if done == many else np.inf
        heat = cold + (hot - cold) * max(0, left) / work
        if got <= now - heat * np.log(chance(seed)):
            now = got
        else:
            for index in range(done):
                free_places(a, s, b, out[index])
            for index in range(done):
                take_out(a, s, b, out[index])
            put_back(a, s, b, out[:many], old)
        for index in range(many):
            chosen[out[index]] = 0
        if now < top:
            top = now
            best = s.start.copy(), s.who.copy(), s.at.copy()
    return best


def rearrange(
    tasks: Tasks, blocks: Blocks, schedule: Schedule, effort: tuple[int, float, int], seed: int
) -> Iterator[Schedule]:
    """Ever better plans, never a worse one than it was given, one after each round.

    `effort` is the events placed again in a round, the heat at first (weighted slots that a try may
    lose), and the rounds by which it has cooled.
    """
    if not len(blocks.row):
        return
    work, hot, rounds = effort
    state = state_of(tasks, schedule)
    numbers = ints([seed % 2147483646 + 1])
    for number in range(rounds):
        first, last = (1 + hot * (1 - (number + each) / rounds) ** 2 for each in (0, 1))
        found = rearrange_state(tasks.arrays, state, blocks, (work, first, last), numbers)
        got = schedule_of(
            tasks, state_of(tasks, Schedule(*found, schedule.cost, schedule.left_out))
        )
        schedule = min(schedule, got, key=lambda each: each.cost)
        yield schedule
