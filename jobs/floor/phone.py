"""What the phone needs to go on without signal: its worker, and a fresh token when it is back."""

from __future__ import annotations

from django.contrib.staticfiles import finders
from django.http import HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from shop.access import needs, open_to_all
from shop.http import ShopRequest

WORKER = "js/floor-worker.js"


@open_to_all
@require_safe
@never_cache
def worker(request: ShopRequest) -> HttpResponse:
    """Served from here, not from the static files, because a worker rules what lies beside it."""
    with open(str(finders.find(WORKER)), encoding="utf-8") as source:
        return HttpResponse(source.read(), content_type="text/javascript; charset=utf-8")


@needs("floor.see")
@require_safe
@never_cache
def token(request: ShopRequest) -> JsonResponse:
    return JsonResponse({"person": request.user.pk, "token": get_token(request)})
