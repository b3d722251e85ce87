"""An outline out of a DXF file, in two steps: the file is looked at, then what of it is meant is
drawn with what stays of the piece's shape. Only then it is saved; the file is kept nowhere."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, cast

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_http_methods

from jobs.models import Piece
from jobs.piece.dxf import piece_or_404
from jobs.piece.outline_forms import (
    OutlineChoiceForm,
    OutlineFileForm,
    first_choices,
    packed,
    unpacked,
)
from jobs.services.drawings import PHONE, SCREEN, drawing_of, in_units
from jobs.services.errors import Conflict, Refused
from jobs.services.outline_in import Fitted, drawn_of, fitted, place_words
from jobs.services.sections import possible_panel, save_section
from jobs.shapes.drawing import Drawing, Sheet
from jobs.shapes.dxf_in import MOST_BYTES, Contents, look
from jobs.shapes.faults import ShapeFault
from jobs.shapes.plan import bare_plan, marked
from jobs.shapes.solid import Solid
from shop import measures
from shop.access import needs
from shop.http import ShopRequest
from shop.models import Shop
from shop.readings.limits import announced_length

# What a form carries around its file; and the file again, as the later steps carry it.
ENVELOPE = 64 * 1024


@dataclass(frozen=True)
class Result:
    """What would be saved. refusal : why it cannot be"""

    found: Fitted
    wide: Drawing
    narrow: Drawing
    refusal: str
    shop: Shop

    @property
    def size(self) -> str:
        left, front, right, back = self.found.shape.outline.path.box
        return f"{self._long(right - left)} × {self._long(back - front)}"

    @property
    def figure(self) -> str:
        """'L, 6 sides' and so on."""
        kind = KIND_WORDS.get(type(self.found.shape.outline).__name__, _("free outline"))
        return str(kind)

    @property
    def area(self) -> float:
        return Solid(self.found.shape, 1.0).area

    def _long(self, metres: float) -> str:
        return measures.words(metres, "length", self.shop)


KIND_WORDS = {
    "Rectangle": "rectangle",
    "RoundedRectangle": "rectangle with round corners",
    "Circle": "circle",
    "LShape": "L",
    "UShape": "U",
}


@needs("jobs.change")
@never_cache
@csrf_exempt
@require_http_methods(["GET", "HEAD", "POST"])
def outline_in(request: ShopRequest, code: str) -> HttpResponse:
    # A huge body must not be parsed, which the check for forged requests would do: its announced
    # length is looked at first, and the check comes right after, around `_stepped`.
    piece = piece_or_404(code)
    if request.method != "POST":
        return _page(request, piece, file_form=OutlineFileForm(shop=request.shop))
    if announced_length(request) > _most():
        words = _("This file is too large: %(most)s MB are the most. Save the outline alone.")
        return _page(
            request,
            piece,
            file_form=OutlineFileForm(shop=request.shop),
            trouble=words % {"most": f"{MOST_BYTES / 1e6:g}"},
            status=413,
        )
    return _stepped(request, piece)


def _most() -> int:
    return max(MOST_BYTES, settings.DATA_UPLOAD_MAX_MEMORY_SIZE or 0) + ENVELOPE


@csrf_protect
def _stepped(request: HttpRequest, piece: Piece) -> HttpResponse:
    shop_request = cast(ShopRequest, request)
    if request.POST.get("step") in ("look", "save"):
        return _chosen(shop_request, piece)
    return _looked(shop_request, piece)


def _looked(request: ShopRequest, piece: Piece) -> HttpResponse:
    """The first step: what is in the file."""
    form = OutlineFileForm(request.POST, request.FILES, shop=request.shop)
    if not form.is_valid():
        return _page(request, piece, file_form=form, status=422)
    file = form.cleaned_data["file"]
    data = file.read()
    contents = _contents(form, data, request.shop)
    if contents is None:
        return _page(request, piece, file_form=form, status=422)
    start = first_choices(contents) | {
        "piece_version": piece.version,
        "payload": packed(data),
        "file_name": file.name[:100],
    }
    choice = OutlineChoiceForm(shop=request.shop, contents=contents, initial=start)
    return _page(request, piece, choice=choice)


def _contents(form: OutlineFileForm, data: bytes, shop: Shop) -> Contents | None:
    try:
        contents = look(data)
    except ShapeFault as fault:
        form.add_error("file", _said(fault, shop))
        return None
    if not any(layer.read for layer in contents.layers):
        kinds = sorted({kind for layer in contents.layers for kind in layer.unread})
        words = _("There are no lines, arcs, circles or polylines in this file.")
        if kinds:
            more = _(
                "There is %(kinds)s, which cannot be read: explode blocks, draw splines as arcs."
            )
            words += " " + more % {"kinds": ", ".join(kinds[:10])}
        form.add_error("file", words)
        return None
    return contents


def _chosen(request: ShopRequest, piece: Piece) -> HttpResponse:
    """The second step: layers and unit are chosen; looked at, or taken."""
    file_form = OutlineFileForm({}, {}, shop=request.shop)
    file_form.errors.clear()  # it is not sent again in this step
    try:
        data = unpacked(request.POST.get("payload", ""))
    except ValidationError as error:
        file_form.add_error("file", error)
        return _page(request, piece, file_form=file_form, status=422)
    contents = _contents(file_form, data, request.shop)
    if contents is None:
        return _page(request, piece, file_form=file_form, status=422)
    form = OutlineChoiceForm(request.POST, shop=request.shop, contents=contents)
    if not form.is_valid():
        return _page(request, piece, choice=form, status=422)
    try:
        drawn = drawn_of(data, contents, form.wanted)
        found = fitted(drawn, piece, request.shop, opens=form.wanted.opens)
    except ShapeFault as fault:
        form.add_error(None, _with_place(fault, contents.unit or form.wanted.unit, request.shop))
        return _page(request, piece, choice=form, status=422)
    result = _result(found, piece, request.shop)
    if result.refusal or request.POST["step"] == "look":
        status = 422 if result.refusal else 200
        return _page(request, piece, choice=form, result=result, status=status)
    return _save(request, piece, form, result)


def _save(
    request: ShopRequest, piece: Piece, form: OutlineChoiceForm, result: Result
) -> HttpResponse:
    version = form.cleaned_data["piece_version"]
    try:
        saved = save_section(piece_id=piece.pk, version=version, shape=result.found.stored)
    except Conflict as conflict:
        # What stays and what goes is already that of the piece as it now stands.
        return _page(
            request,
            piece,
            choice=_again(request, form, conflict.version),
            result=result,
            trouble=_(
                "%(why)s What stays and what goes is reckoned anew below: look, then take it."
            )
            % {"why": conflict.message},
            status=409,
        )
    except Refused as refusal:
        refused = replace(result, refusal=refusal.message)
        return _page(request, piece, choice=form, result=refused, status=422)
    facts = {"code": saved.code, "area": measures.words(saved.area_m2, "area", request.shop)}
    messages.success(request, _("%(code)s has the outline of the file: %(area)s of face.") % facts)
    return redirect("piece-figure", code=saved.code)


def _again(request: ShopRequest, form: OutlineChoiceForm, version: int) -> OutlineChoiceForm:
    posted = request.POST.copy()
    posted["piece_version"] = str(version)
    return OutlineChoiceForm(posted, shop=request.shop, contents=form.contents)


def _result(found: Fitted, piece: Piece, shop: Shop) -> Result:
    refusal = ""
    if found.faults:
        refusal = " ".join(_said(fault, shop) for fault in found.faults[:3])
    else:
        try:
            possible_panel(found.stored, piece, shop)
        except Refused as refused:
            refusal = refused.message
    wide, narrow = (_picture(found, shop, sheet) for sheet in (SCREEN, PHONE))
    return Result(found, wide, narrow, refusal, shop)


def _picture(found: Fitted, shop: Shop, sheet: Sheet) -> Drawing:
    if not found.faults:
        return drawing_of(found.shape, shop, sheet)
    plan = bare_plan(found.shape, in_units(sheet, shop.units))
    marks = tuple(item for fault in found.faults for item in marked(plan, fault))
    return replace(plan, items=(*plan.items, *marks))


def _said(fault: ShapeFault, shop: Shop) -> str:
    return fault.said(lambda metres: measures.words(metres, "length", shop))


def _with_place(fault: ShapeFault, unit: str, shop: Shop) -> str:
    words, place = _said(fault, shop), place_words(fault, unit)
    return (
        _("%(fault)s In the file: %(place)s.") % {"fault": words, "place": place}
        if place
        else words
    )


def _page(
    request: ShopRequest,
    piece: Piece,
    *,
    file_form: OutlineFileForm | None = None,
    choice: OutlineChoiceForm | None = None,
    result: Result | None = None,
    trouble: str = "",
    status: int = 200,
) -> HttpResponse:
    context: dict[str, Any] = {
        "door": "board",
        "piece": piece,
        "file_form": file_form or OutlineFileForm(shop=request.shop),
        "choice": choice,
        "result": result,
        "trouble": trouble,
    }
    return render(request, "piece/outline_in.html", context, status=status)
