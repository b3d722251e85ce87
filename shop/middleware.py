from __future__ import annotations

import zoneinfo
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone, translation

from shop.models import Shop
from shop.readings.limits import announced_length
from shop.services.settings import the_shop


class ShopMiddleware:
    """Each request carries its shop, speaks the shop's time zone and the person's language."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path.startswith(("/static/", "/health")):
            return self.get_response(request)
        shop: Shop = the_shop()
        request.shop = shop  # type: ignore[attr-defined]
        language = getattr(request.user, "language", None)
        with timezone.override(zoneinfo.ZoneInfo(shop.time_zone)):
            if language is None:
                return self.get_response(request)
            with translation.override(language):
                return private(self.get_response(request))


def private(response: HttpResponse) -> HttpResponse:
    """On a shared tablet nobody pages back into what the last person was shown."""
    response.headers.setdefault("Cache-Control", "private, no-store")
    return response


class BodyLimit:
    """Refuses a huge body by its announced length, before the check for forged requests parses
    it: anybody could fill the disk. Views that check after themselves look at the length first."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: Any
    ) -> HttpResponse | None:
        most = getattr(view, "body_limit", settings.DATA_UPLOAD_MAX_MEMORY_SIZE)
        fits = announced_length(request) <= most
        if fits or getattr(view, "csrf_exempt", False):
            return None
        return render(request, "errors/413.html", status=413)
