"""The thermometers that post by themselves. A token is shown once, in the answer that made it."""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from shop.access import needs
from shop.http import ShopRequest
from shop.models import Sensor
from shop.readings.forms import SensorForm
from shop.services import sensors
from shop.services.errors import Refused


@needs("setup.change")
@require_http_methods(["GET", "POST"])
@never_cache
def sensor_list(request: ShopRequest) -> HttpResponse:
    if request.method == "GET":
        return _show(request, SensorForm(shop=request.shop))
    form = SensorForm(request.POST, shop=request.shop)
    if form.is_valid():
        try:
            sensor, token = sensors.add_sensor(**form.cleaned_data)
            return _show_token(request, sensor, token)
        except Refused as refusal:
            form.refuse(refusal)
    return _show(request, form, status=422)


@needs("setup.change")
@require_POST
@never_cache
def renew(request: ShopRequest, sensor_id: int) -> HttpResponse:
    sensor = get_object_or_404(Sensor.objects.select_related("room"), pk=sensor_id)
    return _show_token(request, sensor, sensors.renew_token(sensor=sensor))


@needs("setup.change")
@require_POST
def withdraw(request: ShopRequest, sensor_id: int) -> HttpResponse:
    sensor = get_object_or_404(Sensor, pk=sensor_id)
    sensors.withdraw(sensor=sensor)
    messages.success(
        request,
        _("%(name)s is withdrawn: nothing it sends is taken. Its readings stay.")
        % {"name": sensor.name},
    )
    return redirect("sensors")


def _show(request: ShopRequest, form: SensorForm, status: int = 200) -> HttpResponse:
    silent_since = timezone.now() - dt.timedelta(hours=request.shop.stale_after_hours)
    context = {
        "door": "readings",
        "form": form,
        "sensors": Sensor.objects.select_related("room").order_by("-in_use", "name"),
        "silent_since": silent_since,
    }
    return render(request, "readings/sensors.html", context, status=status)


def _show_token(request: ShopRequest, sensor: Sensor, token: str) -> HttpResponse:
    context = {
        "door": "readings",
        "sensor": sensor,
        "token": token,
        "address": settings.SITE_URL.rstrip("/") + "/api/readings",
    }
    return render(request, "readings/sensor_token.html", context)
