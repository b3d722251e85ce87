"""Blocks taken out of a plan and put back into it; compiled, the state is changed in place."""

from __future__ import annotations

from jobs.planning.blocks import Blocks, Marks
from jobs.planning.lists import close_hold, place_events, unplace
from jobs.planning.state import State, inner
from jobs.planning.taking import busy, crew_for, obstacle, take, take_hold
from jobs.planning.tasks import NONE, Arrays

BACK = 60  # times a block may go back before a try is given up


@inner
def free_places(a: Arrays, s: State, b: Blocks, number: int) -> None:
    """Of what the block ends or begins: before any of the blocks a place is kept over is out."""
    for index in range(b.row[number].seq, b.row[number].seq_end):
        v = b.seq[index]
        for closing in range(a.event[v].closing, a.event[v].closing_end):
            hold = a.closing[closing]
            if s.at[hold] >= 0:
                take_hold(a, s, hold, s.start[v] + a.event[v].slots, -1)
                s.at[hold] = -1
    for index in range(b.row[number].keep, b.row[number].keep_end):
        hold = b.keep[index]
        if s.at[hold] >= 0:
            last = a.hold[hold].last
            take_hold(a, s, hold, s.start[last] + a.event[last].slots, -1)
            s.at[hold] = -1


@inner
def hold_again(a: Arrays, s: State, b: Blocks, number: int) -> bool:
    """Finds places for what the block begins and a block that stayed in the plan ends."""
    for index in range(b.row[number].keep, b.row[number].keep_end):
        hold = b.keep[index]
        last = a.hold[hold].last
        if s.at[hold] >= 0 or s.start[last] == NONE:
            continue
        if close_hold(a, s, hold, s.start[last] + a.event[last].slots) >= 0:
            return False
    return True


@inner
def is_too_soon(a: Arrays, s: State, b: Blocks, one: int, other: int) -> bool:
    """Whether the second block, which is in the plan, begins sooner than the first lets it."""
    for place in range(b.row[other].seq, b.row[other].seq_end):
        v = b.seq[place]
        for arc in range(a.event[v].before, a.event[v].before_end):
            u = a.before[arc].source
            if b.of[u] == one:
                day = a.day[min(max(s.start[u], 0), a.horizon)]
                if s.start[v] < s.start[u] + a.event[u].slots + a.lag[a.before[arc].lag, day]:
                    return True
    return False


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
def lets(a: Arrays, s: State, b: Blocks, number: int, move: tuple[int, int]) -> bool:
    """Whether event u of the block may begin at t, as far as the others of the block go."""
    u, t = move
    if a.opening[a.event[u].kind, t] != t:
        return False
    for index in range(b.row[number].seq, b.row[number].seq_end):
        v = b.seq[index]
        for arc in range(a.event[v].before, a.event[v].before_end):
            least = a.event[u].slots + a.lag[a.before[arc].lag, a.day[t]]
            if a.before[arc].source == u and t + least > s.start[v]:
                return False
    return True


@inner
def begin_later(a: Arrays, s: State, b: Blocks, number: int, hold: int) -> None:
    """A place is taken no sooner than it must be: what begins the hold moves towards what waits for
    it, as far as it may. So a form is not set up on a table days before its cast."""
    u = a.hold[hold].first
    old, slots = s.start[u], a.event[u].slots
    for arc in range(a.event[u].before, a.event[u].before_end):
        if a.before[arc].most >= 0:
            return
    t = a.horizon
    for index in range(b.row[number].seq, b.row[number].seq_end):
        v = b.seq[index]
        for arc in range(a.event[v].before, a.event[v].before_end):
            if a.before[arc].source == u:
                t = min(t, s.start[v] - slots)
    if t <= old or t >= a.horizon:
        return
    end = s.start[a.hold[hold].last] + a.event[a.hold[hold].last].slots
    take_hold(a, s, hold, end, -1)
    take(a, s, u, -1)
    while t > old and not (lets(a, s, b, number, (u, t)) and obstacle(a, s, u, t) < 0):
        t -= 1
    if t > old:
        s.start[u] = t
        s.who[u] = crew_for(a, s, u, t)
    take(a, s, u, 1)
    take_hold(a, s, hold, end, 1)


