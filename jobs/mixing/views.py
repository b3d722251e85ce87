"""The casts ahead with what they ask of the mixer, and help in grouping what waits."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from jobs.services.casts_ahead import casts_ahead, last_casts
from jobs.services.together import DEPTH, NEAR, WALL, propose
from shop.access import needs
from shop.http import ShopRequest


@needs("mixing.see")
@never_cache
@require_safe
def mixing(request: ShopRequest) -> HttpResponse:
    context = {
        "door": "mixing",
        "days": casts_ahead(request.shop),
        "last": last_casts(request.shop),
        "now": timezone.now(),
    }
    return render(request, "mixing/mixing.html", context)


@needs("cast.plan")
@never_cache
@require_safe
def together(request: ShopRequest) -> HttpResponse:
    context = {
        "door": "mixing",
        "proposal": propose(request.shop, timezone.now()),
        "wall": WALL,
        "depth": DEPTH,
        "near": NEAR.days,
    }
    return render(request, "mixing/together.html", context)
