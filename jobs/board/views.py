from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from jobs.services.readiness import outlook_of
from shop.access import needs
from shop.http import ShopRequest


@needs("board.see")
@require_safe
def board(request: ShopRequest) -> HttpResponse:
    return render(request, "board/board.html", {"door": "board"})


@needs("board.see")
@require_safe
def job(request: ShopRequest, number: str) -> HttpResponse:
    outlook = outlook_of(number)
    if outlook is None:
        raise Http404
    return render(request, "board/job.html", {"door": "board", "job": outlook})
