"""How a PDF is answered: looked at, or a page first that says which letters would be boxes."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection

from django.http import HttpResponse
from django.shortcuts import render

from shop.boxes import boxes_heard
from shop.http import ShopRequest
from shop.services.errors import Refused

ANYWAY = "boxes"  # in the address: print it with boxes for letters


def printed(request: ShopRequest, name: str, write: Callable[[], bytes]) -> HttpResponse:
    """Where a letter would become a box that is said first; it is printed if asked again."""
    try:
        with boxes_heard() as boxes:
            pdf = write()
    except Refused as refusal:
        context = {"door": "board", "message": refusal.message}
        return render(request, "sheets/refused.html", context, status=422)
    if boxes and request.method in {"GET", "HEAD"} and ANYWAY not in request.GET:
        return _asked_first(request, boxes)
    return pdf_answer(pdf, name)


def _asked_first(request: ShopRequest, boxes: Collection[str]) -> HttpResponse:
    asked = request.GET.copy()
    asked[ANYWAY] = "yes"
    context = {
        "door": "board",
        "letters": " ".join(list(boxes)[:40]),
        "anyway": f"{request.path}?{asked.urlencode()}",
    }
    return render(request, "sheets/boxes.html", context, status=422)


def pdf_answer(pdf: bytes, name: str) -> HttpResponse:
    response = HttpResponse(pdf, content_type="application/pdf")
    plain = re.sub(r"[^0-9A-Za-z-]+", "-", name).strip("-")[:60]
    response["Content-Disposition"] = f'inline; filename="{plain}.pdf"'
    response["Cache-Control"] = "private, no-store"
    return response
