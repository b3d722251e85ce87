"""The air of the shop: what was measured, what is expected, and readings taken by hand."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from shop import measures
from shop.access import needs
from shop.http import ShopRequest
from shop.models import Reading, Room
from shop.readings.forms import HandForm, UploadForm
from shop.readings.overview import recent, rooms_air
from shop.services.errors import Refused
from shop.services.readings import remove, take_by_hand

PAGES_LIMIT = 4000
ZONES = (
    "America/New_York",
    "America/Chicago",
    "America/Denver",
    "America/Phoenix",
    "America/Los_Angeles",
    "America/Anchorage",
    "Pacific/Honolulu",
    "America/Toronto",
    "America/Vancouver",
    "America/Mexico_City",
    "Europe/London",
    "Europe/Berlin",
    "Australia/Sydney",
    "UTC",
)


@needs("readings.see")
@require_safe
def readings(request: ShopRequest) -> HttpResponse:
    return page(request)


def page(
    request: ShopRequest,
    *,
    hand: HandForm | None = None,
    upload: UploadForm | None = None,
    upload_trouble: str = "",
    status: int = 200,
) -> HttpResponse:
    """The page with its two forms; a form that was refused comes back as it was filled in."""
    now = timezone.now()
    rooms = list(Room.objects.filter(in_use=True))
    chosen = _chosen(rooms, request.GET.get("room", ""))
    context = {
        "door": "readings",
        "rooms": rooms,
        "all_air": rooms_air(rooms, request.shop, now),
        "recent": recent(chosen, _page_number(request.GET.get("page", ""))) if chosen else None,
        "hand": hand or HandForm(shop=request.shop, now=now),
        "upload": upload or UploadForm(shop=request.shop),
        "upload_trouble": upload_trouble,
        "zones": ZONES,
    }
    return render(request, "readings/page.html", context, status=status)


def back() -> HttpResponse:
    """To the page, at what was just said: a form's own place in it would hide that."""
    return redirect(reverse("readings") + "#messages")


def _chosen(rooms: list[Room], key: str) -> Room | None:
    return next((room for room in rooms if str(room.pk) == key), rooms[0] if rooms else None)


def _page_number(text: str) -> int:
    number = int(text) if text.isascii() and text.isdigit() and len(text) < 6 else 1
    return min(max(number, 1), PAGES_LIMIT)


@needs("readings.add")
@require_http_methods(["GET", "POST"])
def by_hand(request: ShopRequest) -> HttpResponse:
    if request.method == "GET":
        return back()
    now = timezone.now()
    form = HandForm(request.POST, shop=request.shop, now=now)
    if not form.is_valid():
        return page(request, hand=form, status=422)
    values = form.cleaned_data
    try:
        taken = take_by_hand(**values, by=request.user, now=now, unit_is_sure=form.unit_is_sure)
    except Refused as refusal:
        form.refuse(refusal)
        return page(request, hand=form, status=422)
    said = _("Taken: %(value)s.") if taken.taken else _("%(value)s is there already.")
    messages.success(request, said % {"value": _spoken(values["celsius"], request)})
    return back()


def _spoken(celsius: float, request: ShopRequest) -> str:
    """In the shop's unit, and in the other one for whoever meant that."""
    words = measures.words(celsius, "temperature", request.shop)
    other = f"{celsius:.1f} °C" if request.shop.us else f"{celsius * 1.8 + 32:.0f} °F"
    return f"{words} ({other})"


@needs("setup.change")
@require_http_methods(["GET", "POST"])
def remove_reading(request: ShopRequest, reading_id: int) -> HttpResponse:
    reading = get_object_or_404(
        Reading.objects.select_related("room", "by").exclude(source=Reading.Source.SENSOR),
        pk=reading_id,
    )
    if request.method == "GET":
        return render(request, "readings/remove.html", {"door": "readings", "reading": reading})
    try:
        remove(reading_id=reading.pk, by=request.user)
        messages.success(request, _("The reading is removed, and dates follow without it."))
    except Refused as refusal:
        messages.error(request, refusal.message)
    return back()
