"""What is typed at a cast's runs: the sand's moisture, a weight with its lot, a reason."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from jobs.services.errors import Refused
from jobs.services.scales import Scale, read_weight
from shop.forms import PercentField, ShopForm

MOST_MOISTURE = 0.5


class MoistureForm(ShopForm):
    """A field for each sand and aggregate; empty is as the recipe is written."""

    client_key = forms.UUIDField(widget=forms.HiddenInput, required=False)

    def __init__(
        self, *args: Any, grains: Sequence[str], today: Mapping[str, float], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("client_key", uuid.uuid4())
        self.grains = {f"wet-{place}": name for place, name in enumerate(grains)}
        for field, name in self.grains.items():
            self.fields[field] = PercentField(label=f"Moisture of {name} today", required=False)
            self.fields[field].help_text = "Of its dry weight (ASTM C566). Empty: as the recipe is."
            self.initial[field] = today.get(name)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        self.errors.pop("client_key", None)
        for field in self.grains:
            share = cleaned.get(field)
            if share is not None and share >= MOST_MOISTURE:
                self.add_error(field, ValidationError("Below 50 % of its dry weight."))
        return cleaned

    @property
    def moisture(self) -> dict[str, float]:
        values = {name: self.cleaned_data.get(field) for field, name in self.grains.items()}
        return {name: share for name, share in values.items() if share is not None}

    def key_for(self, number: int) -> uuid.UUID:
        return uuid.uuid5(self.cleaned_data.get("client_key") or uuid.uuid4(), str(number))


class TickForm(ShopForm):
    line = forms.CharField(max_length=80, widget=forms.HiddenInput)
    client_key = forms.UUIDField(widget=forms.HiddenInput, required=False)
    weight = forms.CharField(
        label="What the scale showed",
        max_length=20,
        error_messages={"required": "Write what the scale showed."},
    )
    lot = forms.CharField(label="Lot", max_length=60, required=False)
    sure = forms.BooleanField(label="I looked again: it is so", required=False)

    def __init__(self, *args: Any, scale: Scale, name: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.scale, self.asks = scale, False
        self.initial.setdefault("client_key", uuid.uuid4())
        self.fields["weight"].widget.attrs |= {
            "inputmode": "decimal",
            "autocomplete": "off",
            "aria-label": f"What the scale showed of {name}, in {scale.unit}",
        }
        self.fields["lot"].widget.attrs |= {"autocomplete": "off", "aria-label": f"Lot of {name}"}

    def clean_weight(self) -> float:
        try:
            return read_weight(self.cleaned_data["weight"], self.scale)
        except ValueError as error:
            raise ValidationError(str(error)) from error

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        self.errors.pop("client_key", None)
        cleaned["client_key"] = cleaned.get("client_key") or uuid.uuid4()
        return cleaned

    def refuse(self, error: Refused) -> None:
        self.asks = error.field == "sure"
        super().refuse(error)


class StrikeForm(ShopForm):
    because = forms.CharField(
        label="Why it is struck",
        max_length=200,
        error_messages={"required": "Write why this run is struck."},
    )
