"""What stands, brought into arrays once, and a job that is asked for put behind it.

Whoever asks for a day waits for it: of a shop of forty jobs only the new one is compiled.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from jobs.planning.adapt import adapt
from jobs.planning.faults import sift
from jobs.planning.problem import Fault, Job, Key, Piece, Plan, Problem
from jobs.planning.search import planned
from jobs.planning.tables import Ints, Rows, Shorts, ragged
from jobs.planning.tasks import NONE, Schedule, Tasks, compile_tasks


@dataclass(frozen=True, eq=False)
class Ground:
    """A problem, what of it can be planned, and a plan of that."""

    problem: Problem
    tasks: Tasks
    faults: tuple[Fault, ...]
    schedule: Schedule

    @classmethod
    def of(cls, problem: Problem, known: Plan) -> Ground:
        """The known plan brought to the problem."""
        kept, faults = sift(problem)
        tasks = compile_tasks(kept)
        return cls(problem, tasks, faults, adapt(tasks, known))

    @cached_property
    def plan(self) -> Plan:
        return planned(self.problem, self.tasks, self.faults, self.schedule)

    @cached_property
    def shared(self) -> frozenset[str]:
        return frozenset(step.together for step in self.tasks.steps if step.together)

    def bears(self, problem: Problem, known: Plan, pieces: Iterable[Piece]) -> bool:
        """Whether these are the problem and its plan, to a start, and the pieces none of theirs."""
        steps = [step for piece in pieces for step in piece.steps]
        return (
            problem == self.problem
            and (known is self.plan or known.starts == self.plan.starts)
            and self.shared.isdisjoint(step.together for step in steps)
            and not any(step.began is not None or step.pin is not None for step in steps)
            and all(Key(piece.code, 0) not in self.tasks.event for piece in pieces)
        )

    def with_job(self, job: Job, pieces: Sequence[Piece]) -> tuple[Tasks, Schedule]:
        """Nothing of the job has been placed yet. Its pieces are sifted, and borne."""
        tasks = with_job(self.tasks, job, pieces)
        return tasks, Schedule(
            longer(self.schedule.start, len(tasks.steps), NONE),
            longer(self.schedule.who, len(tasks.steps), 0),
            longer(self.schedule.at, len(tasks.hold), -1),
            self.schedule.cost,
            (*self.schedule.left_out, len(tasks.groups) - 1),
        )


def longer(row: Ints, size: int, value: int) -> Ints:
    return np.concatenate([row, np.full(size - len(row), value, dtype=np.int64)])


def with_job(tasks: Tasks, job: Job, pieces: Sequence[Piece]) -> Tasks:
    """What `compile_tasks` makes of the problem with the job behind the others, to the last number.

    Nothing of it is done together with what is there.
    """
    problem = tasks.problem
    alone = compile_tasks(replace(problem, jobs=(job,), pieces=tuple(pieces)))
    a, b = tasks.arrays, alone.arrays
    events, holds = len(tasks.steps), len(tasks.hold)
    jobs, rows = len(problem.jobs), len(tasks.jobs)
    # Visits stay behind all jobs.
    order = [*range(jobs), rows, *range(jobs, rows), *range(rows + 1, rows + len(alone.jobs))]
    place = np.argsort(order).tolist()
    both_jobs = stacked(a.job, moved(b.job, **both("last", len(a.last))))[order]
    both_lasts = np.concatenate([a.last, b.last + events])
    last, cuts = ragged([both_lasts[row.last : row.last_end].tolist() for row in both_jobs])
    both_jobs.last, both_jobs.last_end = cuts
    names = (*tasks.jobs, *alone.jobs)
    opening, kind = joined(a.opening, b.opening)
    # Where nothing waits there is a row that nobody asks for.
    lag, row = joined(a.lag, b.lag) if len(a.before) else (b.lag, np.arange(len(b.lag)))
    event = moved(
        b.event,
        group=len(tasks.groups),
        **both("use", len(a.use)),
        **both("before", len(a.before)),
        **both("closing", len(a.closing)),
    )
    event.kind = kind[b.event.kind]
    before = moved(b.before, source=events)
    before.lag = row[b.before.lag]
    return Tasks(
        problem=replace(
            problem, jobs=(*problem.jobs, job), pieces=(*problem.pieces, *alone.problem.pieces)
        ),
        arrays=a._replace(
            opening=opening,
            lag=lag,
            event=stacked(a.event, event),
            use=np.concatenate([a.use, b.use]),
            before=stacked(a.before, before),
            closing=np.concatenate([a.closing, b.closing + holds]),
            hold=stacked(
                a.hold, moved(b.hold, first=events, last=events, **both("fit", len(a.fit)))
            ),
            fit=np.concatenate([a.fit, b.fit]),
            group=stacked(
                a.group, moved(b.group, **both("seq", len(a.seq)), **both("open", len(a.open)))
            ),
            seq=np.concatenate([a.seq, b.seq + events]),
            open=np.concatenate([a.open, b.open + holds]),
            job=both_jobs,
            last=last,
        ),
        event={**tasks.event, **{key: v + events for key, v in alone.event.items()}},
        steps=(*tasks.steps, *alone.steps),
        hold={**tasks.hold, **{key: index + holds for key, index in alone.hold.items()}},
        jobs=tuple(names[number] for number in order),
        groups=(
            *(tuple(place[each] for each in row) for row in tasks.groups),
            *(tuple(place[each + rows] for each in row) for row in alone.groups),
        ),
        rank=(*tasks.rank, *alone.rank),
        people=tasks.people,
    )


def both(name: str, by: int) -> dict[str, int]:
    """The first and one past the last of a row's own in a flat array."""
    return {name: by, f"{name}_end": by}


def moved(rows: Rows, **by: int) -> Rows:
    """With so much added to columns that are numbers of other rows."""
    found = rows.copy()
    for name, more in by.items():
        found[name] = rows[name] + more
    return found


def stacked(one: Rows, other: Rows) -> Rows:
    # Of the one's type to the last byte: what is compiled is compiled for that.
    return np.concatenate([one, other], dtype=one.dtype).view(np.recarray)


def joined(one: Shorts, other: Shorts) -> tuple[Shorts, Ints]:
    """The rows of both, each once, and where the other's are among them."""
    place = {row.tobytes(): number for number, row in enumerate(one)}
    number = np.array(
        [place.setdefault(row.tobytes(), len(place)) for row in other], dtype=np.int64
    )
    new = [row for row, at in zip(other, number.tolist(), strict=True) if at >= len(one)]
    return np.concatenate([one, *(row[None] for row in new)]), number
