"""Dates that were promised and told, placed by what the engine makes of each job."""

from __future__ import annotations

import datetime as dt
import uuid

from jobs.demo.cast_list import CUSTOMERS, SHOP_NAME, DemoJob, Promise
from jobs.demo.story import DAY, Stage, loaded
from jobs.models import Job, Mail, Mark, Notice
from jobs.services.casting import set_install
from jobs.services.derive import derive_job
from jobs.services.links import make_link, page_address
from jobs.services.outlook import JobOutlook
from shop.models import Person

HOUR = dt.timedelta(hours=1)
# Within this of its promise a job is plainly tight: neither about to fall short nor to hold.
TIGHT_BY = 3 * HOUR
SHORT_BY = 5 * HOUR
HOLDS_BY = 30 * HOUR
SEEN_BEFORE = 9 * DAY  # how long before it was due a job's date was agreed, at the least


def place(stage: Stage, job: Job, demo: DemoJob, office: Person) -> None:
    outlook = derive_job(stage.facts, loaded(job))
    promised = _promise(stage, demo, outlook)
    _save_promise(stage, job, promised)
    if demo.told:
        _tell(stage, job, demo, office)
    if demo.install_in_days is not None:
        _set_install(stage, job, demo, office)


def _promise(stage: Stage, demo: DemoJob, outlook: JobOutlook) -> dt.datetime:
    """When the job is promised, shop clock."""
    ready = outlook.judged_at
    if ready is None:
        raise ValueError(f"{demo.number} is never ready: the demo needs another route or room.")
    zone = stage.facts.shop.zone
    if demo.promise is Promise.TIGHT:
        return _round_up(ready + TIGHT_BY).astimezone(zone)
    if demo.promise is Promise.SHORT:
        return _just_missed(stage, ready)
    day = ready.astimezone(zone).date() + demo.spare_days * DAY
    working = set(stage.work_days_ahead())
    while day not in working or stage.moment(day, 15) - ready < HOLDS_BY:
        day += DAY
    return stage.moment(day, 15).astimezone(zone)


def _just_missed(stage: Stage, ready: dt.datetime) -> dt.datetime:
    """Some hours before it is ready, at a time of day at which a shop promises."""
    local = _round_up(ready - SHORT_BY).astimezone(stage.facts.shop.zone)
    if local.time() >= dt.time(8):
        return local
    days = sorted({*stage.work_days(), *stage.work_days_ahead()})
    before = [day for day in days if stage.moment(day, 15) < ready]
    return stage.moment(before[-1], 15).astimezone(stage.facts.shop.zone)


def _round_up(moment: dt.datetime) -> dt.datetime:
    """To the half hour, as people promise."""
    beyond = moment.timestamp() % 1800
    return moment + dt.timedelta(seconds=(1800 - beyond) % 1800)


def _save_promise(stage: Stage, job: Job, promised: dt.datetime) -> None:
    by = promised.time().replace(second=0, microsecond=0)
    job.promised_on = promised.date()
    job.promised_by = None if by == stage.facts.shop.leave_by else by
    marks = Mark.objects.filter(piece__job=job)
    first = marks.earliest("happened_at").happened_at if marks else stage.now
    agreed = first.date() - SEEN_BEFORE - stage.random.randrange(0, 8) * DAY
    job.taken_on = max(day for day in stage.work_days() if day <= agreed)
    job.save(update_fields=["promised_on", "promised_by", "taken_on"])


def _tell(stage: Stage, job: Job, demo: DemoJob, office: Person) -> None:
    """The day was told soon after the job was taken on, before anything went wrong."""
    assert job.promised_on is not None
    email, phone, _ = CUSTOMERS[demo.customer]
    by_mail = demo.told_by == Notice.Means.EMAIL
    day = f"{job.promised_on:%A, %B} {job.promised_on.day}"
    notice = Notice(
        job=job,
        means=demo.told_by,
        told_on=job.promised_on,
        to=email if by_mail else phone,
        subject=f"{demo.title}: ready {day}" if by_mail else "",
        body=_words(job, demo, day, office),
        by=office,
        at=_told_at(stage, job),
        client_key=uuid.UUID(int=stage.random.getrandbits(128), version=4),
    )
    notice.mail = _mail(notice) if by_mail else None
    notice.save()


def _told_at(stage: Stage, job: Job) -> dt.datetime:
    earliest = job.taken_on + 2 * DAY
    day = min(day for day in stage.work_days() if day >= earliest)
    return stage.moment(day, 10, stage.random.randrange(0, 55))


def _words(job: Job, demo: DemoJob, day: str, office: Person) -> str:
    address = page_address(make_link(job_id=job.pk, by=office)) if demo.link else ""
    lines = [
        f"Hello, your {demo.title[0].lower()}{demo.title[1:]} (job {job.number}) will be ready "
        f"on {day}.",
        f"How it is coming along: {address}" if address else "",
        f"{office.name}\n{SHOP_NAME}",
    ]
    return "\n\n".join(line for line in lines if line)


def _mail(notice: Notice) -> Mail:
    mail = Mail.objects.create(
        to=notice.to,
        subject=notice.subject,
        body=notice.body,
        state=Mail.State.SENT,
        tries=1,
        try_after=notice.at,
        sent_at=notice.at + dt.timedelta(seconds=4),
        message_id=f"<told-{notice.job.number}@example.com>",
    )
    Mail.objects.filter(pk=mail.pk).update(written_at=notice.at)
    return mail


def _set_install(stage: Stage, job: Job, demo: DemoJob, office: Person) -> None:
    assert job.promised_on is not None
    assert demo.install_in_days is not None
    after = [day for day in stage.work_days_ahead() if day > job.promised_on]
    set_install(
        job_id=job.pk,
        starts_at=stage.moment(after[demo.install_in_days - 1], 9),
        hours=4.0,
        people=2,
        by=office,
        now=stage.now,
    )
