"""The stored outlooks: rebuilt when a fact changes, read by every door."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from jobs.models import Job, JobReadiness
from jobs.services.derive import derive_jobs
from jobs.services.facts import Facts, load_facts, open_jobs, promise_moment
from jobs.services.flags import follow_flags
from jobs.services.outlook import JobOutlook, as_json, from_json
from shop.models import Change, Shop
from shop.services.settings import the_shop

__all__ = ["open_outlooks", "outlook_of", "promise_moment", "rebuild"]

# These move with the clock alone: no reason to tell open pages that something happened.
CLOCKWORK = {"derived_at", "equivalent_age", "strength_mpa"}


def rebuild(now: dt.datetime | None = None) -> list[JobOutlook]:
    """Derive every open job anew, store it, and raise or clear flags. Running it twice, or by two
    workers at once, ends the same: the shop's row is the lock."""
    with transaction.atomic():
        the_shop()
        shop = Shop.objects.select_for_update().get(pk=1)
        seen = list(Change.objects.values_list("pk", flat=True))
        facts = load_facts(now or timezone.now())
        outlooks = derive_jobs(facts)
        changed = _store(outlooks)
        changed |= follow_flags(facts, outlooks)
        Change.objects.filter(pk__in=seen).delete()
        if changed or seen:
            Shop.objects.filter(pk=shop.pk).update(edition=F("edition") + 1)
    return outlooks


def _store(outlooks: list[JobOutlook]) -> bool:
    stored = {row.job_id: row for row in JobReadiness.objects.all()}
    rows = [
        JobReadiness(
            job_id=outlook.job_id,
            state=outlook.state,
            ready_at=outlook.ready_at,
            outlook=as_json(outlook),
        )
        for outlook in outlooks
    ]
    JobReadiness.objects.bulk_create(
        rows,
        update_conflicts=True,
        unique_fields=["job"],
        update_fields=["state", "ready_at", "outlook"],
    )
    gone = stored.keys() - {row.job_id for row in rows}
    JobReadiness.objects.filter(job_id__in=gone).delete()
    return bool(gone) or any(
        row.job_id not in stored
        or _without_clockwork(row.outlook) != _without_clockwork(stored[row.job_id].outlook)
        for row in rows
    )


def _without_clockwork(value: Any) -> Any:
    if isinstance(value, dict):
        return {k: _without_clockwork(v) for k, v in value.items() if k not in CLOCKWORK}
    if isinstance(value, list):
        return [_without_clockwork(part) for part in value]
    return value


def open_outlooks() -> list[JobOutlook]:
    """All open jobs, by promise; from the store, which is rebuilt if a job is missing in it."""
    rows = list(
        open_jobs()
        .order_by(F("promised_on").asc(nulls_last=True), "number")
        .values_list("readiness__outlook", flat=True)
    )
    if any(row is None for row in rows):
        rebuild()
        rows = list(
            open_jobs()
            .order_by(F("promised_on").asc(nulls_last=True), "number")
            .values_list("readiness__outlook", flat=True)
        )
    return [from_json(row) for row in rows if row is not None]


def outlook_of(number: str, now: dt.datetime | None = None) -> JobOutlook | None:
    """One job, derived at this moment, whatever its state."""
    outlooks = derive_jobs(load_facts(now, [number]))
    return outlooks[0] if outlooks else None


def stored_outlook(job: Job) -> JobOutlook | None:
    """The stored one: a page that anybody may open should not set the engine to work."""
    stored = JobReadiness.objects.filter(job=job).values_list("outlook", flat=True).first()
    return from_json(stored) if stored else outlook_of(job.number)


def facts_now(now: dt.datetime | None = None) -> Facts:
    return load_facts(now)
