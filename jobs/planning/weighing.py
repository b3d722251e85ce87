"""What a plan costs while blocks are out of it and put back: the jobs' lateness, how far off their
ends are, and how much too late each step is for its job. Compiled."""

from __future__ import annotations

from jobs.planning.blocks import Blocks, Marks
from jobs.planning.state import State, inner
from jobs.planning.tasks import NONE, Arrays

PULL = 2.0  # how much it counts that steps come too late for their job, beside its lateness
ENDS = 1e-3  # the same of each weighted slot in which a job ends later, late or not


@inner
def tally(a: Arrays, s: State, b: Blocks, group: int) -> tuple[int, int]:
    """What a group costs as far as it is in the plan, and the weighted slots to its jobs' ends."""
    total = ends = 0
    for index in range(b.jobs_of[group].jobs, b.jobs_of[group].jobs_end):
        job = b.jobs[index]
        finish = NONE
        for each in range(a.job[job].last, a.job[job].last_end):
            v = a.last[each]
            if s.start[v] != NONE:
                end = s.start[v] + a.event[v].slots
                finish = max(finish, end)
                ends += a.job[job].weight * end
        total += a.job[job].weight * max(0, finish - a.job[job].due)
        if finish > a.job[job].told:
            total += a.move_cost
    return total, ends


@inner
def keep_tally(a: Arrays, s: State, b: Blocks, m: Marks, group: int) -> None:
    """The group as it is now, for the next try."""
    cost, ends = tally(a, s, b, group)
    m.whole[0] += cost - m.cost[group]
    m.whole[1] += ends - m.ends[group]
    m.cost[group], m.ends[group], m.owed[group] = cost, ends, cost
    m.late[group] = 0
    for index in range(b.jobs_of[group].jobs, b.jobs_of[group].jobs_end):
        job = b.jobs[index]
        late = 0
        if s.placed[group]:
            for each in range(a.job[job].last, a.job[job].last_end):
                v = a.last[each]
                late = max(late, s.start[v] + a.event[v].slots - a.job[job].due)
        m.behind[job] = late * a.job[job].weight
        m.late[group] += m.behind[job]


@inner
def gained(a: Arrays, s: State, b: Blocks, m: Marks) -> float:
    """By how much the fitness is less than before the try."""
    fewer, sooner = 0, 0
    for index in range(m.out[-1]):
        group = b.row[m.out[index]].group
        if not m.seen[group]:
            m.seen[group] = 1
            cost, ends = tally(a, s, b, group)
            fewer += m.cost[group] - cost
            sooner += m.ends[group] - ends
    for index in range(m.out[-1]):
        m.seen[b.row[m.out[index]].group] = 0
    return fewer + ENDS * sooner + PULL * (m.pulls[0] - m.pulls[1])


@inner
def owed_more(s: State, b: Blocks, m: Marks, block: int) -> int:
    """By how much what its group costs at least has grown with the block's place; and what it adds
    to the pulls."""
    group = b.row[block].group
    before = m.owed[group]
    pull = 0.0
    for index in range(b.row[block].seq, b.row[block].seq_end):
        v = b.seq[index]
        owed = b.owed[v, max(s.start[v], 0)]
        m.owed[group] = max(m.owed[group], owed)
        pull += b.share[v] * owed
    m.pulled[block] = pull
    m.pulls[1] += pull
    return m.owed[group] - before


@inner
def keep_pull(s: State, b: Blocks, m: Marks, block: int) -> None:
    """How much too late the block's events are for their job, by what each alone makes it owe.

    A job is late as long as any of its steps is. Without this a step that came sooner would tell
    nothing until the last one did, and whether to be late with one job or with another would be
    settled early by chance.
    """
    m.pull[block] = 0.0
    for index in range(b.row[block].seq, b.row[block].seq_end):
        v = b.seq[index]
        m.pull[block] += b.share[v] * b.owed[v, max(s.start[v], 0)]


@inner
def fit_as_kept(m: Marks) -> float:
    """By what the best is told from others: pulls only lead there."""
    return m.whole[0] + ENDS * m.whole[1]
