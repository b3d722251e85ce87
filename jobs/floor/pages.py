"""The page of one piece: its route, what was marked, how far the concrete is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.http import Http404

from jobs.floor import wording
from jobs.floor.entries import Entry
from jobs.floor.wording import Wait
from jobs.models import Mark, Piece
from jobs.services.outlook import StepOutlook
from shop.models import Reading, Role


@dataclass(frozen=True)
class RouteRow:
    step: StepOutlook
    name: str
    waits: list[Wait]
    governs: str
    mark: Mark | None
    outcome: str
    is_next: bool


@dataclass(frozen=True)
class RecordLine:
    mark: Mark
    words: str
    struck: Mark | None  # the mark that took it back
    lost: bool  # it belongs to a casting that was given up


def piece_or_404(code: str) -> Piece:
    known = Piece.objects.select_related("job", "room", "route")
    # No database takes a zero byte for text.
    piece = None if "\x00" in code else known.filter(code__iexact=code).first()
    if piece is None:
        raise Http404
    return piece


def page_context(entry: Entry, piece: Piece) -> dict[str, Any]:
    air = Reading.objects.filter(room=piece.room).order_by("at").last()
    last = strikable(entry)
    marks = list(Mark.objects.filter(piece=piece).select_related("by").order_by("pk"))
    return {
        "door": "floor",
        "entry": entry,
        "site": piece.job.site,
        "job_closed": piece.job.called_off or piece.job.closed_at is not None,
        "route": route_rows(entry),
        "record": record_lines(marks),
        "air": air,
        "age": f"{entry.piece.equivalent_age or 0:.0f} h",
        "humidity": f"{air.humidity:.0%}" if air and air.humidity is not None else "",
        "strength": wording.about_strength(entry.piece.strength_mpa, entry.looker),
        "strikable": last,
        "strikable_words": wording.mark_words(last) if last else "",
    }


def route_rows(entry: Entry) -> list[RouteRow]:
    return [
        RouteRow(
            step=step,
            name=wording.step_name(step),
            waits=wording.waits(step, entry.piece, entry.looker),
            governs=wording.governed_by(step),
            mark=entry.standing.done.get(step.key),
            outcome=wording.outcome_words(entry.standing.done.get(step.key)),
            is_next=step == entry.step,
        )
        for step in entry.piece.steps
    ]


def record_lines(marks: Sequence[Mark]) -> list[RecordLine]:
    struck = {mark.strikes_id: mark for mark in marks if mark.strikes_id}
    lost_before = max(
        (m.pk for m in marks if m.kind == Mark.Kind.RECAST and m.pk not in struck), default=0
    )
    return [
        RecordLine(mark, wording.mark_words(mark), struck.get(mark.pk), mark.pk < lost_before)
        for mark in marks
        if mark.kind != Mark.Kind.STRUCK
    ]


def strikable(entry: Entry) -> Mark | None:
    """After its ten minutes only the owner strikes a mark, the latest one first."""
    last = entry.standing.last
    if last is None or entry.fresh or entry.looker.person.role != Role.OWNER:
        return None
    return last
