"""One answer in three shapes: a whole page, a part to swap in, a word to a phone."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import redirect, render

from jobs.floor import wording
from jobs.floor.entries import Entry
from jobs.floor.forms import CastForm
from jobs.floor.lists import cast_of, entry_of, looker_for
from jobs.floor.pages import page_context
from jobs.models import Piece
from jobs.services.errors import AlreadyMarked, OutOfOrder, Refused, TooEarly
from shop.http import ShopRequest

PIECE_PAGE = "piece-page"


def is_kept(request: ShopRequest) -> bool:
    return request.headers.get("X-Kept") == "true"


def piece_done(request: ShopRequest, piece: Piece, said: str) -> HttpResponseBase:
    if is_kept(request):
        return JsonResponse({"state": "recorded", "message": said})
    if request.htmx:
        looker = looker_for(request.user, request.shop)
        return _piece_part(request, entry_of(looker, piece, said=said))
    messages.success(request, said)
    return redirect("piece", code=piece.code)


def piece_refused(
    request: ShopRequest, piece: Piece, form: Any, error: Refused | None, **forms: Any
) -> HttpResponseBase:
    """Whatever was typed comes back in its form, with what is wrong and what to do."""
    if isinstance(error, AlreadyMarked | OutOfOrder):
        forms = {}  # the form would be one for a step that is not the next any more
    entry = entry_of(looker_for(request.user, request.shop), piece, forms=forms)
    notice = wording.refusal(error, entry.step) if error else _form_words(form)
    if is_kept(request):
        return kept_refused(notice, error)
    entry = replace(entry, notice=notice)
    if request.htmx:
        return _piece_part(request, entry, status=422)
    return render(request, "floor/piece.html", page_context(entry, piece), status=422)


def _piece_part(request: ShopRequest, entry: Entry, status: int = 200) -> HttpResponse:
    if request.htmx.target == PIECE_PAGE:
        piece = Piece.objects.select_related("job", "room").get(pk=entry.piece.piece_id)
        return render(request, "floor/_piece.html", page_context(entry, piece), status=status)
    return render(request, "floor/_entry.html", {"entry": entry, "door": "floor"}, status=status)


def cast_done(request: ShopRequest, batch_id: int, said: str) -> HttpResponseBase:
    if is_kept(request):
        return JsonResponse({"state": "recorded", "message": said})
    if request.htmx:
        return _cast_part(request, batch_id, said=said)
    messages.success(request, said)
    return redirect("floor")


def cast_refused(
    request: ShopRequest, batch_id: int, form: Any, error: Refused | None
) -> HttpResponseBase:
    notice = wording.refusal(error) if error else _form_words(form)
    if is_kept(request):
        return kept_refused(notice, error)
    typed = form if isinstance(form, CastForm) else None
    return _cast_part(request, batch_id, status=422, notice=notice, form=typed)


def _cast_part(
    request: ShopRequest, batch_id: int, status: int = 200, form: Any = None, **words: str
) -> HttpResponseBase:
    cast = cast_of(looker_for(request.user, request.shop), batch_id, form=form)
    context = {"cast": cast, "door": "floor", "slot": f"batch-{batch_id}", **words}
    template = "floor/_cast.html" if request.htmx else "floor/cast.html"
    return render(request, template, context, status=status)


def kept_refused(
    notice: str, error: Refused | None = None, confirm: Mapping[str, str] | None = None
) -> JsonResponse:
    """What a phone is told of something it kept. asks : a reason would do; confirm : what it sends
    along when the person says that it is right all the same"""
    asks = isinstance(error, TooEarly) or bool(error and error.field == "reason")
    if error and error.field == "sure":
        confirm = {"sure": "on"}
    said = {"state": "refused", "message": notice, "asks": asks, "confirm": confirm}
    return JsonResponse(said, status=422)


def _form_words(form: Any) -> str:
    return " ".join(str(error) for errors in form.errors.values() for error in errors)


def attempt(work: Callable[[], Any]) -> tuple[Any, Refused | None]:
    try:
        return work(), None
    except Refused as error:
        return None, error
