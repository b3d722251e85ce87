"""What carrying out a plan works on: the plan as tables, the shop at one moment. Compiled.

Time is ticks, finer than slots: whole slots would round every piece of work up, and days come of
that by the end of a plan.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numba import njit

from jobs.planning.tables import Ints, Numbers, Rows, Shorts, blank

TICKS = 60  # in a slot
ABOUT = TICKS  # people wait so long for what comes earlier in the plan and is about to begin
FAR = 1 << 30  # never, within the time looked at

# Nothing is allocated, so nothing need be counted: that, and calls put in line, make it five times
# as quick, at the price of some more seconds to compile once.
FAST: dict[str, Any] = {"cache": True, "nogil": True, "error_model": "numpy", "_nrt": False}
WITHIN: dict[str, Any] = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True, "inline": "always"}
entry = njit(**FAST)
inner = njit(**FAST, **WITHIN)


class Course(NamedTuple):
    """The plan as tables, events in its order. `x` and `x_end` are the first and one past the last
    of a row's own in `flat`. Few tables rather than an array a column: every call in compiled code
    hands all of them on. Narrow ones, so that a plan stays in the nearest memory."""

    event: Rows  # columns of EVENT
    arc: Rows  # columns of ARC: waits
    stay: Rows  # columns of STAY: places kept over several events
    flat: Numbers
    room: Shorts  # of each place
    # By slot first: what is asked at one moment lies together.
    opens: Shorts  # per slot and kind: the next slot at which a start is allowed, -1 for none
    until: Shorts  # per slot and kind: the last tick to start at, -1 for none
    slot: Rows  # columns of SLOT
    away: Ints  # absences: bit of the person, first tick, one past the last
    rule: Ints  # by RULE


EVENT = (
    "who",  # bits of those who do it in the plan
    "able",  # and of all who can
    "release",  # what it does not begin before
    "planned",  # when it begins in the plan
    "length",  # its work in the plan
    "fact",  # 1 if it has begun: when the plan says
    "crew",
    "kind",
    "air",  # 0, 1 dusty, 2 coat
    "pending",  # how many waits it has, and places that have no room for it as yet
    "urgent",  # 1 if it has to follow within a day: it goes before all others
    "hold",  # the wait by which it is held until its next can be begun in time, -1 for none
    *("use", "use_end"),  # places
    *("out", "out_end"),  # waits for it
    *("gone", "gone_end"),  # stays that it ends
)
ARC = (
    "target",  # the event that waits
    "fixed",  # its length where that is always the same, else -1
    "most",  # greatest wait, -1 for none
    "row",  # where its lengths begin in Drawn.length
    "stride",  # how far on they stand for the next sample
    "days",  # how many there are, a length a day
    "factor",  # column of Drawn.factor
)
STAY = (
    "first",  # the event that begins it
    "amount",
    "left",  # room beside it and all that come to its place before it
    *("behind", "behind_end"),  # stays that come to its place after it
)
SLOT = (
    "closes",  # the tick at which its shift ends, -1 outside
    "morning",  # the tick at which the next shift begins, -1 for none
    "day",
)
# everybody: bits; over: ticks by which closing, and a greatest wait, may be passed; mend: ticks
# that a step takes longer after a missed greatest wait.
RULE = ("everybody", "settle", "over", "mend")
EVERYBODY, SETTLE, OVER, MEND = range(len(RULE))


class Drawn(NamedTuple):
    work: Shorts  # per sample and event
    length: Any  # of waits, flat
    factor: Any  # per sample and column


DOING = (
    "by",  # bits of those who do it
    "early",
    "pending",
    "deadline",
    "until",  # ready, it may be begun as late as that without being asked for again
    *("begun", "ended"),
    "missed",  # 1 if a greatest wait was
)


class Out(NamedTuple):
    """Per sample and event, in ticks, FAR for never; `missed`, where a greatest wait was."""

    begun: Shorts
    ended: Shorts
    missed: Any


class Now(NamedTuple):
    """The shop at one moment of one sample. Compiled code changes it in place."""

    whole: Ints  # numbers by name, below
    event: Rows  # columns of DOING
    left: Shorts  # per stay
    place: Rows  # room; freed: when whoever took it last is done
    kept: Shorts  # per person, for bits of KEPT: from when somebody before needs them
    running: Numbers
    waiting: Numbers  # ready and within hours, urgent ones first, else in the plan's order
    heap: Ints  # events to come, each with when in front of its number
    soon: Shorts  # those of this shift, and when, as far as one knows


T, FREE, RUNNING, WAITING, HEAP, SOON, SAMPLE, KEPT, LAST, ENDS = range(10)
CLEAR, COATS, COATED, NO_DUST, NO_COAT = range(10, 15)
FRONT = 20  # bits of an event's number, with a time in front of it
BEFORE = 1 << FRONT


def fresh(c: Course) -> Now:
    events = len(c.event)
    return Now(
        np.zeros(15, dtype=np.int64),
        blank(events, DOING),
        np.zeros(len(c.stay), dtype=np.int32),
        blank(len(c.room), ("room", "freed")),
        np.zeros(int(c.rule[EVERYBODY]).bit_length(), dtype=np.int32),
        np.zeros(events, dtype=np.uint32),
        np.zeros(events, dtype=np.uint32),
        np.zeros(events, dtype=np.int64),
        np.zeros((2 * events, 2), dtype=np.int32),
    )


@inner
def push(n: Now, v: int, at: int) -> None:
    i = n.whole[HEAP]
    n.whole[HEAP] += 1
    key = at * BEFORE + v
    while i > 0 and n.heap[(i - 1) >> 1] > key:
        n.heap[i] = n.heap[(i - 1) >> 1]
        i = (i - 1) >> 1
    n.heap[i] = key


@inner
def pop(n: Now) -> int:
    top = n.heap[0]
    n.whole[HEAP] -= 1
    many = n.whole[HEAP]
    key = n.heap[many]
    i = 0
    while True:
        child = 2 * i + 1
        if child >= many:
            break
        if child + 1 < many and n.heap[child + 1] < n.heap[child]:
            child += 1
        if n.heap[child] >= key:
            break
        n.heap[i] = n.heap[child]
        i = child
    n.heap[i] = key
    return top & (BEFORE - 1)


@inner
def opening(c: Course, kind: int, t: int) -> int:
    slot = t // TICKS
    if slot >= len(c.until) - 1:
        return FAR
    if t <= c.until[slot, kind]:
        return t
    following = c.opens[slot + 1, kind]
    return FAR if following < 0 else following * TICKS


@inner
def end_of(c: Course, v: int, t: int, work: int) -> int:
    """When work begun at t is done: what is left when people go home is done in the morning."""
    end = t + work
    if not c.event[v].crew:
        return end
    closing = c.slot[t // TICKS].closes
    while 0 <= closing < end - c.rule[OVER]:
        opens = c.slot[(closing - 1) // TICKS].morning
        if opens < 0:
            return FAR
        end = opens + end - closing - c.rule[OVER]
        closing = c.slot[opens // TICKS].closes
    return end


@inner
def least_wait(c: Course, d: Drawn, n: Now, arc: int, begin: int) -> int:
    if c.arc[arc].fixed >= 0:
        return c.arc[arc].fixed
    slot = min(max(begin, 0) // TICKS, len(c.slot) - 1)
    which = (
        c.arc[arc].row
        + c.arc[arc].stride * n.whole[SAMPLE]
        + min(c.slot[slot].day, c.arc[arc].days - 1)
    )
    return int(np.rint(d.length[which] * d.factor[n.whole[SAMPLE], c.arc[arc].factor]))
