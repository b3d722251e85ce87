"""When a new job can be ready, said while the customer is on the line.

It goes into what the known plan leaves free: nothing else moves, no told date breaks. What might
make it earlier is tried beside that: a day more, a second run, a job that can spare some time.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from jobs.planning.adapt import Wish, adapt, finish_in, keep, place_after, wish_of
from jobs.planning.exact import Budget, solve
from jobs.planning.faults import sift
from jobs.planning.lists import State, copy_state, cost_now, entry, give_back, place, schedule_of
from jobs.planning.problem import Fault, Job, Key, Piece, Plan, Problem, Shop, Step, Window
from jobs.planning.replan import KEEP, Move, dated, moves, priced, put_back, repriced
from jobs.planning.search import overlap, planned, span_of
from jobs.planning.shake import state_of
from jobs.planning.tasks import TURNS, Arrays, Schedule, Tasks, compile_tasks

WORK = 0.02  # of the solver, in its deterministic seconds: a proof for what lists have found
SPARING = 12  # jobs that are asked, at the most, to make room


@dataclass(frozen=True)
class Way:
    """Another way to do it. `problem` is the shop as it would be, with the jobs it has."""

    key: str
    words: str
    hours: float  # of people's work, more than without it
    problem: Problem
    pieces: tuple[Piece, ...] = ()  # of the new job, where they would go another way
    extra: Window | None = None  # hours that are not worked otherwise: what is done there is added
    sparing: tuple[str, ...] = ()  # jobs of which one may move, within its own date


@dataclass(frozen=True)
class Offer:
    key: str
    words: str
    finish: int
    plan: Plan
    moved: tuple[Move, ...]
    hours: float


def offer(
    problem: Problem, known: Plan, job: Job, pieces: tuple[Piece, ...], *, work: float = WORK
) -> Offer | Fault:
    """The earliest finish that is found for the job with all else where it is known to be.

    It is listed in every order that `tasks` has of the job's pieces; with `work` left, the solver
    then looks for an earlier one among all that there are.

    `known` is a plan of the other jobs. Where facts have changed since, what they move is moved.
    """
    return offered(Way("plain", "", 0.0, problem), known, job, pieces, work=work)


def alternatives(
    problem: Problem,
    known: Plan,
    job: Job,
    pieces: tuple[Piece, ...],
    ways: Iterable[Way],
    *,
    plain: Offer | None = None,
    slot_hours: float = 0.5,
) -> Iterator[Offer]:
    """Those of the ways by which it is ready earlier than by the plain offer, as they are found.

    They are listed, not solved: there may be an earlier date still.
    """
    first = plain or offer(problem, known, job, pieces)
    for way in ways:
        found = offered(way, known, job, way.pieces or pieces)
        if isinstance(found, Offer) and (isinstance(first, Fault) or found.finish < first.finish):
            worked = worked_in(way, found.plan, way.pieces or pieces) * slot_hours
            yield replace(found, hours=way.hours + worked)


def saturday(problem: Problem, day_start: int, window: Window) -> Way:
    """A day that is not worked otherwise; `window` counts from its first slot."""
    extra = Window(day_start + window.begin, day_start + window.end)
    if any(each.begin < extra.end and extra.begin < each.end for each in problem.shop.shifts):
        raise ValueError("the shop works on that day already; name one on which it is closed")
    shifts = tuple(sorted((*problem.shop.shifts, extra)))
    shop = replace(problem.shop, shifts=shifts)
    return Way("saturday", "Work one day more", 0.0, replace(problem, shop=shop), extra=extra)


def second_run(
    problem: Problem, pieces: tuple[Piece, ...], *, slot_hours: float = 0.5
) -> Way | None:
    """Pieces that are cast in one run are cast in two, each as soon as a table is free.

    None where no run has two pieces. That they may then not match is the caller's to say.
    """
    runs = Counter(
        step.together for piece in pieces for step in piece.steps if is_run(problem.shop, step)
    )
    most = next((name for name, count in runs.most_common(1) if count > 1), "")
    if not most:
        return None
    of_run = [piece.code for piece in pieces if any(s.together == most for s in piece.steps)]
    second = set(of_run[(len(of_run) + 1) // 2 :])
    other = f"{most}, second"
    parted = tuple(
        replace(
            piece,
            steps=tuple(
                replace(step, together=other) if step.together == most else step
                for step in piece.steps
            ),
        )
        if piece.code in second
        else piece
        for piece in pieces
    )
    step = next(step for piece in pieces for step in piece.steps if step.together == most)
    words = f"Cast {', '.join(sorted(second))} in a second run"
    return Way("second run", words, step.slots * step.crew * slot_hours, problem, parted)


def is_run(shop: Shop, step: Step) -> bool:
    mixers = {place.name for place in shop.places if place.kind == "mixer"}
    return bool(step.together) and not mixers.isdisjoint(step.uses)


def slack(problem: Problem, known: Plan) -> Way:
    """A job that is known to end before its own date may end later, up to that date."""
    spare = {
        job.name: limit_of(job) - known.finish[job.name]
        for job in problem.jobs
        if job.name in known.finish
    }
    names = tuple(name for name, slots in spare.items() if slots > 0)
    return Way("slack", "Move a job that can spare it", 0.0, problem, sparing=names)


def limit_of(job: Job) -> int:
    return job.due if job.told is None else job.told


def offered(
    way: Way, known: Plan, job: Job, pieces: tuple[Piece, ...], *, work: float = 0.0
) -> Offer | Fault:
    if any(each.name == job.name for each in way.problem.jobs):
        return Fault(job.name, "twice", f"Job {job.name} is in the plan. Give the new one a name.")
    asked = replace(
        way.problem, jobs=(*way.problem.jobs, job), pieces=(*way.problem.pieces, *pieces)
    )
    kept, faults = sift(asked)
    mine = {job.name, *(piece.code for piece in pieces)}
    for fault in faults:
        if fault.about in mine and fault.key != "past":
            return fault
    tasks = compile_tasks(kept)
    number = tasks.jobs.index(job.name)
    group = next((g for g, jobs in enumerate(tasks.groups) if number in jobs), None)
    if group is None:
        return Fault(job.name, "empty", f"Job {job.name} has no pieces. Add what is to be cast.")
    start = adapt(tasks, known)
    if group in start.left_out:
        words = f"Job {job.name} finds no room before the plan ends. Plan further ahead."
        return Fault(job.name, "room", words)
    best = Insertion(hurried(tasks, start, number), known, start, group).best(way.sparing, work)
    plan = planned(asked, tasks, faults, best)
    moved = moves(asked, known, plan)
    words = way.words
    if way.sparing and moved:
        words = f"Move {', '.join(move.job for move in moved)}, which can spare it"
    return Offer(way.key, words, plan.finish[job.name], plan, moved, way.hours)


def hurried(tasks: Tasks, start: Schedule, new: int) -> Tasks:
    """What counts now: the new job's end. The others may not end after their own dates, or after
    where they are if that is later."""
    jobs = []
    for number, job in enumerate(tasks.problem.jobs):
        limit = max(limit_of(job), finish_in(tasks, start, number))
        jobs.append(replace(job, due=limit, told=limit))
    jobs[new] = replace(jobs[new], due=0, told=None, weight=1)
    return priced(dated(tasks, jobs), KEEP)


class Insertion:
    """One group put into a plan that stands, with or without another making room."""

    def __init__(self, tasks: Tasks, known: Plan, start: Schedule, group: int) -> None:
        self.tasks, self.known, self.group = tasks, known, group
        self.start = repriced(tasks, start)
        self.arrays, self.wish = wish_of(tasks, known)

    def best(self, sparing: tuple[str, ...], work: float) -> Schedule:
        alone = best = self.listed(self.start, -1)
        for other in self.near(alone, sparing):
            best = min(best, self.listed(alone, other), key=lambda schedule: schedule.cost)
        if work:
            answer = solve(self.tasks, [self.group], best, Budget(work))
            best = answer.schedule or best
        return best if best is alone else put_back(self.tasks, self.known, best)

    def listed(self, base: Schedule, other: int) -> Schedule:
        work, again, best = (state_of(self.tasks, base) for _ in range(3))
        try_turns(self.arrays, (work, again, best), self.group, other, self.wish)
        return schedule_of(self.tasks, best)

    def near(self, base: Schedule, sparing: tuple[str, ...]) -> list[int]:
        """Groups all of whose jobs can spare something and that begin before the new one is
        through: those most at work when it is first, then those that end shortly before."""
        names = set(sparing)
        mine = span_of(self.tasks, base, self.group)
        spans = {
            g: span_of(self.tasks, base, g)
            for g, jobs in enumerate(self.tasks.groups)
            if g != self.group
            and g not in base.left_out
            and all(self.tasks.jobs[job] in names for job in jobs)
        }
        rows = [
            (-overlap(span, mine), mine[0] - span[1], g)
            for g, span in spans.items()
            if span[0] < mine[1] or span[1] < mine[0]
        ]
        return [g for _, _, g in sorted(rows)][:SPARING]


@entry
def try_turns(
    a: Arrays, states: tuple[State, State, State], g: int, other: int, wish: Wish
) -> None:
    """Tries in the first state, goes back to the second, leaves the best in the third."""
    s, base, best = states
    top = cost_now(a, best)
    for turn in range(TURNS):
        give_back(a, s, g)
        if other >= 0:
            give_back(a, s, other)
        s.turn[g] = turn
        placed = place(a, s, g)
        if placed and other >= 0:
            placed = keep(a, s, other, wish) or place_after(a, s, other, wish)
        if placed and cost_now(a, s) < top:
            top = cost_now(a, s)
            copy_state(s, best)
        copy_state(base, s)


def worked_in(way: Way, plan: Plan, pieces: tuple[Piece, ...]) -> int:
    """Slots that people work on the new job in the hours that are extra."""
    if way.extra is None:
        return 0
    events: dict[str, int] = {}
    for piece in pieces:
        for number, step in enumerate(piece.steps):
            begin = plan.starts[Key(piece.code, number)]
            if step.crew and way.extra.begin <= begin < way.extra.end:
                events[step.together or f"{piece.code}\n{number}"] = step.slots * step.crew
    return sum(events.values())
