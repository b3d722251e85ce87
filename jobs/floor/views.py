from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from shop.access import needs
from shop.http import ShopRequest


@needs("floor.see")
@require_safe
def floor(request: ShopRequest) -> HttpResponse:
    return render(request, "floor/floor.html", {"door": "floor"})


@needs("floor.see")
@require_safe
def piece(request: ShopRequest, code: str) -> HttpResponse:
    return render(request, "floor/piece.html", {"door": "floor", "code": code})
