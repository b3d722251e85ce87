"""What the crew sees: the lists of the day, and one piece."""

from __future__ import annotations

from django.db.models import Q
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from jobs.floor.lists import (
    FloorLists,
    Narrowing,
    entry_of,
    floor_lists,
    looker_for,
    squeezed,
    still_holds,
)
from jobs.floor.pages import page_context, piece_or_404
from jobs.models import Piece
from shop.access import needs
from shop.http import ShopRequest
from shop.models import Room


@needs("floor.see")
@require_safe
def floor(request: ShopRequest) -> HttpResponseBase:
    if request.htmx and still_holds(request.GET.get("have", ""), request.shop, timezone.now()):
        return HttpResponse(status=204)
    narrowing = read_narrowing(request)
    if not request.htmx and (code := exact_code(narrowing.text)):
        return redirect("piece", code=code)
    lists = floor_lists(looker_for(request.user, request.shop), narrowing)
    context = {"lists": lists, "narrowing": narrowing, "door": "floor"}
    if request.htmx:
        return render(request, "floor/_list.html", context)
    return render(request, "floor/floor.html", context | page_extras(narrowing, lists))


def page_extras(narrowing: Narrowing, lists: FloorLists) -> dict[str, object]:
    return {
        "rooms": Room.objects.filter(in_use=True),
        "nothing_found": bool(narrowing.text) and lists.empty and not lists.unplanned,
    }


def read_narrowing(request: ShopRequest) -> Narrowing:
    room = request.GET.get("room", "")
    return Narrowing(
        room=int(room) if room.isdecimal() and len(room) < 10 else None,
        text=request.GET.get("code", "").strip()[:20],
    )


def exact_code(text: str) -> str | None:
    """The piece whose code was typed, with or without its dash, in any case."""
    wanted = squeezed(text)
    likely = Q()
    for letters in (1, 2):
        likely |= Q(code__iexact=f"{wanted[:-letters]}-{wanted[-letters:]}")
    return Piece.objects.filter(likely).values_list("code", flat=True).first()


@needs("floor.see")
@require_safe
def piece(request: ShopRequest, code: str) -> HttpResponseBase:
    found = piece_or_404(code)
    if found.code != code:
        return redirect("piece", code=found.code)
    entry = entry_of(looker_for(request.user, request.shop), found)
    template = "floor/_piece.html" if request.htmx else "floor/piece.html"
    return render(request, template, page_context(entry, found))
