"""What the crew enters. Each form carries the key that lets it arrive twice and count once."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from jobs.models import Outcome
from shop.forms import LocalMomentField, MeasureField, ShopForm
from shop.services.errors import Refused

LONGEST_KEPT = dt.timedelta(days=14)


class KeyedForm(ShopForm):
    client_key = forms.UUIDField(widget=forms.HiddenInput)
    # How long a phone without signal has kept this. Elapsed time, since a phone's clock may be off.
    kept_seconds = forms.IntegerField(
        required=False,
        min_value=0,
        max_value=int(LONGEST_KEPT.total_seconds()),
        widget=forms.HiddenInput,
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("client_key", uuid.uuid4())

    @property
    def tapped_at(self) -> dt.datetime:
        kept = self.cleaned_data.get("kept_seconds") or 0
        return timezone.now() - dt.timedelta(seconds=kept)


class ReasonForm(KeyedForm):
    reason = forms.CharField(
        label=_("Why"),
        required=False,
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 2, "maxlength": 300, "autocomplete": "off"}),
    )


class MarkForm(ReasonForm):
    step_key = forms.CharField(max_length=34, widget=forms.HiddenInput)
    happened_at = LocalMomentField(label=_("When it was done"), required=False)
    # Of a demold: the button that was tapped.
    outcome = forms.ChoiceField(
        required=False,
        choices=[("", ""), *Outcome.choices],
        widget=forms.HiddenInput,
        error_messages={
            "invalid_choice": _(
                "A piece comes out clean, soft, chipped or broken. Choose one of them."
            )
        },
    )

    field_order = ["step_key", "client_key", "kept_seconds", "happened_at", "reason"]

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(_without_bare_day(data, "happened_at"), **kwargs)

    @property
    def moment(self) -> dt.datetime:
        return self.cleaned_data["happened_at"] or self.tapped_at


class CastForm(ReasonForm):
    water_in = LocalMomentField(label=_("Water-in time"), required=False)

    field_order = ["client_key", "kept_seconds", "water_in", "reason"]

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(_without_bare_day(data, "water_in"), **kwargs)

    @property
    def moment(self) -> dt.datetime:
        return self.cleaned_data["water_in"] or self.tapped_at


class WeighForm(KeyedForm):
    weight = MeasureField("scale", label=_("Weight"), least=0.05, greatest=2000)
    happened_at = LocalMomentField(label=_("When it was weighed"), required=False)
    sure = forms.BooleanField(
        label=_("I looked again: the weight is right"), required=False, initial=False
    )

    field_order = ["client_key", "kept_seconds", "weight", "happened_at", "sure"]

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(_without_bare_day(data, "happened_at"), **kwargs)
        self.asks = False

    def refuse(self, error: Refused) -> None:
        """Whether it is sure is asked only when the weight is unlikely."""
        self.asks = error.field == "sure"

    @property
    def timed(self) -> bool:
        """Another time than now was typed."""
        return self.is_bound and bool(self.data.get(self.add_prefix("happened_at_1")))

    @property
    def moment(self) -> dt.datetime:
        return self.cleaned_data["happened_at"] or self.tapped_at


def _without_bare_day(data: Any, field: str) -> Any:
    """The day is filled in for the person; today without a clock time means now."""
    if data is None or data.get(f"{field}_1"):
        return data
    if data.get(f"{field}_0") not in {None, "", timezone.localdate().isoformat()}:
        return data
    data = data.copy()
    data[f"{field}_0"] = ""
    return data
