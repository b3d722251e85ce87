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


# Secrets, and what a form carries that nobody typed.
NOT_TYPED = {"csrfmiddlewaretoken", "password", "old", "new", "again", "next", "version", "seen"}
NOT_TYPED |= {"client_key", "kept_seconds", "step", "step_key", "drafted", "job_version", "means"}


def outdated(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The check for forged requests failed: mostly a page from before the last sign-in."""
    sent = [texts for name, texts in request.POST.lists() if name not in NOT_TYPED]
    typed = [text for texts in sent for text in texts if text.strip()]
    return render(request, "errors/outdated.html", {"typed": typed}, status=403)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    return render(request, "errors/404.html", status=404)


def broken(request: HttpRequest) -> HttpResponse:
    return render(request, "errors/500.html", status=500)
