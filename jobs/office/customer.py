"""The customer's page: one job, by an unguessable link, without signing in."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from shop.access import open_to_all


@open_to_all
@require_safe
def page(request: HttpRequest, token: str) -> HttpResponse:
    raise Http404


@open_to_all
@require_safe
def calendar(request: HttpRequest, token: str) -> HttpResponse:
    raise Http404
