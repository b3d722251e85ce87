"""Photos: taken into a batch or a piece, served only to who may see them, removed."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from jobs.mixing.piece_record import piece_by_code, piece_page
from jobs.mixing.record import record_page
from jobs.mixing.record_forms import PhotoForm
from jobs.models import Batch, Photo
from jobs.services.errors import Refused
from jobs.services.photos import LARGEST, add_photo, file_of, remove_photo
from shop.access import View, needs
from shop.http import ShopRequest

# With what a form adds to the file itself.
BODY = LARGEST + 64 * 1024


def takes_a_photo(view: View) -> View:
    """A photo is larger than what the app's other forms may send."""
    view.body_limit = BODY  # type: ignore[attr-defined]
    return view


@takes_a_photo
@needs("mixing.weigh")
@require_POST
def add_to_batch(request: ShopRequest, batch_id: int) -> HttpResponse:
    batch = get_object_or_404(Batch, pk=batch_id)
    form = PhotoForm(request.POST, request.FILES, shop=request.shop)
    if _taken(request, form, batch_id=batch.pk):
        return redirect("batch-record", batch.pk)
    return record_page(request, batch.pk, photo=form, status=422)


@takes_a_photo
@needs("mixing.weigh")
@require_POST
def add_to_piece(request: ShopRequest, code: str) -> HttpResponse:
    piece = piece_by_code(code)
    form = PhotoForm(request.POST, request.FILES, shop=request.shop)
    if _taken(request, form, piece_id=piece.pk):
        return redirect("piece-record", piece.code)
    return piece_page(request, piece, photo=form, status=422)


def _taken(request: ShopRequest, form: PhotoForm, **of: Any) -> bool:
    if not form.is_valid():
        return False
    try:
        add_photo(
            sent=form.cleaned_data["picture"],
            words=form.cleaned_data["words"],
            client_key=form.cleaned_data["client_key"],
            by=request.user,
            **of,
        )
    except Refused as refusal:
        form.refuse(refusal)
        return False
    messages.success(request, _("The photo is kept. What the camera noted in it is gone."))
    return True


@needs("mixing.see")
@require_safe
def photo(request: ShopRequest, photo_id: int) -> HttpResponse:
    return _served(photo_id, small=False)


@needs("mixing.see")
@require_safe
def small_photo(request: ShopRequest, photo_id: int) -> HttpResponse:
    return _served(photo_id, small=True)


def _served(photo_id: int, *, small: bool) -> HttpResponse:
    row = get_object_or_404(Photo, pk=photo_id)
    try:
        content = file_of(row, small=small).read_bytes()
    except OSError as error:
        raise Http404 from error
    response = HttpResponse(content, content_type="image/jpeg")
    # It never changes; a shared tablet's other person may see it, too, but no cache between.
    response["Cache-Control"] = "private, max-age=3600"
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Security-Policy"] = "default-src 'none'; sandbox"
    response["Content-Disposition"] = f'inline; filename="photo-{row.pk}.jpg"'
    return response


@needs("mixing.weigh")
@require_POST
def remove(request: ShopRequest, photo_id: int) -> HttpResponse:
    row = get_object_or_404(Photo.objects.select_related("piece"), pk=photo_id)
    back = (
        redirect("piece-record", row.piece.code)
        if row.piece
        else redirect("batch-record", row.batch_id or 0)
    )
    try:
        remove_photo(photo_id=row.pk, by=request.user)
        messages.success(request, _("The photo is removed."))
    except Refused as refusal:
        messages.error(request, refusal.message)
    return back
