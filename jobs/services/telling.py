"""Telling a customer a day: the notice, its mail and the new promise, all or nothing."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone

from jobs.models import Job, Mail, Notice
from jobs.services.calendar_file import date_file
from jobs.services.chances import in_words
from jobs.services.errors import Conflict, Refused
from jobs.services.links import make_link, open_address, page_address
from jobs.services.mail import checked_address, one_line, queue_mail
from jobs.services.notice_text import Draft, Telling, draft
from jobs.services.outlook import JobOutlook
from jobs.services.plain_words import day_words, short_day
from jobs.services.readiness import outlook_of, stored_outlook
from jobs.services.sure_words import sureness
from jobs.services.told import told_notices
from shop.models import Person
from shop.services.changed import note_change, nudge_after_commit
from shop.services.settings import the_shop

FARTHEST = dt.timedelta(days=730)


def told_notice(job: Job) -> Notice | None:
    return told_notices([job.pk]).get(job.pk)


def still_holds(outlook: JobOutlook | None, told_on: dt.date) -> bool:
    """Whether a customer may still be shown the day that they were told."""
    holding = outlook.holding_on if outlook else None
    return holding is not None and holding <= told_on


def notice_draft(
    *,
    job: Job,
    outlook: JobOutlook,
    means: str,
    told_on: dt.date,
    by: Person,
    first: Sequence[str] = (),
    now: dt.datetime | None = None,
) -> Draft:
    """The prefilled text, with the customer's link. `first` are pieces that could come before."""
    shop = the_shop()
    told = told_notice(job)
    return draft(
        means,
        Telling(
            job=job,
            outlook=outlook,
            shop=shop,
            told_on=told_on,
            before=told.told_on if told else None,
            today=(now or timezone.now()).astimezone(shop.zone).date(),
            address=_address(job, by),
            first=tuple(first),
        ),
    )


def _address(job: Job, by: Person) -> str:
    """Made with the first text that can carry it; one that was closed stays closed."""
    if job.links.exists():
        return open_address(job)
    return page_address(make_link(job_id=job.pk, by=by))


def tell(
    *,
    job_id: int,
    means: str,
    told_on: dt.date,
    body: str,
    by: Person,
    client_key: uuid.UUID,
    to: str = "",
    subject: str = "",
    promise_too: bool = False,
    anyway: bool = False,
    version: int | None = None,
    now: dt.datetime | None = None,
) -> Notice:
    """`version` is that of the job the person saw; `anyway` tells a day that does not hold."""
    now = now or timezone.now()
    with transaction.atomic():
        job = _locked(job_id)
        if known := Notice.objects.filter(client_key=client_key).first():
            return known
        outlook = _checked(job, told_on, anyway=anyway, now=now)
        if promise_too:
            _promise(job, told_on, version)
        notice = Notice(
            job=job,
            means=Notice.Means(means),
            told_on=told_on,
            to=one_line(to)[:120],
            subject=one_line(subject)[:200],
            body=body.replace("\r\n", "\n").strip(),
            by=by,
            at=now,
            client_key=client_key,
        )
        if means == Notice.Means.EMAIL:
            notice.mail = _queue(job, notice, outlook)
        notice.save()
        note_change(f"customer of {job.number} told")
    return notice


def _locked(job_id: int) -> Job:
    job = Job.objects.select_for_update().filter(pk=job_id).first()
    if job is None:
        raise Refused("This job was removed meanwhile.")
    return job


def _checked(job: Job, told_on: dt.date, *, anyway: bool, now: dt.datetime) -> JobOutlook:
    if job.called_off or job.closed_at:
        raise Refused("This job is no longer open, so there is no day to tell.")
    today = now.astimezone(the_shop().zone).date()
    if told_on < today:
        raise Refused("This day has passed. Tell one to come.", field="told_on")
    if told_on > today + FARTHEST:
        raise Refused("This day is more than two years ahead. Is it meant?", field="told_on")
    outlook = outlook_of(job.number, now)
    if outlook is None:
        raise Refused("This job was removed meanwhile.")
    if not anyway and (trouble := day_trouble(outlook, told_on, today)):
        raise Refused(trouble, field="anyway")
    return outlook


def day_trouble(outlook: JobOutlook, told_on: dt.date, today: dt.date) -> str:
    """Why neither concrete nor plan keeps this day, or nothing."""
    if not outlook.pieces:
        return "This job has no pieces yet, so nothing stands behind this day."
    if outlook.holding_on is None:
        return "No day holds within what can be looked ahead, so nothing stands behind this one."
    if told_on < outlook.holding_on:
        chances = (outlook.chance_on(told_on), outlook.chance_on(outlook.holding_on))
        kept = [
            f" ({in_words(chance)} to keep it)" if chance is not None else "" for chance in chances
        ]
        return (
            f"{day_words(told_on, today)} does not hold{kept[0]}: the first day that does is "
            f"{day_words(outlook.holding_on, today)}{kept[1]}. {outlook.reason}"
        )
    return ""


def _promise(job: Job, day: dt.date, version: int | None) -> None:
    if job.promised_on == day:
        return
    if version is not None and job.version != version:
        stands = short_day(job.promised_on) if job.promised_on else "none"
        raise Conflict(
            f"Somebody changed job {job.number} while you wrote. Its promise is now: {stands}. "
            "Send again to put yours in its place.",
            version=job.version,
            theirs={"promised_on": stands},
        )
    if day < job.taken_on:
        raise Refused("The promise would lie before the job was taken on.", field="told_on")
    job.promised_on = day
    job.version += 1
    job.save(update_fields=["promised_on", "version"])


def _queue(job: Job, notice: Notice, outlook: JobOutlook) -> Mail:
    if not notice.subject:
        raise Refused("An e-mail needs a subject.", field="subject")
    mail = queue_mail(
        to=checked_address(notice.to),
        subject=notice.subject,
        body=notice.body,
        calendar=date_file(
            job=job,
            shop=the_shop(),
            told_on=notice.told_on,
            sequence=job.notices.count(),
            at=notice.at,
            firm=sureness(outlook, notice.told_on).firm,
            address=open_address(job),
        ),
        now=notice.at,
    )
    nudge_after_commit("jobs.tasks.send_mail")
    return mail


def told_calendar(job: Job) -> str | None:
    """The calendar file of what the customer was told last; None before the first notice."""
    notice = told_notice(job)
    if notice is None:
        return None
    outlook = stored_outlook(job)
    return date_file(
        job=job,
        shop=the_shop(),
        told_on=notice.told_on,
        in_doubt=not (job.closed_at or still_holds(outlook, notice.told_on)),
        sequence=job.notices.filter(pk__lt=notice.pk).count(),
        at=notice.at,
        firm=bool(outlook and sureness(outlook, notice.told_on).firm),
        address=open_address(job),
    )
