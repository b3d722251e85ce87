"""How every editing page goes: show, check, hand to a service, say what came of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.db.models import Model
from django.forms import model_to_dict
from django.http import HttpResponse
from django.shortcuts import redirect, render

from shop.forms import ShopModelForm
from shop.http import ShopRequest
from shop.services.errors import Conflict, Refused


def edit(
    request: ShopRequest,
    *,
    form: ShopModelForm,
    save: Callable[[ShopModelForm], Any],
    template: str,
    done: Callable[[Any], HttpResponse],
    context: dict[str, Any] | None = None,
) -> HttpResponse:
    """GET shows the form, POST saves it; nothing typed is lost whatever the answer."""
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                return done(save(form))
            except Conflict as conflict:
                form.meet(conflict, _stands(form.instance))
                status = 409
            except Refused as refusal:
                form.refuse(refusal)
    return show(request, template, {"form": form, **(context or {})}, status)


def _stands(instance: Model) -> dict[str, Any]:
    return model_to_dict(type(instance)._default_manager.get(pk=instance.pk))


def show(
    request: ShopRequest, template: str, context: dict[str, Any], status: int = 200
) -> HttpResponse:
    return render(request, template, {"door": "setup", **context}, status=status)


def saved(request: ShopRequest, message: str, to: str, *args: Any) -> HttpResponse:
    messages.success(request, message)
    return redirect(to, *args)


def try_it(request: ShopRequest, action: Callable[[], str], to: str, *args: Any) -> HttpResponse:
    """One button's action: what it did, or why not, is said on the page it returns to."""
    try:
        messages.success(request, action())
    except Refused as refusal:
        messages.error(request, refusal.message)
    return redirect(to, *args)
