"""A piece's section: entered, looked at while it is typed, copied, removed."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from jobs.models import Piece
from jobs.piece.section_fields import ADDED, MOST, Rows
from jobs.piece.section_form import SectionForm
from jobs.piece.section_look import Looked, View, look, wrong_views
from jobs.piece.section_rows import initial_of, rows_of
from jobs.piece.section_usual import BY_KEY, row_typed
from jobs.services.errors import Conflict, Refused
from jobs.services.sections import (
    ImpossibleSection,
    possible_panel,
    remove_section,
    save_section,
)
from shop import measures
from shop.access import needs
from shop.http import ShopRequest

FORM_METHODS = ["GET", "HEAD", "POST"]


@needs("jobs.change")
@never_cache
@require_http_methods(FORM_METHODS)
def section(request: ShopRequest, code: str) -> HttpResponse:
    piece = _piece(code)
    if request.method != "POST":
        return _shown(request, piece, _opened(request, piece))
    if request.POST.get("more"):
        return _shown(request, piece, _with_more(request, piece))
    form = _bound(request, piece)
    if not form.is_valid():
        return _shown(request, piece, form, 422)
    if "look" in request.POST:
        return _shown(request, piece, form)
    return _save(request, piece, form)


def _save(request: ShopRequest, piece: Piece, form: SectionForm) -> HttpResponse:
    try:
        saved = save_section(piece_id=piece.pk, version=form.own_version, shape=form.shape)
    except Conflict as conflict:
        return _shown(request, piece, _met(request, piece, conflict), 409)
    except ImpossibleSection as impossible:
        form.add_faults(impossible.faults)
        return _shown(request, piece, form, 422)
    except Refused as refusal:
        form.refuse(refusal)
        return _shown(request, piece, form, 422)
    facts = {"code": saved.code, "area": measures.words(saved.area_m2, "area", request.shop)}
    messages.success(request, _("%(code)s has its section: %(area)s of face.") % facts)
    return redirect("piece-figure", code=saved.code)


@needs("jobs.change")
@never_cache
@require_POST
def plan(request: ShopRequest, code: str) -> HttpResponse:
    """The drawing alone, while somebody types."""
    piece = _piece(code)
    form = _bound(request, piece)
    return render(request, "piece/plan.html", {"piece": piece, "form": form} | _drawn(form, piece))


@needs("jobs.change")
@require_POST
def remove(request: ShopRequest, code: str) -> HttpResponse:
    piece = _piece(code)
    version = request.POST.get("version", "")
    known = version.isdecimal() and len(version) < 10
    try:
        remove_section(piece_id=piece.pk, version=int(version) if known else 0)
    except Refused as refusal:
        messages.error(request, refusal.message)
        return redirect("piece-section", code=piece.code)
    words = _("%(code)s is a plain slab again: its area stays, its cutouts and ribs are gone.")
    messages.success(request, words % {"code": piece.code})
    return redirect("piece-figure", code=piece.code)


def _shown(
    request: ShopRequest, piece: Piece, form: SectionForm, status: int = 200
) -> HttpResponse:
    context = {
        "door": "board",
        "piece": piece,
        "form": form,
        "others": _others(piece),
        **_drawn(form, piece),
    }
    if request.htmx and not request.htmx.history_restore_request:
        return render(request, "piece/section_form.html", context, status=status)
    return render(request, "piece/section.html", context, status=status)


def _drawn(form: SectionForm, piece: Piece) -> dict[str, Any]:
    """What the section looks like and weighs; or where it cannot be."""
    looked: Looked | None = None
    wrong: tuple[View, ...] = ()
    if not form.is_bound:
        shape = _drawable(form, piece)
        looked = look(shape, piece, form.shop) if shape else None
    elif form.is_valid():
        looked = look(form.shape, piece, form.shop)
    elif form.faults:
        wrong = wrong_views(form.shape, form.faults, form.shop)
    return {"looked": looked, "wrong": wrong}


def _drawable(form: SectionForm, piece: Piece) -> dict[str, Any] | None:
    """What is stored, or is copied: the form itself shows no more yet."""
    shape = form.copied or piece.shape
    if not shape:
        return None
    try:
        possible_panel(shape, piece, form.shop)
    except ImpossibleSection as impossible:
        # Thickness or mix were changed since: said where the plan would be.
        form.undrawn = impossible.message
        return None
    return shape


def _others(piece: Piece) -> list[Piece]:
    """Pieces of the job whose section could be copied."""
    pieces = Piece.objects.filter(job_id=piece.job_id, shape__isnull=False)
    return list(pieces.exclude(pk=piece.pk).order_by("letter"))


def _opened(request: ShopRequest, piece: Piece) -> SectionForm:
    wanted = request.GET.get("from", "")[:3]
    copied = next((other for other in _others(piece) if other.letter == wanted), None)
    if copied is None:
        return _form(request, piece, piece.shape)
    form = _form(request, piece, copied.shape)
    form.copied = copied.shape
    # What was there when it was opened is this piece's own, not what is copied into the form.
    form.initial["seen"] = _form(request, piece, piece.shape)["seen"].value()
    return form


def _with_more(request: ShopRequest, piece: Piece) -> SectionForm:
    """What was typed, unjudged, with more rows of a kind; a cutout's may come filled in."""
    rows = _posted_rows(request, piece)
    typed = {
        name: text for name, text in request.POST.items() if name.removesuffix("s") not in rows
    }
    kind, _colon, usual = request.POST["more"].partition(":")
    if usual in BY_KEY and kind == "cutout":
        place = _free_cutout(rows["cutout"], typed)
        rows["cutout"] = max(rows["cutout"], min(place + 1, MOST["cutout"]))
        row = row_typed(BY_KEY[usual], typed, request.shop)
        typed |= {f"cutout_{place}_{name}": text for name, text in row.items()}
    elif kind in rows:
        rows[kind] = max(rows[kind], min(rows[kind] + ADDED[kind], MOST[kind]))
    form = SectionForm(shop=request.shop, piece=piece, rows=rows, initial=typed)
    form.grown = True
    return form


