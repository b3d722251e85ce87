"""A plan carried out many times, moment by moment, each with hours of work and waits of its own.

Whenever somebody is free, the first in the plan of what is ready is begun. What is ready, lacks a
person or a place and has it in a moment keeps its people from what would not be done by then. What
is late is taken on by anybody who can do it and is free. A table or a rack is taken in the plan's
order. Compiled.
"""

from __future__ import annotations

from jobs.planning.moment import (
    ABOUT,
    BEFORE,
    CLEAR,
    COATED,
    COATS,
    ENDS,
    EVERYBODY,
    FAR,
    FREE,
    FRONT,
    HEAP,
    KEPT,
    LAST,
    MEND,
    NO_COAT,
    NO_DUST,
    OVER,
    RUNNING,
    SAMPLE,
    SETTLE,
    SOON,
    TICKS,
    WAITING,
    Course,
    Drawn,
    Now,
    Out,
    T,
    end_of,
    entry,
    inner,
    least_wait,
    opening,
    pop,
    push,
)
from jobs.planning.tables import Ints


@inner
def one_less(n: Now, v: int) -> None:
    """One thing less that v waits for, a step or room in a place."""
    n.event[v].pending -= 1
    if n.event[v].pending == 0:
        push(n, v, n.event[v].early)


@inner
def finish(c: Course, d: Drawn, n: Now, v: int) -> None:
    end = n.event[v].ended
    for i in range(c.event[v].gone, c.event[v].gone_end):
        stay = c.flat[i]
        for j in range(c.stay[stay].behind, c.stay[stay].behind_end):
            other = c.flat[j]
            left = n.left[other]
            n.left[other] = left + c.stay[stay].amount
            if left < 0 <= n.left[other] and not c.event[c.stay[other].first].fact:
                one_less(n, c.stay[other].first)
    for i in range(c.event[v].out, c.event[v].out_end):
        arc = c.flat[i]
        w = c.arc[arc].target
        if c.event[w].fact:
            continue
        n.event[w].early = max(n.event[w].early, end + least_wait(c, d, n, arc, n.event[v].begun))
        if c.arc[arc].most >= 0:
            n.event[w].deadline = min(n.event[w].deadline, end + c.arc[arc].most + c.rule[OVER])
        one_less(n, w)


@inner
def begin(c: Course, n: Now, v: int, t: int, end: int) -> None:
    n.event[v].begun = t
    n.event[v].ended = end
    n.running[n.whole[RUNNING]] = v
    n.whole[RUNNING] += 1
    n.whole[ENDS] = min(n.whole[ENDS], end)
    n.whole[FREE] &= ~n.event[v].by
    for i in range(c.event[v].use, c.event[v].use_end):
        n.place[c.flat[i]].room -= 1
        n.place[c.flat[i]].freed = end
    if c.event[v].air == 1:
        n.whole[CLEAR] = max(n.whole[CLEAR], end + c.rule[SETTLE])
    elif c.event[v].air == 2:
        n.whole[COATS] += 1
        n.whole[COATED] = max(n.whole[COATED], end)


@inner
def set_free(c: Course, n: Now, v: int) -> None:
    """Those who did it are free again, unless two facts had them at once."""
    n.whole[FREE] |= n.event[v].by
    for i in range(n.whole[RUNNING]):
        n.whole[FREE] &= ~n.event[n.running[i]].by
    for i in range(c.event[v].use, c.event[v].use_end):
        n.place[c.flat[i]].room += 1
    n.whole[COATS] -= c.event[v].air == 2


@inner
def wait_for(c: Course, n: Now, v: int) -> None:
    """Among those that are ready: urgent ones first, then in the plan's order."""
    urgent = c.event[v].urgent
    i = n.whole[WAITING]
    while i > 0:
        u = n.waiting[i - 1]
        other = c.event[u].urgent
        if (other == urgent and u < v) or other > urgent:
            break
        n.waiting[i] = u
        i -= 1
    n.waiting[i] = v
    n.whole[WAITING] += 1


