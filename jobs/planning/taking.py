"""What an event takes of people, places and air, slot by slot, and what a hold takes of its place.
Compiled; the state is changed in place."""

from __future__ import annotations

from typing import Any

import numpy as np

from jobs.planning.state import State, inlined, inner
from jobs.planning.tasks import Arrays

STRETCH = 64  # slots looked at together


@inner
def count(bits: int) -> int:
    total = 0
    while bits:
        bits &= bits - 1
        total += 1
    return total


@inlined
def are_fewer(bits: int, number: int) -> bool:
    """Whether fewer than so many bits are set."""
    while number > 0:
        if not bits:
            return True
        bits &= bits - 1
        number -= 1
    return False


@inlined
def obstacle_to(a: Arrays, s: State, v: int, t: int, crew: int) -> int:
    """As `obstacle`, for so many people."""
    end = t + a.event[v].slots
    bits = a.event[v].able
    if a.event[v].air == 1:
        for slot in range(min(end + a.settle, a.horizon) - 1, t - 1, -1):
            if s.coat[slot] > 0:
                return slot + 1
    for slot in range(end - 1, t - 1, -1):
        if crew:
            bits &= s.free[slot]
            if are_fewer(bits, crew):
                return slot + 1
        if a.event[v].air == 2 and s.dust[slot] > 0:
            return slot + 1
        for index in range(a.event[v].use, a.event[v].use_end):
            if s.room[a.use[index], slot] < 1:
                return slot + 1
    return -1


@inlined
def obstacle(a: Arrays, s: State, v: int, t: int) -> int:
    """-1 if event v can be at t; else the first slot from which another start is worth a try.

    Slots are looked at from the last: what lacks something from there on lacks it for every start
    up to there, so that the next start to try lies behind it.
    """
    return obstacle_to(a, s, v, t, a.event[v].crew)


@inlined
def crew_for(a: Arrays, s: State, v: int, t: int) -> int:
    """Bits of the people who do it: of those free throughout the preferred, then those with the
    fewest skills."""
    bits = a.event[v].able
    for slot in range(t, t + a.event[v].slots):
        bits &= s.free[slot]
    chosen = 0
    for _ in range(a.event[v].crew):
        some = bits & s.prefer[0]
        if not some:
            some = bits
        lowest = some & -some
        chosen |= lowest
        bits ^= lowest
    return chosen


@inner
def free_and_here(a: Arrays, s: State, v: int, t: int) -> tuple[int, int]:
    """Bits of those who could do event v from t on and are at nothing, and of those who are on
    shift, all through it."""
    free, here = a.event[v].able, a.event[v].able
    for slot in range(t, t + a.event[v].slots):
        free &= s.free[slot]
        here &= a.free[slot]
    return free, here


@inlined
def busy(a: Arrays, s: State, what: tuple[int, int, int], begin: int, end: int) -> None:
    """People are at event v from slot to slot (sign 1), or no longer (-1)."""
    v, who, sign = what
    if sign > 0:
        for slot in range(begin, end):
            s.free[slot] &= ~who
    else:
        for slot in range(begin, end):
            s.free[slot] |= who & a.free[slot]
    number, rest = 0, who
    while rest:
        if rest & 1:
            for slot in range(begin, end):
                s.by[number, slot] = v if sign > 0 else -1
        rest >>= 1
        number += 1


@inlined
def take(a: Arrays, s: State, v: int, sign: int) -> None:
    """Takes what event v uses from its start on (sign 1), or gives it back (-1)."""
    t, who = s.start[v], s.who[v]
    begin, end = max(t, 0), min(max(t + a.event[v].slots, 0), a.horizon)
    if who:
        busy(a, s, (v, who, sign), begin, end)
    for index in range(a.event[v].use, a.event[v].use_end):
        k = a.use[index]
        for slot in range(begin, end):
            s.room[k, slot] -= sign
    if a.event[v].air == 2:
        for slot in range(begin, end):
            s.coat[slot] += sign
    if a.event[v].air == 1:
        for slot in range(begin, min(max(t + a.event[v].slots + a.settle, 0), a.horizon)):
            s.dust[slot] += sign


@inlined
def hold_begin(a: Arrays, s: State, hold: int) -> int:
    first = a.hold[hold].first
    return s.start[first] + (a.event[first].slots if a.hold[hold].from_end else 0)


@inlined
def take_hold(a: Arrays, s: State, hold: int, end: int, sign: int) -> None:
    begin = hold_begin(a, s, hold)
    stretch = s.room[s.at[hold], max(begin, 0) : max(0, min(end, a.horizon))]
    stretch -= np.int32(sign * a.hold[hold].amount)


@inner
def last_below(room: Any, amount: int, first: int) -> int:
    """The last slot with less room, -1 for none; `first` is the slot of the first."""
    end = len(room)
    while end > 0:
        part = room[max(0, end - STRETCH) : end]
        least = part[0]
        for index in range(part.shape[0]):  # nothing in it to stop at: many slots at a time
            each = part[index]
            least = each if each < least else least
        if least < amount:
            while room[end - 1] >= amount:
                end -= 1
            return first + end - 1
        end -= part.shape[0]
    return -1
