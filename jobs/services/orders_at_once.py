"""Many jobs or pieces saved at once, by the rules of `orders` for one.

What is locked and read for them is locked and read once for all, and new rows are written together.
Each is looked at as it is added, so that a refusal belongs to one; inside one transaction.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.db import IntegrityError, transaction

from jobs.models import Job, Piece
from jobs.services import orders
from jobs.services.errors import Refused
from jobs.services.locking import lock_batches_of
from shop.services.changed import note_change

TAKEN = "Somebody gave a {what} by the same {name} meanwhile. Look at the rows again."


class NewJobs:
    """Jobs that are not there yet."""

    def __init__(self) -> None:
        self.jobs: list[Job] = []

    def add(self, values: dict[str, Any]) -> Job:
        job = Job()
        orders.take_job(job, values)
        self.jobs.append(job)
        return job

    def save(self) -> None:
        try:
            with transaction.atomic():
                Job.objects.bulk_create(self.jobs)
        except IntegrityError as error:
            raise Refused(TAKEN.format(what="job", name="number")) from error
        _note(len(self.jobs), "jobs")


class Pieces:
    """New pieces of these jobs, and changed ones of those that are there."""

    def __init__(self, job_ids: Iterable[int], piece_ids: Iterable[int]) -> None:
        jobs = Job.objects.select_for_update().filter(pk__in=list(job_ids)).order_by("pk")
        self.jobs = {job.pk: job for job in jobs}
        pieces = Piece.objects.filter(pk__in=list(piece_ids)).order_by("pk")
        lock_batches_of(pieces)
        locked = pieces.select_for_update().prefetch_related("batch", "mix", "marks")
        self.there = {piece.pk: piece for piece in locked}
        self.new: list[Piece] = []
        self.changed: list[Piece] = []

    def add(self, job_id: int, values: dict[str, Any]) -> None:
        job = orders.as_seen(self.jobs.get(job_id), None)
        piece = Piece(job=job)
        orders.take_piece(piece, values, job)
        self.new.append(piece)

    def change(self, piece_id: int, version: int, values: dict[str, Any]) -> None:
        piece = orders.as_seen(self.there.get(piece_id), version)
        job = orders.as_seen(self.jobs.get(piece.job_id), None)
        orders.take_piece(piece, values, job)
        self.changed.append(piece)

    def save(self) -> None:
        try:
            with transaction.atomic():
                for piece in self.changed:
                    piece.save()
                Piece.objects.bulk_create(self.new)
        except IntegrityError as error:
            raise Refused(TAKEN.format(what="piece", name="letter")) from error
        _note(len(self.new) + len(self.changed), "pieces")


def _note(count: int, what: str) -> None:
    if count:
        note_change(f"{count} {what} saved")
