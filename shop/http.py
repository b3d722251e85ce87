"""The request as the app's views see it, after its middleware."""

from __future__ import annotations

from django.http import HttpRequest
from django_htmx.middleware import HtmxDetails

from shop.models import Person, Shop


class ShopRequest(HttpRequest):
    """A signed-in request: `needs` has seen to the person, the middleware to the shop."""

    user: Person
    shop: Shop
    htmx: HtmxDetails
