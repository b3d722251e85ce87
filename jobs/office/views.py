"""The office's page: find a job in seconds, and see whose date must be told again."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from jobs.models import Job
from shop.access import needs
from shop.http import ShopRequest


@needs("office.see")
@require_safe
def office(request: ShopRequest) -> HttpResponse:
    return render(request, "office/office.html", {"door": "office"})


@needs("office.see")
@require_safe
def job(request: ShopRequest, number: str) -> HttpResponse:
    found = get_object_or_404(Job, number=number)
    return render(request, "office/job.html", {"door": "office", "job": found})
