from __future__ import annotations

import zoneinfo
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import timezone, translation

from shop.models import Shop
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
                return self.get_response(request)
