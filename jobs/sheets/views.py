"""Sheets of paper: each view asks a service for a PDF and hands it on."""

from __future__ import annotations

import datetime as dt

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from jobs.models import Job
from jobs.services.errors import Refused
from jobs.services.sheets.cast_sheet import cast_pdf
from jobs.services.sheets.customer_sheet import customer_pdf
from jobs.services.sheets.loads import jobs_by_number, jobs_of_day, load_days, load_pdf
from jobs.services.sheets.route_sheet import route_pdf
from jobs.services.sheets.tags import tags_pdf
from jobs.sheets.answer import asked_for, sheet
from shop.access import needs
from shop.http import ShopRequest
from shop.models import Shop


@needs("sheets.see")
@require_safe
def tags(request: ShopRequest) -> HttpResponse:
    def write(shop: Shop, paper: str) -> bytes:
        return tags_pdf(asked_for(request), shop, paper)

    return sheet(request, "form-tags", write)


@needs("sheets.see")
@require_safe
def route(request: ShopRequest) -> HttpResponse:
    def write(shop: Shop, paper: str) -> bytes:
        return route_pdf(asked_for(request), shop, paper)

    return sheet(request, "route", write)


@needs("sheets.see")
@require_safe
def cast(request: ShopRequest, batch_id: int) -> HttpResponse:
    def write(shop: Shop, paper: str) -> bytes:
        return cast_pdf(batch_id, shop, paper)

    return sheet(request, f"cast-{batch_id}", write)


@needs("customers.see")
@require_safe
def customer(request: ShopRequest, number: str) -> HttpResponse:
    job = _job(number)

    def write(shop: Shop, paper: str) -> bytes:
        return customer_pdf(job, shop, paper, timezone.localdate())

    return sheet(request, f"{job.number}-customer", write)


@needs("sheets.see")
@never_cache
@require_safe
def loads(request: ShopRequest) -> HttpResponse:
    days = load_days(request.shop, timezone.localdate())
    return render(request, "sheets/loads.html", {"door": "board", "days": days})


@needs("sheets.see")
@require_safe
def load(request: ShopRequest) -> HttpResponse:
    """Jobs by their numbers, else all of a day's."""

    def write(shop: Shop, paper: str) -> bytes:
        day = _day(request.GET.get("day", ""))
        numbers = ",".join(request.GET.getlist("jobs"))[:600]
        title = f"{day:%A} {day.day} {day:%B %Y}" if day else "Chosen jobs"
        if numbers.strip(", "):
            return load_pdf(title, jobs_by_number(numbers), shop, paper)
        if day is None:
            raise Refused("Say which day, like ?day=2026-04-10, or open this from the loads.")
        return load_pdf(title, jobs_of_day(day, shop), shop, paper)

    return sheet(request, f"load-{request.GET.get('day', '')[:10]}", write)


def _job(number: str) -> Job:
    known = number.isalnum() and len(number) <= 10
    found = Job.objects.select_related("customer").filter(number__iexact=number) if known else None
    job = found.first() if found is not None else None
    if job is None:
        raise Http404
    return job


def _day(text: str) -> dt.date | None:
    if not text:
        return None
    try:
        day = dt.date.fromisoformat(text)
    except ValueError as error:
        raise Refused(f"{text[:20]!r} is no day. Write it like 2026-04-10.") from error
    if not 2000 <= day.year < 2200:  # a day later must be one, too
        raise Refused(f"No load goes out in {day.year}. Look at the year.")
    return day
