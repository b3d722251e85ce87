"""Pins: a step stays where it is planned, whatever is planned anew around it."""

from __future__ import annotations

import datetime as dt

from django.db import transaction

from jobs.models import Batch, Mark, Piece, PlannedStep
from jobs.services.errors import Conflict, Refused
from jobs.services.locking import lock_batches_of, locked_piece
from jobs.services.plan_words import clock_words
from shop.models import Person, StepKind
from shop.services.changed import note_change

TOGETHER = {StepKind.DELIVER, StepKind.INSTALL}


def pin(
    *, code: str, step_key: str, seen: dt.datetime, pinned: bool, by: Person
) -> list[PlannedStep]:
    """What is done together is pinned together: a cast, a delivery. `seen` is when it was planned
    for on the page."""
    with transaction.atomic():
        chosen = Piece.objects.filter(code=code)
        lock_batches_of(chosen)
        piece_id = chosen.values_list("pk", flat=True).first()
        piece = locked_piece(piece_id or 0)
        row = PlannedStep.objects.filter(piece=piece, step_key=step_key).first()
        if row is None:
            raise Refused(f"{code} has no such step in the plan any more. Look at it again.")
        if row.starts_at != seen:
            raise Conflict(
                f"{code} {row.name} is planned for {clock_words(row.starts_at)} now, not for "
                f"{clock_words(seen)}. Look at the plan again, then pin it.",
                version=0,
                theirs={},
            )
        if Mark.objects.filter(
            piece=piece, step_key=step_key, kind=Mark.Kind.DONE, struck_by=None
        ).exists():
            raise Refused(f"{code} {row.name} is done already: there is nothing to pin.")
        rows = _with_it(piece, row)
        PlannedStep.objects.filter(pk__in=[each.pk for each in rows]).update(
            pinned=pinned, pinned_by=by if pinned else None
        )
        if kind_of(piece, step_key) == StepKind.CAST and piece.batch_id:
            batch = Batch.objects.get(pk=piece.batch_id)
            batch.pinned, batch.version = pinned, batch.version + 1
            batch.save(update_fields=["pinned", "version"])
        note_change(f"{code}: {row.name} {'pinned' if pinned else 'unpinned'}")
    return rows


def _with_it(piece: Piece, row: PlannedStep) -> list[PlannedStep]:
    kind = kind_of(piece, row.step_key)
    alike = PlannedStep.objects.filter(step_key=row.step_key, starts_at=row.starts_at)
    if kind == StepKind.CAST and piece.batch_id:
        return list(alike.filter(piece__batch=piece.batch_id))
    if kind in TOGETHER:
        return list(alike.filter(piece__job=piece.job_id))
    return [row]


def kind_of(piece: Piece, step_key: str) -> str:
    """A coat's key carries its number."""
    steps = dict(piece.route.steps.values_list("key", "kind"))
    return steps.get(step_key) or steps.get(step_key.rstrip("-0123456789"), "")
