"""Which pieces hold a lot: from what was weighed back to pieces, jobs and casts."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

from django.db.models import Count, Exists, Max, Min, OuterRef, QuerySet

from jobs.models import Batch, Mark, MixerRun, Piece, Weighed
from jobs.services.standing import standing_of
from jobs.services.ticks import lot_key

LEAST = 2  # letters and digits that a search needs
RUNS_AT_MOST = 300
LATELY = dt.timedelta(days=90)
LISTED = 40


def _counting() -> QuerySet[Weighed]:
    """What stands on the sheets: not struck, of no struck run, and nothing weighed in its place."""
    later = Weighed.objects.filter(
        run=OuterRef("run"), line=OuterRef("line"), pk__gt=OuterRef("pk"), struck_at__isnull=True
    )
    return Weighed.objects.filter(
        ~Exists(later), struck_at__isnull=True, run__struck_at__isnull=True
    )


@dataclass(frozen=True)
class LotInUse:
    component: str
    lot: str
    runs: int
    first: dt.datetime
    last: dt.datetime


@dataclass(frozen=True)
class Held:
    """A piece with what it holds of the lot, and where it stands."""

    piece: Piece
    state: str  # the step last done, or nothing
    cast_at: dt.datetime | None
    lost: bool  # the casting that held it was given up


@dataclass(frozen=True)
class LotRun:
    run: MixerRun
    lines: tuple[Weighed, ...]
    pieces: tuple[Held, ...]


@dataclass(frozen=True)
class Found:
    """runs : newest first; more : there are others beyond what is shown"""

    key: str
    runs: tuple[LotRun, ...]
    more: bool

    @cached_property
    def rows(self) -> list[tuple[Held, list[LotRun]]]:
        """A piece and the runs of one cast that it has the lot from, by code; cast again with the
        same lot it stands there again."""
        found: dict[tuple[str, int], tuple[Held, list[LotRun]]] = {}
        for run in self.runs:
            for held in run.pieces:
                key = (held.piece.code, run.run.batch_id)
                found.setdefault(key, (held, []))[1].append(run)
        return [found[key] for key in sorted(found)]

    @property
    def pieces(self) -> list[Held]:
        """Each once, by code."""
        return list({held.piece.pk: held for held, _runs in self.rows}.values())

    @property
    def components(self) -> list[tuple[str, str]]:
        """Component and lot as they were written, each once."""
        return sorted({(component_of(row.line), row.lot) for run in self.runs for row in run.lines})


def component_of(line: str) -> str:
    """A line of fibre names its layer, too."""
    name, comma, layer = line.rpartition(", ")
    return name if comma and layer in {"face", "backer", "rib"} else line


def lots_in_use(now: dt.datetime) -> list[LotInUse]:
    """The lots weighed in the last 90 days, the latest first. One query."""
    rows = (
        _counting()
        .filter(at__gte=now - LATELY)
        .exclude(lot_key="")
        .values("line", "lot_key")
        .annotate(lot=Max("lot"), runs=Count("run", distinct=True), first=Min("at"), last=Max("at"))
        .order_by("-last", "line")[: 4 * LISTED]
    )
    merged: dict[tuple[str, str], LotInUse] = {}
    for row in rows:
        name = component_of(row["line"])
        one = LotInUse(name, row["lot"], row["runs"], row["first"], row["last"])
        other = merged.get((name, row["lot_key"]))
        merged[name, row["lot_key"]] = _together(one, other) if other else one
    return list(merged.values())[:LISTED]


def _together(one: LotInUse, other: LotInUse) -> LotInUse:
    """Fibre of one lot in two layers, which as a rule is of the same runs."""
    return LotInUse(
        one.component,
        other.lot,
        max(one.runs, other.runs),
        min(one.first, other.first),
        max(one.last, other.last),
    )


def find_lot(text: str, component: str = "") -> Found | None:
    """Runs with a lot that contains what was typed; None for less than two letters or digits.

    Seven queries, whatever is found.
    """
    key = lot_key(text)
    if len(key) < LEAST:
        return None
    rows = _counting().filter(lot_key__contains=key).order_by("-run__opened_at", "pk")
    lines: dict[int, list[Weighed]] = defaultdict(list)
    for row in rows.select_related("by")[: 20 * RUNS_AT_MOST]:
        if not component or component_of(row.line) == component:
            lines[row.run_id].append(row)
    wanted = list(lines)[:RUNS_AT_MOST]
    runs = MixerRun.objects.filter(pk__in=wanted).select_related("batch__mix", "recipe")
    found = {run.pk: run for run in runs}
    held = _held(found.values())
    return Found(
        key,
        tuple(LotRun(found[pk], tuple(lines[pk]), tuple(held[pk])) for pk in wanted if pk in found),
        len(lines) > RUNS_AT_MOST,
    )


def _held(runs: Iterable[MixerRun]) -> dict[int, list[Held]]:
    """By run: the pieces that its parts name; of a run without parts, its batch's."""
    runs = list(runs)
    marks = _cast_marks({run.batch_id for run in runs})
    codes = {part["piece"] for run in runs for part in run.parts}
    batches = {run.batch_id for run in runs}
    related = Piece.objects.select_related("job__customer", "mix").prefetch_related("marks")
    pieces = {
        piece.pk: piece
        for piece in related.filter(
            pk__in={
                *Piece.objects.filter(code__in=codes).values_list("pk", flat=True),
                *Piece.objects.filter(batch__in=batches).values_list("pk", flat=True),
                *(mark.piece_id for mark in marks),
            }
        )
    }
    by_code = {piece.code: piece for piece in pieces.values()}
    found: dict[int, list[Held]] = {}
    for run in runs:
        named = [by_code[part["piece"]] for part in run.parts if part["piece"] in by_code]
        own = named or [
            *(piece for piece in pieces.values() if piece.batch_id == run.batch_id),
            *(pieces[mark.piece_id] for mark in marks if mark.batch_id == run.batch_id),
        ]
        once = {piece.pk: piece for piece in own}
        found[run.pk] = [
            held_of(once[pk], run.batch) for pk in sorted(once, key=lambda pk: once[pk].code)
        ]
    return found


def _cast_marks(batch_ids: set[int]) -> Sequence[Mark]:
    return list(Mark.objects.filter(batch__in=batch_ids, kind=Mark.Kind.DONE))


def held_of(piece: Piece, batch: Batch) -> Held:
    """Needs the piece's marks loaded."""
    marks = list(piece.marks.all())
    struck = {mark.strikes_id for mark in marks}
    casts = [mark for mark in marks if mark.batch_id == batch.pk and mark.pk not in struck]
    standing = standing_of(marks)
    lost = bool(casts) and casts[-1].pk not in {mark.pk for mark in standing.done.values()}
    last = standing.last
    return Held(
        piece=piece,
        state="" if lost or not casts or last is None else last.step_name,
        cast_at=casts[-1].happened_at if casts else None,
        lost=lost,
    )
