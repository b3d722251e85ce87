"""What is entered at the mixer: the sand's moisture, what the scale showed, added water."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from jobs.floor.forms import KeyedForm
from jobs.services.mix_names import component
from jobs.services.scales import KILOGRAMS, Scale
from shop.forms import MeasureField, PercentField
from shop.services.errors import Refused

WEIGHT = re.compile(r"^\s*(\d+(?:[.,]\d*)?|[.,]\d+)\s*([a-zA-Z]*)\.?\s*$")
# The engine takes less than half of the dry weight.
WETTEST = 49


class OpenForm(KeyedForm):
    """The moisture of each sand as it lies, and which plan was seen."""

    seal = forms.CharField(max_length=40, widget=forms.HiddenInput)

    def __init__(
        self, *args: Any, grains: Sequence[str] = (), written: Sequence[str] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.grains = tuple(grains)
        for place, name in enumerate(self.grains):
            self.fields[f"moisture_{place}"] = PercentField(
                label=_("%(sand)s: moisture today") % {"sand": component(name)},
                required=False,
                max_value=WETTEST,
                help_text=_(
                    "Water in it over its dry weight: weigh some, dry it, weigh it again "
                    "(ASTM C566). Empty: as the recipe has it, %(written)s."
                )
                % {"written": written[place] if place < len(written) else "–"},
            )

    @property
    def sands(self) -> list[forms.BoundField]:
        return [self[f"moisture_{place}"] for place in range(len(self.grains))]

    @property
    def moisture(self) -> dict[str, float]:
        typed = {
            name: self.cleaned_data[f"moisture_{place}"] for place, name in enumerate(self.grains)
        }
        return {name: share for name, share in typed.items() if share is not None}

    def refuse(self, error: Refused) -> None:
        field = "moisture_0" if error.field == "moisture" and self.grains else None
        self.add_error(field, error.message)


class ScaleField(forms.CharField):
    """What a scale shows, in its own unit or with another one; cleans to kilograms."""

    def __init__(self, scale: Scale, **kwargs: Any) -> None:
        self.scale, self.unit = scale, scale.unit
        super().__init__(max_length=20, **kwargs)
        self.widget.attrs |= {"inputmode": "decimal", "autocomplete": "off"}

    def clean(self, value: Any) -> float | None:
        text = str(super().clean(value) or "").strip()
        if not text:
            return None
        match = WEIGHT.match(text)
        unit = (match[2].lower().removesuffix("s") or self.scale.unit) if match else ""
        if match is None or unit not in KILOGRAMS:
            example = self.scale.digits(10 * self.scale.step_kg)
            raise ValidationError(
                _("%(text)s is not what a scale shows. Write a number, like %(example)s.")
                % {"text": text, "example": example}
            )
        return float(match[1].replace(",", ".")) * KILOGRAMS[unit]


class TickForm(KeyedForm):
    line = forms.CharField(max_length=80, widget=forms.HiddenInput)
    lot = forms.CharField(
        label=gettext_lazy("Lot"),
        required=False,
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )
    sure = forms.BooleanField(
        label=gettext_lazy("I looked again: it is right"), required=False, initial=False
    )

    field_order = ["line", "client_key", "kept_seconds", "weight", "lot", "sure"]

    def __init__(self, *args: Any, scale: Scale, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["weight"] = ScaleField(
            scale, label=_("The scale shows"), required=False, label_suffix=""
        )
        self.order_fields(self.field_order)
        self.asks = False

    @property
    def as_wanted(self) -> bool:
        return self.is_bound and bool(self.data.get("as_wanted"))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if "weight" in self.errors:
            return cleaned
        typed = cleaned.get("weight")
        if typed is None and not self.as_wanted:
            self.add_error("weight", _("Write what the scale shows, or press As wanted."))
        elif typed is not None and self.as_wanted:
            self.add_error(
                "weight", _("Here is a weight, and As wanted was pressed. Keep one of them.")
            )
        return cleaned

    def refuse(self, error: Refused) -> None:
        """The words stand over the line; whether it is sure is asked only when unlikely."""
        self.asks = error.field == "sure"


class AddedForm(KeyedForm):
    version = forms.IntegerField(widget=forms.HiddenInput)
    seen = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)
    added = MeasureField(
        "scale", least=0, greatest=200, label=gettext_lazy("Water and ice added, in all")
    )
    why = forms.CharField(
        label=gettext_lazy("What, and why"),
        required=False,
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    field_order = ["version", "seen", "client_key", "kept_seconds", "added", "why"]


class SpoiledForm(KeyedForm):
    because = forms.CharField(
        label=gettext_lazy("What happened"),
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    field_order = ["client_key", "kept_seconds", "because"]
