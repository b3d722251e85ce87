"""Others who change hands or places so that an event can begin sooner. Compiled.

When everybody who could do it is at something else, it may be enough that one of them is relieved
by somebody who is free for that; when a piece finds no place long enough, that another piece stands
on another place for all its time. Nothing else moves, so it costs no other job anything. What was
changed is written down in the state, to be taken back with the try.
"""

from __future__ import annotations

from jobs.planning.state import OFFERS, State, inlined, inner
from jobs.planning.tables import Ints
from jobs.planning.taking import (
    are_fewer,
    busy,
    count,
    free_and_here,
    hold_begin,
    last_below,
    obstacle,
    obstacle_to,
    take_hold,
)
from jobs.planning.tasks import NONE, Arrays


@inlined
def has_room(changed: Ints, more: int) -> bool:
    """Whether so many can still be written down, before the number of them at the end."""
    return changed[-1] + more < changed.shape[0]


@inlined
def write_down(changed: Ints, index: int) -> None:
    changed[changed[-1]] = index
    changed[-1] += 1


@inner
def could_relieve(a: Arrays, s: State, w: int, but: int) -> int:
    """Bits of those who could do event w in somebody's place."""
    others = a.event[w].able & ~but
    for slot in range(s.start[w], s.start[w] + a.event[w].slots):
        others &= s.free[slot]
        if not others:
            break
    return others


@inner
def can_spare(a: Arrays, s: State, v: int, slot: int, bits: int) -> bool:
    """Whether it might help in this slot, for a start at which the people in `bits` are free: asked
    first, as the answer is mostly no, and that for every start up to this slot."""
    need = a.event[v].crew - count(bits)
    rest = a.event[v].able & a.free[slot] & ~bits
    person = 0
    while rest:
        if rest & 1:
            w = s.by[person, slot]
            # Whoever is at nothing is free in this slot, though not till the event is over.
            need -= int(w < 0 or (not a.event[w].fact and could_relieve(a, s, w, bits) != 0))
            if need <= 0:
                return True
        rest >>= 1
        person += 1
    return False


@inner
def is_relieved(
    a: Arrays, s: State, stretch: tuple[int, int], person: int, asked: tuple[int, int]
) -> tuple[int, int]:
    """Settles who does what the person is at all through the stretch of slots; nobody in `but`.

    The people who are taken up by it with `but`, and how many offers there are then; 0 for the
    people if somebody is lacking. `asked` is `but` and the offers there were.
    """
    but, many = asked
    bit = 1 << person
    last = -1
    for slot in range(stretch[0], stretch[1]):
        w = s.by[person, slot]
        if w == last and w >= 0:
            continue
        last = w
        if w < 0:
            if not s.free[slot] & bit:
                return 0, many
            continue
        if a.event[w].fact or many == OFFERS:
            return 0, many
        others = could_relieve(a, s, w, but)
        if not others:
            return 0, many
        some = others & s.prefer[0]
        if not some:
            some = others
        one = some & -some
        but |= one
        s.offers[many, 0], s.offers[many, 1], s.offers[many, 2] = w, bit, one
        many += 1
    return but, many


@inner
def has_people_relieved(a: Arrays, s: State, v: int, t: int) -> bool:
    """Has others do what those are at who are lacking for event v at t."""
    end = t + a.event[v].slots
    bits, present = free_and_here(a, s, v, t)
    need = a.event[v].crew - count(bits)
    rest = present & ~bits
    but, many, person = bits, 0, 0
    while rest and need > 0:
        if rest & 1 and not but >> person & 1:
            taken, offers = is_relieved(a, s, (t, end), person, (but | 1 << person, many))
            if taken:
                but, many = taken, offers
                need -= 1
        rest >>= 1
        person += 1
    if need > 0 or not has_room(s.relieved, many):
        return False
    for index in range(many):
        w, bit, one = s.offers[index, 0], s.offers[index, 1], s.offers[index, 2]
        begin = s.start[w]
        busy(a, s, (w, bit, -1), begin, begin + a.event[w].slots)
        busy(a, s, (w, one, 1), begin, begin + a.event[w].slots)
        s.who[w] ^= bit | one
        write_down(s.relieved, w)
    return True


@inner
def obstacle_yet(a: Arrays, s: State, v: int, t: int) -> int:
    """As `obstacle`; but where people are lacking others are asked first, and -1 says that they
    have been relieved."""
    later = obstacle(a, s, v, t)
    if later < 0:
        return later
    bits = a.event[v].able
    for slot in range(t + a.event[v].slots - 1, later - 2, -1):
        bits &= s.free[slot]
    lacking = are_fewer(bits, a.event[v].crew)
    if not lacking or not can_spare(a, s, v, later - 1, bits):
        return later
    other = obstacle_to(a, s, v, t, 0)
    if other >= 0:
        return other
    return -1 if has_people_relieved(a, s, v, t) else t + 1


@inner
def has_place_cleared(a: Arrays, s: State, hold: int, end: int) -> bool:
    """Has one other piece stand elsewhere, all the time that it stands, so that the hold finds its
    place there."""
    amount, first = a.hold[hold].amount, max(hold_begin(a, s, hold), 0)
    last = max(0, min(end, a.horizon))
    if not has_room(s.cleared, 1):
        return False
    for other in range(len(a.hold)):
        row, k = a.hold[other], s.at[other]
        if k < 0 or other == hold or a.event[row.first].fact or s.start[row.last] == NONE:
            continue
        to = s.start[row.last] + a.event[row.last].slots
        if to <= first or hold_begin(a, s, other) >= last or not fits(a, hold, k):
            continue
        take_hold(a, s, other, to, -1)
        if last_below(s.room[k, first:last], amount, first) < 0:
            elsewhere = other_place(a, s, other, to)
            if elsewhere >= 0:
                s.at[other] = elsewhere
                take_hold(a, s, other, to, 1)
                write_down(s.cleared, other)
                s.at[hold] = k
                take_hold(a, s, hold, end, 1)
                return True
        take_hold(a, s, other, to, 1)
    return False


@inner
def fits(a: Arrays, hold: int, k: int) -> bool:
    found = False
    for index in range(a.hold[hold].fit, a.hold[hold].fit_end):
        found |= a.fit[index] == k
    return found


@inner
def other_place(a: Arrays, s: State, hold: int, end: int) -> int:
    """A place that is free all through for what stands on another, -1 for none."""
    begin = max(hold_begin(a, s, hold), 0)
    for index in range(a.hold[hold].fit, a.hold[hold].fit_end):
        k = a.fit[index]
        stretch = s.room[k, begin : min(end, a.horizon)]
        if k != s.at[hold] and last_below(stretch, a.hold[hold].amount, begin) < 0:
            return k
    return -1
