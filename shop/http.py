"""The request as the app's views see it, after its middleware."""

from __future__ import annotations

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
