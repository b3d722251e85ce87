"""What a tap does: mark, take back, hold, release, cast again. Each is one call of a service."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from functools import partial

from django.db import transaction
from django.http import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from jobs.floor import wording
from jobs.floor.answers import attempt, cast_done, cast_refused, piece_done, piece_refused
from jobs.floor.forms import CastForm, KeyedForm, MarkForm, ReasonForm
from jobs.floor.pages import piece_or_404
from jobs.models import Mark
from jobs.services import marks
from jobs.services.standing import standing_of
from shop.access import needs
from shop.http import ShopRequest
from shop.models import Person
from shop.templatetags.measures import moment

ON_PIECE: dict[str, Callable[..., Mark]] = {
    "hold": marks.hold,
    "release": marks.release,
    "recast": marks.recast,
}


@needs("floor.mark")
@require_POST
def mark(request: ShopRequest, code: str) -> HttpResponseBase:
    piece = piece_or_404(code)
    form = MarkForm(request.POST, shop=request.shop, auto_id=f"{piece.code}-%s")
    if not form.is_valid():
        return piece_refused(request, piece, form, None, mark=form)
    made, error = attempt(
        partial(
            marks.mark_done,
            piece_id=piece.pk,
            step_key=form.cleaned_data["step_key"],
            by=request.user,
            client_key=form.cleaned_data["client_key"],
            happened_at=form.moment,
            reason=form.cleaned_data["reason"],
            outcome=form.cleaned_data["outcome"],
        )
    )
    if error:
        return piece_refused(request, piece, form, error, mark=form)
    return piece_done(request, piece, wording.recorded(piece.code, made))


@needs("floor.mark")
@require_POST
def strike(request: ShopRequest, mark_id: int) -> HttpResponseBase:
    struck = get_object_or_404(Mark.objects.select_related("piece"), pk=mark_id)
    piece = piece_or_404(struck.piece.code)
    form = ReasonForm(request.POST, shop=request.shop, auto_id=f"strike-{mark_id}-%s")
    if not form.is_valid():
        return piece_refused(request, piece, form, None, strike=form)
    _made, error = attempt(
        partial(
            marks.strike,
            mark_id=mark_id,
            by=request.user,
            client_key=form.cleaned_data["client_key"],
            reason=form.cleaned_data["reason"],
        )
    )
    if error:
        return piece_refused(request, piece, form, error, strike=form)
    return piece_done(request, piece, wording.taken_back(piece.code, struck))


@needs("floor.mark")
@require_POST
def hold(request: ShopRequest, code: str) -> HttpResponseBase:
    said = _("%(code)s is on hold.") % {"code": code}
    return _with_reason(request, code, "hold", said)


@needs("floor.mark")
@require_POST
def release(request: ShopRequest, code: str) -> HttpResponseBase:
    said = _("%(code)s is released.") % {"code": code}
    return _with_reason(request, code, "release", said)


@needs("floor.mark")
@require_POST
def recast(request: ShopRequest, code: str) -> HttpResponseBase:
    said = _("%(code)s is to be cast again. It waits for a casting time.") % {"code": code}
    return _with_reason(request, code, "recast", said)


def _with_reason(request: ShopRequest, code: str, action: str, said: str) -> HttpResponseBase:
    piece = piece_or_404(code)
    form = ReasonForm(request.POST, shop=request.shop, auto_id=f"{piece.code}-{action}-%s")
    bound = {action: form}
    if not form.is_valid():
        return piece_refused(request, piece, form, None, **bound)
    _made, error = attempt(
        partial(
            ON_PIECE[action],
            piece_id=piece.pk,
            by=request.user,
            reason=form.cleaned_data["reason"],
            client_key=form.cleaned_data["client_key"],
        )
    )
    if error:
        return piece_refused(request, piece, form, error, **bound)
    return piece_done(request, piece, said)


@needs("floor.mark")
@require_POST
def mark_cast(request: ShopRequest, batch_id: int) -> HttpResponseBase:
    form = CastForm(request.POST, shop=request.shop, auto_id=f"batch-{batch_id}-%s")
    if not form.is_valid():
        return cast_refused(request, batch_id, form, None)
    made, error = attempt(
        partial(
            marks.mark_batch_cast,
            batch_id=batch_id,
            by=request.user,
            client_key=form.cleaned_data["client_key"],
            water_in=form.moment,
            reason=form.cleaned_data["reason"],
        )
    )
    if error:
        return cast_refused(request, batch_id, form, error)
    said = _("Recorded: %(count)s cast, water in %(when)s.")
    return cast_done(
        request, batch_id, said % {"count": len(made), "when": moment(made[0].happened_at)}
    )


@needs("floor.mark")
@require_POST
def take_back_cast(request: ShopRequest, batch_id: int) -> HttpResponseBase:
    form = KeyedForm(request.POST, shop=request.shop)
    if not form.is_valid():
        return cast_refused(request, batch_id, form, None)
    key = form.cleaned_data["client_key"]
    count, error = attempt(partial(strike_cast, batch_id, request.user, key))
    if error:
        return cast_refused(request, batch_id, form, error)
    return cast_done(request, batch_id, _("Taken back: %(count)s cast.") % {"count": count})


@transaction.atomic
def strike_cast(batch_id: int, by: Person, client_key: uuid.UUID) -> int:
    """All of one's own cast marks of this batch that still count, or none of them."""
    cast = Mark.objects.filter(batch_id=batch_id, kind=Mark.Kind.DONE).select_related("piece")
    keys = {mark.pk: uuid.uuid5(client_key, str(mark.pk)) for mark in cast}
    known = Mark.objects.filter(client_key__in=keys.values()).count()
    if known:
        return known
    counting = [mark for mark in cast if _counts(mark)]
    for mark in counting:
        marks.strike(mark_id=mark.pk, by=by, client_key=keys[mark.pk])
    return len(counting)


def _counts(mark: Mark) -> bool:
    return mark in standing_of(mark.piece.marks.all()).done.values()
