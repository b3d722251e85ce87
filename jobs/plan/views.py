"""The plan: asked for, looked at while it is searched, taken or left, pinned and undone."""

from __future__ import annotations

import datetime as dt

from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from jobs.models import PlanRun, RunState
from jobs.plan.pages import base, proposed, sheet_of, undone_words
from jobs.plan.progress import progress_of
from jobs.services import plan_before, plan_pins, plan_runs, plan_taking
from jobs.services.errors import Refused
from jobs.services.plan_also import also_of
from jobs.services.plan_standing import standing
from shop.access import needs
from shop.http import ShopRequest


@needs("plan.see")
@never_cache
@require_safe
def plan(request: ShopRequest) -> HttpResponse:
    now = timezone.now()
    shown = standing(request.shop, now)
    run = plan_runs.latest(now=now)
    accepted = plan_before.newest()
    context = base(
        request,
        sheet=sheet_of(shown, request.shop, request.GET.get("week", ""), now) if shown else None,
        progress=progress_of(run, now) if run else None,
        waiting=plan_runs.proposal(),
        accepted=accepted,
        also=also_of(accepted.before, timezone.localdate(now)) if accepted else [],
    )
    return render(request, "plan/plan.html", context)


@needs("plan.see")
@never_cache
@require_safe
def days(request: ShopRequest) -> HttpResponse:
    """For the wall: who does what, a day under the other."""
    now = timezone.now()
    shown = standing(request.shop, now)
    week = request.GET.get("week", "")
    sheet = sheet_of(shown, request.shop, week, now) if shown else None
    return render(request, "plan/days.html", base(request, sheet=sheet, now=now))


@needs("plan.make")
@never_cache
@require_safe
def run(request: ShopRequest) -> HttpResponse:
    """The box that tells how the run goes; once it is through, the way to what it proposes."""
    now = timezone.now()
    found = plan_runs.latest(now=now)
    if found is not None and found.state == RunState.READY and request.htmx:
        response = HttpResponse(status=204)
        response["HX-Redirect"] = reverse("plan-proposal", args=[found.pk])
        return response
    context = base(request, progress=progress_of(found, now) if found else None)
    return render(request, "plan/run.html", context)


@needs("plan.make")
@require_POST
def ask(request: ShopRequest) -> HttpResponse:
    plan_runs.ask(request.user)
    return redirect("plan")


@needs("plan.make")
@require_POST
def stop(request: ShopRequest, plan_id: int) -> HttpResponse:
    try:
        plan_runs.stop(plan_id)
    except Refused as error:
        messages.error(request, error.message)
    return redirect("plan")


@needs("plan.make")
@never_cache
@require_safe
def proposal(request: ShopRequest, plan_id: int) -> HttpResponse:
    found = _ready(plan_id)
    if found is None:
        messages.warning(request, "That proposal was taken or put aside. This is how it stands.")
        return redirect("plan")
    return _proposal(request, found)


def _ready(plan_id: int) -> PlanRun | None:
    """A plan of the whole shop that waits for a yes or no."""
    waiting = PlanRun.objects.filter(pk=plan_id, state=RunState.READY, about=None)
    found = waiting.select_related("asked_by").first()
    return found if found and found.found else None


def _proposal(
    request: ShopRequest, found: PlanRun, trouble: str = "", status: int = 200
) -> HttpResponse:
    now = timezone.now()
    shown = proposed(found)
    assert found.found is not None
    taken = set(found.found.get("taken", []))
    context = base(
        request,
        run=found,
        progress=progress_of(found, now),
        sheet=sheet_of(shown, request.shop, request.GET.get("week", ""), now),
        moving=[job for job in shown.moving if job.number not in taken],
        taken=sorted(taken),
        ticked=set(request.POST.getlist("jobs")),
        installs="installs" in request.POST,
        stale=found.edition != request.shop.edition,
        trouble=trouble,
    )
    return render(request, "plan/proposal.html", context, status=status)


@needs("plan.make")
@require_POST
def take(request: ShopRequest, plan_id: int) -> HttpResponse:
    chosen = None if request.POST.get("take") == "all" else request.POST.getlist("jobs")
    try:
        accepted = plan_taking.take(
            run_id=plan_id, by=request.user, jobs=chosen, installs="installs" in request.POST
        )
    except Refused as error:
        found = _ready(plan_id)
        if found is None:
            messages.warning(request, error.message)
            return redirect("plan")
        return _proposal(request, found, error.message, status=422)
    messages.success(request, f"Taken: {accepted.words[0].lower()}{accepted.words[1:]}.")
    return redirect("plan-proposal", plan_id) if _ready(plan_id) else redirect("plan")


@needs("plan.make")
@require_POST
def leave(request: ShopRequest, plan_id: int) -> HttpResponse:
    try:
        plan_runs.leave(plan_id)
        messages.success(request, "The proposal is put aside. Nothing was changed.")
    except Refused as error:
        messages.warning(request, error.message)
    return redirect("plan")


@needs("plan.make")
@require_POST
def undo(request: ShopRequest, accepted_id: int) -> HttpResponse:
    try:
        undone = plan_before.undo(accepted_id=accepted_id, by=request.user)
        messages.success(request, undone_words(undone))
    except Refused as error:
        messages.error(request, error.message)
    return redirect("plan")


@needs("plan.make")
@require_POST
def pin(request: ShopRequest) -> HttpResponse:
    pinned = request.POST.get("pinned") == "yes"
    code, week = request.POST.get("code", ""), request.POST.get("week", "")
    try:
        rows = plan_pins.pin(
            code=code,
            step_key=request.POST.get("step", ""),
            seen=_moment(request.POST.get("starts", "")),
            pinned=pinned,
            by=request.user,
        )
        codes = f"{rows[0].name} of {code}"
        more = len(rows) - 1
        codes += f" and {more} that go{'es' if more == 1 else ''} with it" if more else ""
        said = "stays where it is" if pinned else "may move again"
        messages.success(
            request, f"{codes[0].upper()}{codes[1:]} {said} when the plan is made anew."
        )
    except Refused as error:
        messages.error(request, error.message)
    return HttpResponseRedirect(f"{reverse('plan')}?week={week}" if week else reverse("plan"))


def _moment(text: str) -> dt.datetime:
    try:
        moment = dt.datetime.fromisoformat(text)
    except ValueError:
        return dt.datetime.min.replace(tzinfo=dt.UTC)
    return moment if moment.tzinfo else moment.replace(tzinfo=dt.UTC)
