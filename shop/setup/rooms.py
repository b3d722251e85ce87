"""Rooms, and what the heating of each is set to through the week."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shop import measures
from shop.access import needs
from shop.forms import ShopModelForm
from shop.http import ShopRequest, posted
from shop.models import Room, Shop
from shop.services import rows, setup
from shop.services.errors import Conflict, Refused
from shop.services.setup import AirFrom
from shop.setup import pages
from shop.setup.forms import WEEKDAYS, AirRowForm, RoomForm, SetBackForm
from shop.setup.picture import step_picture
from shop.setup.week import Rows, WeekForm


@needs("setup.see")
@require_safe
def rooms(request: ShopRequest) -> HttpResponse:
    listed = list(Room.objects.prefetch_related("planned").order_by("-in_use", "name"))
    pictures = [
        (room, step_picture(setup.planned_air(room), room.usual_celsius, request.shop))
        for room in listed
    ]
    return pages.show(request, "setup/rooms.html", {"rooms": pictures})


@needs("setup.change")
@require_http_methods(["GET", "HEAD", "POST"])
def room(request: ShopRequest, room_id: int | None = None) -> HttpResponse:
    instance = get_object_or_404(Room, pk=room_id) if room_id else Room()
    name = instance.name

    def save(form: ShopModelForm) -> Room:
        return setup.save_room(room_id=room_id, version=form.own_version, values=form.values)

    return pages.edit(
        request,
        form=RoomForm(posted(request), shop=request.shop, instance=instance),
        save=save,
        template="setup/room.html",
        context={"room_id": room_id, "name": name},
        done=lambda room: pages.saved(
            request, _("%(name)s saved.") % {"name": room.name}, "room-air", room.pk
        ),
    )


@needs("setup.change")
@require_POST
def delete_room(request: ShopRequest, room_id: int) -> HttpResponse:
    get_object_or_404(Room, pk=room_id)

    def act() -> str:
        return _("%(name)s is deleted.") % {"name": rows.delete(Room, room_id)}

    return pages.try_it(request, act, "rooms")


@needs("setup.change")
@require_http_methods(["GET", "HEAD", "POST"])
def room_air(request: ShopRequest, room_id: int) -> HttpResponse:
    room = get_object_or_404(Room, pk=room_id)
    plan = setup.planned_air(room)
    if request.method != "POST":
        return _air_page(request, room, plan, _week(request.shop, plan))
    week = _week(request.shop, plan, request.POST)
    if not week.is_valid():
        return _air_page(request, room, plan, week, status=422)
    try:
        setup.plan_air(room_id=room_id, seen=_seen(request), plan=_typed(week))
    except Conflict as conflict:
        plan = setup.planned_air(room)
        theirs = _words(plan, request.shop)
        return _air_page(request, room, plan, week, 409, refusal=conflict.message, theirs=theirs)
    except Refused as refusal:
        return _air_page(request, room, plan, week, 422, refusal=refusal.message)
    return pages.saved(request, _("The plan is saved."), "room-air", room_id)


@needs("setup.change")
@require_POST
def set_back(request: ShopRequest, room_id: int) -> HttpResponse:
    room = get_object_or_404(Room, pk=room_id)
    form = SetBackForm(request.POST, shop=request.shop)
    if form.is_valid():
        typed = form.cleaned_data
        try:
            setup.set_back(
                room_id=room_id,
                days=[int(day) for day in typed["days"]],
                day=AirFrom(0, typed["day_from"], typed["day_celsius"]),
                night=AirFrom(0, typed["night_from"], typed["night_celsius"]),
            )
            return pages.saved(request, _("The set-back is laid out."), "room-air", room_id)
        except Refused as refusal:
            form.refuse(refusal)
    plan = setup.planned_air(room)
    week = _week(request.shop, plan)
    return _air_page(request, room, plan, week, status=422, set_back=form)


def _air_page(
    request: ShopRequest,
    room: Room,
    plan: list[AirFrom],
    week: WeekForm,
    status: int = 200,
    **more: Any,
) -> HttpResponse:
    context = {
        "room": room,
        "week": week,
        "seen": setup.edition(plan),
        "picture": step_picture(plan, room.usual_celsius, request.shop),
        "set_back": SetBackForm(shop=request.shop, initial=set_back_in(plan)),
        **more,
    }
    return pages.show(request, "setup/room_air.html", context, status)


def set_back_in(plan: Iterable[AirFrom]) -> dict[str, Any]:
    """The day and night that most weekdays of the plan share, and which weekdays those are."""
    weekdays: dict[int, list[AirFrom]] = defaultdict(list)
    for row in sorted(plan):
        weekdays[row.weekday].append(row)
    pairs = {
        weekday: ((rows[0].hour, rows[0].celsius), (rows[1].hour, rows[1].celsius))
        for weekday, rows in weekdays.items()
        if len(rows) == 2
    }
    if not pairs:
        return {}
    (day, night), _count = Counter(pairs.values()).most_common(1)[0]
    return {
        "days": [str(weekday) for weekday, pair in pairs.items() if pair == (day, night)],
        "day_from": day[0],
        "day_celsius": day[1],
        "night_from": night[0],
        "night_celsius": night[1],
    }


def _seen(request: ShopRequest) -> int:
    text = request.POST.get("seen", "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 12 else -1


def _week(shop: Shop, plan: Iterable[AirFrom], data: Any = None) -> WeekForm:
    stored: dict[int, Rows] = defaultdict(list)
    for row in plan:
        stored[row.weekday].append(
            {"hour": row.hour, "celsius": row.celsius, "humidity": row.humidity}
        )
    return WeekForm(AirRowForm, shop=shop, stored=stored, data=data)


def _typed(week: WeekForm) -> list[AirFrom]:
    return [
        AirFrom(weekday, values["hour"], values["celsius"], values["humidity"])
        for weekday, values in week.rows("hour")
    ]


def _words(plan: Iterable[AirFrom], shop: Shop) -> list[str]:
    return [
        f"{WEEKDAYS[row.weekday]} {row.hour:02d}:00 "
        f"{measures.words(row.celsius, 'temperature', shop)}"
        for row in plan
    ]
