"""The first page of the shop's set-up."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from shop.access import needs


@needs("setup.see")
@require_safe
def setup(request: HttpRequest) -> HttpResponse:
    return render(request, "setup/first.html", {"door": "setup"})
