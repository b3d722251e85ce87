"""A mix's drying: what its weighed pieces show beside the model, and the owner taking it."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from curing.drying_calibration import LEAST_PIECES, LEAST_WEIGHINGS
from curing.moisture import BAND, ESTIMATE
from jobs.services import drying_calibration as service
from jobs.services.errors import Refused
from shop.access import needs
from shop.http import ShopRequest
from shop.models import Mix


@needs("setup.see")
@require_safe
def mix_drying(request: ShopRequest, mix_id: int) -> HttpResponse:
    mix = get_object_or_404(Mix, pk=mix_id)
    seen = service.mix_drying(mix, now=timezone.now(), shop=request.shop)
    context = {
        "door": "setup",
        "mix": mix,
        "seen": seen,
        "estimate": ESTIMATE,
        "least_pieces": LEAST_PIECES,
        "least_weighings": LEAST_WEIGHINGS,
        "band": BAND,
        "scatter": f"{seen.result.scatter * 100:.0f} %",
    }
    return render(request, "drying/mix.html", context)


@needs("setup.change")
@require_POST
def take(request: ShopRequest, mix_id: int) -> HttpResponse:
    def act() -> str:
        mix = service.take_drying(
            mix_id=mix_id,
            version=_version(request),
            basis=request.POST.get("basis", ""),
            by=request.user,
            now=timezone.now(),
            shop=request.shop,
        )
        factor = f"{mix.drying_factor:.2f}"
        return _("The factor %(factor)s is in use. Dates that rest on the model move with it.") % {
            "factor": factor
        }

    return _try(request, mix_id, act)


@needs("setup.change")
@require_POST
def leave(request: ShopRequest, mix_id: int) -> HttpResponse:
    def act() -> str:
        service.leave_drying(mix_id=mix_id, version=_version(request))
        return _("Back to the model as it is: an estimate, not calibrated.")

    return _try(request, mix_id, act)


def _try(request: ShopRequest, mix_id: int, act: Callable[[], str]) -> HttpResponse:
    get_object_or_404(Mix, pk=mix_id)
    try:
        messages.success(request, act())
    except Refused as refusal:
        messages.error(request, refusal.message)
    return redirect("mix-drying", mix_id)


def _version(request: ShopRequest) -> int:
    version = request.POST.get("version", "")
    return int(version) if version.isascii() and version.isdigit() and len(version) < 10 else 0
