"""Which blocks are to change places: those that make a late job late and what stands in their way,
or some of about the same time. Compiled.
"""

from __future__ import annotations

from jobs.planning.blocks import IN_WAY, SCARCE, Blocks, Marks
from jobs.planning.loaded import draw
from jobs.planning.state import State, inner
from jobs.planning.tables import Ints
from jobs.planning.taking import (
    count,
    free_and_here,
    hold_begin,
    last_below,
    obstacle,
    obstacle_to,
)
from jobs.planning.tasks import NONE, Arrays

MOST = 60  # blocks taken out in one try


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
def add(b: Blocks, m: Marks, number: int, alone: bool) -> None:
    """Marks the block; what follows it stays, unless it comes too soon then."""
    if not alone:
        add_with_followers(b, m.chosen, m.out, number)
    elif not m.chosen[number]:
        m.chosen[number] = 1
        m.out[m.out[-1]] = number
        m.out[-1] += 1


@inner
def choose_blocks(a: Arrays, s: State, b: Blocks, m: Marks) -> None:
    """A block, as often as not a late job's, and some at work about the same time.

    As often as not with all that follows them: that may move up then.
    """
    out, late, seed = m.out, m.late, m.seed
    blocks = len(b.row)
    first = draw(seed, blocks)
    if draw(seed, 2):
        for _ in range(8):
            if late[b.row[first].group]:
                break
            first = draw(seed, blocks)
    wanted = 1 + draw(seed, 6)
    reach = (48, 144, 480)[draw(seed, 3)]
    middle = first_of(s, b, first)
    alone = draw(seed, 2) == 0
    if s.placed[b.row[first].group]:
        add(b, m, first, alone)
    for _ in range(8 * wanted):
        if wanted <= 1 or out[-1] > MOST:
            return
        other = draw(seed, blocks)
        if abs(first_of(s, b, other) - middle) <= reach and s.placed[b.row[other].group]:
            wanted -= 1
            add(b, m, other, alone)


@inner
def late_job(a: Arrays, m: Marks) -> int:
    """A job, the more likely the more its lateness costs; -1 where none is late."""
    total = 0
    chosen = -1
    for job in range(len(a.job)):
        late = m.behind[job]
        if late > 0:
            total += late
            if draw(m.seed, total) < late:
                chosen = job
    return chosen


@inner
def could_begin(a: Arrays, s: State, v: int) -> tuple[int, int]:
    """When an event could begin if all that it needs were free, and what it waits for longest."""
    ready, source = 0, -1
    for arc in range(a.event[v].before, a.event[v].before_end):
        u = a.before[arc].source
        day = a.day[min(max(s.start[u], 0), a.horizon)]
        end = s.start[u] + a.event[u].slots + a.lag[a.before[arc].lag, day]
        if end > ready or source < 0:
            ready, source = max(end, 0), u
    return a.opening[a.event[v].kind, min(ready, a.horizon)], source


@inner
def waiting_event(a: Arrays, s: State, job: int, seed: Ints) -> tuple[int, int]:
    """Of the chain that makes the job's end, an event that could begin sooner if all that it needs
    were free, and when it could; -1 where there is none."""
    v = a.last[a.job[job].last]
    for index in range(a.job[job].last, a.job[job].last_end):
        u = a.last[index]
        if s.start[u] + a.event[u].slots > s.start[v] + a.event[v].slots:
            v = u
    found, since, many = -1, 0, 0
    while v >= 0 and a.event[v].fixed == NONE:
        ready, source = could_begin(a, s, v)
        if ready < s.start[v]:
            many += 1
            if draw(seed, many) == 0:
                found, since = v, ready
        v = source
    return found, since


@inner
def any_waiting(a: Arrays, s: State, b: Blocks, seed: Ints) -> tuple[int, int]:
    """Any event that could begin sooner if all that it needs were free, and when it could; -1 where
    none was met."""
    for _ in range(8):
        v = b.seq[draw(seed, len(b.seq))]
        if a.event[v].fixed == NONE and s.placed[a.event[v].group]:
            ready, _ = could_begin(a, s, v)
            if ready < s.start[v]:
                return v, ready
    return -1, 0


@inner
def wants_same(a: Arrays, s: State, v: int, w: int, begin: int) -> bool:
    """Whether w takes a place that is full when v would be there from `begin` on, or its air."""
    if a.event[v].air * a.event[w].air == 2:
        return True
    for one in range(a.event[v].use, a.event[v].use_end):
        for other in range(a.event[w].use, a.event[w].use_end):
            k = a.use[one]
            stretch = s.room[k, begin : begin + a.event[v].slots]
            if k == a.use[other] and last_below(stretch, 1, begin) >= 0:
                return True
    return False