@inner
def held_until(c: Course, d: Drawn, n: Now, v: int) -> int:
    """Coat 1 waits until coat 2 can be put on in time, as far as hours and the plan tell."""
    t, arc = n.whole[T], c.event[v].hold
    end = t + c.event[v].length
    w = c.arc[arc].target
    wait = least_wait(c, d, n, arc, t)
    early = max(end + wait, c.event[w].release)
    following = opening(c, c.event[w].kind, early)
    if following >= FAR or following <= end + c.arc[arc].most + c.rule[OVER]:
        # How long that holds; a wait that goes by the day is looked up again.
        later = following if following > early else c.until[early // TICKS, c.event[w].kind]
        known = following < FAR and c.arc[arc].fixed >= 0
        later = later - wait - c.event[v].length if known else t
        n.event[v].until = min(n.event[v].until, max(t, later))
        return t
    return opening(
        c,
        c.event[v].kind,
        max(t + 1, following - c.arc[arc].most - c.rule[OVER] - c.event[v].length),
    )


@inner
def enough(bits: int, many: int) -> bool:
    while bits and many:
        bits &= bits - 1
        many -= 1
    return not many


@inner
def could_begin(c: Course, n: Now, v: int) -> bool:
    """As far as those who are free, and places and air as they are, tell."""
    t = n.whole[T]
    there = n.whole[FREE] & c.event[v].who == c.event[v].who
    if not there and t >= c.event[v].planned:
        there = enough(n.whole[FREE] & c.event[v].able, c.event[v].crew)
    return there and free_from(c, n, v) == t


@inner
def set_aside(c: Course, d: Drawn, n: Now) -> None:
    """What is ready out of hours, or held, is asked for again when it can be begun. LAST is one
    past the last that could begin now: what comes after it keeps nobody from anything."""
    t, stay = n.whole[T], 0
    for i in range(n.whole[WAITING]):
        v = n.waiting[i]
        if t > n.event[v].until:
            at = opening(c, c.event[v].kind, t)
            if at == t:
                n.event[v].until = c.until[t // TICKS, c.event[v].kind]
                if c.event[v].hold >= 0:
                    at = held_until(c, d, n, v)
            if at > t:
                n.event[v].until = -1
                push(n, v, at)
                continue
        n.waiting[stay] = v
        stay += 1
    n.whole[WAITING] = stay
    while stay and not could_begin(c, n, n.waiting[stay - 1]):
        stay -= 1
    n.whole[LAST] = stay


@inner
def look_ahead(c: Course, d: Drawn, n: Now) -> None:
    """What will be ready within this shift: of what is at work its planned length is known."""
    t, many = n.whole[T], 0
    limit = t + ABOUT
    for i in range(n.whole[HEAP]):
        if n.heap[i] < limit << FRONT:
            n.soon[many, 0] = n.heap[i] & (BEFORE - 1)
            n.soon[many, 1] = n.heap[i] >> FRONT
            many += 1
    for i in range(n.whole[RUNNING]):
        v = n.running[i]
        end = max(t, n.event[v].begun + c.event[v].length)
        if end >= limit:
            continue
        for j in range(c.event[v].out, c.event[v].out_end):
            arc = c.flat[j]
            w = c.arc[arc].target
            if c.event[w].fact or n.event[w].pending != 1 or many >= len(n.soon):
                continue
            at = max(n.event[w].early, end + least_wait(c, d, n, arc, n.event[v].begun))
            if at < limit:
                n.soon[many, 0] = w
                n.soon[many, 1] = at
                many += 1
    n.whole[SOON] = many


@inner
def air_is_kept(c: Course, n: Now, v: int) -> bool:
    """Whether it spoils the air for a coat that comes before it, or takes it from dusty work."""
    end = n.whole[T] + c.event[v].length
    if not c.event[v].air:
        return False
    for i in range(n.whole[SOON]):
        u = n.soon[i, 0]
        soon = n.soon[i, 1] < end + (c.event[v].air == 1) * c.rule[SETTLE]
        if u < v and soon and c.event[u].air + c.event[v].air == 3:
            return True
    if c.event[v].air == 1:
        return end + c.rule[SETTLE] > n.whole[NO_DUST]
    return c.event[v].air == 2 and end > n.whole[NO_COAT]


@inner
def free_from(c: Course, n: Now, v: int) -> int:
    """When the places and the air that v needs are free; now, if they are."""
    at = n.whole[T]
    for i in range(c.event[v].use, c.event[v].use_end):
        if n.place[c.flat[i]].room < 1:
            at = max(at, n.place[c.flat[i]].freed)
    if c.event[v].air == 2:
        at = max(at, n.whole[CLEAR])
    elif c.event[v].air == 1 and n.whole[COATS]:
        at = max(at, n.whole[COATED])
    return at


@inner
def crew_for(c: Course, n: Now, v: int) -> int:
    """Bits of those who do it: the plan's people; if it is late, whoever can and is free."""
    t = n.whole[T]
    end = t + c.event[v].length
    free = n.whole[FREE]
    for i in range(len(c.away)):
        if c.away[i, 1] < max(end, t + 1) and t < c.away[i, 2]:
            free &= ~c.away[i, 0]
    bits, person = free & n.whole[KEPT], 0
    while bits:
        if bits & 1 and n.kept[person] < end:
            free &= ~(1 << person)
        bits >>= 1
        person += 1
    for i in range(n.whole[SOON]):
        if n.soon[i, 0] < v and n.soon[i, 1] < end:
            free &= ~c.event[n.soon[i, 0]].who
    if free & c.event[v].who == c.event[v].who:
        return c.event[v].who
    if t < c.event[v].planned:
        return 0
    free &= c.event[v].able
    chosen, missing = 0, c.event[v].crew
    for bits in (free & c.event[v].who, free & ~c.event[v].who):
        rest = bits
        while rest and missing:
            lowest = rest & -rest
            chosen |= lowest
            rest ^= lowest
            missing -= 1
    return 0 if missing else chosen


@inner
def keep_free(c: Course, n: Now, v: int, at: int) -> None:
    """Whoever is to do v, if that can be in a moment, begins nothing later in the plan that is not
    done by then; nor does anybody spoil its air."""
    t = n.whole[T]
    end = t + c.event[v].length
    for i in range(n.whole[RUNNING]):
        if n.event[n.running[i]].by & c.event[v].who:
            at = max(at, n.event[n.running[i]].ended)
    if at > t + ABOUT:
        return
    for i in range(len(c.away)):
        if c.away[i, 0] & c.event[v].who and c.away[i, 1] < end and t < c.away[i, 2]:
            at = max(at, c.away[i, 2])
    if at == t:
        return
    at = opening(c, c.event[v].kind, at)
    if at > t + ABOUT:
        return
    bits, person = c.event[v].who, 0
    while bits:
        if bits & 1:
            again = n.whole[KEPT] >> person & 1
            n.kept[person] = min(n.kept[person], at) if again else at
        bits >>= 1
        person += 1
    n.whole[KEPT] |= c.event[v].who
    if c.event[v].air == 2:
        n.whole[NO_DUST] = min(n.whole[NO_DUST], at)
    elif c.event[v].air == 1:
        n.whole[NO_COAT] = min(n.whole[NO_COAT], at)


@inner
def try_to_begin(c: Course, d: Drawn, n: Now, v: int) -> int:
    """Its end if it begins now, -1 if it goes on waiting."""
    t = n.whole[T]
    if air_is_kept(c, n, v):
        return -1
    at = free_from(c, n, v)
    crew = crew_for(c, n, v) if c.event[v].crew and at == t else 0
    if at > t or (c.event[v].crew and not crew):
        keep_free(c, n, v, at)
        return -1
    work = d.work[n.whole[SAMPLE], v]
    if t > n.event[v].deadline:
        n.event[v].missed = 1
        work += c.rule[MEND]
    n.event[v].by = crew
    return end_of(c, v, t, work)


@inner
def begin_sample(c: Course, d: Drawn, n: Now) -> None:
    sample = n.whole[SAMPLE]
    n.whole[:] = 0
    n.whole[SAMPLE] = sample
    n.whole[FREE] = c.rule[EVERYBODY]
    n.whole[ENDS] = FAR
    for i in range(len(n.left)):
        n.left[i] = c.stay[i].left
    for i in range(len(n.place)):
        n.place[i].room = c.room[i]
        n.place[i].freed = 0
    for v in range(len(n.event)):
        n.event[v].early = max(c.event[v].release, 0)
        n.event[v].pending = c.event[v].pending
        n.event[v].deadline = FAR
        n.event[v].begun = n.event[v].ended = FAR
        n.event[v].until = -1
        n.event[v].missed = 0
    for v in range(len(n.event)):
        if c.event[v].fact:
            t = c.event[v].planned
            n.event[v].by = c.event[v].who
            begin(c, n, v, t, t + d.work[sample, v])
        elif n.event[v].pending == 0:
            push(n, v, n.event[v].early)


@inner
def end_what_is_done(c: Course, d: Drawn, n: Now) -> None:
    if n.whole[ENDS] > n.whole[T]:
        return
    i, ends = 0, FAR
    while i < n.whole[RUNNING]:
        v = n.running[i]
        if n.event[v].ended > n.whole[T]:
            ends = min(ends, n.event[v].ended)
            i += 1
            continue
        n.whole[RUNNING] -= 1
        n.running[i] = n.running[n.whole[RUNNING]]
        set_free(c, n, v)
        finish(c, d, n, v)
    n.whole[ENDS] = ends


@inner
def begin_what_can_be(c: Course, d: Drawn, n: Now) -> None:
    t = n.whole[T]
    set_aside(c, d, n)
    if not n.whole[LAST]:
        return
    n.whole[KEPT] = 0
    n.whole[NO_DUST] = n.whole[NO_COAT] = FAR
    look_ahead(c, d, n)
    stay = 0
    for i in range(n.whole[WAITING]):
        v = n.waiting[i]
        end = try_to_begin(c, d, n, v) if i < n.whole[LAST] else -1
        if end >= 0:
            begin(c, n, v, t, end)
        else:
            n.waiting[stay] = v
            stay += 1
    n.whole[WAITING] = stay


@inner
def next_moment(c: Course, n: Now) -> int:
    t, at = n.whole[T], n.whole[ENDS]
    if n.whole[HEAP]:
        at = min(at, n.heap[0] >> FRONT)
    if n.whole[WAITING]:
        if n.whole[CLEAR] > t:
            at = min(at, n.whole[CLEAR])
        for i in range(n.whole[WAITING]):
            if c.event[n.waiting[i]].planned > t:
                at = min(at, c.event[n.waiting[i]].planned)
        for i in range(len(c.away)):
            if c.away[i, 2] > t:
                at = min(at, c.away[i, 2])
    return at


@entry
def carry_out(c: Course, d: Drawn, n: Now, out: Out, asked: tuple[Ints, Ints]) -> None:
    """Fills in the samples that are asked for, each by itself: several calls may share the work.
    Where events are asked for, too, a sample is over when all of them have begun."""
    samples, wanted = asked
    for sample in samples:
        n.whole[SAMPLE] = sample
        begin_sample(c, d, n)
        seen = 0
        while n.whole[T] < FAR:
            end_what_is_done(c, d, n)
            while n.whole[HEAP] and n.heap[0] >> FRONT <= n.whole[T]:
                wait_for(c, n, pop(n))
            begin_what_can_be(c, d, n)
            while seen < len(wanted) and n.event[wanted[seen]].begun < FAR:
                seen += 1
            if seen and seen == len(wanted):
                break
            n.whole[T] = next_moment(c, n)
        for v in range(len(n.event)):
            out.begun[sample, v] = n.event[v].begun
            out.ended[sample, v] = n.event[v].ended
            out.missed[sample, v] = n.event[v].missed
