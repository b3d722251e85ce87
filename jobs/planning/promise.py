"""When a new job can be ready, said while the customer is on the line.

It goes into what the known plan leaves free: nothing else moves, no told date breaks. What might
make it earlier is tried beside that: a day more, a second run, a job that can spare some time.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property

from jobs.planning.adapt import Wish, adapt, finish_in, keep, place_after, wish_of
from jobs.planning.constraints import Model
from jobs.planning.faults import sift
from jobs.planning.ground import Ground
from jobs.planning.lists import cost_now, give_back, place, schedule_of
from jobs.planning.loaded import state_of
from jobs.planning.problem import Fault, Job, Key, Piece, Plan, Problem, Shop, Step, Window
from jobs.planning.replan import KEEP, Move, dated, moves, priced, put_back, repriced
from jobs.planning.search import overlap, planned, span_of
from jobs.planning.state import State, copy_state, entry
from jobs.planning.tables import ints
from jobs.planning.tasks import TURNS, Arrays, Schedule, Tasks, compile_tasks, names_of_group

# Of the solver, in its deterministic seconds: some tenths of a second of forty jobs where it comes
# to no proof. In three of sixteen invented shops there was a sooner day than the lists', by two to
# four days: 0.004 found one of them, 0.02 all, for a second more.
WORK = 0.003
SPARING = 12  # jobs that are asked, at the most, to make room
NO_WISH = Wish(ints([]), ints([]))


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
    tasks: Tasks | None = field(default=None, repr=False, compare=False)  # with the new job


def offer(
    problem: Problem,
    known: Plan,
    job: Job,
    pieces: tuple[Piece, ...],
    *,
    work: float = WORK,
    ground: Ground | None = None,
) -> Offer | Fault:
    """The earliest finish that is found for the job with all else where it is known to be.

    It is listed in every order that `tasks` has of the job's pieces; with `work` left, the solver
    then looks for an earlier one among all that there are.

    `known` is a plan of the other jobs. Where facts have changed since, what they move is moved.
    `ground` is the two of them as arrays, where somebody has kept them.
    """
    return offered(Way("plain", "", 0.0, problem), known, job, pieces, work=work, ground=ground)


def alternatives(
    problem: Problem,
    known: Plan,
    job: Job,
    pieces: tuple[Piece, ...],
    ways: Iterable[Way],
    *,
    plain: Offer | None = None,
    slot_hours: float = 0.5,
    ground: Ground | None = None,
) -> Iterator[Offer]:
    """Those of the ways by which it is ready earlier than by the plain offer, as they are found.

    They are listed, not solved: there may be an earlier date still.
    """
    first = plain or offer(problem, known, job, pieces, ground=ground)
    for way in ways:
        found = offered(way, known, job, way.pieces or pieces, ground=ground)
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


@dataclass(frozen=True)
class Laid:
    """The new job beside the others: all else where it is known to be, the job perhaps nowhere."""

    tasks: Tasks
    faults: tuple[Fault, ...]
    start: Schedule
    number: int
    group: int


def offered(
    way: Way,
    known: Plan,
    job: Job,
    pieces: tuple[Piece, ...],
    *,
    work: float = 0.0,
    ground: Ground | None = None,
) -> Offer | Fault:
    if any(each.name == job.name for each in way.problem.jobs):
        return Fault(job.name, "twice", f"Job {job.name} is in the plan. Give the new one a name.")
    if not pieces:
        return Fault(job.name, "empty", f"Job {job.name} has no pieces. Add what is to be cast.")
    asked = replace(
        way.problem, jobs=(*way.problem.jobs, job), pieces=(*way.problem.pieces, *pieces)
    )
    if ground is not None and ground.bears(way.problem, known, pieces):
        laid = laid_behind(ground, job, pieces)
        found = laid if isinstance(laid, Fault) else put_in(way, known, asked, laid, work)
        if isinstance(found, Fault) and found.key == "room":
            # With others moved it may find some yet.
            found = offered(way, known, job, pieces, work=work)
        return found
    laid = laid_anew(asked, known, job, pieces)
    return laid if isinstance(laid, Fault) else put_in(way, known, asked, laid, work)


def laid_behind(ground: Ground, job: Job, pieces: tuple[Piece, ...]) -> Laid | Fault:
    kept, faults = sift(replace(ground.problem, jobs=(job,), pieces=pieces))
    if fault := fault_of(faults, job, pieces):
        return fault
    tasks, start = ground.with_job(job, kept.pieces)
    number, group = len(tasks.problem.jobs) - 1, len(tasks.groups) - 1
    return Laid(tasks, (*ground.faults, *faults), start, number, group)


def laid_anew(asked: Problem, known: Plan, job: Job, pieces: tuple[Piece, ...]) -> Laid | Fault:
    kept, faults = sift(asked)
    if fault := fault_of(faults, job, pieces):
        return fault
    tasks = compile_tasks(kept)
    number = tasks.jobs.index(job.name)
    group = next(g for g, jobs in enumerate(tasks.groups) if number in jobs)
    return Laid(tasks, faults, adapt(tasks, known), number, group)


def fault_of(faults: Iterable[Fault], job: Job, pieces: Iterable[Piece]) -> Fault | None:
    mine = {job.name, *(piece.code for piece in pieces)}
    return next((each for each in faults if each.about in mine and each.key != "past"), None)


def put_in(way: Way, known: Plan, asked: Problem, laid: Laid, work: float) -> Offer | Fault:
    tasks = hurried(laid.tasks, laid.start, laid.number)
    best = Insertion(tasks, known, laid.start, laid.group).best(way.sparing, work)
    name = laid.tasks.jobs[laid.number]
    if laid.group in best.left_out:
        words = (
            f"Job {name} finds no room in the days that are planned, beside all that is in the "
            "plan. Open more hours, or let a pin go."
        )
        return Fault(name, "room", words)
    plan = planned(asked, laid.tasks, laid.faults, best)
    moved = moves(asked, known, plan)
    words = way.words
    if way.sparing and moved:
        words = f"Move {', '.join(move.job for move in moved)}, which can spare it"
    return Offer(way.key, words, plan.finish[name], plan, moved, way.hours, laid.tasks)


def hurried(tasks: Tasks, start: Schedule, new: int) -> Tasks:
    """What counts now: the new job's end. The others may not end after their own dates, or after
    where they are if that is later; nor may what was agreed with a site."""
    jobs = []
    for number, job in enumerate(tasks.problem.jobs):
        limit = max(limit_of(job), finish_in(tasks, start, number))
        jobs.append(replace(job, due=limit, told=limit))
    jobs[new] = replace(jobs[new], due=0, told=None, weight=1)
    changed = dated(tasks, jobs)
    rows = changed.arrays.job
    for number in range(len(jobs), len(rows)):
        rows.due[number] = max(int(rows.due[number]), finish_in(tasks, start, number))
        rows.told[number] = rows.due[number]
    return priced(changed, KEEP)


class Insertion:
    """One group put into a plan that stands, with or without another making room."""

    def __init__(self, tasks: Tasks, known: Plan, start: Schedule, group: int) -> None:
        self.tasks, self.known, self.group = tasks, known, group
        self.start = repriced(tasks, start)

    @cached_property
    def wished(self) -> tuple[Arrays, Wish]:
        return wish_of(self.tasks, self.known)

    def best(self, sparing: tuple[str, ...], work: float) -> Schedule:
        alone = best = self.listed(self.start, -1)
        if self.group in alone.left_out:
            return alone
        for other in self.near(alone, sparing):
            best = min(best, self.listed(alone, other), key=lambda schedule: schedule.cost)
        if work:
            best = self.solved(best, work)
        return best if best is alone else put_back(self.tasks, self.known, best)

    def listed(self, base: Schedule, other: int) -> Schedule:
        work, again, best = (state_of(self.tasks, base) for _ in range(3))
        # Where the others were known to be matters only to the one that is listed anew.
        arrays, wish = self.wished if other >= 0 else (self.tasks.arrays, NO_WISH)
        try_turns(arrays, (work, again, best), self.group, other, wish)
        return schedule_of(self.tasks, best)

    def solved(self, known: Schedule, work: float) -> Schedule:
        """The best there is with all else fixed, if the solver's time is enough.

        Made simpler first, the problem costs more than it costs to solve: most of it is what is
        fixed. What it finds is used only where it is sooner."""
        from ortools.sat.python import cp_model  # a second that most processes never need

        row = self.tasks.arrays.group[self.group]
        events = self.tasks.arrays.seq[row.seq : row.seq + row.events].tolist()
        model = Model(self.tasks, events, known)
        solver = cp_model.CpSolver()
        solver.parameters.max_deterministic_time = work
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 1
        solver.parameters.cp_model_presolve = False
        if solver.solve(model.model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return known
        found = model.read(solver)
        return found if found.cost < known.cost else known

    def near(self, base: Schedule, sparing: tuple[str, ...]) -> list[int]:
        """Groups all of whose jobs can spare something and that begin before the new one is
        through: those most at work when it is first, then those that end shortly before."""
        names = set(sparing)
        mine = span_of(self.tasks, base, self.group)
        spans = {
            g: span_of(self.tasks, base, g)
            for g in range(len(self.tasks.groups))
            if g != self.group
            and g not in base.left_out
            and names.issuperset(names_of_group(self.tasks, g))
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
