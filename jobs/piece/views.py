"""One piece over time: its figure, its sheet, and what another way of making it would do."""

from __future__ import annotations

import re
from typing import Any

from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe
from django.views.decorators.vary import vary_on_headers

from curing.moisture import ESTIMATE
from jobs.piece.coat_part import coat_part
from jobs.piece.figure import NARROW, WIDE, Figure
from jobs.piece.forms import WhatIfForm
from jobs.piece.lifting_part import lifting_part
from jobs.piece.limits_part import limits_part
from jobs.piece.sheet import sheet_pdf
from jobs.piece.substance_part import substance_part
from jobs.piece.table import course_rows, route_rows, weights_of
from jobs.services.course import OpenPiece, open_piece
from jobs.services.errors import Refused
from jobs.services.kept import kept_of
from jobs.services.shape import section_fault
from jobs.services.uses import uses_of
from jobs.services.what_if import Answer, what_if
from shop.access import needs
from shop.http import ShopRequest
from shop.printed import printed
from shop.templatetags.measures import moment

CODE = re.compile(r"[0-9A-Za-z]{1,10}-[A-Z]{1,2}")
ASKED = ("cast_at_0", "cast_at_1", "celsius", "mix", "sealer")


@needs("board.see")
@never_cache
@vary_on_headers("HX-Request")
@require_safe
def figure(request: ShopRequest, code: str) -> HttpResponseBase:
    written = _written(code)
    if written != code and CODE.fullmatch(written):
        return redirect("piece-figure", code=written)
    opened = _piece(code)
    form = _form(request, opened)
    answer = _answer(form, opened)
    context = {
        "form": form,
        "answer": answer,
        "piece": opened.outlook,
        "part": bool(request.htmx),
        "thought_figures": _figures(request, answer.thought) if answer else [],
    }
    status = 422 if form.errors else 200
    if request.htmx and not request.htmx.history_restore_request:
        return render(request, "piece/answer.html", context, status=status)
    return render(request, "piece/page.html", context | _drawn(request, opened), status=status)


@needs("board.see")
@never_cache
@require_safe
def sheet(request: ShopRequest, code: str) -> HttpResponse:
    opened = _piece(code)
    return printed(request, opened.piece.code, lambda: sheet_pdf(opened))


def _written(code: str) -> str:
    """Letters of a piece are capitals; those of a job's number are as the office wrote them."""
    number, dash, letter = code.rpartition("-")
    return number + dash + letter.upper()


def _piece(code: str) -> OpenPiece:
    opened = open_piece(code) if CODE.fullmatch(code) else None
    if opened is None:
        raise Http404
    return opened


def _form(request: ShopRequest, opened: OpenPiece) -> WhatIfForm:
    asked = any(name in request.GET for name in ASKED)
    return WhatIfForm(request.GET if asked else None, shop=request.shop, opened=opened)


def _answer(form: WhatIfForm, opened: OpenPiece) -> Answer | None:
    if not form.is_valid() or not form.thought:
        return None
    try:
        return what_if(opened, form.thought)
    except Refused as error:
        form.refuse(error)
        return None


def _drawn(request: ShopRequest, opened: OpenPiece) -> dict[str, Any]:
    course = opened.course
    return {
        "door": "board",
        "job": opened.job_outlook,
        "course": course,
        "figures": _figures(request, opened),
        "rows": course_rows(course) if course else [],
        "route": route_rows(opened.outlook, moment),
        "weights": weights_of(opened),
        "estimate": ESTIMATE,
        "now_at": opened.facts.now,
        "seal": coat_part(opened),
        "uses": uses_of(opened.outlook),
        "limits": limits_part(opened),
        "lifting": lifting_part(opened),
        "kept": kept_of(opened.piece, request.shop, request.user),
        "kept_code": opened.piece.code,
        "kept_batch": opened.piece.batch_id,
        "cast": substance_part(opened.piece, request.shop),
        "sectioned": bool(opened.piece.shape),
        "section_fault": section_fault(opened.piece),
    }


def _figures(request: ShopRequest, opened: OpenPiece) -> list[Figure]:
    if opened.course is None:
        return []
    return [Figure(opened.course, opened.outlook, request.shop, size) for size in (WIDE, NARROW)]
