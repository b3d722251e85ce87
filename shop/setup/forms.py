"""Forms of the shop itself: settings, rooms, people, closed days."""

from __future__ import annotations

from typing import Any, ClassVar

import holidays
from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from shop import measures
from shop.forms import MeasureField, NumberField, PercentField, ShopForm, ShopModelForm
from shop.models import Person, Role, Room, Shop
from shop.models.air import COLDEST, HOTTEST

# Air over fresh concrete [m/s]: common practice, no source; ACI 305R ends at 25 mph.
STILL, FAN, WINDIEST = 0.3, 3.0, 11.2

WEEKDAYS = (
    lazy("Monday"), lazy("Tuesday"), lazy("Wednesday"), lazy("Thursday"),
    lazy("Friday"), lazy("Saturday"), lazy("Sunday"),
)  # fmt: skip


MOST_SHARE = 0.49


def temperature(label: Any, **more: Any) -> MeasureField:
    return MeasureField("temperature", least=COLDEST, greatest=HOTTEST, label=label, **more)


def clock_input() -> forms.TimeInput:
    return forms.TimeInput(format="%H:%M", attrs={"type": "time"})


def day_input() -> forms.DateInput:
    return forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})


def multiplier(label: Any, help_text: Any) -> NumberField:
    return NumberField(
        label=label, unit=lazy("× weight"), min_value=1, max_value=3, help_text=help_text
    )


