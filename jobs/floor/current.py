"""Outlooks with the marks of the last seconds in them, whether or not a worker came by since."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from jobs.models import Mark
from jobs.services.derive import derive_jobs
from jobs.services.facts import load_facts
from jobs.services.outlook import JobOutlook, PieceOutlook
from jobs.services.readiness import open_outlooks
from jobs.services.standing import Standing, standing_of


@dataclass(frozen=True)
class Current:
    jobs: tuple[JobOutlook, ...]
    marks: dict[int, list[Mark]]  # by piece, in the order they were recorded

    def standing(self, piece_id: int) -> Standing:
        return standing_of(self.marks.get(piece_id, ()))

    def pieces(self) -> Iterable[tuple[JobOutlook, PieceOutlook]]:
        return ((job, piece) for job in self.jobs for piece in job.pieces)


def current(now: dt.datetime) -> Current:
    jobs = open_outlooks()
    marks = _marks(jobs)
    behind = [job.number for job in jobs if _is_behind(job, marks)]
    if behind:
        fresh = {job.number: job for job in derive_jobs(load_facts(now, behind))}
        jobs = [fresh.get(job.number, job) for job in jobs]
    return Current(tuple(jobs), marks)


def _marks(jobs: Sequence[JobOutlook]) -> dict[int, list[Mark]]:
    found: dict[int, list[Mark]] = defaultdict(list)
    rows = Mark.objects.filter(piece__job__in=[job.job_id for job in jobs])
    for mark in rows.select_related("by").order_by("pk"):
        found[mark.piece_id].append(mark)
    return found


def _is_behind(job: JobOutlook, marks: dict[int, list[Mark]]) -> bool:
    return any(_piece_is_behind(piece, marks.get(piece.piece_id, [])) for piece in job.pieces)


def _piece_is_behind(piece: PieceOutlook, marks: Sequence[Mark]) -> bool:
    standing = standing_of(marks)
    known = {step.mark_id for step in piece.steps if step.done}
    keys = {step.key for step in piece.steps}
    standing_marks = {mark.pk for key, mark in standing.done.items() if key in keys}
    held = standing.hold.reason if standing.hold else ""
    return known != standing_marks or piece.on_hold != held
