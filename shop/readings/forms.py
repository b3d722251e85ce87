from __future__ import annotations

import datetime as dt
import re
import zoneinfo
from typing import Any

from django import forms
from django.conf import settings
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shop.forms import LocalMomentField, MeasureField, PercentField, ShopForm
from shop.models import Room, Sensor, Shop
from shop.models.settings import known_zone
from shop.services.air_file import Wording

UNIT = re.compile(r"[°a-zA-Z]")


class RoomField(forms.ModelChoiceField):
    """A room in use; the only one there is needs no choosing."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("label", gettext_lazy("Room"))
        super().__init__(Room.objects.filter(in_use=True), empty_label=None, **kwargs)


class HandForm(ShopForm):
    room = RoomField()
    celsius = MeasureField("temperature", label=gettext_lazy("Temperature"))
    at = LocalMomentField(label=gettext_lazy("When it was read"))
    humidity = PercentField(
        label=gettext_lazy("Humidity"),
        required=False,
        help_text=gettext_lazy("If the thermometer shows it."),
    )

    def __init__(self, *args: Any, shop: Shop, now: dt.datetime, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "hand_%s")
        kwargs.setdefault("initial", {"at": now})
        super().__init__(*args, shop=shop, **kwargs)

    @property
    def unit_is_sure(self) -> bool:
        return bool(UNIT.search(self.data.get("celsius", "")))


class UploadForm(ShopForm):
    room = RoomField()
    file = forms.FileField(
        label=gettext_lazy("File"),
        allow_empty_file=True,  # so that a service says what an empty file is
        help_text=gettext_lazy(
            "CSV with the columns time, celsius or fahrenheit, and humidity if you have it."
        ),
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.tsv,text/csv,text/plain"}),
    )
    zone = forms.CharField(
        label=gettext_lazy("Clock of the times in it"),
        max_length=60,
        validators=[known_zone],
        help_text=gettext_lazy("Counts for times that carry no offset of their own."),
        widget=forms.TextInput(attrs={"list": "zones", "autocomplete": "off"}),
    )
    humidity = forms.ChoiceField(
        label=gettext_lazy("Humidity is written as"),
        choices=[
            ("percent", gettext_lazy("percent, 55")),
            ("fraction", gettext_lazy("fraction, 0.55")),
        ],
        initial="percent",
    )

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "file_%s")
        kwargs.setdefault("initial", {"zone": shop.time_zone})
        super().__init__(*args, shop=shop, **kwargs)
        self.fields["file"].widget.attrs["data-limit"] = settings.CUREWRIGHT_UPLOAD_LIMIT

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > settings.CUREWRIGHT_UPLOAD_LIMIT:
            raise forms.ValidationError(too_large())
        return file

    @property
    def wording(self) -> Wording:
        return Wording(
            zone=zoneinfo.ZoneInfo(self.cleaned_data["zone"]),
            humidity_is_fraction=self.cleaned_data["humidity"] == "fraction",
        )


def too_large() -> str:
    limit = settings.CUREWRIGHT_UPLOAD_LIMIT // (1024 * 1024)
    return _(
        "The file is larger than %(limit)s MB, so it was not read. Split it into shorter "
        "stretches of time, or keep one reading every few minutes."
    ) % {"limit": limit}


class SensorForm(ShopForm):
    name = forms.CharField(
        label=gettext_lazy("Name"),
        max_length=60,
        help_text=gettext_lazy("What is written on it, or where it hangs."),
    )
    room = RoomField()

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if Sensor.objects.filter(name__iexact=name).exists():
            raise forms.ValidationError(_("There is a sensor of this name already."))
        return name
