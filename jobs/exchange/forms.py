"""What is chosen on the way of a table, in and out."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.conf import settings
from django.utils import timezone
from django.utils.translation import gettext_lazy as lazy

from jobs.services.exchange.columns import CHANGE, LEAVE, ORDERS, Choices, Column
from jobs.services.exchange.fields import CUSTOMER, JOB, PIECE, Field
from jobs.services.exchange.out import ALL, DAYS, OPEN, Wanted
from jobs.services.exchange.units import UNITS
from shop.forms import MeasureField, ShopForm
from shop.models import Mix, Room, Route, Sealer, Shop

OFFERED = {"room": Room, "mix": Mix, "route": Route, "sealer": Sealer}
GROUPS = {JOB: lazy("The job"), CUSTOMER: lazy("The customer"), PIECE: lazy("The piece")}


def day_input() -> forms.DateInput:
    return forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})


class FileForm(ShopForm):
    file = forms.FileField(
        label=lazy("File"),
        allow_empty_file=True,  # so that a service says what an empty file is
        help_text=lazy("XLSX, or CSV with commas, semicolons or tabs. The first row names the "
                       "columns."),
        widget=forms.FileInput(attrs={"accept": ".xlsx,.csv,.txt,.tsv"}),
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"].widget.attrs["data-limit"] = settings.CUREWRIGHT_UPLOAD_LIMIT


class DefaultsForm(ShopForm):
    """What rows are given that do not say it themselves."""

    room = forms.ModelChoiceField(Room.objects.none(), required=False,
                                  label=lazy("Cast and cured in"))  # fmt: skip
    mix = forms.ModelChoiceField(Mix.objects.none(), required=False, label=lazy("Mix"))
    route = forms.ModelChoiceField(Route.objects.none(), required=False, label=lazy("Route"))
    sealer = forms.ModelChoiceField(Sealer.objects.none(), required=False, label=lazy("Sealer"))
    thickness = MeasureField("length", least=0.005, greatest=0.5, required=False,
                             label=lazy("Thickness"))  # fmt: skip
    taken_on = forms.DateField(label=lazy("Taken on"), required=False, widget=day_input())
    numbers_down = forms.BooleanField(
        required=False, label=lazy("A row without a job number goes with the row above it"),
    )  # fmt: skip
    letters_given = forms.BooleanField(
        required=False,
        label=lazy("Pieces without a letter get A, B, C, … in the order of their job's rows"),
    )
    existing = forms.ChoiceField(
        label=lazy("Jobs and pieces that are here already"),
        choices=[
            (LEAVE, lazy("are left as they are")),
            (CHANGE, lazy("are changed to what the file says; an empty cell leaves what is there")),
        ],
        widget=forms.RadioSelect,
        initial=LEAVE,
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, model in OFFERED.items():
            field = self.fields[name]
            field.queryset = model._default_manager.filter(in_use=True)  # type: ignore[attr-defined]
            field.empty_label = lazy("none: each row says it")  # type: ignore[attr-defined]

    @property
    def defaults(self) -> dict[str, Any]:
        """Plain, as they are kept between the steps."""
        given = self.cleaned_data
        chosen = {name: given[name].pk for name in OFFERED if given.get(name)}
        if given.get("thickness") is not None:
            chosen["thickness"] = given["thickness"]
        if day := given.get("taken_on"):
            chosen["taken_on"] = day.isoformat()
        return chosen


def first_choices(shop: Shop) -> dict[str, Any]:
    """Where there is only one in use, it is the one; the usual slab; today."""
    chosen: dict[str, Any] = {"thickness": 0.01905 if shop.us else 0.019}
    chosen["taken_on"] = timezone.localdate(timezone=shop.zone).isoformat()
    for name, model in OFFERED.items():
        keys = list(model._default_manager.filter(in_use=True).values_list("pk", flat=True)[:2])
        if len(keys) == 1:
            chosen[name] = keys[0]
    return chosen


def initial_of(choices: Choices) -> dict[str, Any]:
    return {
        **choices.defaults,
        "existing": choices.existing,
        "numbers_down": choices.numbers_down,
        "letters_given": choices.letters_given,
    }


def columns_from(data: Any, count: int, fields: tuple[Field, ...]) -> tuple[Column, ...]:
    """What was chosen for each column; anything that is not offered is left out."""
    known = {about.key: about for about in fields}
    orders = {name for name, _ in ORDERS}
    columns = []
    for place in range(count):
        about = known.get(data.get(f"field-{place}", ""))
        if about is None:
            columns.append(Column())
            continue
        unit = data.get(f"unit-{place}", "")
        order = data.get(f"order-{place}", "")
        columns.append(
            Column(
                about.key,
                unit if unit in UNITS.get(about.kind, {}) else "",
                order if order in orders else "",
            )
        )
    return tuple(columns)


class WantedForm(ShopForm):
    which = forms.ChoiceField(
        label=lazy("Which jobs"),
        choices=[
            (OPEN, lazy("the open ones")),
            (ALL, lazy("all, with closed ones and those called off")),
            (DAYS, lazy("those of some days")),
        ],
        widget=forms.RadioSelect,
        initial=OPEN,
    )
    by = forms.ChoiceField(
        label=lazy("By the day they are"),
        choices=[("promised_on", lazy("promised on")), ("taken_on", lazy("taken on"))],
        required=False,
    )
    since = forms.DateField(label=lazy("From"), required=False, widget=day_input())
    until = forms.DateField(label=lazy("To"), required=False, widget=day_input())
    kind = forms.ChoiceField(
        label=lazy("As"),
        choices=[("xlsx", lazy("XLSX, for a spreadsheet")),
                 ("csv", lazy("CSV, with every digit as it is stored"))],
        widget=forms.RadioSelect,
        initial="xlsx",
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        since, until = given.get("since"), given.get("until")
        if given.get("which") == DAYS and not self.errors:
            if not (since or until):
                self.add_error("since", lazy("Give the first day, the last, or both."))
            elif since and until and since > until:
                self.add_error("until", lazy("The last day is before the first."))
        return given

    @property
    def wanted(self) -> Wanted:
        given = self.cleaned_data
        since: dt.date | None = given.get("since")
        return Wanted(given["which"], given.get("by") or "promised_on", since, given.get("until"))
