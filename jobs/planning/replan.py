"""A plan made again after something has changed: it starts from the known one, and dates that
customers were told stay where they were said, as far as a plan is found that keeps them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from jobs.planning.adapt import Wish, adapt, keep, told_left_out, told_moved_in, wish_of
from jobs.planning.faults import sift
from jobs.planning.lists import cost_now, give_back, schedule_of
from jobs.planning.loaded import state_of
from jobs.planning.problem import Job, Key, Piece, Plan, Problem
from jobs.planning.reasons import Later, Reason
from jobs.planning.search import Found, Spend, planned, plans, search
from jobs.planning.state import State, copy_state, entry
from jobs.planning.tables import Ints, ints
from jobs.planning.tasks import Arrays, Schedule, Tasks, compile_tasks
from jobs.planning.way import soonest_alone

KEEP = 1_000_000  # per told date that moves, in slots late: more than any delay
DAYS = 6  # of delay that one told date moved less is worth, where some have to move


@dataclass(frozen=True)
class Move:
    """What becomes of a job, beside the known plan. A finish is None where a plan has none."""

    job: str
    old: int | None
    new: int | None
    told: int | None
    key: str  # of jobs.planning.reasons.Reason; empty for a job that is not later
    why: str
    pieces: tuple[str, ...]  # whose steps move in time or to another place
    hands: tuple[str, ...] = ()  # whose steps only go to other people

    @property
    def breaks_told(self) -> bool:
        return self.told is not None and (self.new is None or self.new > self.told)


def replans(
    problem: Problem, known: Plan | None, spend: Spend | None = None
) -> Iterator[tuple[Plan, Found]]:
    """Ever better plans, the first as near to the known one as can be had at once.

    Once a plan is found that moves no told date that could still be kept, all that follow move
    none. Until then one that moves costs `problem.move_cost`, or as much as a job that is DAYS
    late; and no plan is handed out that moves all that another moved and more. What need not move
    for that is put back where it was.
    """
    if known is None:
        yield from plans(problem, spend)
        return
    kept, faults = sift(problem)
    tasks = compile_tasks(kept)
    for found in renewed(tasks, known, spend or Spend()):
        yield planned(problem, tasks, faults, found.schedule), found


def renewed(tasks: Tasks, known: Plan, spend: Spend) -> Iterator[Found]:
    """The same for a problem as arrays; a schedule's cost is in the problem's own prices."""
    held = without_past(tasks, known)
    free, strict = priced(held, 0), priced(held, KEEP)
    fair = priced(held, tasks.problem.move_cost or fair_price(tasks.problem))
    start = adapt(strict, known)
    kept = Kept(fair, known, start)
    yield Found(repriced(tasks, kept.best), "adapted", start.cost == 0)
    if not tasks.groups or start.cost == 0:
        return
    # A search that may move dates comes by plans that one walled in by them does not; what it
    # moved is then brought back.
    quick = replace(spend, neighbourhoods=0, whole_work=0.0)
    last = start
    told = any(job.told is not None for job in held.problem.jobs)
    for one in (free, fair) if told else ():
        for found in search(one, quick, repriced(one, last)):
            last = found.schedule
            kept.take(one, last)
            yield Found(repriced(tasks, kept.best), found.by)
    one = strict if kept.moves_none else fair
    for found in search(one, spend, repriced(one, kept.best)):
        kept.take(one, found.schedule)
        yield Found(repriced(tasks, kept.best), found.by, found.proved and one is strict)


class Kept:
    """The best plan so far: the fewest jobs with a told date left out, then one that moves none of
    those dates before all that do, then by cost."""

    def __init__(self, fair: Tasks, known: Plan, start: Schedule) -> None:
        self.fair, self.known = fair, known
        self.best = repriced(fair, start)
        self.seen = {frozenset(told_moved_in(fair, start))}

    @property
    def moves_none(self) -> bool:
        return not told_moved_in(self.fair, self.best)

    def take(self, one: Tasks, found: Schedule) -> None:
        """Takes it if it is better, put back to where all was known to be as far as that costs
        nothing in the prices of `one`."""
        got = repriced(self.fair, put_back(one, self.known, found))
        moved = frozenset(told_moved_in(one, got))
        self.seen.add(moved)
        more = any(before < moved for before in self.seen)
        out, best_out = (told_left_out(self.fair, each) for each in (got, self.best))
        new, old = (out, bool(moved), got.cost), (best_out, not self.moves_none, self.best.cost)
        if not more and new < old:
            self.best = got


def without_past(tasks: Tasks, known: Plan) -> Tasks:
    """Told dates that the known plan does not keep, or that no plan can, hold nothing any more: for
    their sake no other need stay or move. Their jobs' delay counts as before."""
    jobs = list(tasks.problem.jobs)
    for group, numbers in enumerate(tasks.groups):
        for number in numbers:
            if number >= len(jobs):  # a visit
                continue
            job = jobs[number]
            if job.told is None:
                continue
            past = known.finish.get(job.name, job.told) > job.told
            if past or soonest_alone(tasks, group, number) > job.told:
                jobs[number] = replace(job, told=None)
    return dated(tasks, jobs)


