"""A file of readings: uploaded, shown row by row, then taken as shown or thrown away."""

from __future__ import annotations

from typing import cast

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shop.access import needs
from shop.http import ShopRequest
from shop.models import Room
from shop.readings.forms import UploadForm, too_large
from shop.readings.limits import announced_length
from shop.readings.views import back, page
from shop.services import uploads
from shop.services.air_file import read_file
from shop.services.errors import Refused

ROWS_A_PAGE = 100
# What a form carries around its file.
ENVELOPE = 64 * 1024


# The check for forged requests parses the body, and a huge body must not be parsed: so the
# announced length is looked at first, and the check comes right after, around `_read`.
@needs("readings.add")
@csrf_exempt
@require_http_methods(["GET", "POST"])
def upload(request: ShopRequest) -> HttpResponse:
    if request.method == "GET":
        return back()
    if announced_length(request) > settings.CUREWRIGHT_UPLOAD_LIMIT + ENVELOPE:
        return page(request, upload_trouble=too_large(), status=413)
    return _read(request)


@csrf_protect
def _read(request: HttpRequest) -> HttpResponse:
    return _preview_of(cast(ShopRequest, request))


def _preview_of(request: ShopRequest) -> HttpResponse:
    form = UploadForm(request.POST, request.FILES, shop=request.shop)
    if not form.is_valid():
        return page(request, upload=form, status=422)
    file, room = form.cleaned_data["file"], form.cleaned_data["room"]
    try:
        rows = read_file(file.read(), room=room, wording=form.wording, now=timezone.now())
    except Refused as refusal:
        form.refuse(refusal)
        return page(request, upload=form, status=422)
    judged = uploads.judge(rows, room)
    preview = uploads.keep(name=file.name, rows=judged, room=room, by=request.user)
    return redirect(reverse("readings-preview", args=[preview.token]) + "#main")


@needs("readings.add")
@require_safe
def show_preview(request: ShopRequest, token: str) -> HttpResponse:
    preview = uploads.find(token, request.user)
    if preview is None:
        return _gone(request)
    verdict = request.GET.get("show", "")
    rows = [row for row in preview.rows if row.verdict == verdict] or preview.rows
    context = {
        "door": "readings",
        "preview": preview,
        "room": Room.objects.get(pk=preview.room_id),
        "counts": preview.counts,
        "show": verdict if rows is not preview.rows else "",
        "rows": Paginator(rows, ROWS_A_PAGE).get_page(request.GET.get("page")),
    }
    return render(request, "readings/preview.html", context)


@needs("readings.add")
@require_POST
def confirm(request: ShopRequest, token: str) -> HttpResponse:
    preview = uploads.find(token, request.user)
    if preview is None:
        return _gone(request)
    try:
        taken = uploads.confirm(preview, request.user).taken
    except Refused as refusal:
        messages.error(request, refusal.message)
        return back()
    said = ngettext("%(count)s reading taken.", "%(count)s readings taken.", taken)
    messages.success(request, said % {"count": f"{taken:,}"})
    return back()


@needs("readings.add")
@require_POST
def discard(request: ShopRequest, token: str) -> HttpResponse:
    if uploads.find(token, request.user) is not None:
        uploads.discard(token)
    messages.success(request, _("Nothing was taken from the file."))
    return back()


def _gone(request: ShopRequest) -> HttpResponse:
    messages.warning(
        request,
        _("That file is not waiting any more: it was taken or thrown away, or an hour has passed."),
    )
    return back()
