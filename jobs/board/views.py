"""The week, one job opened, and the light question whether an open page is behind."""

from __future__ import annotations

import datetime as dt

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe
from django.views.decorators.vary import vary_on_headers

from jobs.board.detail import detail_of
from jobs.board.filters import read_filters
from jobs.board.sheet import sheet
from jobs.services.readiness import outlook_of
from shop.access import needs
from shop.http import ShopRequest

# A page that stays open is drawn anew this often, so that `now` moves and Monday comes.
REDRAWN_AFTER = dt.timedelta(minutes=5)


@needs("board.see")
@never_cache
@vary_on_headers("HX-Request")
@require_safe
def board(request: ShopRequest) -> HttpResponse:
    filters = read_filters(request.GET)
    context = {"door": "board", "sheet": sheet(request.shop, filters, timezone.now())}
    part = request.htmx and not request.htmx.history_restore_request
    return render(request, "board/week.html" if part else "board/board.html", context)


@needs("board.see")
@never_cache
@require_safe
def pulse(request: ShopRequest) -> HttpResponse:
    """Nothing, or the word that the page should be drawn anew. No query beyond the shop's row."""
    response = HttpResponse(status=204)
    if _behind(request):
        response["HX-Trigger"] = "board-behind"
    return response


def _behind(request: ShopRequest) -> bool:
    edition, drawn = (_number(request.GET.get(name, "")) for name in ("edition", "drawn"))
    age = timezone.now().timestamp() - drawn
    return edition != request.shop.edition or age > REDRAWN_AFTER.total_seconds()


def _number(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 16 else 0


@needs("board.see")
@never_cache
@require_safe
def job(request: ShopRequest, number: str) -> HttpResponse:
    outlook = outlook_of(number) if number.isalnum() else None
    if outlook is None:
        raise Http404
    context = {"door": "board", "detail": detail_of(outlook), "now": timezone.now()}
    return render(request, "board/job.html", context)
