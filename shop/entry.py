"""Where people come in: home, health, and the pages for what is not there."""

from __future__ import annotations

from django.db import connection
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from shop.access import needs, open_to_all
from shop.models import Role

DOORS = {Role.OWNER: "board", Role.OFFICE: "office", Role.CREW: "floor"}


@require_safe
@needs("own.account")
def home(request: HttpRequest) -> HttpResponse:
    return redirect(DOORS[Role(request.user.role)])  # type: ignore[union-attr]


@open_to_all
@require_safe
def health(request: HttpRequest) -> HttpResponse:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return JsonResponse({"database": "answers"})


@open_to_all
@require_safe
def robots(request: HttpRequest) -> HttpResponse:
    return HttpResponse("User-agent: *\nDisallow: /\n", content_type="text/plain")


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    return render(request, "errors/404.html", status=404)


def broken(request: HttpRequest) -> HttpResponse:
    return render(request, "errors/500.html", status=500)
