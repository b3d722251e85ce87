"""What was measured of a piece, and its photos: one page a phone can fill in."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from jobs.mixing.record_forms import MeasuredForm, PhotoForm
from jobs.models import Measured, Piece
from jobs.services import measured as service
from jobs.services.errors import Refused
from jobs.services.kept import kept_of, measured_words
from shop.access import needs
from shop.http import ShopRequest


def piece_by_code(code: str) -> Piece:
    # No database takes a zero byte for text.
    known = Piece.objects.select_related("job", "mix", "batch")
    piece = None if "\x00" in code else known.filter(code__iexact=code).first()
    if piece is None:
        raise Http404
    return piece


@needs("mixing.see")
@never_cache
@require_safe
def piece(request: ShopRequest, code: str) -> HttpResponse:
    found = piece_by_code(code)
    if found.code != code:
        return redirect("piece-record", found.code)
    return piece_page(request, found)


def piece_page(
    request: ShopRequest,
    found: Piece,
    photo: PhotoForm | None = None,
    measured: MeasuredForm | None = None,
    status: int = 200,
) -> HttpResponse:
    kept = kept_of(found, request.shop, request.user)
    context = {
        "door": "floor",
        "piece": found,
        "measured": kept.measured,
        "measured_form": measured or MeasuredForm(shop=request.shop),
        "photos": kept.photos,
        "photo_form": photo or PhotoForm(shop=request.shop),
        "photo_action": reverse("piece-photo", args=[found.code]),
    }
    return render(request, "mixing/piece_record.html", context, status=status)


@needs("mixing.weigh")
@require_POST
def measure(request: ShopRequest, code: str) -> HttpResponse:
    found = piece_by_code(code)
    form = MeasuredForm(request.POST, shop=request.shop)
    if form.is_valid():
        typed = form.cleaned_data
        try:
            row = service.add_measured(
                piece_id=found.pk,
                thickness_m=typed["thickness"],
                kg=typed["weight"],
                at=typed["at"],
                sure=typed["sure"],
                client_key=typed["client_key"],
                by=request.user,
            )
        except Refused as refusal:
            form.refuse(refusal)
        else:
            said = measured_words(service.against(found, [row])[0], request.shop)
            messages.success(request, f"{found.code}: {said}.")
            return redirect("piece-record", found.code)
    return piece_page(request, found, measured=form, status=422)


@needs("mixing.weigh")
@require_POST
def strike_measured(request: ShopRequest, measured_id: int) -> HttpResponse:
    row = get_object_or_404(Measured.objects.select_related("piece"), pk=measured_id)
    try:
        service.strike_measured(measured_id=row.pk, by=request.user)
        messages.success(request, _("Struck: it stays on record and counts no more."))
    except Refused as refusal:
        messages.error(request, refusal.message)
    return redirect("piece-record", row.piece.code)
