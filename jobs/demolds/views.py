"""How a mix's pieces came out of their forms, and from which age that lets them be demolded."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from jobs.demolds.page import KindPart
from jobs.models import PieceKind, TrustedAge
from jobs.services import trusted_ages
from jobs.services.errors import Refused
from shop import measures
from shop.access import needs
from shop.cautions import EARLY_DEMOLD
from shop.http import ShopRequest
from shop.models import Mix


@needs("board.see")
@never_cache
@require_safe
def demolds(request: ShopRequest, mix_id: int) -> HttpResponse:
    mix = get_object_or_404(Mix, pk=mix_id)
    kinds = trusted_ages.kinds_of(mix, request.shop)
    context = {
        "door": "board",
        "mix": mix,
        "kinds": [KindPart(kind, request.shop) for kind in kinds],
        "caution": EARLY_DEMOLD,
    }
    return render(request, "demolds/page.html", context)


@needs("setup.change")
@require_POST
def yes(request: ShopRequest, mix_id: int) -> HttpResponse:
    def said(row: TrustedAge) -> str:
        at = measures.warmth(request.shop)
        return f"{row.hours:g} h at {at} is in force. Dates that rest on it are reckoned anew."

    return _decide(request, mix_id, trusted_ages.say_yes, said)


@needs("setup.change")
@require_POST
def back(request: ShopRequest, mix_id: int) -> HttpResponse:
    def said(_row: TrustedAge) -> str:
        return "The route's own gate is in force again. Dates that rest on it are reckoned anew."

    return _decide(request, mix_id, trusted_ages.take_back, said)


def _decide(
    request: ShopRequest,
    mix_id: int,
    decide: Callable[..., TrustedAge],
    said: Callable[[TrustedAge], str],
) -> HttpResponse:
    mix = get_object_or_404(Mix, pk=mix_id)
    try:
        row = decide(mix_id=mix.pk, shop=request.shop, by=request.user, **_what_was_seen(request))
        messages.success(request, said(row))
    except Refused as refusal:
        messages.error(request, refusal.message)
    return redirect("mix-demolds", mix.pk)


def _what_was_seen(request: ShopRequest) -> dict[str, Any]:
    kind = request.POST.get("kind", "")
    return {
        "route_id": _number(request, "route"),
        "kind": kind if kind in PieceKind.values else "",
        "version": _number(request, "version"),
        "basis": request.POST.get("basis", ""),
    }


def _number(request: ShopRequest, name: str) -> int:
    text = request.POST.get(name, "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else 0
