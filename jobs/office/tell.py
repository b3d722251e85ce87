"""Telling a customer a day: write, look at it, send; and a mail that failed tried again."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from jobs.models import Job, Mail, Notice
from jobs.office.forms import TellForm, print_of
from jobs.office.letters import day_of
from jobs.office.pages import FORM_METHODS, job_or_404, press, said, show
from jobs.services import mail, telling
from jobs.services.notice_text import ONE_TEXT
from jobs.services.outlook import JobOutlook
from jobs.services.plain_words import day_words, mentions
from jobs.services.readiness import outlook_of
from shop.access import needs
from shop.http import ShopRequest
from shop.services.errors import Conflict, Refused

REDRAW = {f"as-{means}": means for means in Notice.Means.values}


@needs("notices.send")
@require_http_methods(FORM_METHODS)
def tell_page(request: ShopRequest, number: str) -> HttpResponse:
    job = job_or_404(number)
    outlook = outlook_of(job.number)
    if outlook is None or job.closed_at or job.called_off:
        return redirect("job", job.number)
    if request.method != "POST":
        return compose(request, job, outlook, fresh(request, job, outlook))
    return answer(request, job, outlook, request.POST.get("step", "preview"))


def answer(request: ShopRequest, job: Job, outlook: JobOutlook, step: str) -> HttpResponse:
    if step in REDRAW or step == "redraw":
        return compose(request, job, outlook, redrawn(request, job, outlook, REDRAW.get(step)))
    form = TellForm(request.POST, shop=request.shop, means=means_of(request.POST))
    if step == "edit":
        return compose(request, job, outlook, written(request, form))
    if not form.is_valid():
        return compose(request, job, outlook, form, 422)
    return (send if step == "send" else preview)(request, job, outlook, form)


def compose(
    request: ShopRequest, job: Job, outlook: JobOutlook, form: TellForm, status: int = 200
) -> HttpResponse:
    told = telling.told_notice(job)
    day = form["told_on"].value()
    day_on = day_of(day) if isinstance(day, str) else day
    context = {
        "holding_chance": outlook.chance_on(outlook.holding_on),
        "day_on": day_on,
        "day_chance": outlook.chance_on(day_on),
        "job": job,
        "outlook": outlook,
        "form": form,
        "means": str(form["means"].value()),
        "all_means": Notice.Means.choices,
        "told_last": told.told_on if told else None,
        "one_text": ONE_TEXT,
    }
    template = "office/_tell.html" if request.htmx else "office/tell.html"
    return show(request, template, context, status)


def fresh(request: ShopRequest, job: Job, outlook: JobOutlook) -> TellForm:
    means = means_of(request.GET, usual_means(job))
    first = firsts(outlook, request.GET.get("first", ""))
    told_on = outlook.holding_on
    if first and told_on and (rest_on := day_of(request.GET.get("rest_on", ""))):
        told_on = max(told_on, rest_on)
    initial = {
        "means": means,
        "told_on": told_on,
        "to": address_for(job, means),
        "promise_too": told_on is not None and told_on != job.promised_on,
        "client_key": uuid.uuid4(),
        "job_version": job.version,
        "first": ",".join(first),
    }
    drawn = drafted(request, job, outlook, means, told_on, first=first)
    return TellForm(shop=request.shop, means=means, initial=initial | drawn)


def usual_means(job: Job) -> str:
    if job.customer.email:
        return str(Notice.Means.EMAIL)
    return str(Notice.Means.CALL if job.customer.phone else Notice.Means.LETTER)


def means_of(data: QueryDict, otherwise: str = Notice.Means.EMAIL) -> str:
    means = data.get("means", "")
    return means if means in Notice.Means.values else str(otherwise)


def address_for(job: Job, means: str) -> str:
    customer = job.customer
    if means == Notice.Means.EMAIL:
        return customer.email
    return customer.name if means == Notice.Means.LETTER else customer.phone


def firsts(outlook: JobOutlook, text: str) -> list[str]:
    """Pieces of the job that are named, where some are and some are not."""
    codes = {code.strip() for code in text.split(",")}
    found = [piece.code for piece in outlook.pieces if piece.code in codes]
    return found if len(found) < len(outlook.pieces) and outlook.promised_on else []


def drafted(
    request: ShopRequest,
    job: Job,
    outlook: JobOutlook,
    means: str,
    told_on: dt.date | None,
    *,
    first: list[str],
) -> dict[str, Any]:
    if told_on is None:
        return {}
    draft = telling.notice_draft(
        job=job, outlook=outlook, means=means, told_on=told_on, by=request.user, first=first
    )
    return {
        "subject": draft.subject,
        "body": draft.body,
        "drafted": print_of(draft.subject, draft.body),
    }


def redrawn(request: ShopRequest, job: Job, outlook: JobOutlook, means: str | None) -> TellForm:
    """Another day or other means: the text follows, unless somebody has changed it."""
    data = request.POST
    before = means_of(data)
    means = means or before
    values: dict[str, Any] = {name: data.get(name, "") for name in TellForm.base_fields}
    values |= {"means": means, "promise_too": "promise_too" in data, "anyway": "anyway" in data}
    told_on = day_of(data.get("told_on", ""))
    if means != before and data.get("to", "") in {address_for(job, before), ""}:
        values["to"] = address_for(job, means)
    untouched = data.get("drafted") == print_of(data.get("subject", ""), data.get("body", ""))
    if untouched or not data.get("body", "").strip():
        first = firsts(outlook, data.get("first", ""))
        values |= drafted(request, job, outlook, means, told_on, first=first)
        values["promise_too"] = told_on is not None and told_on != job.promised_on
    return TellForm(shop=request.shop, means=means, initial=values)


def written(request: ShopRequest, form: TellForm) -> TellForm:
    """What was typed, without complaints: its writer goes back to it."""
    values: dict[str, Any] = {name: form[name].value() for name in form.fields}
    return TellForm(shop=request.shop, means=means_of(request.POST), initial=values)


def preview(
    request: ShopRequest, job: Job, outlook: JobOutlook, form: TellForm, status: int = 200
) -> HttpResponse:
    typed = form.cleaned_data
    told_on, body = typed["told_on"], typed["body"]
    trouble = telling.day_trouble(outlook, told_on, timezone.localdate())
    context = {
        "job": job,
        "form": form,
        "means": typed["means"],
        "told_on": told_on,
        "day_words": day_words(told_on, timezone.localdate()),
        "kept": kept(form, beside=trouble != ""),
        "trouble": trouble,
        "unnamed": bool(body) and not mentions(f"{typed.get('subject', '')} {body}", told_on),
        "length": len(body),
        "one_text": ONE_TEXT,
        "promise_moves": typed["promise_too"] and told_on != job.promised_on,
    }
    return show(request, "office/preview.html", context, status)


def kept(form: TellForm, *, beside: bool) -> list[tuple[str, str]]:
    """Everything typed, to go along unseen; the tick stands on the page where it is needed."""
    values: list[tuple[str, str]] = []
    for name in form.fields:
        value = form.data.get(name)
        if value is not None and not (name == "anyway" and beside):
            values.append((name, value))
    return values


def send(request: ShopRequest, job: Job, outlook: JobOutlook, form: TellForm) -> HttpResponse:
    try:
        notice = telling.tell(
            job_id=job.pk,
            by=request.user,
            version=form.cleaned_data["job_version"],
            **form.notice_values,
        )
    except Conflict as conflict:
        form.data = form.data.copy()
        form.data["job_version"] = str(conflict.version)
        form.refuse(conflict)
        return compose(request, job, outlook, form, 409)
    except Refused as refusal:
        form.refuse(refusal)
        if refusal.field == "anyway":
            form.cleaned_data.setdefault("anyway", False)
            return preview(request, job, outlook, form, 422)
        return compose(request, job, outlook, form, 422)
    return said(request, sent_words(notice), "job", job.number)


def sent_words(notice: Notice) -> str:
    if notice.means == Notice.Means.EMAIL:
        return _("The e-mail to %(to)s is on its way.") % {"to": notice.to}
    return _("Recorded: told %(day)s.") % {
        "day": f"{notice.told_on:%a} {notice.told_on.day} {notice.told_on:%b}"
    }


@needs("notices.send")
@require_POST
def retry(request: ShopRequest, mail_id: int) -> HttpResponse:
    failed = get_object_or_404(Mail.objects.select_related("notice__job"), pk=mail_id)

    def act() -> str:
        mail.retry_mail(mail_id=failed.pk)
        return _("Trying again: %(to)s.") % {"to": failed.to}

    notice = getattr(failed, "notice", None)
    return press(request, act, to=("job", notice.job.number) if notice else ("office",))
