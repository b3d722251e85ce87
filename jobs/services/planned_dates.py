"""What the accepted plan says of each job's date, brought to the facts as they are now.

Marks, readings and absences move what a plan can keep. What was accepted stays as it was accepted;
the dates that board and office show are those of that plan with what changed since worked in.
"""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.db.models import F, Min
from django.utils import timezone

from jobs.models import Job, JobPlanned, PlanAccepted, PlannedStep
from jobs.planning.adapt import adapt
from jobs.planning.faults import sift
from jobs.planning.holding import what_holds
from jobs.planning.problem import Plan
from jobs.planning.tasks import compile_tasks, plan_of
from jobs.services.plan_ranges import ranges_of
from jobs.services.plan_read import PlanRead, read_shop
from jobs.services.plan_shown import leaves_at
from jobs.services.plan_words import HELD_BY
from jobs.services.readiness import rebuild
from shop.localtime import on_later_day
from shop.models import Shop, StepKind

# Smaller changes than these come from the clock moving on: nobody has to be told of them.
SAME = dt.timedelta(hours=1)
SAME_CHANCE = 0.03


def follow_plan(now: dt.datetime | None = None) -> bool:
    """Whether any date changed. Dates follow at once where one did."""
    stamp = _stamp()
    rows = _rows(now or timezone.now()) if PlannedStep.objects.exists() else {}
    with transaction.atomic():
        Shop.objects.select_for_update().get(pk=1)
        if _stamp() != stamp:  # accepted or undone meanwhile: these dates are of another plan
            return False
        stored = {row.job_id: row for row in JobPlanned.objects.all()}
        moved = [row for key, row in rows.items() if not _alike(row, stored.get(key))]
        gone = stored.keys() - rows.keys()
        if not moved and not gone:
            return False
        JobPlanned.objects.filter(job__in=[*gone, *(row.job_id for row in moved)]).delete()
        JobPlanned.objects.bulk_create(moved)
    rebuild(now)
    return True


def later_install(
    job: Job, agreed: dt.datetime | None, now: dt.datetime | None = None
) -> dt.datetime | None:
    """When the accepted plan has the install begin, if that is a later day than was agreed and
    still to come: what has been cannot be agreed anew."""
    if agreed is None:
        return None
    rows = PlannedStep.objects.filter(
        piece__job=job,
        piece__route__steps__kind=StepKind.INSTALL,
        step_key=F("piece__route__steps__key"),
    )
    planned: dt.datetime | None = rows.aggregate(first=Min("starts_at"))["first"]
    if planned is None or planned <= (now or timezone.now()):
        return None
    return planned if on_later_day(planned, agreed, timezone.get_current_timezone()) else None


def _stamp() -> tuple[object, ...]:
    newest = PlanAccepted.objects.values_list("pk", "undone_at").order_by("-pk").first()
    return (newest, PlannedStep.objects.count())


def _rows(now: dt.datetime) -> dict[int, JobPlanned]:
    read = read_shop(now, lock=False)
    if read.known is None:
        return {}
    plan = as_it_stands(read)
    ranges, chances = ranges_of(read, plan)
    held = what_holds(read.problem, plan)
    ids = {job.number: job.pk for job in read.jobs}
    rows = {}
    for job in read.known.finish.keys() & plan.finish.keys() & ids.keys():
        leaves = leaves_at(read, plan, job)
        if leaves is None:
            continue
        early, likely, late = ranges.get(job, (None, None, None))
        holding = held.get(job)
        key = holding.key if holding else ""
        rows[ids[job]] = JobPlanned(
            job_id=ids[job],
            leaves_at=leaves,
            early=early,
            likely=likely,
            late=late,
            chance=chances.get(job),
            held_by=key,
            held_words=((holding.words if holding else "") or HELD_BY.get(key, ""))[:200],
            derived_at=now,
        )
    return rows


def as_it_stands(read: PlanRead) -> Plan:
    """The accepted plan with what changed since worked in."""
    kept, _ = sift(read.problem)
    tasks = compile_tasks(kept)
    known = read.known
    if known is None:
        raise ValueError("no plan was accepted")
    return plan_of(tasks, adapt(tasks, known))


def _alike(row: JobPlanned, stored: JobPlanned | None) -> bool:
    if stored is None or row.held_by != stored.held_by:
        return False
    if abs((row.chance or 0.0) - (stored.chance or 0.0)) > SAME_CHANCE:
        return False
    pairs = [
        (row.leaves_at, stored.leaves_at),
        (row.likely, stored.likely),
        (row.late, stored.late),
    ]
    return all(
        one == other if one is None or other is None else abs(one - other) < SAME
        for one, other in pairs
    )