@inner
def put_in(a: Arrays, s: State, b: Blocks, number: int) -> bool:
    let_go(a, s, b, number)
    if place_events(a, s, b.seq[b.row[number].seq : b.row[number].seq_end], BACK):
        for index in range(b.row[number].slide, b.row[number].slide_end):
            begin_later(a, s, b, number, b.slide[index])
        return True
    take_out(a, s, b, number)
    return False


@inner
def keep_places(a: Arrays, s: State, b: Blocks, m: Marks, number: int) -> None:
    """Where the block is, by whom and on which places, is what later tries are compared with."""
    for index in range(b.row[number].seq, b.row[number].seq_end):
        v = b.seq[index]
        m.start[v], m.who[v] = s.start[v], s.who[v]
        for closing in range(a.event[v].closing, a.event[v].closing_end):
            hold = a.closing[closing]
            m.at[hold] = s.at[hold]
    for index in range(b.row[number].keep, b.row[number].keep_end):
        m.at[b.keep[index]] = s.at[b.keep[index]]


@inner
def stayed(a: Arrays, b: Blocks, m: Marks, w: int) -> bool:
    """Whether an event is in the plan still: what is pinned stays when its block is taken out."""
    return a.event[w].fixed != NONE or not m.chosen[b.of[w]]


@inner
def change_back(a: Arrays, s: State, b: Blocks, m: Marks) -> None:
    """Hands and places of what stayed in the plan, as they were; what was taken out is out."""
    # All give back before anyone takes: one may have what another had.
    for index in range(s.relieved[-1]):
        w = s.relieved[index]
        if stayed(a, b, m, w) and s.who[w] != m.who[w]:
            busy(a, s, (w, s.who[w], -1), s.start[w], s.start[w] + a.event[w].slots)
    for index in range(s.relieved[-1]):
        w = s.relieved[index]
        if stayed(a, b, m, w) and s.who[w] != m.who[w]:
            s.who[w] = m.who[w]
            busy(a, s, (w, s.who[w], 1), s.start[w], s.start[w] + a.event[w].slots)
    for index in range(s.cleared[-1]):
        hold = s.cleared[index]
        first, last = a.hold[hold].first, a.hold[hold].last
        if m.chosen[b.of[first]] or m.chosen[b.of[last]] or s.at[hold] == m.at[hold]:
            continue
        end = s.start[last] + a.event[last].slots
        take_hold(a, s, hold, end, -1)
        s.at[hold] = m.at[hold]
        take_hold(a, s, hold, end, 1)


@inner
def put_back(a: Arrays, s: State, b: Blocks, m: Marks) -> None:
    """All as it was before it was taken out."""
    start, who, at, out, many = m.start, m.who, m.at, m.out, m.out[-1]
    for turn in range(many):
        number = out[turn]
        let_go(a, s, b, number)
        for index in range(b.row[number].seq, b.row[number].seq_end):
            v = b.seq[index]
            if a.event[v].fixed == NONE:
                s.start[v], s.who[v] = start[v], who[v]
                take(a, s, v, 1)
    for turn in range(many):
        number = out[turn]
        for index in range(b.row[number].seq, b.row[number].seq_end):
            v = b.seq[index]
            for closing in range(a.event[v].closing, a.event[v].closing_end):
                hold = a.closing[closing]
                s.at[hold] = at[hold]
                if at[hold] >= 0:
                    take_hold(a, s, hold, start[v] + a.event[v].slots, 1)
        for index in range(b.row[number].keep, b.row[number].keep_end):
            hold = b.keep[index]
            last = a.hold[hold].last
            if at[hold] >= 0 and not m.chosen[b.of[last]]:
                s.at[hold] = at[hold]
                take_hold(a, s, hold, start[last] + a.event[last].slots, 1)
