"""Days agreed with a site for what follows the steps that a job's date counts, for the solvers."""

from __future__ import annotations

from typing import NamedTuple

from jobs.planning.problem import Job, Key, Problem


class Visit(NamedTuple):
    row: Job  # as if it were a job of its own, by a name that no job has
    lasts: list[int]  # its last events
    job: int  # the number of the job whose it is


def visits_of(problem: Problem, event: dict[Key, int]) -> list[Visit]:
    found = []
    for number, job in enumerate(problem.jobs):
        if job.visit is None:
            continue
        keys = [piece.visit for piece in problem.pieces if piece.job == job.name]
        lasts = list(dict.fromkeys(event[key] for key in keys if key is not None))
        if lasts:
            row = Job(f"{job.name}\nvisit", job.visit, job.visit_weight)
            found.append(Visit(row, lasts, number))
    return found
