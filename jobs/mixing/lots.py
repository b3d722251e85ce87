"""Which pieces hold a lot."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from jobs.services.lots import LEAST, find_lot, lots_in_use
from shop.access import needs
from shop.http import ShopRequest


@needs("mixing.see")
@never_cache
@require_safe
def lots(request: ShopRequest) -> HttpResponse:
    text = request.GET.get("q", "").strip()[:60]
    component = request.GET.get("of", "").strip()[:80]
    context = {
        "door": "floor",
        "text": text,
        "component": component,
        "found": find_lot(text, component) if text else None,
        "in_use": [] if text else lots_in_use(timezone.now()),
        "least": LEAST,
    }
    return render(request, "mixing/lots.html", context)
