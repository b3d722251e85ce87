"""Setting, moving and calling off casts and installs, with their effect shown before saving."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from jobs.board.forms import CastForm, InstallForm, PlanForm, next_shift, outside_hours
from jobs.board.week import week_of
from jobs.board.words import clock_words
from jobs.models import Batch, Job
from jobs.services import casting
from jobs.services.casting import Effect, cast_effect, install_effect
from jobs.services.errors import Conflict, Refused
from jobs.services.evaporation import CastAir, cast_airs
from jobs.services.readiness import open_outlooks
from shop.access import needs
from shop.http import ShopRequest
from shop.localtime import settle
from shop.models import Room

GET_OR_POST = ["GET", "HEAD", "POST"]


@needs("cast.plan")
@never_cache
@require_http_methods(GET_OR_POST)
def cast_new(request: ShopRequest) -> HttpResponse:
    return _cast(request, None)


@needs("cast.plan")
@never_cache
@require_http_methods(GET_OR_POST)
def cast(request: ShopRequest, batch_id: int) -> HttpResponse:
    batch = Batch.objects.filter(pk=batch_id).prefetch_related("pieces").first()
    if batch is None and request.method != "POST":
        messages.warning(request, "That cast was called off or made meanwhile.")
        return redirect("board")
    return _cast(request, batch, gone=batch is None)


def _cast(request: ShopRequest, batch: Batch | None, *, gone: bool = False) -> HttpResponse:
    form = _cast_form(request, batch)
    if request.method != "POST":
        return _cast_page(request, form, batch)
    if not form.is_valid():
        return _cast_page(request, form, batch, status=422)
    if "show" in request.POST:
        return _cast_page(request, form, batch, effects=_cast_effects(form))
    if gone:
        form.add_error(None, "This cast was called off meanwhile. Save to set it as a new one.")
        return _cast_page(request, form, None, status=409)
    return _save_cast(request, form, batch)


def _save_cast(request: ShopRequest, form: CastForm, batch: Batch | None) -> HttpResponse:
    values = form.cleaned_data
    try:
        saved = casting.plan_cast(
            piece_ids=values["pieces"],
            room_id=int(values["room"]),
            planned_for=values["planned_for"],
            note=values["note"],
            by=request.user,
            batch_id=batch.pk if batch else None,
            version=(values["version"] or 0) if batch else None,
        )
    except Conflict as conflict:
        form.stand_against(conflict)
        return _cast_page(request, form, batch, effects=_cast_effects(form), status=409)
    except Refused as error:
        form.refuse(error)
        return _cast_page(request, form, batch, status=422)
    codes = form.spoken("pieces")
    messages.success(request, f"Cast set for {clock_words(saved.planned_for)}: {codes}.")
    _warn(request, form)
    return _to_week(request, form)


@needs("cast.plan")
@require_POST
def cast_effect_shown(request: ShopRequest) -> HttpResponse:
    form = _cast_form(request, None)
    effects = _cast_effects(form) if form.is_valid() else []
    return _effect_part(request, form, effects)


@needs("cast.plan")
@require_POST
def cast_off(request: ShopRequest, batch_id: int) -> HttpResponse:
    try:
        pieces = casting.call_off_cast(
            batch_id=batch_id, version=_version(request), by=request.user
        )
    except Refused as error:
        messages.error(request, error.message)
        return redirect("cast", batch_id=batch_id)
    codes = ", ".join(piece.code for piece in pieces)
    messages.success(request, f"Cast called off. Waiting for a cast again: {codes}.")
    return redirect("board")


@needs("install.plan")
@never_cache
@require_http_methods(GET_OR_POST)
def install(request: ShopRequest, number: str) -> HttpResponse:
    job = _job(number)
    form = _install_form(request, job)
    if request.method != "POST":
        return _install_page(request, form, job)
    if not form.is_valid():
        return _install_page(request, form, job, status=422)
    if "show" in request.POST:
        return _install_page(request, form, job, effects=_install_effects(form, job))
    return _save_install(request, form, job)


def _save_install(request: ShopRequest, form: InstallForm, job: Job) -> HttpResponse:
    values = form.cleaned_data
    try:
        casting.set_install(
            job_id=job.pk,
            starts_at=values["starts_at"],
            hours=values["hours"],
            people=values["people"],
            note=values["note"],
            by=request.user,
            version=values["version"] or None,
        )
    except Conflict as conflict:
        form.stand_against(conflict)
        effects = _install_effects(form, job)
        return _install_page(request, form, job, effects=effects, status=409)
    except Refused as error:
        form.refuse(error)
        return _install_page(request, form, job, status=422)
    messages.success(request, f"Install of {job.number} set for {clock_words(form.moment)}.")
    _warn(request, form)
    return _to_week(request, form)


@needs("install.plan")
@require_POST
def install_effect_shown(request: ShopRequest, number: str) -> HttpResponse:
    job = _job(number)
    form = _install_form(request, job)
    effects = _install_effects(form, job) if form.is_valid() else []
    return _effect_part(request, form, effects)


@needs("install.plan")
@require_POST
def install_off(request: ShopRequest, number: str) -> HttpResponse:
    job = _job(number)
    try:
        casting.call_off_install(job_id=job.pk, version=_version(request), by=request.user)
    except Refused as error:
        messages.error(request, error.message)
        return redirect("install", number=number)
    messages.success(request, f"Install of {job.number} called off.")
    return redirect("board-job", number=number)


def _job(number: str) -> Job:
    if not number.isalnum():
        raise Http404
    return get_object_or_404(Job.objects.select_related("install"), number=number)


def _version(request: ShopRequest) -> int:
    """Where none was sent 0, which nothing stored has: nobody changes what they did not see."""
    text = request.POST.get("version", "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else 0


def _warn(request: ShopRequest, form: PlanForm) -> None:
    if warning := outside_hours(form):
        messages.warning(request, warning.split(". ", maxsplit=1)[0] + ".")


def _to_week(request: ShopRequest, form: PlanForm) -> HttpResponseRedirect:
    week = week_of(form.moment, request.shop.zone).written
    return HttpResponseRedirect(f"{reverse('board')}?week={week}")


def _cast_form(request: ShopRequest, batch: Batch | None) -> CastForm:
    waiting = casting.waiting_pieces()
    return CastForm(
        request.POST if request.method == "POST" else None,
        shop=request.shop,
        waiting=waiting,
        rooms=Room.objects.filter(in_use=True),
        initial=_stored(batch) if batch else _proposed(request, waiting),
    )


def _stored(batch: Batch) -> dict[str, Any]:
    return {
        "version": batch.version,
        "pieces": [piece.pk for piece in batch.pieces.all()],
        "room": batch.room_id,
        "planned_for": batch.planned_for,
        "note": batch.note,
    }


def _proposed(request: ShopRequest, waiting: list[Any]) -> dict[str, Any]:
    asked = set(request.GET.getlist("pieces"))
    chosen = [piece for piece in waiting if str(piece.pk) in asked]
    return {
        "pieces": [piece.pk for piece in chosen],
        "room": chosen[0].room_id if chosen else None,
        "planned_for": next_shift(request.shop, _asked_day(request) or timezone.now()),
    }


def _asked_day(request: ShopRequest) -> dt.datetime | None:
    """The start of a day to come that was asked for, as a proposal of casts does."""
    try:
        day = dt.date.fromisoformat(request.GET.get("day", ""))
    except ValueError:
        return None
    if not dt.timedelta(0) < day - timezone.localdate() < dt.timedelta(days=366):
        return None
    return settle(dt.datetime.combine(day, dt.time()), request.shop.zone)


def _cast_effects(form: CastForm) -> list[Effect]:
    values = form.cleaned_data
    return cast_effect(
        piece_ids=values["pieces"],
        room_id=int(values["room"]),
        planned_for=values["planned_for"],
    )


def _install_form(request: ShopRequest, job: Job) -> InstallForm:
    stored = getattr(job, "install", None)
    names = ("version", "starts_at", "hours", "people", "note")
    proposed = {"starts_at": next_shift(request.shop, timezone.now())}
    return InstallForm(
        request.POST if request.method == "POST" else None,
        shop=request.shop,
        initial={name: getattr(stored, name) for name in names} if stored else proposed,
    )


def _install_effects(form: InstallForm, job: Job) -> list[Effect]:
    return [install_effect(job_id=job.pk, starts_at=form.moment)]


def _cast_page(
    request: ShopRequest,
    form: CastForm,
    batch: Batch | None,
    *,
    effects: list[Effect] | None = None,
    status: int = 200,
) -> HttpResponse:
    latest = {p.piece_id: p.latest_cast for job in open_outlooks() for p in job.pieces}
    context = {
        "door": "board",
        "form": form,
        "batch": batch,
        "groups": form.by_mix(latest, batch.pk if batch else None),
        "action": reverse("cast", args=[batch.pk]) if batch else reverse("cast-new"),
    }
    return render(request, "board/cast.html", context | _shown(form, effects), status=status)


def _install_page(
    request: ShopRequest,
    form: InstallForm,
    job: Job,
    *,
    effects: list[Effect] | None = None,
    status: int = 200,
) -> HttpResponse:
    stored = getattr(job, "install", None)
    context = {"door": "board", "form": form, "job": job, "install": stored}
    return render(request, "board/install.html", context | _shown(form, effects), status=status)


def _shown(form: PlanForm, effects: list[Effect] | None) -> dict[str, Any]:
    refusal = _refusal(form) if effects else ""
    warning = outside_hours(form) if effects and not refusal else ""
    return {"effects": effects, "warning": warning, "refusal": refusal, "air": _cast_air(form)}


def _cast_air(form: PlanForm) -> CastAir | None:
    """What the room's air will take from the fresh pieces, where room and time are chosen."""
    if not isinstance(form, CastForm) or not form.is_bound or form.errors:
        return None
    room, at = int(form.cleaned_data["room"]), form.moment
    return cast_airs({0: (room, at)}, timezone.now(), form.shop)[0]


def _refusal(form: PlanForm) -> str:
    """What saving would say against it, told while it can still be changed."""
    try:
        if isinstance(form, CastForm):
            casting.refuse_bad_cast(form.pieces_chosen, form.moment)
        else:
            casting.refuse_bad_install(form.moment)
    except Refused as error:
        return error.message
    return ""


def _effect_part(request: ShopRequest, form: PlanForm, effects: list[Effect]) -> HttpResponse:
    context = {"form": form} | _shown(form, effects)
    return render(request, "board/effect.html", context)
