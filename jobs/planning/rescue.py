"""What would make a short promise hold: each change is tried by planning around it.

A try begins from the known plan brought to the changed facts, so there is a whole plan from the
start. Then the late job and a few that are at work beside it are taken out and put back, it first
more often than not, and the same neighbourhood is solved exactly. Every change gets a little before
any gets more. What has not been found says nothing about what there is: only where even an empty
shop would be too late is a change `settled` without a plan that holds.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from jobs.planning.adapt import adapt
from jobs.planning.blocks import Blocks, blocks_of
from jobs.planning.changes import EXTRA, EXTRA_TABLE, Change, Naming, changes
from jobs.planning.exact import Budget, solve
from jobs.planning.faults import sift
from jobs.planning.lists import UNPLACED
from jobs.planning.problem import Plan, Problem, visit_ends
from jobs.planning.rearrange import rearrange
from jobs.planning.search import planned
from jobs.planning.tasks import NONE, compile_tasks
from jobs.planning.way import beside, make_way, soonest_alone

__all__ = ["Change", "Effort", "Naming", "Tried", "changes", "rescues"]

AIM = 1_000  # a slot by which the job is late costs as much as so many of another's
HEATS = (1_000.0, 150.0)  # what rearranging may lose at first: a slot of the job's, or of others'
MOVE = 10_000_000  # a told date of another job costs more than any lateness


@dataclass(frozen=True)
class Effort:
    """Rounds over all changes. About so many events are placed again for each in the first, twice
    as many in each that follows. From `solve_from` on a neighbourhood is solved as well, with so
    much of the solver's deterministic time, doubled too. What holds goes on for `polish` rounds, to
    spare the others."""

    rounds: int = 8
    events: int = 40_000
    solve_from: int = 3
    work: float = 0.02
    polish: int = 2
    seed: int = 1


@dataclass(frozen=True)
class Tried:
    """The best found for a change so far. It `holds` if the job is there by its due slot and no
    told date of another is broken that was kept before; those that are, are in `moved`.

    `later` are other jobs that end later than they did and than they are due. `hours` is the price
    by what the plan uses of it. `settled`: more searching changes nothing.
    """

    change: Change
    plan: Plan | None
    finish: int | None
    holds: bool
    moved: tuple[str, ...]
    later: tuple[str, ...] = ()
    hours: float = 0.0
    settled: bool = False
    round: int = 0


def rescues(
    problem: Problem,
    known: Plan,
    job: str,
    changes: Iterable[Change],
    spend: Effort | None = None,
) -> Iterator[Tried]:
    """Each change in turn, then all again with more effort: the caller stops when it likes.

    `known` keeps the rules of `problem`. A change's latest `Tried` is its best.
    """
    effort = spend or Effort()
    kept = {
        each.name for each in problem.jobs if keeps_told(each.told, known.finish.get(each.name))
    }
    tries = []
    for change in changes:
        attempt = Attempt(change, known, job, kept)
        tries.append(attempt)
        yield attempt.go(effort, 0)
    for number in range(1, effort.rounds):
        for attempt in tries:
            if attempt.settled:
                continue
            tried = attempt.go(effort, number)
            yield tried
            if tried.holds and tried.plan and attempt.change.problem.shop == problem.shop:
                for other in tries:
                    if not other.settled and other.over >= AIM and other.borrows(tried.plan):
                        yield other.tried(number)


def keeps_told(told: int | None, finish: int | None) -> bool:
    return told is not None and (finish is None or finish <= told)


def aimed(problem: Problem, known: Plan, name: str, kept: set[str]) -> Problem:
    """With the one job dear and the others cheap as long as they end no later than they would, or
    than they are due; told dates that are kept are dearer than all of it."""
    jobs = tuple(
        replace(job, weight=AIM, told=None)
        if job.name == name
        else replace(
            job,
            due=max(job.due, known.finish.get(job.name, job.due)),
            told=job.told if job.name in kept else None,
        )
        for job in problem.jobs
    )
    through = visit_ends(problem, known)
    jobs = tuple(
        job if job.visit is None else replace(job, visit=max(job.visit, through.get(job.name, 0)))
        for job in jobs
    )
    return replace(problem, jobs=jobs, move_cost=MOVE)


class Attempt:
    def __init__(self, change: Change, known: Plan, name: str, kept: set[str]) -> None:
        self.change, self.known, self.name, self.kept = change, known, name, kept
        sifted, self.faults = sift(change.problem)
        self.tasks = compile_tasks(aimed(sifted, known, name, kept))
        self.due = {job.name: job for job in change.problem.jobs}[name].due
        self.job = self.tasks.jobs.index(name)
        rows = [g for g, jobs in enumerate(self.tasks.groups) if self.job in jobs]
        self.group = rows[0] if rows else NONE
        self.best = self.start = adapt(self.tasks, known)
        # Jobs that the known plan has no room for cost the same in all plans that leave them out.
        nowhere = [
            g
            for g in self.best.left_out
            if not any(self.tasks.jobs[job] in known.finish for job in self.tasks.groups[g])
        ]
        self.floor = UNPLACED * len(nowhere)
        self.settled = (
            self.group == NONE
            or self.best.cost <= self.floor
            or soonest_alone(self.tasks, self.group, self.job) > self.due
        )

    def go(self, effort: Effort, number: int) -> Tried:
        if not self.settled:
            self.list_anew(effort, number)
            if number >= effort.solve_from and self.over >= AIM:
                work = effort.work * 2 ** (number - effort.solve_from)
                self.solve_around(work, effort.seed * 1000 + number)
            self.settled = self.over <= 0 or (self.over < AIM and number >= effort.polish)
        return self.tried(number)

    @cached_property
    def blocks(self) -> Blocks:
        return blocks_of(self.tasks)

    @property
    def over(self) -> int:
        return self.best.cost - self.floor

    def borrows(self, plan: Plan) -> bool:
        """Whether a plan found for another change is better here too, brought to this one."""
        got = adapt(self.tasks, plan)
        better = got.cost < self.best.cost
        if better:
            self.best = got
        return better

    def list_anew(self, effort: Effort, number: int) -> None:
        """By jobs, in the first round no more than it takes; later by pieces as well."""
        events = effort.events * 2**number
        tries = max(8, events // (4 * int(self.tasks.arrays.group[self.group].events)))
        enough = self.floor + (0 if number else AIM - 1)
        seed = effort.seed * 100 + number
        self.best = make_way(self.tasks, self.best, self.group, (tries, enough), seed)
        if number and self.best.cost > enough:
            heat = HEATS[1 if self.over < AIM else number % 2]
            limits = (events // 2, heat, 1)
            # Where an annealing ends depends more on its draws than on how long it is: every
            # other one begins from the start again.
            start = self.best if number % 2 or self.over < AIM else self.start
            for got in rearrange(self.tasks, self.blocks, start, limits, [seed, seed + 50]):
                self.best = min(self.best, got, key=lambda schedule: schedule.cost)

    def solve_around(self, work: float, seed: int) -> None:
        if self.group in self.best.left_out:
            return
        draws = random.Random(seed)  # noqa: S311 - which jobs to look at, no secret
        free = beside(self.tasks, self.best, self.group, draws)
        answer = solve(self.tasks, free, self.best, Budget(work, seed=seed))
        if answer.schedule is not None and answer.schedule.cost <= self.best.cost:
            self.best = answer.schedule

    def tried(self, number: int) -> Tried:
        plan = planned(self.change.problem, self.tasks, self.faults, self.best)
        finish = plan.finish.get(self.name)
        if finish is None:
            return Tried(self.change, None, None, False, (), settled=self.settled, round=number)
        lost = known_jobs(self.known, self.change.problem) - plan.finish.keys()
        moved, later = [], []
        for job in self.change.problem.jobs:
            end = plan.finish.get(job.name)
            if job.name == self.name or end is None:
                continue
            if job.name in self.kept and not keeps_told(job.told, end):
                moved.append(job.name)
            if end > max(job.due, self.known.finish.get(job.name, job.due)):
                later.append(job.name)
        return Tried(
            self.change,
            plan,
            finish,
            finish <= self.due and not moved and not lost and is_used(self.change, plan),
            tuple(moved),
            tuple(later),
            price(self.change, plan),
            self.settled,
            number,
        )


def known_jobs(known: Plan, problem: Problem) -> set[str]:
    return known.finish.keys() & {job.name for job in problem.jobs}


def is_used(change: Change, plan: Plan) -> bool:
    """A plan that leaves the new table, day or person idle holds without them."""
    if change.key == "table":
        return EXTRA_TABLE in plan.held.values()
    return change.key not in ("person", "saturday") or price(change, plan) > 0


def price(change: Change, plan: Plan) -> float:
    """Hours of extra work that the plan uses; what the change says, where they are not counted."""
    steps = {(p.code, n): step for p in change.problem.pieces for n, step in enumerate(p.steps)}
    done: dict[object, int] = {}
    for key, start in plan.starts.items():
        step, people = steps[key], plan.people.get(key, ())
        if change.key == "person":
            done[step.together or key] = step.slots * (EXTRA in people)
        elif change.key == "saturday" and change.slot is not None and change.until is not None:
            done[step.together or key] = (
                step.slots * len(people) * (change.slot <= start < change.until)
            )
    if change.key not in ("person", "saturday"):
        return change.hours
    return sum(done.values()) * change.slot_hours
