"""What is put on record of a run, a specimen, a piece, a photo: forms a phone can fill in."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from jobs.models import MixerRun
from jobs.services.errors import Refused
from jobs.services.run_record import FIELDS, LIMITS, Offered, cup_density
from shop.forms import LocalMomentField, MeasureField, PercentField, ShopForm, ShopModelForm
from shop.models import Room, SpecimenKind
from shop.setup.strength_test_form import cured_with_pieces, steadily_cured


def _limited(kind: str, name: str, label: Any, **kwargs: Any) -> MeasureField:
    least, greatest, _words = LIMITS[name]
    return MeasureField(kind, least=least, greatest=greatest, label=label, required=False, **kwargs)


class KeyForm(ShopForm):
    """Carries the key that lets it arrive twice and count once."""

    client_key = forms.UUIDField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("client_key", uuid.uuid4())

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        # Nobody types it: a key that got lost is no reason to refuse what was typed.
        self.errors.pop("client_key", None)
        cleaned["client_key"] = cleaned.get("client_key") or uuid.uuid4()
        return cleaned


def without_bare_day(data: Any, field: str) -> Any:
    """The day is filled in for the person; today without a clock time says nothing."""
    if data is None or data.get(f"{field}_1"):
        return data
    if data.get(f"{field}_0") not in {None, "", timezone.localdate().isoformat()}:
        return data
    data = data.copy()
    data[f"{field}_0"] = ""
    return data


class RunRecordForm(ShopModelForm):
    water_in_at = LocalMomentField(label=lazy("Water in"), required=False)
    added_water_kg = _limited(
        "scale",
        "added_water_kg",
        lazy("Water, ice and later additions beyond the sheet"),
    )
    mix_celsius = _limited("temperature", "mix_celsius", lazy("The mix"))
    air_celsius = _limited("temperature", "air_celsius", lazy("The air"))
    form_celsius = _limited("temperature", "form_celsius", lazy("The form"))
    humidity = PercentField(label=lazy("Humidity"), required=False)
    spread_m = _limited("length", "spread_m", lazy("Spread"))
    unit_weight = _limited("density", "unit_weight", lazy("Unit weight, as measured"))
    cup_full = MeasureField(
        "small_weight", least=0.001, greatest=100, label=lazy("Cup, full"), required=False
    )
    cup_empty = MeasureField(
        "small_weight", least=0, greatest=100, label=lazy("Cup, empty"), required=False
    )
    cup_volume = MeasureField(
        "cup",
        least=1e-5,
        greatest=0.1,
        label=lazy("Cup, what it holds"),
        required=False,
        help_text=lazy("The volume of clean water that fills it to the brim."),
    )
    covered_at = LocalMomentField(label=lazy("Covered"), required=False)

    class Meta:
        model = MixerRun
        fields = FIELDS

    field_order = [
        "water_in_at", "added_water_kg", "added_why", "mix_celsius", "air_celsius",
        "form_celsius", "humidity", "spread_m", "unit_weight", "cup_full", "cup_empty",
        "cup_volume", "covered_at", "note",
    ]  # fmt: skip

    def __init__(
        self,
        data: Any = None,
        *,
        water_in: dt.datetime | None = None,
        air: Offered | None = None,
        **kwargs: Any,
    ) -> None:
        for name in ("water_in_at", "covered_at"):
            data = without_bare_day(data, name)
        super().__init__(data, **kwargs)
        run = self.instance
        self.fields["added_why"].required = False
        self.fields["added_why"].label = _("What was added, and why")
        self.fields["note"].label = _("Note")
        if not run.added_water_kg:
            self.initial["added_water_kg"] = None
        self.offered = air if run.recorded_by_id is None else None
        if run.recorded_by_id is None:
            self.initial["water_in_at"] = run.water_in_at or water_in
            if air is not None:
                self.initial["air_celsius"] = air.celsius
                self.initial["humidity"] = air.humidity

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        cup = [cleaned.get(name) for name in ("cup_full", "cup_empty", "cup_volume")]
        wrong = any(name.startswith("cup_") for name in self.errors)
        if any(part is not None for part in cup) and not wrong:
            try:
                full, empty, volume = cup
                cleaned["unit_weight"] = cup_density(full, empty, volume, self.shop)
            except Refused as refusal:
                self.add_error(refusal.field or "cup_full", refusal.message)
        if cleaned.get("added_water_kg") is None and "added_water_kg" not in self.errors:
            cleaned["added_water_kg"] = 0.0
        return cleaned

    def _post_clean(self) -> None:
        """The service judges the values as they are: the row itself is not touched here."""


class SpecimenForm(ShopForm):
    kind = forms.ChoiceField(
        label=lazy("What is cast"), choices=SpecimenKind.choices, initial=SpecimenKind.CUBE
    )
    labels = forms.CharField(
        label=lazy("Labels"),
        max_length=400,
        help_text=lazy("One for each, with commas between. Write them on the molds."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    @property
    def typed(self) -> list[str]:
        return [label for label in self.cleaned_data["labels"].split(",") if label.strip()]


class ResultForm(KeyForm):
    strength = MeasureField("strength", least=0.05, greatest=200, label=lazy("Strength"))
    tested_at = LocalMomentField(label=lazy("Broken on"))
    celsius = steadily_cured()
    room = cured_with_pieces()
    note = forms.CharField(label=lazy("Note"), max_length=160, required=False)

    def __init__(self, *args: Any, now: dt.datetime, room: Room | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rooms = Room.objects.filter(in_use=True)
        self.fields["room"].queryset = rooms  # type: ignore[attr-defined]
        self.initial.setdefault("tested_at", now.replace(second=0, microsecond=0))
        self.initial.setdefault("room", room.pk if room else None)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if not {"celsius", "room"} & set(self.errors):
            if cleaned.get("celsius") is not None and cleaned.get("room") is not None:
                # The room is filled in for the person: a temperature that was typed means it.
                if "room" in self.changed_data:
                    self.add_error(
                        "celsius", _("Give the temperature it cured at, or the room: one of both.")
                    )
                cleaned["room"] = None
            elif cleaned.get("celsius") is None and cleaned.get("room") is None:
                self.add_error("celsius", _("Give the temperature it cured at, or the room."))
        return cleaned


class MeasuredForm(KeyForm):
    thickness = MeasureField("length", label=lazy("Thickness"), required=False)
    weight = MeasureField("scale", label=lazy("Weight"), required=False)
    at = LocalMomentField(label=lazy("When, if not now"), required=False)
    sure = forms.BooleanField(label=lazy("I looked again: it is right"), required=False)

    field_order = ["client_key", "thickness", "weight", "sure", "at"]

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(without_bare_day(data, "at"), **kwargs)
        self.asks = False

    def refuse(self, error: Refused) -> None:
        """Whether it is right is asked only when it is unlikely."""
        self.asks = error.field == "sure"
        super().refuse(error)


class PhotoForm(KeyForm):
    picture = forms.FileField(
        label=lazy("Photo"),
        allow_empty_file=True,
        max_length=400,
        widget=forms.FileInput(attrs={"accept": "image/*", "capture": "environment"}),
        error_messages={
            "required": lazy("Take a photo, or choose one."),
            "invalid": lazy("Take a photo, or choose one."),
        },
    )
    words = forms.CharField(
        label=lazy("What it shows"),
        max_length=200,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    field_order = ["client_key", "picture", "words"]

    def clean_picture(self) -> bytes:
        sent = self.cleaned_data["picture"]
        try:
            return bytes(sent.read())
        except OSError as error:
            raise ValidationError(_("The photo did not arrive whole. Send it again.")) from error
