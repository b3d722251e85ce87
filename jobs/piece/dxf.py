"""A piece's outline as a DXF file for whoever cuts its template or its form."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from jobs.models import Piece
from jobs.services.drawings import shape_of
from jobs.shapes.dxf_out import UNITS, write_dxf
from shop.access import needs
from shop.http import ShopRequest

DXF = "image/vnd.dxf"  # as registered with IANA


@needs("board.see")
@never_cache
@require_safe
def outline(request: ShopRequest, code: str) -> HttpResponseBase:
    """As it is seen from the face, in the unit that is asked for or the shop's own."""
    piece = piece_or_404(code)
    unit = request.GET.get("unit") or ("in" if request.shop.us else "mm")
    shape = shape_of(piece)
    if unit not in UNITS:
        words = _("A file can be drawn in %(units)s. Choose one of them.")
        messages.error(request, words % {"units": ", ".join(UNITS)})
    elif shape is None:
        words = _("%(code)s has no shape that can be drawn. Enter it first.")
        messages.error(request, words % {"code": piece.code})
    else:
        response = HttpResponse(write_dxf(shape, unit), content_type=DXF)
        response["Content-Disposition"] = f'attachment; filename="{piece.code}-{unit}.dxf"'
        return response
    return redirect("piece-figure", code=piece.code)


def piece_or_404(code: str) -> Piece:
    pieces = Piece.objects.select_related("job", "mix")
    piece = pieces.filter(code__iexact=code).first() if "\x00" not in code else None
    if piece is None:
        raise Http404
    return piece
