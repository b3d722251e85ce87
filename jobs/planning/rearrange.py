"""Search by blocks: some are taken out of the plan and put back in another order.

Annealing, compiled. As often as not a block goes first that makes a late job late, and some of what
has to make way after it; now and then any block that waits; else blocks of about the same time
change places. What finds no better room, or had to make way and would be late for it, may have
others make way in turn (ejection chains, after Glover 1996). What follows a block is moved only
where it must. A budget counts events, not seconds, and the draws are its own: the same facts give
the same plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from jobs.planning.blocks import IN_AGAIN, Blocks, Marks, marks_of
from jobs.planning.choosing import (
    choose_blocks,
    choose_in_way,
    could_begin,
    first_of,
    in_way_of,
)
from jobs.planning.lists import schedule_of
from jobs.planning.loaded import draw, state_of
from jobs.planning.outin import (
    change_back,
    free_places,
    hold_again,
    is_too_soon,
    keep_places,
    put_back,
    put_in,
    take_out,
)
from jobs.planning.put_off import bring_forward, put_off
from jobs.planning.state import State, copy_row, entry, inner
from jobs.planning.tables import Ints
from jobs.planning.tasks import NONE, Arrays, Schedule, Tasks
from jobs.planning.weighing import (
    PULL,
    fit_as_kept,
    gained,
    keep_pull,
    keep_tally,
    owed_more,
    tally,
)

ABREAST = 2  # annealings at once, whatever cores there are: the same facts give the same plan
EVERYBODY = 1 << 30  # bits of people, any of them drawn
CHAIN = 12  # times in a try that what falls short of its aim has others make way
SOME_WAY = 96  # slots before the last at which it would not, that it may be put at
PASSES = 5  # times that all is brought forward, at the most
SPARE = 5.0  # that ends of jobs that are not late may tell in the fitness


@inner
def chance(seed: Ints) -> float:
    """Above 0, at most 1."""
    return (1 + draw(seed, 1_000_000)) / 1_000_000


@inner
def keep_try(a: Arrays, s: State, b: Blocks, m: Marks) -> None:
    """What the blocks that were out have become is what is gone on from."""
    for place in range(m.out[-1]):
        block = m.out[place]
        m.pull[block] = m.pulled[block]
        keep_places(a, s, b, m, block)
        keep_tally(a, s, b, m, b.row[block].group)
    for index in range(s.relieved[-1]):
        m.who[s.relieved[index]] = s.who[s.relieved[index]]
    for index in range(s.cleared[-1]):
        m.at[s.cleared[index]] = s.at[s.cleared[index]]


@inner
def next_in(m: Marks, done: int) -> int:
    """Where the block stands that is put in next: none that it waits for is still out."""
    out, pick = m.out, -1
    for index in range(done, out[-1]):
        if not m.waits[out[index]] and (pick < 0 or m.key[out[index]] < m.key[out[pick]]):
            pick = index
    return pick


@inner
def take_chosen_out(a: Arrays, s: State, b: Blocks, m: Marks, lead: int) -> int:
    """Settles their order to be put in again. What all jobs owe at least without them."""
    out, key, waits, seed = m.out, m.key, m.waits, m.seed
    s.relieved[-1] = s.cleared[-1] = 0
    many = out[-1]
    spread = (12, 48, 240, 960)[draw(seed, 4)]
    hurry = b.row[out[draw(seed, many)]].group if draw(seed, 3) == 0 else -1
    for index in range(many):
        block = out[index]
        key[block] = first_of(s, b, block) + draw(seed, spread)
        if b.row[block].group == hurry:
            key[block] -= 960
        if block == lead:
            key[block] = NONE
        waits[block] = 0
        free_places(a, s, b, block)
    for index in range(many):
        take_out(a, s, b, out[index])
        for each in range(b.row[out[index]].next, b.row[out[index]].next_end):
            waits[b.next[each]] += 1
    owed = m.whole[0]
    m.pulls[:] = 0.0
    for index in range(many):
        m.pulls[0] += m.pull[out[index]]
        group = b.row[out[index]].group
        owed -= m.owed[group]
        m.owed[group] = tally(a, s, b, group)[0]
        owed += m.owed[group]
    # Who does it may matter as much as when: else those with the fewest skills are always first.
    s.prefer[0] = draw(seed, EVERYBODY) if draw(seed, 2) else 0
    return owed


@inner
def put_in_anew(a: Arrays, s: State, b: Blocks, m: Marks, asked: tuple[int, float]) -> int:
    """Takes the blocks out and puts them in about as they were, or a job's before others'; and then
    what follows them too soon, and no more: a small change tells more often.

    How many found room; as a negative number when one finds none, or as soon as all must cost more
    than `most`: the others are left out then. `asked` is the block that goes first, or -1, and
    `most`.
    """
    lead, most = asked
    out, waits = m.out, m.waits
    owed = take_chosen_out(a, s, b, m, lead)
    chain = CHAIN if draw(m.seed, 2) else 0
    done = 0
    while done < out[-1]:
        pick = next_in(m, done)
        block = out[pick]
        leads = block == lead and not done
        chain = put_in_soon(a, s, b, m, (block, leads, chain))
        if chain < 0:
            return -done
        out[pick], out[done] = out[done], block
        if leads and falls_short(s, b, m, (block, leads)):
            return -1  # nothing gained by it
        done += 1
        waits[block] = IN_AGAIN
        owed += owed_more(s, b, m, block)
        pulls = m.pulls[1] - m.pulls[0]  # at least: of what is still out, none is counted
        if owed + PULL * pulls > most or not let_follow(a, s, b, m, block):
            return -done
    for index in range(done):
        if not hold_again(a, s, b, out[index]):
            return -done
    return done


@inner
def put_in_soon(a: Arrays, s: State, b: Blocks, m: Marks, turn: tuple[int, bool, int]) -> int:
    """Puts a block in; where it falls short others change hands or places for it, and if that does
    not help, some make way. How often that may still be done in the try, -1 if there is no room."""
    block, leads, chain = turn
    if not leads:
        put_off(a, s, b, m, block)
    asked = has_way = False
    while True:  # one place from which it is put in: each is compiled in line, some 20 s of it
        fits = put_in(a, s, b, block)
        s.asks[0] = 0
        if not fits:
            return -1
        if (has_way and (not leads or draw(m.seed, 2))) or not falls_short(s, b, m, (block, leads)):
            return chain
        if not asked:
            asked = True
            free_places(a, s, b, block)
            take_out(a, s, b, block)
            s.asks[0] = 1
        elif chain:
            chain -= 1
            has_way = has_way_made(a, s, b, m, (block, leads))
            if not has_way:
                return chain
        else:
            return chain


@inner
def falls_short(s: State, b: Blocks, m: Marks, turn: tuple[int, bool]) -> bool:
    """Whether a block that leads is over no sooner than before the try; of another, whether any of
    its events alone makes the job owe more than before."""
    block, leads = turn
    if leads:
        last = b.seq[b.row[block].seq_end - 1]
        return s.start[last] >= m.start[last]
    for index in range(b.row[block].seq, b.row[block].seq_end):
        v = b.seq[index]
        if b.owed[v, max(s.start[v], 0)] > b.owed[v, max(m.start[v], 0)]:
            return True
    return False


@inner
def has_way_made(a: Arrays, s: State, b: Blocks, m: Marks, turn: tuple[int, bool]) -> bool:
    """Takes out the block, to be put in anew, and some of what stands in its way at a time at which
    it would not fall short. False, and all as it was, if there is nothing."""
    block, leads = turn
    v = b.seq[b.row[block].seq]
    if a.event[v].fixed != NONE:
        return False
    ready, _ = could_begin(a, s, v)
    t = s.start[v] - 1
    if leads:
        t = min(t, m.start[v] - 1)
    while not leads and t >= ready and b.owed[v, t] > b.owed[v, max(m.start[v], 0)]:
        t -= 1
    if t < ready:
        return False
    t -= draw(m.seed, min(t - ready, SOME_WAY) + 1)
    many = in_way_of(a, s, b, m, (block, s.start[v] - t))
    for index in range(many):
        one = m.in_way[index]
        for each in range(b.row[one].next, b.row[one].next_end):
            if b.next[each] == block:  # it waits for that one, which would have to go first
                return False
    if not many:
        return False
    free_places(a, s, b, block)
    take_out(a, s, b, block)
    for index in range(many):
        if s.placed[b.row[m.in_way[index]].group]:
            take_out_too(a, s, b, m, m.in_way[index])
    return True


@inner
def let_follow(a: Arrays, s: State, b: Blocks, m: Marks, block: int) -> bool:
    """Takes out what follows the block too soon, to be put in later; false if it is in again."""
    for each in range(b.row[block].next, b.row[block].next_end):
        other = b.next[each]
        if m.chosen[other] and m.waits[other] != IN_AGAIN:
            m.waits[other] -= 1
        elif is_too_soon(a, s, b, block, other):
            if m.chosen[other]:
                return False
            take_out_too(a, s, b, m, other)
    return True


@inner
def take_out_too(a: Arrays, s: State, b: Blocks, m: Marks, block: int) -> None:
    m.pulls[0] += m.pull[block]
    m.key[block] = first_of(s, b, block)
    m.chosen[block] = 1
    m.waits[block] = 0
    free_places(a, s, b, block)
    take_out(a, s, b, block)
    for index in range(m.out[-1]):
        one = m.out[index]
        if m.waits[one] != IN_AGAIN:
            for each in range(b.row[one].next, b.row[one].next_end):
                m.waits[block] += b.next[each] == block
    for each in range(b.row[block].next, b.row[block].next_end):
        later = b.next[each]
        if m.chosen[later] and m.waits[later] != IN_AGAIN:
            m.waits[later] += 1
    m.out[m.out[-1]] = block
    m.out[-1] += 1


@inner
def keep_best(s: State, m: Marks) -> None:
    copy_row(s.start, m.best_start)
    copy_row(s.who, m.best_who)
    copy_row(s.at, m.best_at)


@inner
def tried(a: Arrays, s: State, b: Blocks, m: Marks, heat: float) -> int:
    """Tries once, and takes it back if it is not kept; how many events were placed again."""
    loss = -heat * np.log(chance(m.seed))
    m.out[-1] = 0
    kind = draw(m.seed, 6)  # three for what makes a job late, two for whatever waits, one for any
    lead = choose_in_way(a, s, b, m, kind < 3) if kind < 5 else -1
    if lead < 0:
        choose_blocks(a, s, b, m)
    begun = m.out[-1]
    most = m.whole[0] + loss + SPARE
    done = put_in_anew(a, s, b, m, (lead, most)) if begun else 0
    many = m.out[-1]
    gain = gained(a, s, b, m) if done == many else -np.inf
    done = abs(done)
    if gain >= -loss:
        keep_try(a, s, b, m)
    else:
        for index in range(done):
            free_places(a, s, b, m.out[index])
        for index in range(done):
            take_out(a, s, b, m.out[index])
        change_back(a, s, b, m)
        put_back(a, s, b, m)
    events = 1
    for index in range(many):
        m.chosen[m.out[index]] = 0
        group = b.row[m.out[index]].group
        m.owed[group] = m.cost[group]
        events += b.row[m.out[index]].seq_end - b.row[m.out[index]].seq
    return events


@entry
def rearrange_state(
    a: Arrays, s: State, b: Blocks, m: Marks, effort: tuple[int, float, float]
) -> float:
    """The fitness of the best, left in the marks, once so many events have been placed again.

    Annealing (Kirkpatrick, Gelatt and Vecchi 1983): a try that loses a little is kept now and then,
    ever less often. `effort` is the events to place again and the heat at first and in the end.
    The state is left where the last try left it, so that it can be gone on from.
    """
    work, hot, cold = effort
    left = work
    copy_row(s.start, m.start)
    copy_row(s.who, m.who)
    copy_row(s.at, m.at)
    for group in range(len(a.group)):
        keep_tally(a, s, b, m, group)
    for block in range(len(b.row)):
        keep_pull(s, b, m, block)
    top = fit_as_kept(m)
    keep_best(s, m)
    while left > 0:
        heat = cold + (hot - cold) * left / work
        left -= tried(a, s, b, m, heat)
        now = fit_as_kept(m)
        if now < top:
            top = now
            keep_best(s, m)
    return top


class Lane:
    """One annealing: where it is, the best that it has found, and its draws."""

    def __init__(self, tasks: Tasks, blocks: Blocks, schedule: Schedule, seed: int) -> None:
        self.tasks, self.blocks, self.schedule = tasks, blocks, schedule
        self.state = state_of(tasks, schedule)
        self.marks = marks_of(tasks, blocks, self.state, seed)
        self.aside = marks_of(tasks, blocks, self.state, seed)  # for what is no try
        self.top = np.inf  # the best fitness of all rounds

    def go(self, effort: tuple[int, float, float]) -> None:
        top = rearrange_state(self.tasks.arrays, self.state, self.blocks, self.marks, effort)
        if top < self.top:
            self.top = top
            marks = self.marks
            found = (marks.best_start.copy(), marks.best_who.copy(), marks.best_at.copy())
            self.schedule = self.forward(found)

    def forward(self, found: tuple[Ints, Ints, Ints]) -> Schedule:
        """Nothing waits in the plan that need not: what was put off for others comes forward."""
        before = Schedule(*found, self.schedule.cost, self.schedule.left_out)
        state = state_of(self.tasks, before)
        for _ in range(PASSES):
            if not bring_forward(self.tasks.arrays, state, self.blocks, self.aside):
                break
        return schedule_of(self.tasks, state)


def rearrange(
    tasks: Tasks,
    blocks: Blocks,
    schedule: Schedule,
    effort: tuple[int, float, int],
    seeds: Sequence[int],
) -> Iterator[Schedule]:
    """Ever better plans, never a worse one than it was given, one after each round.

    `effort` is the events placed again in a round, the heat at first (weighted slots that a try may
    lose), and the rounds by which it has cooled. There is an annealing for each of the seeds, two
    at once.
    """
    if not len(blocks.row):
        return
    work, hot, rounds = effort
    lanes = [Lane(tasks, blocks, schedule, seed) for seed in seeds]
    with ThreadPoolExecutor(ABREAST) as pool:
        for number in range(rounds):
            first, last = (1 + hot * (1 - (number + each) / rounds) ** 2 for each in (0, 1))
            list(pool.map(Lane.go, lanes, [(work, first, last)] * len(lanes)))
            schedule = min(schedule, *(lane.schedule for lane in lanes), key=lambda each: each.cost)
            yield schedule