@inner
def add_one(b: Blocks, m: Marks, many: int, w: int) -> int:
    """Of all that are named, some at random, each as likely (reservoir sampling, Vitter 1985)."""
    block = b.of[w]
    if block < 0 or m.chosen[block]:
        return many
    for index in range(min(many, IN_WAY)):
        if m.in_way[index] == block:
            return many
    index = many if many < IN_WAY else draw(m.seed, many + 1)
    if index < IN_WAY:
        m.in_way[index] = block
    return many + 1


@inner
def near_by(a: Arrays, s: State, b: Blocks, m: Marks, stretch: tuple[int, int]) -> int:
    """Writes down the events that begin too late to be over long before it, and not after it."""
    many = 0
    first, last = stretch[0] - a.settle - b.longest, stretch[1] + a.settle
    for w in range(len(s.start)):
        m.near[many] = w  # always, as a jump would cost more
        many += int(first < s.start[w] < last)
    return many


@inner
def in_way_of(a: Arrays, s: State, b: Blocks, m: Marks, shift: tuple[int, int]) -> int:
    """What has to make way for a block that would begin so many slots sooner."""
    number, sooner = shift
    many = 0
    for place in range(b.row[number].seq, b.row[number].seq_end):
        v = b.seq[place]
        begin = max(0, s.start[v] - sooner)
        end = begin + a.event[v].slots
        if obstacle(a, s, v, begin) >= 0:
            many = at_work(a, s, b, m, (v, begin, many))
            if obstacle_to(a, s, v, begin, 0) >= 0:
                for index in range(near_by(a, s, b, m, (begin, end))):
                    w = m.near[index]
                    over = s.start[w] + a.event[w].slots + a.settle
                    if over > begin and wants_same(a, s, v, w, begin):
                        many = add_one(b, m, many, w)
        for index in range(a.event[v].closing, a.event[v].closing_end):
            many = on_its_place(a, s, b, m, (a.closing[index], sooner, many))
    return min(many, IN_WAY)


@inner
def at_work(a: Arrays, s: State, b: Blocks, m: Marks, asked: tuple[int, int, int]) -> int:
    """All that somebody is at who could do an event that begins then: as many people, drawn, as are
    lacking, so that what others are at stays where it is."""
    v, begin, many = asked
    end = begin + a.event[v].slots
    bits, present = free_and_here(a, s, v, begin)
    need = a.event[v].crew - count(bits)
    rest = present & ~bits
    left = count(rest)
    person = 0
    while rest and 0 < need <= left:
        if rest & 1:
            if draw(m.seed, left) < need:  # selection sampling: each set of people as likely
                need -= 1
                last = -1
                for slot in range(begin, end):
                    w = s.by[person, slot]
                    if w >= 0 and w != last:
                        many = add_one(b, m, many, w)
                    last = w
            left -= 1
        rest >>= 1
        person += 1
    return many


@inner
def on_its_place(a: Arrays, s: State, b: Blocks, m: Marks, asked: tuple[int, int, int]) -> int:
    """What stands where a hold would be so many slots sooner, if it is free nowhere."""
    hold, sooner, many = asked
    first = max(0, hold_begin(a, s, hold) - sooner)
    last = a.hold[hold].last
    end = min(a.horizon, s.start[last] + a.event[last].slots - sooner)
    amount = a.hold[hold].amount
    for index in range(a.hold[hold].fit, a.hold[hold].fit_end):
        if last_below(s.room[a.fit[index], first:end], amount, first) < 0:
            return many
    k = a.fit[a.hold[hold].fit + draw(m.seed, a.hold[hold].fit_end - a.hold[hold].fit)]
    if SCARCE * amount < a.room[k]:
        return many
    for other in range(len(a.hold)):
        v = a.hold[other].last
        if s.at[other] != k or s.start[v] == NONE or hold_begin(a, s, other) >= end:
            continue
        if s.start[v] + a.event[v].slots > first:
            many = add_one(b, m, many, v)
    return many


@inner
def choose_in_way(a: Arrays, s: State, b: Blocks, m: Marks, late: bool) -> int:
    """What makes a late job late, or whatever waits, first, as often as not with all that follows
    it, and what stands in its way; -1 where none is."""
    if late:
        job = late_job(a, m)
        if job < 0:
            return -1
        v, since = waiting_event(a, s, job, m.seed)
    else:
        v, since = any_waiting(a, s, b, m.seed)
    if v < 0 or b.of[v] < 0:
        return -1
    number = b.of[v]
    sooner = s.start[v] - a.opening[a.event[v].kind, since + draw(m.seed, s.start[v] - since)]
    add(b, m, number, draw(m.seed, 2) == 0)
    many = in_way_of(a, s, b, m, (number, sooner))
    for index in range(many):
        if s.placed[b.row[m.in_way[index]].group]:
            add(b, m, m.in_way[index], True)
    return number
