"""What carrying out a plan works on: the plan as tables, the shop at one moment. Compiled.

Time is ticks, finer than slots: whole slots would round every piece of work up, and days come of
that by the end of a plan.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numba import njit

from jobs.planning.tasks import Ints, Rows

TICKS = 60  # in a slot
ABOUT = TICKS  # people wait so long for what comes earlier in the plan and is about to be ready
FAR = 1 << 40  # never, within the time looked at

# Nothing is allocated, so nothing need be counted: that, and calls put in line, make it five times
# as quick, at the price of some more seconds to compile once.
FAST: dict[str, Any] = {"cache": True, "nogil": True, "error_model": "numpy", "_nrt": False}
WITHIN: dict[str, Any] = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True, "inline": "always"}
entry = njit(**FAST)
inner = njit(**FAST, **WITHIN)


class Course(NamedTuple):
    """The plan as tables, events in its order. `x` and `x_end` are the first and one past the last
    of a row's own in `flat`. Few tables rather than an array a column: every call in compiled code
    hands all of them on."""

    event: Rows  # columns of EVENT
    arc: Rows  # columns of ARC: waits
    stay: Rows  # columns of STAY: places kept over several events
    flat: Ints
    room: Ints  # of each place
    opens: Ints  # per kind and slot: the next slot at which a start is allowed, -1 for none
    until: Ints  # per kind and slot: the last tick to start at, -1 for none
    slot: Rows  # columns of SLOT
    away: Ints  # absences: bit of the person, first tick, one past the last
    rule: Ints  # by RULE


EVENT = (
    "release",  # what it does not begin before
    "planned",  # when it begins in the plan
    "length",  # its work in the plan
    "fact",  # 1 if it has begun: when the plan says
    "crew",
    "who",  # bits of those who do it in the plan
    "able",  # and of all who can
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
    "most",  # greatest wait, -1 for none
    "row",  # where its lengths begin in Drawn.length
    "stride",  # how far on they stand for the next sample
    "days",  # how many there are, a length a day
    "factor",  # row of Drawn.factor
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
    work: Ints  # per sample and event
    length: Any  # of waits, flat
    factor: Any  # per row and sample


DOING = (
    "early",
    "pending",
    "deadline",
    "crew",  # bits of those who do it
    *("begun", "ended"),
    "missed",  # 1 if a greatest wait was
)


class Out(NamedTuple):
    """Per sample and event, in ticks, FAR for never; `missed`, where a greatest wait was."""

    begun: Ints
    ended: Ints
    missed: Any


class Now(NamedTuple):
    """The shop at one moment of one sample. Compiled code changes it in place."""

    whole: Ints  # numbers by name, below
    event: Rows  # columns of DOING
    left: Ints  # per stay
    place: Rows  # room; freed: when whoever took it last is done
    person: Rows  # busy: until when; kept: from when somebody before needs them
    running: Ints
    waiting: Ints  # ready and within hours, urgent ones first, else in the plan's order
    heap: Ints  # events to come, and when
    soon: Ints  # those of this shift, and when, as far as one knows


T, FREE, RUNNING, WAITING, HEAP, DUSTY, CLEAR, COATS, COATED, NO_DUST, NO_COAT, SOON, SAMPLE = (
    range(13)
)


def fresh(c: Course) -> Now:
    events = len(c.event)
    return Now(
        np.zeros(13, dtype=np.int64),
        blank(events, DOING),
        np.zeros(len(c.stay), dtype=np.int64),
        blank(len(c.room), ("room", "freed")),
        blank(int(c.rule[EVERYBODY]).bit_length(), ("busy", "kept")),
        np.zeros(events, dtype=np.int64),
        np.zeros(events, dtype=np.int64),
        np.zeros((events, 2), dtype=np.int64),
        np.zeros((2 * events, 2), dtype=np.int64),
    )


def blank(rows: int, names: tuple[str, ...]) -> Rows:
    return np.zeros(rows, dtype=[(name, np.int64) for name in names]).view(np.recarray)


@inner
def push(n: Now, v: int, at: int) -> None:
    i = n.whole[HEAP]
    n.whole[HEAP] += 1
    while i > 0 and n.heap[(i - 1) // 2, 1] > at:
        n.heap[i, 0] = n.heap[(i - 1) // 2, 0]
        n.heap[i, 1] = n.heap[(i - 1) // 2, 1]
        i = (i - 1) // 2
    n.heap[i, 0] = v
    n.heap[i, 1] = at


@inner
def pop(n: Now) -> int:
    top = n.heap[0, 0]
    n.whole[HEAP] -= 1
    size = n.whole[HEAP]
    v, at = n.heap[size, 0], n.heap[size, 1]
    i = 0
    while True:
        child = 2 * i + 1
        if child >= size:
            break
        if child + 1 < size and n.heap[child + 1, 1] < n.heap[child, 1]:
            child += 1
        if n.heap[child, 1] >= at:
            break
        n.heap[i, 0] = n.heap[child, 0]
        n.heap[i, 1] = n.heap[child, 1]
        i = child
    n.heap[i, 0] = v
    n.heap[i, 1] = at
    return top


@inner
def opening(c: Course, kind: int, t: int) -> int:
    slot = t // TICKS
    if slot >= c.until.shape[1] - 1:
        return FAR
    if t <= c.until[kind, slot]:
        return t
    following = c.opens[kind, slot + 1]
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
    slot = min(max(begin, 0) // TICKS, len(c.slot) - 1)
    which = (
        c.arc[arc].row
        + c.arc[arc].stride * n.whole[SAMPLE]
        + min(c.slot[slot].day, c.arc[arc].days - 1)
    )
    return int(np.rint(d.length[which] * d.factor[c.arc[arc].factor, n.whole[SAMPLE]]))
