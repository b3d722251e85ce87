"""A strength test as the shop types it: its age or when it was cast, how it cured, what it bore."""

from __future__ import annotations

import datetime as dt
import re
import uuid
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from shop.forms import LocalMomentField, MeasureField, ShopForm
from shop.models import Room, SpecimenKind
from shop.services.strength_tests import Entry

PART = re.compile(r"(\d+(?:[.,]\d+)?)\s*([a-zA-Z]*)\s*")
HOURS = {
    "": 1.0, "h": 1.0, "hr": 1.0, "hrs": 1.0, "hour": 1.0, "hours": 1.0,
    "d": 24.0, "day": 24.0, "days": 24.0, "min": 1 / 60, "w": 168.0, "week": 168.0, "weeks": 168.0,
}  # fmt: skip


def steadily_cured() -> MeasureField:
    return MeasureField(
        "temperature",
        label=lazy("Cured at a steady"),
        required=False,
        help_text=lazy("As in a cure box. Leave it empty for a specimen beside the pieces."),
    )


def cured_with_pieces() -> forms.ModelChoiceField:
    """The form itself says which rooms there are."""
    return forms.ModelChoiceField(
        label=lazy("or with the pieces in"),
        queryset=Room.objects.none(),
        required=False,
        empty_label=lazy("no room"),
        help_text=lazy("Its measured air then gives the age."),
    )


class AgeField(forms.CharField):
    """'18', '18 h', '3 d' or '1 d 6 h'; cleans to hours."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=20, **kwargs)
        self.widget.attrs.setdefault("autocomplete", "off")

    def clean(self, value: Any) -> float | None:
        text = str(super().clean(value) or "").strip()
        return hours_of(text) if text else None


def hours_of(text: str) -> float:
    parts = list(PART.finditer(text))
    whole = "".join(part[0] for part in parts) == text
    if not parts or not whole or any(part[2].lower() not in HOURS for part in parts):
        raise ValidationError(_("Write an age like 18 h, 3 d or 1 d 6 h."))
    hours = sum(float(part[1].replace(",", ".")) * HOURS[part[2].lower()] for part in parts)
    if hours <= 0:
        raise ValidationError(_("An age above nought."))
    return hours


class StrengthTestForm(ShopForm):
    kind = forms.ChoiceField(
        label=lazy("What was broken"), choices=SpecimenKind.choices, initial=SpecimenKind.CUBE
    )
    strength = MeasureField("strength", least=0.05, greatest=200, label=lazy("Strength"))
    tested_at = LocalMomentField(label=lazy("Broken on"))
    age = AgeField(
        label=lazy("Age then"),
        required=False,
        help_text=lazy("From water-in, by the clock: 18 h, 3 d. Or give the time it was cast."),
    )
    cast_at = LocalMomentField(label=lazy("or cast on"), required=False)
    celsius = steadily_cured()
    room = cured_with_pieces()
    note = forms.CharField(label=lazy("Note"), max_length=200, required=False)
    client_key = forms.UUIDField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, now: dt.datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["room"].queryset = Room.objects.filter(in_use=True)  # type: ignore[attr-defined]
        self.initial.setdefault("tested_at", now.replace(second=0, microsecond=0))
        self.initial.setdefault("client_key", uuid.uuid4())

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        # Nobody types it: a key that got lost is no reason to refuse a test.
        self.errors.pop("client_key", None)
        cleaned["client_key"] = cleaned.get("client_key") or uuid.uuid4()
        self._one_age(cleaned)
        if self._untroubled("celsius", "room"):
            self._one_cure(cleaned)
        return cleaned

    def _untroubled(self, *names: str) -> bool:
        return not any(name in self.errors for name in names)

    def _one_age(self, cleaned: dict[str, Any]) -> None:
        if not self._untroubled("age", "cast_at", "tested_at"):
            return
        age, cast_at = cleaned.get("age"), cleaned.get("cast_at")
        if (age is None) == (cast_at is None):
            self.add_error("age", _("Give its age, or the time it was cast: one of the two."))
            return
        if cast_at is not None:
            age = (cleaned["tested_at"] - cast_at) / dt.timedelta(hours=1)
            if age <= 0:
                self.add_error("cast_at", _("It was broken before that."))
                return
        cleaned["age_hours"] = age

    def _one_cure(self, cleaned: dict[str, Any]) -> None:
        if (cleaned.get("celsius") is None) == (cleaned.get("room") is None):
            self.add_error(
                "celsius",
                _("Give the temperature it cured at, or choose the room: one of the two."),
            )

    @property
    def entry(self) -> Entry:
        typed = self.cleaned_data
        return Entry(
            kind=typed["kind"],
            age_hours=typed["age_hours"],
            tested_at=typed["tested_at"],
            strength_mpa=typed["strength"],
            celsius=typed["celsius"],
            room=typed["room"],
            note=typed["note"],
        )
