"""The plan that stands, as the page shows it: made when something changed, kept until it does."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, replace

from django.core.cache import cache
from django.db.models import Count, Max, Q

from jobs.models import JobPlanned, JobReadiness, PlanAccepted, PlannedStep, PromiseState
from jobs.planning.faults import sift
from jobs.services.outlook import CONCRETE
from jobs.services.plan_read import read_shop
from jobs.services.plan_shown import JobDate, Shown, on_judged, shown_of
from shop.models import Shop

# `now` moves on, and what should have begun by then shows.
REDRAWN_S = 300


def standing(shop: Shop, now: dt.datetime) -> Shown | None:
    """None where no plan was taken yet, or all of it is done."""
    stamp = PlannedStep.objects.aggregate(
        rows=Count("pk"), newest=Max("pk"), pins=Count("pk", filter=Q(pinned=True))
    )
    if not stamp["rows"]:
        return None
    accepted = PlanAccepted.objects.aggregate(newest=Max("pk"), undone=Max("undone_at"))
    parts = (shop.edition, *stamp.values(), *accepted.values(), int(now.timestamp()) // REDRAWN_S)
    key = "standing-plan-" + "-".join(str(part).replace(" ", "T") for part in parts)
    found: Shown | None = cache.get(key)
    if found is None:
        found = _made(now)
        cache.set(key, found, REDRAWN_S)
    return found


def _made(now: dt.datetime) -> Shown | None:
    read = read_shop(now, lock=False)
    if read.known is None:
        return None
    _, faults = sift(read.problem)
    shown = shown_of(read, read.filled.whole(replace(read.known, faults=faults)))
    ids = [pk for pk in read.filled.jobs.values() if pk is not None]
    kept = {row.job_id: row for row in JobPlanned.objects.filter(job__in=ids)}
    by_concrete = {row.job_id: row for row in _by_concrete(ids)}
    rows = (_with_range(job, kept.get(job.job_id), read.shop) for job in shown.jobs)
    return replace(shown, jobs=tuple(_judged(row, by_concrete.get(row.job_id)) for row in rows))


@dataclass(frozen=True)
class ByConcrete:
    job_id: int
    state: str
    spare_hours: float
    reason: str


def _by_concrete(job_ids: Iterable[int]) -> Iterable[ByConcrete]:
    """Jobs whose promise the concrete decides, though a plan stands: it takes longer than that."""
    rows = JobReadiness.objects.filter(job__in=job_ids, outlook__decided_by=CONCRETE).values_list(
        "job_id", "state", "outlook__spare_hours", "outlook__reason"
    )
    for job_id, state, spare, reason in rows:
        if spare is not None:
            yield ByConcrete(job_id, state, spare, reason)


def _judged(row: JobDate, concrete: ByConcrete | None) -> JobDate:
    """One verdict with board and office: what the concrete takes longer for, the plan cannot do."""
    if concrete is None or row.spare_hours is None or concrete.spare_hours >= row.spare_hours:
        return row
    return replace(
        row, state=concrete.state, spare_hours=concrete.spare_hours, held_words=concrete.reason
    )


def _with_range(job: JobDate, kept: JobPlanned | None, shop: Shop) -> JobDate:
    if kept is None or job.leaves is None or job.state == PromiseState.KEPT:
        return job
    row = replace(
        job,
        leaves=kept.leaves_at,  # what changed since is worked in
        was=job.leaves,
        early=kept.early,
        likely=kept.likely,
        late=kept.late,
        chance=kept.chance,
        held_by=kept.held_by,
        held_words=kept.held_words,
    )
    return on_judged(row, shop)
