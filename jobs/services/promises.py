"""What a promise can't be: before the job was taken on, or before a piece is cast."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from jobs.models import Job, Mark, Piece
from jobs.services.errors import Refused
from jobs.services.facts import promise_moment
from jobs.services.standing import standing_of
from shop.models import Shop
from shop.services.settings import the_shop


def refuse_bad_promise(job: Job, values: dict[str, Any]) -> None:
    """A promise the job has already is left alone: other fields stay editable beside it."""
    names = ("promised_on", "promised_by", "taken_on")
    promised_on, promised_by, taken_on = (
        values.get(name, getattr(job, name, None)) for name in names
    )
    stands = tuple(getattr(job, name, None) for name in names)
    if promised_on is None or (job.pk and stands == (promised_on, promised_by, taken_on)):
        return
    if taken_on and promised_on < taken_on:
        raise Refused(
            f"Promised {_day(promised_on)}, but taken on only {_day(taken_on)}: "
            "correct whichever is wrong.",
            field="promised_on",
        )
    if job.pk:
        pieces = job.pieces.select_related("batch").prefetch_related("marks")
        refuse_before_cast(pieces, promised_on, promised_by, the_shop())


def refuse_before_cast(
    pieces: Iterable[Piece], promised_on: dt.date, promised_by: dt.time | None, shop: Shop
) -> None:
    """For pieces with their batches and marks at hand: nothing is read here."""
    promised_at = promise_moment(Job(promised_on=promised_on, promised_by=promised_by), shop)
    for piece in pieces:
        cast_at, how = _cast_of(piece)
        if cast_at is None or promised_at is None or cast_at < promised_at:
            continue
        local = cast_at.astimezone(shop.zone)
        raise Refused(
            f"The promise, {_day(promised_on)}, would come before {piece.code} is cast: it {how} "
            f"{_day(local.date())} {local:%H:%M}. Promise a later day, or move the cast first.",
            field="promised_on",
        )


def _cast_of(piece: Piece) -> tuple[dt.datetime | None, str]:
    done = standing_of(piece.marks.all()).done
    first: Mark | None = next(iter(done.values()), None)
    if first:
        return first.happened_at, "was cast"
    return (piece.batch.planned_for, "is to be cast") if piece.batch else (None, "")


def _day(day: dt.date) -> str:
    return f"{day:%a} {day.day} {day:%b} {day.year}"
