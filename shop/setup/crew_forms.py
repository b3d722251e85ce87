"""Forms of who works here and what the shop's stations take."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from shop.forms import MeasureField, NumberField, PercentField, ShopForm, ShopModelForm
from shop.models import Person, Stations, Worker, works
from shop.services.crew import WORK_BY_HAND
from shop.setup.forms import WEEKDAYS, clock_input, day_input
from shop.setup.shop_forms import GroupedForm


class WorkerForm(ShopModelForm):
    account = forms.ModelChoiceField(
        label=lazy("Account"),
        queryset=Person.objects.none(),
        required=False,
        empty_label=lazy("none: does not sign in"),
        help_text=lazy("Of those of crew and owners that nobody else here has."),
    )
    works = forms.MultipleChoiceField(
        label=lazy("Can do"),
        choices=works,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": lazy("Tick at least one, or take them out of use.")},
    )
    weekdays = forms.TypedMultipleChoiceField(
        label=lazy("May be planned on"),
        choices=[(str(number), name) for number, name in enumerate(WEEKDAYS)],
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": lazy("Tick at least one, or take them out of use.")},
        help_text=lazy(
            "Within the working hours. Extra hours count, too: untick Saturday for somebody who "
            "never comes on one."
        ),
    )
    ticked = ("works", "weekdays")

    class Meta:
        model = Worker
        fields = ["name", "account", "works", "weekdays", "in_use"]
        labels: ClassVar[dict[str, Any]] = {
            "name": lazy("Name"),
            "in_use": lazy("In use: the plan counts on them"),
        }
        help_texts: ClassVar[dict[str, Any]] = {
            "name": lazy("As the plan says it: short, and nobody else's.")
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        free = Q(is_active=True, role__in=WORK_BY_HAND, worker__isnull=True)
        own = Q(pk=self.instance.account_id)
        accounts = Person.objects.filter(free | own).order_by("name")
        self.fields["account"].queryset = accounts  # type: ignore[attr-defined]

    def clean_name(self) -> str:
        """One name in two spellings of its letters would be taken for two people."""
        name = str(self.cleaned_data["name"])
        if Worker.objects.filter(name__iexact=name).exclude(pk=self.instance.pk).exists():
            raise ValidationError(_("There is somebody of this name already."))
        return name


class AbsenceForm(ShopForm):
    first_day = forms.DateField(label=lazy("Away from"), widget=day_input())
    last_day = forms.DateField(
        label=lazy("to, that day included"),
        required=False,
        widget=day_input(),
        help_text=lazy("Empty for one day."),
    )
    reason = forms.CharField(label=lazy("Why"), max_length=80, required=False)

    @property
    def absence(self) -> dict[str, Any]:
        first: dt.date = self.cleaned_data["first_day"]
        last: dt.date = self.cleaned_data["last_day"] or first
        return {"first_day": first, "last_day": last, "reason": self.cleaned_data["reason"]}


class ExtraHoursForm(ShopForm):
    day = forms.DateField(label=lazy("Day"), widget=day_input())
    starts = forms.TimeField(label=lazy("From"), widget=clock_input())
    ends = forms.TimeField(
        label=lazy("to"), widget=clock_input(), help_text=lazy("23:59 stands for midnight.")
    )
    reason = forms.CharField(label=lazy("Why"), max_length=80, required=False)


def places(label: Any, most: int, help_text: Any = "") -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        min_value=1,
        max_value=most,
        help_text=help_text,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )


def hours(label: Any, most: float, help_text: Any = "") -> NumberField:
    return NumberField(label=label, unit="h", min_value=0, max_value=most, help_text=help_text)


class StationsForm(GroupedForm):
    rack_places = places(
        lazy("Places on the racks"),
        2000,
        lazy("A piece holds one from demold until it is crated, 5 to 10 days: common practice."),
    )
    wet_bays = places(lazy("Wet bays"), 50, lazy("Pieces that can be ground or honed at once."))
    booth_places = places(lazy("Places in the booth"), 50, lazy("Pieces coated at once."))
    mixers = places(lazy("Mixers"), 20)
    trucks = places(lazy("Trucks"), 50)
    shared_air = forms.BooleanField(
        label=lazy("The booth shares the shop's air"),
        required=False,
        help_text=lazy(
            "Ticked: nothing is mixed or ground while coats are put on, and not just before. "
            "Untick it for a booth with an intake of its own."
        ),
    )
    settle_hours = hours(
        lazy("Dust settles in"), 24, lazy("2 to 4 h: common practice, no source. Watch your own.")
    )
    form_hours = hours(
        lazy("Setting up a form"),
        80,
        lazy("For each piece, whatever its size: base, sides, knockouts, caulk, release."),
    )
    form_hours_m2 = MeasureField(
        "labour_per_area",
        least=0,
        greatest=40,
        label=lazy("and by area"),
        help_text=lazy(
            "0.15 to 0.35 h/ft² (1.6 to 3.8 h/m²) in all for flat pieces, days for a sink: common "
            "practice, no source."
        ),
    )
    form_people = places(lazy("People, together"), 10)
    form_wait_hours = hours(
        lazy("Caulk sets before the cast"),
        72,
        lazy("Overnight is common practice: the caulk's own sheet governs."),
    )
    labour_spread = PercentField(
        label=lazy("Work is off by about"),
        help_text=lazy(
            "Two of three times work takes the planned hours within about so much. 25 % is a "
            "start and no more, no source: put in your own when you know it. 0: always as planned."
        ),
    )

    parts = (
        (
            lazy("Places"),
            lazy(
                "How much each part of the shop takes at once. The plan never puts more there. "
                "Casting tables are listed by themselves, with their sizes."
            ),
            ("rack_places", "wet_bays", "booth_places", "mixers", "trucks"),
        ),
        (
            lazy("Air and dust"),
            lazy("Dust in a wet coat stays there."),
            ("shared_air", "settle_hours"),
        ),
        (
            lazy("Setting up forms"),
            lazy(
                "Comes before a route's first step. A form stands on its table from then until "
                "demold."
            ),
            ("form_hours", "form_hours_m2", "form_people", "form_wait_hours"),
        ),
        (
            lazy("Hours of work"),
            lazy("How far a plan's dates spread because work takes longer or less."),
            ("labour_spread",),
        ),
    )

    class Meta:
        model = Stations
        fields = [
            "rack_places", "wet_bays", "booth_places", "mixers", "trucks", "shared_air",
            "settle_hours", "form_hours", "form_hours_m2", "form_people", "form_wait_hours",
            "labour_spread",
        ]  # fmt: skip
