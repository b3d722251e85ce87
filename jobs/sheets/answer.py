"""How every sheet is answered: a PDF to look at, or a page that says why there is none."""

from __future__ import annotations

import re
from collections.abc import Callable

from django.http import HttpResponse
from django.shortcuts import render

from jobs.services.errors import Refused
from jobs.services.sheets.chosen import Chosen, chosen
from jobs.services.sheets.paper import paper_of
from shop.http import ShopRequest
from shop.models import Shop

Write = Callable[[Shop, str], bytes]  # the shop and the paper


def sheet(request: ShopRequest, name: str, write: Write) -> HttpResponse:
    """What `write` makes on the paper that is asked for; a refusal of it is said on a page."""
    paper = paper_of(request.GET.get("paper", ""), request.shop)
    try:
        pdf = write(request.shop, paper)
    except Refused as refusal:
        context = {"door": "board", "message": refusal.message}
        return render(request, "sheets/refused.html", context, status=422)
    return pdf_answer(pdf, name)


def pdf_answer(pdf: bytes, name: str) -> HttpResponse:
    response = HttpResponse(pdf, content_type="application/pdf")
    plain = re.sub(r"[^0-9A-Za-z-]+", "-", name).strip("-")[:60]
    response["Content-Disposition"] = f'inline; filename="{plain}.pdf"'
    response["Cache-Control"] = "private, no-store"
    return response


def asked_for(request: ShopRequest) -> list[Chosen]:
    """Raises Refused as `chosen` does."""
    asked = {name: request.GET.get(name, "")[:2000] for name in ("pieces", "cast", "job")}
    return chosen(**asked)
