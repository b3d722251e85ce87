"""What can wait is put off, so that what can't finds room; in the end all comes forward. Compiled.

Were everything begun as soon as it can be, the days ahead would be full of work that has time, and
whatever is urgent would have to drive it out. So a block that goes back into the plan begins at any
time, drawn, at which neither its job nor what follows it is worse off. A plan that is handed out
has nothing put off: each block is put in once more at the first time it finds, nothing else moved.
"""

from __future__ import annotations

from jobs.planning.blocks import IN_AGAIN, Blocks, Marks
from jobs.planning.choosing import could_begin, first_of
from jobs.planning.loaded import draw
from jobs.planning.outin import (
    free_places,
    hold_again,
    is_too_soon,
    keep_places,
    put_back,
    put_in,
    take_out,
)
from jobs.planning.state import State, copy_row, entry, inner
from jobs.planning.tasks import NONE, Arrays

FAR = 960  # slots by which a block may be put off in one try, 20 days


@inner
def spare(a: Arrays, s: State, b: Blocks, m: Marks, block: int) -> int:
    """By how much later than before the try all of a block may be, for its job and for what follows
    it in the plan. Waits are those of the days on which it was."""
    least = FAR
    for place in range(b.row[block].seq, b.row[block].seq_end):
        v = b.seq[place]
        least = min(least, b.in_time[v] - m.start[v] if a.event[v].fixed == NONE else 0)
    for each in range(b.row[block].next, b.row[block].next_end):
        other = b.next[each]
        if m.chosen[other] and m.waits[other] != IN_AGAIN:
            continue
        for place in range(b.row[other].seq, b.row[other].seq_end):
            v = b.seq[place]
            for arc in range(a.event[v].before, a.event[v].before_end):
                u = a.before[arc].source
                if b.of[u] == block:
                    day = a.day[min(max(m.start[u], 0), a.horizon)]
                    ready = m.start[u] + a.event[u].slots + a.lag[a.before[arc].lag, day]
                    least = min(least, s.start[v] - ready)
    return least


@inner
def put_off(a: Arrays, s: State, b: Blocks, m: Marks, block: int) -> None:
    """Draws the first slot in which a block that is out may begin."""
    v = b.seq[b.row[block].seq]
    first, _ = could_begin(a, s, v)
    last = m.start[v] + spare(a, s, b, m, block)
    if last > first:
        s.bound[v] = first + draw(m.seed, last - first + 1)


@inner
def comes_forward(a: Arrays, s: State, b: Blocks, m: Marks, block: int) -> bool:
    """Puts a block in at the first time that it finds; as it was, unless it is over sooner so."""
    m.out[0], m.out[-1], m.chosen[block] = block, 1, 1
    free_places(a, s, b, block)
    take_out(a, s, b, block)
    last = b.seq[b.row[block].seq_end - 1]
    sooner = put_in(a, s, b, block)
    fits = sooner and s.start[last] < m.start[last]
    for each in range(b.row[block].next, b.row[block].next_end):
        fits = fits and not is_too_soon(a, s, b, block, b.next[each])
    fits = fits and hold_again(a, s, b, block)
    if fits:
        keep_places(a, s, b, m, block)
    else:
        if sooner:
            free_places(a, s, b, block)
            take_out(a, s, b, block)
        put_back(a, s, b, m)
    m.chosen[block] = 0
    return fits


@entry
def bring_forward(a: Arrays, s: State, b: Blocks, m: Marks) -> bool:
    """Each block once, in the order in which they begin. Whether any has moved."""
    copy_row(s.start, m.start)
    copy_row(s.who, m.who)
    copy_row(s.at, m.at)
    s.relieved[-1] = s.cleared[-1] = s.prefer[0] = 0
    for block in range(len(b.row)):
        m.key[block] = first_of(s, b, block)
    moved = False
    for _ in range(len(b.row)):
        pick = 0
        for block in range(len(b.row)):
            if m.key[block] < m.key[pick]:
                pick = block
        m.key[pick] = a.horizon + 1
        if s.placed[b.row[pick].group] and m.start[b.seq[b.row[pick].seq]] != NONE:
            moved = comes_forward(a, s, b, m, pick) or moved
    return moved
