"""The plan that stands, as the page shows it: made when something changed, kept until it does."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from django.core.cache import cache
from django.db.models import Count, Max, Q

from jobs.models import JobPlanned, PlanAccepted, PlannedStep, PromiseState
from jobs.services.plan_read import read_shop
from jobs.services.plan_shown import JobDate, Shown, judged, on_late, shown_of
from shop.models import JudgedOn, Shop

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
    shown = shown_of(read, read.known)
    kept = {row.job_id: row for row in JobPlanned.objects.filter(job__in=read.filled.jobs.values())}
    return replace(
        shown, jobs=tuple(_with_range(job, kept.get(job.job_id), read.shop) for job in shown.jobs)
    )


def _with_range(job: JobDate, kept: JobPlanned | None, shop: Shop) -> JobDate:
    if kept is None:
        return job
    if job.leaves is None or job.state == PromiseState.KEPT:
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
    state, spare = judged(row.leaves, row.promised, shop)
    row = replace(row, state=state, spare_hours=spare)
    return on_late(row, shop) if shop.judged_on == JudgedOn.LATE and kept.likely else row
