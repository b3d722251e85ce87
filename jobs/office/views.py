"""The office's page: find a job in seconds, and see whose day must be told again."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_safe
from django.views.decorators.vary import vary_on_headers

from jobs.models import CustomerLink, Job, Mark, Notice
from jobs.office.pages import job_or_404, show
from jobs.services.finding import failed_mails, find, open_rows, past_jobs, row_of, rows_of
from jobs.services.levers import what_would_change
from jobs.services.links import opens, page_address
from jobs.services.outlook import PieceOutlook, StepOutlook
from jobs.services.planned_dates import later_install
from jobs.services.readiness import outlook_of
from jobs.services.telling import told_notice
from jobs.services.uses import late_uses_of, uses_of_job
from shop.access import needs
from shop.http import ShopRequest

A_PAGE = 40
FAILURES_SHOWN = dt.timedelta(days=30)
PAST = {"closed": False, "called-off": True}


@needs("office.see")
@vary_on_headers("HX-Request")
@require_safe
def office(request: ShopRequest) -> HttpResponse:
    text = request.GET.get("q", "").replace("\x00", "").strip()[:80]
    listing = found(request, text) if text else listed(request)
    rows = listing["rows"]
    if text and not request.htmx and len(rows) == 1:
        return redirect("job", number=rows[0].job.number)
    context = {"q": text, **listing}
    if request.htmx and not request.htmx.history_restore_request:
        return show(request, "office/_jobs.html", context)
    failed = failed_mails(timezone.now() - FAILURES_SHOWN)
    return show(request, "office/office.html", {**context, "failed": failed})


def found(request: ShopRequest, text: str) -> dict[str, Any]:
    return {"rows": find(text), "kind": "found"}


def listed(request: ShopRequest) -> dict[str, Any]:
    kind = request.GET.get("show", "")
    if kind in PAST:
        past = Paginator(past_jobs(called_off=PAST[kind]), A_PAGE).get_page(request.GET.get("page"))
        return {"rows": rows_of([job.pk for job in past]), "page": past, "kind": kind}
    rows = open_rows()
    page = Paginator(rows, A_PAGE).get_page(request.GET.get("page"))
    again = [row for row in rows if row.must_be_told]
    return {
        "rows": list(page),
        "page": page,
        "again": sorted(again, key=lambda row: not row.later),
        "kind": "open",
        "planned": sum(row.planned_at is not None for row in rows),
        "not_planned": sum(row.concrete_alone for row in rows),
    }


@needs("office.see")
@require_safe
def job(request: ShopRequest, number: str) -> HttpResponse:
    found_job = job_or_404(number)
    if found_job.number != number:
        return redirect("job", number=found_job.number)
    return show(request, "office/job.html", job_context(found_job))


def job_context(found_job: Job) -> dict[str, Any]:
    outlook = outlook_of(found_job.number)
    if outlook is None:  # removed this very moment
        raise Http404
    told = told_notice(found_job)
    link = found_job.links.filter(revoked_at=None).first()
    return {
        "job": found_job,
        "row": row_of(found_job, outlook, told),
        "outlook": outlook,
        "lines": [line_of(piece) for piece in outlook.pieces],
        "uses": [(piece, late_uses_of(piece)) for piece in outlook.pieces],
        "job_uses": uses_of_job(outlook.pieces, late=True),
        "holding_chance": outlook.chance_on(outlook.holding_on),
        "change": what_would_change(outlook),
        "later_install": later_install(found_job, outlook.install_at),
        "held": any(piece.on_hold for piece in outlook.pieces),
        "deletable": can_go(found_job),
        "told": told,
        "notices": Notice.objects.filter(job=found_job).select_related("by", "mail"),
        "means": Notice.Means,
        **link_context(link),
    }


@dataclass(frozen=True)
class PieceLine:
    piece: PieceOutlook
    letter: str
    done: int
    steps: int
    last: StepOutlook | None


def line_of(piece: PieceOutlook) -> PieceLine:
    done = [step for step in piece.steps if step.done]
    letter = piece.code.rpartition("-")[2]
    return PieceLine(piece, letter, len(done), len(piece.steps), done[-1] if done else None)


def can_go(found_job: Job) -> bool:
    marked = Mark.objects.filter(piece__job=found_job).exists()
    return not marked and not found_job.notices.exists()


def link_context(link: CustomerLink | None) -> dict[str, Any]:
    if link is None:
        return {"link": None, "address": ""}
    return {"link": link, "address": page_address(link) if opens(link) else ""}
