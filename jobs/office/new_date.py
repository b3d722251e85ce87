"""A date for a new job: pieces and the day wished in, the day that can be said out."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.http import HttpResponse, QueryDict
from django.views.decorators.http import require_safe
from django.views.decorators.vary import vary_on_headers

from jobs.office import date_forms
from jobs.office.date_picture import pictures
from jobs.office.pages import show
from jobs.services import new_date as service
from jobs.services.asked import Asked, materials
from jobs.services.planned_shop import planned_shop
from shop.access import needs
from shop.http import ShopRequest
from shop.services.errors import Refused


@needs("office.see")
@vary_on_headers("HX-Request")
@require_safe
def new_date(request: ShopRequest) -> HttpResponse:
    known = materials()
    if known.missing:
        return show(request, "office/date.html", {"missing": known.missing})
    context, status = asking(request, known)
    part = request.htmx and not request.htmx.history_restore_request
    return show(request, "office/_date.html" if part else "office/date.html", context, status)


def asking(request: ShopRequest, known: Any) -> tuple[dict[str, Any], int]:
    data, shop = request.GET, request.shop
    if not date_forms.line_numbers(data):
        return {"asking": date_forms.blank(shop, known)}, 200
    if "more" in data or "drop" in data:
        changed = (
            date_forms.with_a_line_more(data)
            if "more" in data
            else date_forms.without_line(data, data["drop"])
        )
        return {"asking": date_forms.unjudged(date_forms.typed(changed, shop, known))}, 200
    typed = date_forms.typed(data, shop, known)
    if not typed.is_valid():
        return {"asking": typed, "wrong": True}, 422
    return answered(request, typed, typed.asked)


def answered(
    request: ShopRequest, typed: date_forms.Asking, asked: Asked
) -> tuple[dict[str, Any], int]:
    try:
        answer = service.answer(asked)
    except Refused as refusal:
        typed.wish.refuse(refusal)
        return {"asking": typed, "wrong": True}, 422
    later = bool(request.htmx)
    ways = () if later else service.other_ways(asked)
    return {
        "asking": typed,
        "asked": asked,
        "answer": answer,
        "pictures": pictures(answer, request.shop),
        "carry": carry(request.GET),
        "ways": ways,
        "ways_later": later,
        "query": request.GET.urlencode(),
    }, 200


@needs("office.see")
@require_safe
def date_ready(request: ShopRequest) -> HttpResponse:
    """Reads the shop while the pieces are being typed, so that the answer does not wait for it.
    Asked again and again: the shop changes meanwhile, and another web process may answer."""
    planned_shop()
    return HttpResponse(status=204)


@needs("office.see")
@require_safe
def date_ways(request: ShopRequest) -> HttpResponse:
    """The other ways of the same question, which take a moment longer."""
    known = materials()
    typed = None if known.missing else date_forms.typed(request.GET, request.shop, known)
    if typed is None or not typed.lines or not typed.is_valid():
        return show(request, "office/_date_ways.html", {"ways": ()}, 422)
    try:
        ways = service.other_ways(typed.asked)
    except Refused:  # said with the answer already
        ways = ()
    context = {"ways": ways, "carry": carry(request.GET), "asked": typed.asked}
    return show(request, "office/_date_ways.html", context)


def carry(data: QueryDict) -> str:
    """The lines, as a new job's address takes them."""
    return urlencode([*date_forms.carried(data)])
