"""The customer's page: one job, by an unguessable link, without signing in."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone, translation
from django.views.decorators.http import require_safe

from jobs.models import Job
from jobs.services.customer_view import customer_view
from jobs.services.errors import Refused
from jobs.services.links import job_of
from jobs.services.sheets.customer_sheet import customer_pdf
from jobs.services.sheets.paper import paper_of
from jobs.services.telling import told_calendar
from shop.access import open_to_all
from shop.models import Shop

JobPage = Callable[[HttpRequest, Job, str], HttpResponse]


def by_link(view: JobPage) -> Callable[..., HttpResponse]:
    """Finds the job, keeps the answer from caches, robots and other sites' logs. A link that was
    closed and one that never was get the same answer."""

    @wraps(view)
    def guarded(request: HttpRequest, token: str) -> HttpResponse:
        with translation.override("en"):
            job = job_of(token)
            response = view(request, job, token) if job else nothing(request)
        response["X-Robots-Tag"] = "noindex, nofollow"
        response["Cache-Control"] = "private, no-store"
        response["Referrer-Policy"] = "no-referrer"
        return response

    return guarded


def nothing(request: HttpRequest) -> HttpResponse:
    return render(request, "customer/nothing.html", status=404)


@open_to_all
@require_safe
@by_link
def page(request: HttpRequest, job: Job, token: str) -> HttpResponse:
    shop: Shop = request.shop  # type: ignore[attr-defined]
    context: dict[str, Any] = {
        "view": customer_view(job=job, shop=shop, today=timezone.localdate()),
        "token": token,
    }
    return render(request, "customer/page.html", context)


@open_to_all
@require_safe
@by_link
def calendar(request: HttpRequest, job: Job, token: str) -> HttpResponse:
    text = None if job.called_off else told_calendar(job)
    if text is None:
        return nothing(request)
    response = HttpResponse(text, content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="date.ics"'
    return response


@open_to_all
@require_safe
@by_link
def sheet(request: HttpRequest, job: Job, token: str) -> HttpResponse:
    """The job's own sheet, to print: see `jobs.services.sheets.customer_sheet`."""
    shop: Shop = request.shop  # type: ignore[attr-defined]
    paper = paper_of(request.GET.get("paper", ""), shop)
    try:
        pdf = customer_pdf(job, shop, paper, timezone.localdate())
    except Refused:
        return nothing(request)
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = 'inline; filename="your-piece.pdf"'
    return response