def _free_cutout(count: int, typed: dict[str, Any]) -> int:
    """The first row in which no size stands."""
    sizes = ("length", "width", "diameter", "drawn")
    for place in range(count):
        if not any(typed.get(f"cutout_{place}_{name}") for name in sizes):
            return place
    return count


def _bound(request: ShopRequest, piece: Piece, rows: Rows | None = None) -> SectionForm:
    rows = rows or _posted_rows(request, piece)
    initial = initial_of(piece.shape, request.shop)
    return SectionForm(request.POST, shop=request.shop, piece=piece, rows=rows, initial=initial)


def _met(request: ShopRequest, piece: Piece, conflict: Conflict) -> SectionForm:
    fresh = _piece(piece.code)
    stored, posted = rows_of(fresh.shape), _posted_rows(request, piece)
    form = _bound(request, piece, {kind: max(posted[kind], stored[kind]) for kind in posted})
    form.is_valid()
    now = SectionForm(
        shop=request.shop,
        piece=fresh,
        rows=form.rows,
        initial=initial_of(fresh.shape, request.shop),
    )
    form.meet(conflict, {**dict.fromkeys(form.fields), **now.initial})
    return form


def _form(request: ShopRequest, piece: Piece, shape: dict[str, Any] | None) -> SectionForm:
    initial = initial_of(shape, request.shop)
    return SectionForm(shop=request.shop, piece=piece, rows=rows_of(shape), initial=initial)


def _posted_rows(request: ShopRequest, piece: Piece) -> Rows:
    rows = rows_of(piece.shape)
    for kind, stored in rows.items():
        posted = request.POST.get(f"{kind}s", "")
        asked = int(posted) if posted.isdecimal() and len(posted) < 4 else 0
        rows[kind] = max(stored, min(asked, MOST[kind]))
    return rows


def _piece(code: str) -> Piece:
    pieces = Piece.objects.select_related("job", "mix")
    piece = pieces.filter(code__iexact=code).first() if "\x00" not in code else None
    if piece is None:
        raise Http404
    return piece
