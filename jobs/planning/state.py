"""What is taken and what has been placed, slot by slot, for compiled code to change in place; and
how all that works on it is compiled."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numba import njit

from jobs.planning.tables import Ints, Shorts
from jobs.planning.tasks import NONE, Arrays

OFFERS = 8  # events that others take over so that one can begin
MANY = 4  # times that each may change hands or places in one try, on average

# Only what Python calls is given a way in from Python: compiling takes a third of the time so.
# What makes no arrays need not count who uses them: counting would be most of the work. Other
# threads go on meanwhile.
BARE: dict[str, Any] = {"cache": True, "nogil": True, "error_model": "numpy", "_nrt": False}
WITHIN: dict[str, Any] = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}
entry = njit(**BARE)
entry_with_arrays = njit(cache=True, nogil=True)
inner = njit(**BARE, **WITHIN, forceinline=True)
inlined = njit(**BARE, **WITHIN, inline="always")  # what is called most: a fifth of the time


class State(NamedTuple):
    """What is taken, slot by slot, and what has been placed. Compiled code changes it in place."""

    free: Ints  # per slot, bits of people
    room: Any  # per place and slot, what is left
    dust: Ints
    coat: Ints
    start: Ints
    who: Ints
    at: Ints
    bound: Ints  # per event, the earliest start still worth a try
    placed: Ints  # per group
    turn: Ints  # per group, which of its orders
    prefer: Ints  # one number: bits of people who are asked before others
    by: Shorts  # per person and slot, the event they do, -1 for none
    asks: Ints  # one number: 1 while others are asked to change hands and places
    offers: Ints  # rows of an event, who did it and who takes it over
    relieved: Ints  # events that others do since the try began; the last entry says how many
    cleared: Ints  # the same of holds that have another place


def fresh(arrays: Arrays) -> State:
    size = arrays.horizon + 1
    bits = max(int(row.max(initial=0)) for row in (arrays.free, arrays.event.able, arrays.event.by))
    events, holds = len(arrays.event), len(arrays.hold)
    return State(
        free=arrays.free.copy(),
        room=np.repeat(arrays.room[:, None], size, axis=1).astype(np.int32),
        dust=np.zeros(size, dtype=np.int64),
        coat=np.zeros(size, dtype=np.int64),
        start=np.full(events, NONE, dtype=np.int64),
        who=np.zeros(events, dtype=np.int64),
        at=np.full(holds, -1, dtype=np.int64),
        bound=np.zeros(events, dtype=np.int64),
        placed=np.zeros(len(arrays.group), dtype=np.int64),
        turn=np.zeros(len(arrays.group), dtype=np.int64),
        prefer=np.zeros(1, dtype=np.int64),
        by=np.full((bits.bit_length(), size), -1, dtype=np.int32),
        asks=np.zeros(1, dtype=np.int64),
        offers=np.zeros((OFFERS, 3), dtype=np.int64),
        relieved=np.zeros(MANY * events + 1, dtype=np.int64),
        cleared=np.zeros(MANY * holds + 1, dtype=np.int64),
    )


@inner
def copy_row(source: Any, target: Any) -> None:
    for index in range(target.shape[0]):
        target[index] = source[index]


@inner
def copy_state(source: State, target: State) -> None:
    copy_row(source.free, target.free)
    for k in range(source.room.shape[0]):
        copy_row(source.room[k], target.room[k])
    copy_row(source.dust, target.dust)
    copy_row(source.coat, target.coat)
    copy_row(source.start, target.start)
    copy_row(source.who, target.who)
    copy_row(source.at, target.at)
    copy_row(source.bound, target.bound)
    copy_row(source.placed, target.placed)
    copy_row(source.turn, target.turn)
    for k in range(source.by.shape[0]):
        copy_row(source.by[k], target.by[k])