class SettingsForm(ShopModelForm):
    margin_hours = NumberField(
        label=lazy("A promise is tight below"),
        unit="h",
        min_value=0,
        max_value=240,
        help_text=lazy("Ready with less than this to spare counts as tight."),
    )
    stale_after_hours = NumberField(
        label=lazy("A thermometer has stopped after"),
        unit="h",
        min_value=0.25,
        max_value=72,
        help_text=lazy("Without a reading for this long, the room's air is called unknown."),
    )
    carry_limit_kg = MeasureField(
        "weight",
        least=1,
        greatest=100,
        label=lazy("Weight one person carries"),
        help_text=lazy(
            "Your own limit, no rule sets one for everybody. It sets how many people a lift "
            "asks for."
        ),
    )
    strip_multiplier = multiplier(
        lazy("Stripping"),
        lazy(
            "PCI Design Handbook, from memory: 1.3 for a flat piece in a smooth form with "
            "removable sides, 1.4 with reveals or false joints. The bond below counts instead "
            "where it is more."
        ),
    )
    form_bond_pa = MeasureField(
        "pressure",
        least=0,
        greatest=20_000,
        label=lazy("Bond of the show face to its form"),
        help_text=lazy(
            "Pulls beside the weight. From memory for an oiled smooth form, where nothing is "
            "published for yours: your own lifts come first."
        ),
    )
    yard_multiplier = multiplier(
        lazy("Flipping and carrying in the shop"),
        lazy("PCI Design Handbook, from memory: 1.2 for handling in the yard."),
    )
    travel_multiplier = multiplier(
        lazy("Travelling"), lazy("PCI Design Handbook, from memory: 1.5 on the road.")
    )
    support_share = PercentField(
        label=lazy("Two supports stand from each end"),
        help_text=lazy(
            "Of the length. At 21 % a slab of one section bends as much between its supports as "
            "over them (statics of a beam with two overhangs)."
        ),
    )
    rupture_factor = NumberField(
        label=lazy("Bending strength over the stress"),
        unit="×",
        min_value=1,
        max_value=10,
        help_text=lazy(
            "The reserve for what the reckoning leaves out: jerks, twist, notches at inside "
            "corners, shrinkage. 1.5 on the modulus of rupture, 7.5 √f'c, is PCI's, from memory."
        ),
    )
    demold_floor_hours = NumberField(
        label=lazy("No demold before"),
        unit="h",
        min_value=0,
        max_value=336,
        help_text=lazy(
            "Equivalent age, hours at %(warmth)s. However many pieces came out clean, none is "
            "trusted earlier than this. A route whose own gate is earlier keeps it."
        ),
    )
    leave_by = forms.TimeField(
        label=lazy("A promised piece leaves by"),
        widget=clock_input(),
        help_text=lazy("Ready later that day means the promise is short."),
    )

    own = (
        "name", "time_zone", "units", "stale_after_hours", "country", "region", "phone",
        "reply_to", "address",
    )  # fmt: skip
    promises = ("judged_on", "margin_hours", "leave_by")
    handling = (
        "carry_limit_kg", "strip_multiplier", "form_bond_pa", "yard_multiplier",
        "travel_multiplier", "support_share", "rupture_factor", "demold_floor_hours",
    )  # fmt: skip

    class Meta:
        model = Shop
        fields = [
            "name", "time_zone", "units", "judged_on", "margin_hours", "leave_by",
            "stale_after_hours",
            "carry_limit_kg", "strip_multiplier", "form_bond_pa", "yard_multiplier",
            "travel_multiplier", "support_share", "rupture_factor", "demold_floor_hours", "country",
            "region", "phone", "reply_to", "address",
        ]  # fmt: skip
        labels: ClassVar[dict[str, Any]] = {
            "name": lazy("Name of the shop"),
            "time_zone": lazy("Time zone"),
            "units": lazy("Units shown and typed"),
            "judged_on": lazy("A promise is judged on"),
            "country": lazy("Holidays of (country)"),
            "region": lazy("State or province"),
            "phone": lazy("Phone"),
            "reply_to": lazy("Customers answer to"),
            "address": lazy("Address"),
        }
        help_texts: ClassVar[dict[str, Any]] = {
            "time_zone": lazy("Like America/Chicago or Europe/Madrid."),
            "country": lazy("Two letters, like US or CA."),
            "judged_on": lazy(
                "The late time is the one by which 9 of 10 such jobs are ready, the likely time "
                "the one by which every other is. A promise is short when the one chosen lies "
                "past it; hours to spare, the latest cast and the day to tell follow from it."
            ),
            "region": lazy("Its short form, like TN; empty for the country's own."),
            "reply_to": lazy("E-mail address that goes under messages to customers."),
        }
        widgets: ClassVar[dict[str, Any]] = {
            "address": forms.Textarea(attrs={"rows": 3}),
            "time_zone": forms.TextInput(attrs={"list": "zones", "autocomplete": "off"}),
        }

    @property
    def own_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.own]

    @property
    def promise_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.promises]

    @property
    def handling_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.handling]

    def clean_support_share(self) -> float:
        share = float(self.cleaned_data["support_share"])
        if share > MOST_SHARE:
            raise ValidationError(_("At most 49 %, or the two supports would meet."))
        return share

    def clean_country(self) -> str:
        country = str(self.cleaned_data["country"]).strip().upper()
        if country not in holidays.list_supported_countries(include_aliases=True):
            raise ValidationError(_("No holidays are known for this country. Two letters, as US."))
        return country

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        country, region = cleaned.get("country"), str(cleaned.get("region") or "").strip()
        if country and region:
            known = holidays.list_supported_countries(include_aliases=True)[country]
            match = {name.upper(): name for name in known}.get(region.upper())
            if match is None:
                shown = ", ".join(known[:12]) or _("none")
                self.add_error("region", _("Not known there. Known are: %s …") % shown)
            cleaned["region"] = match or region
        return cleaned


