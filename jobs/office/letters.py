"""The readiness letter: for what was told, for one notice, and as it is being written."""

from __future__ import annotations

import datetime as dt
from functools import partial

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from jobs.models import Job, Notice, PromiseState
from jobs.office.pages import job_or_404, press
from jobs.services import links, telling
from jobs.services.letter import Letter, letter_pdf
from jobs.services.outlook import JobOutlook
from jobs.services.plain_words import short_day
from jobs.services.readiness import outlook_of
from shop.access import needs
from shop.http import ShopRequest
from shop.printed import printed
from shop.services.errors import Refused


def day_of(text: str) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        return None


@needs("customers.see")
@require_safe
def job_letter(request: ShopRequest, number: str) -> HttpResponse:
    """The letter for what was told last, or else for the day that holds now. A told day that no
    longer holds is not put on paper again: the customer is told another one first."""
    job = job_or_404(number)
    outlook = outlook_of(job.number)
    told = telling.told_notice(job)
    told_on = told.told_on if told else outlook.holding_on if outlook else None
    if outlook is None or told_on is None:
        return press(request, _no_day, to=("job", job.number))
    if outlook.state != PromiseState.KEPT and outlook.holding_on and told_on < outlook.holding_on:
        return press(request, partial(_other_day, told_on), to=("tell", job.number))
    body = telling.notice_draft(
        job=job, outlook=outlook, means=Notice.Means.LETTER, told_on=told_on, by=request.user
    ).body
    return pdf(request, job, outlook, told_on, body=body)


def _no_day() -> str:
    raise Refused(_("No day holds yet, so there is nothing to put in a letter."))


def _other_day(told_on: dt.date) -> str:
    raise Refused(
        _("%(day)s, which was told, no longer holds. Tell the day that does.")
        % {"day": short_day(told_on)}
    )


@needs("customers.see")
@require_safe
def notice_letter(request: ShopRequest, notice_id: int) -> HttpResponse:
    notice = get_object_or_404(
        Notice.objects.select_related("job__customer"),
        pk=notice_id,
        means=Notice.Means.LETTER,
    )
    outlook = outlook_of(notice.job.number)
    assert outlook is not None
    return pdf(request, notice.job, outlook, notice.told_on, body=notice.body, at=notice.at)


@needs("notices.send")
@require_POST
def draft_letter(request: ShopRequest, number: str) -> HttpResponse:
    """The letter as it is being written; nothing is recorded."""
    job = job_or_404(number)
    outlook = outlook_of(job.number)
    told_on = day_of(request.POST.get("told_on", ""))
    if outlook is None or told_on is None:
        return press(request, _no_day, to=("job", job.number))
    body = request.POST.get("body", "").replace("\x00", "")[:1500]
    return pdf(request, job, outlook, told_on, body=body)


def pdf(
    request: ShopRequest,
    job: Job,
    outlook: JobOutlook,
    told_on: dt.date,
    *,
    body: str,
    at: dt.datetime | None = None,
) -> HttpResponse:
    letter = Letter(
        job=job,
        outlook=outlook,
        shop=request.shop,
        told_on=told_on,
        body=body,
        written_on=timezone.localtime(at).date(),
        address=links.open_address(job),
    )
    return printed(request, f"{job.number}-letter", lambda: letter_pdf(letter))
