"""Who may do what: one table. A view names the permission it needs and nothing else decides."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render

from shop.models import Role

View = Callable[..., HttpResponseBase]

PERMISSIONS: dict[str, frozenset[str]] = {
    "board.see": frozenset({Role.OWNER, Role.OFFICE, Role.CREW}),
    "cast.plan": frozenset({Role.OWNER}),
    "install.plan": frozenset({Role.OWNER, Role.OFFICE}),
    "plan.see": frozenset({Role.OWNER, Role.OFFICE, Role.CREW}),
    "plan.make": frozenset({Role.OWNER}),
    "floor.see": frozenset({Role.OWNER, Role.OFFICE, Role.CREW}),
    "floor.mark": frozenset({Role.OWNER, Role.CREW}),
    "mixing.see": frozenset({Role.OWNER, Role.OFFICE, Role.CREW}),
    "mixing.weigh": frozenset({Role.OWNER, Role.CREW}),
    "sheets.see": frozenset({Role.OWNER, Role.OFFICE, Role.CREW}),
    "office.see": frozenset({Role.OWNER, Role.OFFICE}),
    "jobs.change": frozenset({Role.OWNER, Role.OFFICE}),
    "jobs.bring_in": frozenset({Role.OWNER, Role.OFFICE}),
    "jobs.take_out": frozenset({Role.OWNER, Role.OFFICE}),
    "customers.see": frozenset({Role.OWNER, Role.OFFICE}),
    "customers.change": frozenset({Role.OWNER, Role.OFFICE}),
    "prices.see": frozenset({Role.OWNER, Role.OFFICE}),
    "notices.send": frozenset({Role.OWNER, Role.OFFICE}),
    "readings.see": frozenset({Role.OWNER, Role.OFFICE, Role.CREW}),
    "readings.add": frozenset({Role.OWNER, Role.OFFICE, Role.CREW}),
    "setup.see": frozenset({Role.OWNER, Role.OFFICE}),
    "setup.change": frozenset({Role.OWNER}),
    "people.change": frozenset({Role.OWNER}),
    "own.account": frozenset({Role.OWNER, Role.OFFICE, Role.CREW}),
}


def may(person: Any, permission: str) -> bool:
    allowed = PERMISSIONS[permission]  # an undefined name raises
    return bool(person.is_authenticated and person.is_active and person.role in allowed)


def needs(permission: str) -> Callable[[View], View]:
    PERMISSIONS[permission]

    def decorate(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if not request.user.is_authenticated:
                return to_sign_in(request)
            if not may(request.user, permission):
                raise PermissionDenied(permission)
            return view(request, *args, **kwargs)

        guarded.permission = permission  # type: ignore[attr-defined]
        return guarded

    return decorate


def open_to_all(view: View) -> View:
    """Says that a view needs no sign-in, so that a forgotten `needs` cannot pass for it."""
    view.permission = None  # type: ignore[attr-defined]
    return view


def to_sign_in(request: HttpRequest) -> HttpResponseBase:
    if request.headers.get("HX-Request") == "true":
        response = HttpResponse(status=204)
        response["HX-Refresh"] = "true"
        return response
    # What only takes a POST cannot be opened afterwards: that leads to the person's own door.
    onward = request.get_full_path() if request.method in {"GET", "HEAD"} else "/"
    return redirect_to_login(onward)


def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "errors/403.html", status=403)