class RoomForm(ShopModelForm):
    usual_celsius = temperature(
        lazy("Usual temperature"),
        help_text=lazy("Expected where no plan says otherwise and no reading is near."),
    )
    usual_humidity = PercentField(label=lazy("Usual humidity"))
    air_speed = MeasureField(
        "speed",
        least=0,
        greatest=WINDIEST,
        required=False,
        label=lazy("Air moving over fresh concrete"),
        help_text=lazy(
            "For early evaporation (ACI 305R), as felt where pieces are cast. A closed room is "
            "about %(still)s; a fan on fresh concrete %(fan)s and more, and the face dries as "
            "many times faster. Empty: a closed room."
        ),
    )

    class Meta:
        model = Room
        fields = [
            "name", "usual_celsius", "usual_humidity", "air_speed", "is_booth", "in_use",
        ]  # fmt: skip
        labels: ClassVar[dict[str, Any]] = {
            "name": lazy("Name"),
            "is_booth": lazy("Sealer is sprayed here"),
            "in_use": lazy("In use: offered for new pieces"),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        speeds = {"still": STILL, "fan": FAN}
        facts = {k: measures.words(v, "speed", self.shop) for k, v in speeds.items()}
        self.fields["air_speed"].help_text = str(self.fields["air_speed"].help_text) % facts

    def clean_air_speed(self) -> float:
        speed: float | None = self.cleaned_data["air_speed"]
        return STILL if speed is None else speed


class SetBackForm(ShopForm):
    days = forms.MultipleChoiceField(
        label=lazy("Weekdays"),
        choices=[(str(n), name) for n, name in enumerate(WEEKDAYS)],
        initial=["0", "1", "2", "3", "4"],
        widget=forms.CheckboxSelectMultiple,
    )
    day_from = forms.IntegerField(label=lazy("Day begins at"), min_value=0, max_value=23, initial=6)
    day_celsius = temperature(lazy("Day temperature"))
    night_from = forms.IntegerField(
        label=lazy("Night begins at"), min_value=0, max_value=23, initial=18
    )
    night_celsius = temperature(lazy("Night temperature"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("day_from", "night_from"):
            field = self.fields[name]
            field.unit = lazy("o'clock (0–23)")  # type: ignore[attr-defined]
        self.initial.setdefault("day_celsius", 20.0)
        self.initial.setdefault("night_celsius", 12.78 if self.shop.us else 13.0)  # 55 °F


class AirRowForm(ShopForm):
    hour = forms.TypedChoiceField(
        label=lazy("from"),
        required=False,
        coerce=int,
        empty_value=None,
        choices=[("", "–"), *((str(hour), f"{hour:02d}:00") for hour in range(24))],
    )
    celsius = temperature(lazy("temperature"), required=False)
    humidity = PercentField(label=lazy("humidity"), required=False)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        hour, celsius = cleaned.get("hour"), cleaned.get("celsius")
        if hour is None and (celsius is not None or cleaned.get("humidity") is not None):
            self.add_error("hour", _("From which hour on?"))
        if hour is not None and celsius is None and "celsius" not in self.errors:
            self.add_error("celsius", _("Which temperature?"))
        return cleaned


class StretchForm(ShopForm):
    starts = forms.TimeField(label=lazy("from"), required=False, widget=clock_input())
    ends = forms.TimeField(label=lazy("to"), required=False, widget=clock_input())
    people = forms.IntegerField(label=lazy("people"), required=False, min_value=1, max_value=200)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        starts, ends = cleaned.get("starts"), cleaned.get("ends")
        if self.errors or (starts is None and ends is None):
            return cleaned
        if starts is None or ends is None:
            self.add_error("starts" if starts is None else "ends", _("Say from when to when."))
        elif ends <= starts:
            self.add_error("ends", _("Ends before it begins. A night shift is two stretches."))
        elif cleaned.get("people") is None:
            self.add_error("people", _("How many people?"))
        return cleaned


class CloseForm(ShopForm):
    first = forms.DateField(label=lazy("Closed from"), widget=day_input())
    last = forms.DateField(
        label=lazy("to"),
        required=False,
        widget=day_input(),
        help_text=lazy("Empty for one day."),
    )
    name = forms.CharField(label=lazy("Why"), max_length=80, initial=lazy("Closed"))


class InviteForm(ShopForm):
    name = forms.CharField(label=lazy("Name"), max_length=60)
    email = forms.EmailField(label=lazy("E-mail they will sign in with"), max_length=254)
    role = forms.ChoiceField(label=lazy("Role"), choices=Role.choices, initial=Role.CREW)


class PersonForm(ShopModelForm):
    class Meta:
        model = Person
        fields = ["name", "role", "warned"]
        labels: ClassVar[dict[str, Any]] = {
            "name": lazy("Name"),
            "role": lazy("Role"),
            "warned": lazy("Is mailed when a promise changes its state"),
        }