def dated(tasks: Tasks, jobs: Sequence[Job]) -> Tasks:
    """The same work with other dates."""
    rows = tasks.arrays.job.copy()
    for number, job in enumerate(jobs):
        rows.due[number], rows.weight[number] = job.due, job.weight
        rows.told[number] = 10 * tasks.arrays.horizon if job.told is None else job.told
    problem = replace(tasks.problem, jobs=tuple(jobs))
    return replace(tasks, problem=problem, arrays=tasks.arrays._replace(job=rows))


def fair_price(problem: Problem) -> int:
    starts = problem.shop.day_starts
    lengths = sorted(after - before for before, after in pairwise(starts))
    return DAYS * (lengths[len(lengths) // 2] if lengths else problem.shop.horizon)


def priced(tasks: Tasks, price: int) -> Tasks:
    return replace(
        tasks,
        problem=replace(tasks.problem, move_cost=price),
        arrays=tasks.arrays._replace(move_cost=price),
    )


def repriced(tasks: Tasks, schedule: Schedule) -> Schedule:
    return schedule_of(tasks, state_of(tasks, schedule))


@entry
def put_back_state(a: Arrays, s: State, kept: State, order: Ints, wish: Wish) -> None:
    now = cost_now(a, s)
    for g in order:
        give_back(a, s, g)
        if keep(a, s, g, wish) and cost_now(a, s) <= now:
            now = cost_now(a, s)
            copy_state(s, kept)
        else:
            copy_state(kept, s)


def put_back(tasks: Tasks, known: Plan, found: Schedule) -> Schedule:
    """Each job once more where it was known to be, where that costs nothing."""
    arrays, wish = wish_of(tasks, known)
    state, kept = state_of(tasks, found), state_of(tasks, found)
    order = ints(range(len(tasks.groups)))
    for _ in range(2):  # one that has gone back can make room for another
        put_back_state(arrays, state, kept, order, wish)
    return schedule_of(tasks, kept)


def moves(problem: Problem, old: Plan, new: Plan) -> tuple[Move, ...]:
    """What becomes of the old plan's jobs in the new one; those that stay as they are left out.

    Steps that marks have settled do not count as moved: they are what happened.
    """
    later = Later(problem, old, new)
    found = []
    for job in problem.jobs:
        pieces = [piece for piece in problem.pieces if piece.job == job.name]
        if not any(key.piece == piece.code for piece in pieces for key in old.starts):
            continue
        moved = tuple(piece.code for piece in pieces if is_moved(piece, old, new))
        hands = tuple(
            piece.code
            for piece in pieces
            if piece.code not in moved
            and any(
                set(old.people.get(key, ())) != set(new.people.get(key, ()))
                for key in open_steps(piece)
                if key in old.starts
            )
        )
        before, after = old.finish.get(job.name), new.finish.get(job.name)
        if moved or hands or before != after:
            key, words, _ = why_of(later, job, pieces)
            found.append(Move(job.name, before, after, job.told, key, words, moved, hands))
    return tuple(found)


def open_steps(piece: Piece) -> Iterator[Key]:
    for number, step in enumerate(piece.steps):
        if step.began is None:
            yield Key(piece.code, number)


def is_moved(piece: Piece, old: Plan, new: Plan) -> bool:
    held = (((piece.code, number), hold) for number, hold in enumerate(piece.holds))
    return any(
        key in old.starts and old.starts[key] != new.starts.get(key) for key in open_steps(piece)
    ) or any(
        piece.steps[hold.last].began is None
        and key in old.held
        and old.held[key] != new.held.get(key)
        for key, hold in held
    )


def why_of(later: Later, job: Job, pieces: list[Piece]) -> Reason:
    """Why the job ends later than it was known to, or after what its customer was told."""
    before, after = later.old.finish.get(job.name), later.new.finish.get(job.name)
    if after is None:
        about = {job.name, *(piece.code for piece in pieces)}
        faults = [fault for fault in later.new.faults if fault.about in about]
        return Reason("fault", faults[0].words if faults else "")
    if before is None or after <= before:
        past = job.told is not None and after > job.told
        return Reason("before", "it was past the told date before") if past else Reason("", "")
    last = max((piece.counted for piece in pieces), key=lambda key: later.span(key)[1])
    return later.why(last)
