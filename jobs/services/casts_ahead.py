"""Casts that are set and not cast yet, by day, with what to prepare; and the last ones."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby

from curing.weigh_sheet import ORDER
from jobs.models import Batch, Mark, MixerRun
from jobs.services.mixing import CastRuns, casts_runs, with_runs
from jobs.services.scales import Scale
from jobs.services.standing import standing_of
from jobs.services.weigh_sheets import ShownLine, shown_lines, weighed_of
from shop.models import Shop

LAST = 10


@dataclass(frozen=True)
class ToPrepare:
    """What runs take of one component together: kg, and in the unit of its scale."""

    name: str
    role: str
    kg: float
    scale: Scale

    @property
    def words(self) -> str:
        return self.scale.words(self.kg)


@dataclass(frozen=True)
class CastDay:
    day: dt.date
    casts: tuple[CastRuns, ...]

    @cached_property
    def to_prepare(self) -> list[ToPrepare]:
        return to_prepare(self.casts)


@dataclass(frozen=True)
class LastCast:
    """runs : that stand; lines : of their sheets, weighed : those that were weighed"""

    batch: Batch
    codes: str
    cast_at: dt.datetime | None
    runs: tuple[MixerRun, ...]
    lines: int
    weighed: int


def casts_ahead(shop: Shop) -> list[CastDay]:
    """Of open jobs, the earliest first. Queries do not grow with casts, pieces or runs."""
    open_job = {"pieces__job__closed_at__isnull": True, "pieces__job__called_off": False}
    batches = with_runs(Batch.objects.filter(**open_job).distinct().order_by("planned_for", "pk"))
    waiting = [batch for batch in batches if not is_cast(batch)]

    def day_of(one: CastRuns) -> dt.date:
        return one.batch.planned_for.astimezone(shop.zone).date()

    found = casts_runs(waiting)
    return [CastDay(day, tuple(casts)) for day, casts in groupby(found, key=day_of)]


def is_cast(batch: Batch) -> bool:
    """Every piece of it."""
    return all(standing_of(piece.marks.all()).done for piece in batch.pieces.all())


def last_casts(shop: Shop, most: int = LAST) -> list[LastCast]:
    done = Batch.objects.filter(pieces__marks__kind=Mark.Kind.DONE).distinct()
    found = [
        _last(batch, shop)
        for batch in with_runs(done.order_by("-planned_for", "-pk"))[: most + 10]
        if is_cast(batch)
    ]
    return found[:most]


def _last(batch: Batch, shop: Shop) -> LastCast:
    runs = tuple(run for run in batch.runs.all() if run.struck_at is None)
    pieces = list(batch.pieces.all())
    firsts = [
        next(iter(sorted(standing_of(p.marks.all()).finished_at().values())), None) for p in pieces
    ]
    return LastCast(
        batch=batch,
        codes=", ".join(piece.code for piece in pieces),
        cast_at=min((at for at in firsts if at), default=None),
        runs=runs,
        lines=sum(len(shown_lines(run, shop)) for run in runs),
        weighed=sum(len(weighed_of(run)) for run in runs),
    )


def to_prepare(casts: Iterable[CastRuns]) -> list[ToPrepare]:
    """Of all runs, opened and to be opened, in the order in which things are usually added."""
    lines: list[ShownLine] = []
    for cast in casts:
        for run in cast.opened:
            lines += shown_lines(run, cast.shop)
        for planned in cast.planned:
            lines += cast.shown(planned)
    lines.sort(key=lambda line: (ORDER.index(line.line.component.role), line.name))
    return [
        _together(list(same)) for _key, same in groupby(lines, key=lambda li: (li.role, li.name))
    ]


def _together(lines: Sequence[ShownLine]) -> ToPrepare:
    """On the coarsest scale that any of its lines is weighed on."""
    scale = max((line.scale for line in lines), key=lambda one: one.step_kg)
    kg = sum(line.line.weigh_kg for line in lines)
    return ToPrepare(lines[0].name, lines[0].role, kg, scale)
