"""What would make a short promise hold: asked for, watched, and one of it taken."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST, require_safe

from jobs.models import Job
from jobs.office import rescue_words
from jobs.office.pages import job_or_404, press, show
from jobs.services import plan_runs, rescue_taking, rescues
from jobs.services.facts import promise_moment
from jobs.services.finding import rows_of
from shop.access import needs
from shop.http import ShopRequest
from shop.services.errors import Refused


@needs("office.see")
@require_safe
def rescue(request: ShopRequest, number: str) -> HttpResponse:
    job = job_or_404(number)
    return show(request, "office/rescue.html", context_of(request, job))


@needs("office.see")
@require_safe
def state(request: ShopRequest, number: str) -> HttpResponse:
    job = job_or_404(number)
    return show(request, "office/_rescue.html", context_of(request, job))


def context_of(request: ShopRequest, job: Job) -> dict[str, Any]:
    run = plan_runs.latest(job.pk)
    found = rescues.found_of(run) if run else None
    return {
        "job": job,
        "row": next(iter(rows_of([job.pk])), None),
        "open": not (job.closed_at or job.called_off),
        "promised": promise_moment(job, request.shop),
        "run": run,
        "rescue": rescue_words.shown(found, job, request.user) if found else None,
        "looking": bool(run and run.state in plan_runs.OPEN),
        "trouble": rescues.trouble(run) if run else "",
        "stale": bool(run and found and rescues.is_stale(run, request.shop)),
    }


@needs("office.see")
@require_POST
def look(request: ShopRequest, number: str) -> HttpResponse:
    job = job_or_404(number)
    try:
        rescues.look(job_id=job.pk, by=request.user)
    except Refused as refusal:
        messages.error(request, refusal.message)
    return redirect("rescue", number=job.number)


@needs("office.see")
@require_POST
def stop(request: ShopRequest, number: str) -> HttpResponse:
    job = job_or_404(number)
    run = plan_runs.latest(job.pk)
    if run and run.state in plan_runs.OPEN:
        plan_runs.stop(run.pk)
    return redirect("rescue", number=job.number)


@needs("office.see")
@require_POST
def take(request: ShopRequest, number: str) -> HttpResponse:
    job = job_or_404(number)
    run_id = request.POST.get("run", "")

    def action() -> str:
        return rescue_taking.take(
            job_id=job.pk,
            run_id=int(run_id) if run_id.isascii() and run_id.isdigit() else 0,
            key=request.POST.get("key", ""),
            by=request.user,
        )

    return press(request, action, to=("job", job.number), refused=("rescue", job.number))
