"""What the office's pages share. Editing goes as on the set-up's screens."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect

from jobs.models import Job
from shop.forms import ShopModelForm
from shop.http import ShopRequest
from shop.services.errors import Refused
from shop.setup import pages

FORM_METHODS = ["GET", "HEAD", "POST"]
Where = tuple[Any, ...]  # an address's name and its arguments


def show(
    request: ShopRequest, template: str, context: dict[str, Any], status: int = 200
) -> HttpResponse:
    return pages.show(request, template, {"door": "office", **context}, status)


def said(request: ShopRequest, message: str, to: str, *args: Any) -> HttpResponse:
    return pages.saved(request, message, to, *args)


def edit(
    request: ShopRequest,
    *,
    form: ShopModelForm,
    save: Callable[[ShopModelForm], Any],
    template: str,
    done: Callable[[Any], HttpResponse],
    context: dict[str, Any],
) -> HttpResponse:
    return pages.edit(
        request,
        form=form,
        save=save,
        template=template,
        done=done,
        context={"door": "office", **context},
    )


def press(
    request: ShopRequest, action: Callable[[], str], *, to: Where, refused: Where | None = None
) -> HttpResponse:
    """One button: what it did is said where it leads, why not is said where it stands."""
    try:
        messages.success(request, action())
    except Refused as refusal:
        messages.error(request, refusal.message)
        return redirect(*(refused or to))
    return redirect(*to)


def job_or_404(number: str) -> Job:
    if not number.isalnum() or len(number) > 10:
        raise Http404
    job = Job.objects.select_related("customer").filter(number__iexact=number).first()
    if job is None:
        raise Http404
    return job
