"""The request as the app's views see it, after its middleware."""

from __future__ import annotations

import ipaddress

from django.conf import settings
from django.http import HttpRequest, QueryDict
from django_htmx.middleware import HtmxDetails

from shop.models import Person, Shop


class ShopRequest(HttpRequest):
    """A signed-in request: `needs` has seen to the person, the middleware to the shop."""

    user: Person
    shop: Shop
    htmx: HtmxDetails


def posted(request: HttpRequest) -> QueryDict | None:
    """What a form is bound to: an empty POST is a submission too."""
    return request.POST if request.method == "POST" else None


def client_address(request: HttpRequest) -> str | None:
    """Who asks, as the outermost proxy of one's own saw it. What stands before that in the
    header anybody may have written there."""
    chain = request.META.get("HTTP_X_FORWARDED_FOR", "").split(",")
    proxies: int = settings.CUREWRIGHT_PROXIES
    if proxies and len(chain) >= proxies and (address := _address(chain[-proxies])):
        return address
    return _address(request.META.get("REMOTE_ADDR", ""))


def _address(text: str) -> str | None:
    try:
        return str(ipaddress.ip_address(text.strip()))
    except ValueError:
        return None
