"""The week's casts and installs, read in three queries however many there are."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from typing import NamedTuple

from django.db.models import F, OuterRef, Subquery

from jobs.board.days import Cast, Install
from jobs.board.week import Week
from jobs.models import InstallDate, Mark, Piece
from shop.models import RouteStep, StepKind

CAST_PEOPLE = Subquery(
    RouteStep.objects.filter(route=OuterRef("route"), kind=StepKind.CAST).values("people")[:1]
)


class Entry(NamedTuple):
    piece: Piece
    at: dt.datetime
    done: bool
    batch_id: int | None
    people: int


def casts_of(week: Week, waiting: Collection[int], now: dt.datetime) -> list[Cast]:
    """Casts that were made and those that are set; `waiting` names the pieces not cast yet."""
    together: dict[tuple[dt.datetime, bool, int | None, int], list[Entry]] = defaultdict(list)
    for entry in [*_made(week), *_set(week, waiting)]:
        key = (entry.at, entry.done, entry.batch_id, entry.piece.mix_id)
        together[key].append(entry)
    casts = [_cast(entries, now) for entries in together.values()]
    return sorted(casts, key=lambda cast: (cast.at, cast.codes))


def _made(week: Week) -> Iterator[Entry]:
    marks = Mark.objects.filter(
        kind=Mark.Kind.DONE,
        struck_by=None,
        happened_at__gte=week.starts,
        happened_at__lt=week.ends,
        piece__route__steps__kind=StepKind.CAST,
        piece__route__steps__key=F("step_key"),
    )
    marks = marks.select_related("piece__mix", "piece__room")
    for mark in marks.annotate(people=F("piece__route__steps__people")).order_by("piece__code"):
        people: int = mark.people
        yield Entry(mark.piece, mark.happened_at, True, mark.batch_id, people)


def _set(week: Week, waiting: Collection[int]) -> Iterator[Entry]:
    pieces = Piece.objects.filter(
        batch__planned_for__gte=week.starts, batch__planned_for__lt=week.ends
    )
    pieces = pieces.select_related("batch", "mix", "room").annotate(people=CAST_PEOPLE)
    for piece in pieces.order_by("code"):
        if piece.pk in waiting and piece.batch:
            people: int = piece.people or 0
            yield Entry(piece, piece.batch.planned_for, False, piece.batch_id, people)


def _cast(entries: list[Entry], now: dt.datetime) -> Cast:
    first = entries[0]
    return Cast(
        at=first.at,
        codes=tuple(entry.piece.code for entry in entries),
        mix=first.piece.mix.name,
        room=first.piece.room.name,
        area_m2=sum(entry.piece.area_m2 for entry in entries),
        people=max(entry.people for entry in entries),
        done=first.done,
        batch_id=first.batch_id,
        overdue=not first.done and first.at < now,
    )


def installs_of(week: Week) -> list[Install]:
    rows: Iterable[InstallDate] = InstallDate.objects.filter(
        starts_at__gte=week.starts, starts_at__lt=week.ends, job__called_off=False
    ).select_related("job")
    return [
        Install(
            at=row.starts_at,
            number=row.job.number,
            title=row.job.title,
            people=row.people,
            hours=row.hours,
            note=row.note,
        )
        for row in rows
    ]
