"""Early, likely and late dates of a plan: the plan carried out many times, each time otherwise.

Hours of work and waits are drawn around the plan's; people, order, pins and places are the plan's.
With nothing in doubt each sample is the plan itself.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from jobs.planning.course import Path, Wait, path_of
from jobs.planning.events import carry_out
from jobs.planning.moment import FAR, TICKS, Course, Drawn, Out, fresh
from jobs.planning.problem import Lag, Plan, Problem
from jobs.planning.tables import Shorts

Floats = NDArray[np.float64]
Narrow = NDArray[np.float32]
LEVELS = (0.1, 0.5, 0.9)
ROUNDS = 50
MANY = 100  # samples from which it pays to share them
CORES = min(4, os.cpu_count() or 1)
PARTS = 4  # for each of them


@dataclass(frozen=True, eq=False)
class Doubt:
    """What is not known of the times to come; nothing of it changes what the plan says.

    work : standard deviation of ln(hours of work over the plan's) of one step, its median the
        plan's; common practice, no source
    shop : the same of all steps of a sample alike, where the shop's hours as a whole lie off
    wait, shared_wait : the same of waits that go by the day (cure, drying), of one piece's and of
        all alike ones together; other waits are rules and stay as they are. Placeholders, no source
    waits : least waits in slots as somebody has drawn them, by wait: (samples, days) arrays, a
        column for each day of the shop on which the step before can begin, the last one for all
        days after. Pieces of one room and mix may share an array
    factors : instead, a wait as it may be over the stated one, by wait: (n,) draws, taken in turn
        by the samples. What pieces share (their room's air, their mix) is in the same place of all
    over : slots that people stay after closing for what they have begun; what is left then is done
        when the next shift begins
    mend : slots that a step takes longer after a missed greatest wait (a coat that is too old is
        abraded first); common practice, no source
    """

    work: float = 0.25
    shop: float = 0.0
    wait: float = 0.05
    shared_wait: float = 0.15
    waits: Mapping[Wait, Floats] = field(default_factory=dict)
    factors: Mapping[Wait, Floats] = field(default_factory=dict)
    over: float = 2.0
    mend: float = 2.0

    def __post_init__(self) -> None:
        for name in ("work", "shop", "wait", "shared_wait", "over", "mend"):
            value = getattr(self, name)
            if not (np.isfinite(value) and value >= 0):
                raise ValueError(f"{name} must be finite, 0 or above, got {value}")


NO_DOUBT = Doubt(work=0.0, wait=0.0, shared_wait=0.0)


@dataclass(frozen=True)
class JobRange:
    """Slots by which the job is through in 10, 50 and 90 % of the samples, inf for not at all.

    chance : share of samples through by its due slot [0..1]
    missed : share of samples in which a greatest wait was missed, so that a coat had to be abraded
    """

    planned: int
    early: float
    likely: float
    late: float
    chance: float
    missed: float


@dataclass(frozen=True)
class Ranges:
    jobs: dict[str, JobRange]
    samples: int


@dataclass(frozen=True, eq=False)
class Sampled:
    """begun, ended : (samples, events) ticks, FAR for never; missed : where a wait was too long"""

    path: Path
    course: Course
    drawn: Drawn
    begun: Shorts
    ended: Shorts
    missed: NDArray[np.bool_]

    def finish(self, job: str) -> Floats:
        """(samples,) slots, inf for never."""
        ends = self.ended[:, list(self.path.jobs[job])].max(axis=1)
        return np.where(ends >= FAR, np.inf, ends / TICKS)


def simulate(
    problem: Problem,
    plan: Plan,
    doubt: Doubt | None = None,
    samples: int = 2000,
    seed: int = 1,
    *,
    only: str | None = None,
) -> Ranges:
    """The range of each job that has a date in the plan, which must be a plan of this problem; or
    of one of them only, which takes less: no sample is carried out further than that job."""
    got = sampled(problem, plan, doubt or Doubt(), samples, seed, only=only)
    due = {job.name: job.due for job in problem.jobs}
    mine = {piece.code: piece.job for piece in problem.pieces}
    missing: dict[str, list[int]] = {}
    for v in np.flatnonzero(got.missed.any(axis=0)).tolist():
        for job in {mine[key.piece] for key in got.path.keys[v]}:
            missing.setdefault(job, []).append(v)
    ranges = {}
    for job in got.path.jobs if only is None else {only} & got.path.jobs.keys():
        finish = got.finish(job)
        early, likely, late = np.quantile(finish, LEVELS, method="inverted_cdf").tolist()
        ranges[job] = JobRange(
            planned=plan.finish[job],
            early=early,
            likely=likely,
            late=late,
            chance=float(np.mean(finish <= due[job])),
            missed=float(np.mean(got.missed[:, missing.get(job, [])].any(axis=1))),
        )
    return Ranges(ranges, samples)


def sampled(
    problem: Problem,
    plan: Plan,
    doubt: Doubt,
    samples: int,
    seed: int,
    *,
    only: str | None = None,
) -> Sampled:
    """With `only`, what begins after all of that job has begun may be left at FAR.

    Raises ValueError where drawn waits have not a row for each sample."""
    told = frozenset(job.name for job in problem.jobs if job.told is not None)
    path = path_of(problem, plan, round(doubt.over * TICKS), round(doubt.mend * TICKS))
    path = pulled(path, told)
    course, drawn = draw(path, doubt, samples, seed)
    mine = {piece.code for piece in problem.pieces if piece.job == only}
    wanted = [v for v, keys in enumerate(path.keys) if any(key.piece in mine for key in keys)]
    return Sampled(path, course, drawn, *carried_out(course, drawn, wanted))


def carried_out(course: Course, drawn: Drawn, wanted: Sequence[int] = ()) -> Out:
    last = np.array(wanted, dtype=np.int64)
    shape = drawn.work.shape
    out = Out(
        np.empty(shape, dtype=np.int32),
        np.empty(shape, dtype=np.int32),
        np.empty(shape, dtype=np.bool_),
    )
    if shape[0] < MANY:
        carry_out(course, drawn, fresh(course), out, (np.arange(shape[0]), last))
        return out
    # Compiled code lets go of the interpreter, so that as many go at once as there are cores. Small
    # parts, for where another program has one of the cores.
    parts = np.array_split(np.arange(shape[0]), PARTS * CORES)
    with ThreadPoolExecutor(CORES) as pool:
        list(
            pool.map(lambda part: carry_out(course, drawn, fresh(course), out, (part, last)), parts)
        )
    return out


def planned(path: Path) -> tuple[Course, Drawn]:
    """One sample in which all is as the plan has it."""
    rows: dict[tuple[int, ...], int] = {}
    known: dict[tuple[int, int | None], tuple[int, int]] = {}
    lengths: list[int] = []
    row, days = [], []
    for arc in path.arcs:
        # By what it is first: to compare a figure for each day, every time, takes long.
        same = id(arc.lag.by_day or arc.lag), path.steps[arc.source].began
        if same not in known:
            stated = stated_lengths(path, arc.source, arc.lag)
            if stated not in rows:
                rows[stated] = len(lengths)
                lengths += [each * TICKS for each in stated]
            known[same] = rows[stated], len(stated)
        row.append(known[same][0])
        days.append(known[same][1])
    arcs = path.course.arc.copy()
    arcs["row"], arcs["days"] = row, days
    course = path.course._replace(arc=arcs)
    return course, Drawn(
        np.array([path.course.event.length]),
        np.array(lengths, dtype=np.float64),
        np.ones((1, 1), dtype=np.float32),
    )


def stated_lengths(path: Path, source: int, lag: Lag) -> tuple[int, ...]:
    """By day; of a step that has begun only that of its day."""
    stated = lag.by_day or (lag.least,)
    began = path.steps[source].began
    return stated if began is None else (stated[min(path.day_of(began), len(stated) - 1)],)


def pulled(path: Path, told: frozenset[str]) -> Path:
    """Work that the plan begins as soon as it can may begin earlier where others are done sooner.

    What the plan begins later than it could (found by carrying it out with nothing in doubt) waits
    for its time, as do steps that are pinned, have windows, or hand over what a customer was told.
    """
    kept = np.array(
        [
            step.began is not None or step.pin is not None or bool(step.windows)
            for step in path.steps
        ]
    )
    for job in told & path.jobs.keys():
        kept[list(path.jobs[job])] = True
    urgent = path.course.event.urgent > 0
    at = path.starts * TICKS
    course, drawn = planned(path)
    for _ in range(ROUNDS):
        events = course.event.copy()
        events.release = np.where(kept, at, 0)
        begun = carried_out(course._replace(event=events), drawn).begun[0]
        if (begun == at).all():
            return replace(path, course=path.course._replace(event=events))
        early = begun < at
        if early.any() or (kept | urgent).all():
            kept |= early if early.any() else True
        else:
            kept |= urgent
    return path


def draw(path: Path, doubt: Doubt, samples: int, seed: int) -> tuple[Course, Drawn]:
    course, likely = planned(path)
    arcs = course.arc.copy()
    lengths: list[Any] = [likely.length]
    size = len(likely.length)
    given: dict[int, tuple[int, Floats]] = {}
    tables: dict[tuple[int, int], int] = {}
    by_day: list[int] = []
    for number, arc in enumerate(path.arcs):
        rows, factor = doubt.waits.get(arc.wait), doubt.factors.get(arc.wait)
        if rows is not None:
            arcs[number].fixed = -1
            table = table_of(path, rows, arc.wait, samples)
            began = path.steps[arc.source].began
            day = -1 if began is None else min(path.day_of(began), table.shape[1] - 1)
            if (id(rows), day) not in tables:
                tables[id(rows), day] = size
                flat = (table if day < 0 else table[:, day : day + 1]).ravel() * TICKS
                lengths.append(flat)
                size += len(flat)
            arcs[number].row = tables[id(rows), day]
            arcs[number].stride = arcs[number].days = table.shape[1] if day < 0 else 1
        elif factor is not None:
            arcs[number].fixed = -1
            arcs[number].factor = given.setdefault(id(factor), (1 + len(given), factor))[0]
        elif arc.lag.by_day:
            by_day.append(number)
    factors = np.ones((samples, 1 + len(given) + len(by_day)), dtype=np.float32)
    for column, factor in given.values():
        factors[:, column] = np.resize(factor, samples)
    arcs["factor"][by_day] = np.arange(1 + len(given), factors.shape[1])
    with ThreadPoolExecutor(1) as pool:  # drawing lets go of the interpreter, too
        work = pool.submit(draw_work, path, doubt, samples, seed)
        factors[:, 1 + len(given) :] = draw_waits(path, by_day, doubt, samples, seed)
    return course._replace(arc=arcs), Drawn(work.result(), np.concatenate(lengths), factors)


def draw_waits(path: Path, arcs: list[int], doubt: Doubt, samples: int, seed: int) -> Narrow:
    """(samples, arcs): waits over the stated ones, those that are alike with a part in common."""
    if not doubt.wait and not doubt.shared_wait:
        return np.ones((samples, len(arcs)), dtype=np.float32)
    own, alike = (np.random.default_rng([seed, number]) for number in (2, 3))
    # By the waits' names, so that another plan of the same shop meets the same samples.
    named = sorted(range(len(arcs)), key=lambda n: path.arcs[arcs[n]].wait)
    shared: dict[tuple[int, ...], int] = {}
    kinds: dict[int, int] = {}
    for by_day in (path.arcs[arcs[n]].lag.by_day for n in named):
        if id(by_day) not in kinds:
            kinds[id(by_day)] = shared.setdefault(by_day, len(shared))
    which = np.array([kinds[id(path.arcs[arc].lag.by_day)] for arc in arcs], dtype=np.int64)
    z = own.standard_normal((samples, len(arcs)), dtype=np.float32)
    z = in_order(z, named)
    z *= np.float32(doubt.wait)
    common = alike.standard_normal((samples, len(shared)), dtype=np.float32)
    z += np.take(np.float32(doubt.shared_wait) * common, which, axis=1)
    return np.exp(z, out=z)


def table_of(path: Path, given: Floats, wait: Wait, samples: int) -> Floats:
    table = np.asarray(given, dtype=np.float64)
    if table.ndim != 2 or table.shape[0] != samples or not table.shape[1]:
        raise ValueError(
            f"drawn waits of {wait.piece} must be ({samples}, days), got {table.shape}"
        )
    if not (np.isfinite(table) & (table >= 0)).all():
        raise ValueError(f"drawn waits of {wait.piece} must be finite, 0 or above")
    return table


def in_order(z: Narrow, named: list[int]) -> Narrow:
    """Columns where their names say; a row a sample still, since a sample is read at a time."""
    return np.take(z, np.argsort(np.array(named, dtype=np.int64)), axis=1)


def draw_work(path: Path, doubt: Doubt, samples: int, seed: int) -> Shorts:
    """(samples, events) ticks. What is under way has not ended by now: only such draws count."""
    events = len(path.steps)
    sigma = float(np.hypot(doubt.work, doubt.shop))
    likely = path.course.event.length
    if not sigma:
        return np.tile(likely, (samples, 1))
    stream = np.random.default_rng([seed, 1])
    whole = stream.standard_normal((samples, 1), dtype=np.float32)
    # By the steps' names, so that another plan of the same shop meets the same samples.
    named = sorted(range(events), key=lambda v: path.keys[v][0])
    z = stream.standard_normal((samples, events), dtype=np.float32)
    z = in_order(z, named)
    z *= np.float32(doubt.work)
    z += np.float32(doubt.shop) * whole
    for v, step in enumerate(path.steps):
        if not step.crew:
            z[:, v] = 0.0
        elif step.began is not None:
            z[:, v] = under_way(z[:, v].astype(np.float64), step.slots, -step.began, sigma)
    np.exp(z, out=z)
    z *= likely.astype(np.float32)
    return np.rint(z, out=z).astype(np.int32)


def under_way(z: Floats, slots: int, passed: int, sigma: float) -> Floats:
    """ln(hours of work over the plan's), none below what has passed; what is done stays so."""
    if passed >= slots or not sigma:
        return np.zeros_like(z)
    if not passed:
        return z
    least = float(ndtr(np.log(passed / slots) / sigma))
    return np.asarray(sigma * ndtri(least + (1.0 - least) * ndtr(z / sigma)))


__all__ = ["NO_DOUBT", "Doubt", "JobRange", "Ranges", "Sampled", "Wait", "sampled", "simulate"]
