"""Forms of mixes, sealers and routes, in the shop's units."""

from __future__ import annotations

from itertools import pairwise
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from curing.air import DRYING_COLD
from curing.yield_check import DENSITY_TOLERANCE
from shop import measures
from shop.forms import MeasureField, NumberField, PercentField, ShopForm, ShopModelForm
from shop.models import DryingRule, Mix, Route, RouteStep, Sealer
from shop.setup.forms import temperature


def hours(label: Any, *, greatest: float = 2000, **more: Any) -> NumberField:
    return NumberField(label=label, unit="h", min_value=0, max_value=greatest, **more)


def drying_choices() -> list[tuple[str, Any]]:
    return [
        (DryingRule.HOURS, lazy("The hours of each step, twice as many while it is cold or humid")),
        (DryingRule.MODEL, lazy("The moisture model, in the air of the room: an estimate")),
        (DryingRule.WEIGHING, lazy("Weighing, until the piece loses no more")),
    ]


def notes() -> forms.Textarea:
    return forms.Textarea(attrs={"rows": 3})


# What `Route.moisture_target` takes.
LEAST_TARGET, GREATEST_TARGET = 0.5, 0.97

# What the hours of a step mean, by the route's rule.
DRYING_HELP = {
    DryingRule.HOURS: lazy(
        "Counted from the last wetting, half while it is under %(cold)s or over 70 %% humidity. "
        "Empty: not waited for."
    ),
    DryingRule.MODEL: lazy(
        "This route dries by the moisture model: any figure here marks the step that waits for "
        "it. The hours themselves count only for pieces too thin or thick for the model. Empty: "
        "not waited for."
    ),
    DryingRule.WEIGHING: lazy(
        "This route dries by weighing: until the scale has spoken, dates expect so many hours "
        "since the last wetting. Empty: not waited for."
    ),
}


class MixForm(ShopModelForm):
    su_mpa = MeasureField("strength", least=1, greatest=200, label=lazy("Strength in the long run"))
    rate_per_hour = NumberField(
        label=lazy("Rate k (hyperbolic)"), unit="1/h", min_value=1e-5, max_value=10
    )
    setting_hours = hours(
        lazy("Setting time t0 (hyperbolic)"), greatest=72, help_text=lazy("Hours at %(warmth)s.")
    )
    tau_hours = NumberField(
        label=lazy("Time constant tau (exponential)"), unit="h", min_value=0.1, max_value=2000
    )
    alpha = NumberField(label=lazy("Shape alpha (exponential)"), min_value=0.05, max_value=10)
    activation_energy = NumberField(
        label=lazy("Activation energy"),
        unit="J/mol",
        min_value=20000,
        max_value=90000,
        help_text=lazy("How strongly warmth hurries the cure. 41,500 is the usual start."),
    )
    density = MeasureField("density", least=1000, greatest=3000, label=lazy("Unit weight, fresh"))
    dry_density = MeasureField(
        "density",
        least=1000,
        greatest=3000,
        required=False,
        label=lazy("Unit weight, dry"),
        help_text=lazy(
            "Of a finished piece in the air of a house: its weight over its volume. Empty: not "
            "weighed, the fresh one is taken and said so."
        ),
    )

    class Meta:
        model = Mix
        fields = [
            "name", "colour", "curve", "su_mpa", "rate_per_hour", "setting_hours", "tau_hours",
            "alpha", "activation_energy", "density", "dry_density", "notes", "placeholder",
            "in_use",
        ]  # fmt: skip
        labels: ClassVar[dict[str, Any]] = {
            "name": lazy("Name"),
            "colour": lazy("Colour"),
            "curve": lazy("Form of the curve"),
            "notes": lazy("Notes"),
            "placeholder": lazy("The curve is a placeholder, not this shop's own tests"),
            "in_use": lazy("In use: offered for new pieces"),
        }
        widgets: ClassVar[dict[str, Any]] = {"notes": notes()}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        fresh, dry = cleaned.get("density"), cleaned.get("dry_density")
        # What two people measure of one concrete may differ so far (ASTM C138).
        if fresh and dry and dry > fresh * (1 + DENSITY_TOLERANCE):
            self.add_error("dry_density", _("Heavier than fresh: drying only takes water out."))
        return cleaned


class SealerForm(ShopModelForm):
    recoat_least_hours = hours(lazy("Recoat not before"))
    recoat_greatest_hours = hours(
        lazy("Recoat not after"), required=False, help_text=lazy("Empty: no end to the window.")
    )
    abrade_hours = hours(
        lazy("Abrading takes"),
        greatest=48,
        help_text=lazy("Work before a coat that comes after the window."),
    )
    handle_hours = hours(lazy("May be handled after"))
    light_use_hours = hours(lazy("Light use after"), greatest=5000)
    full_use_hours = hours(lazy("Full use after"), greatest=5000)
    least_age_hours = hours(
        lazy("Least age of the concrete"), help_text=lazy("Hours equal to hours at %(warmth)s.")
    )
    celsius_least = temperature(lazy("Air not below"))
    celsius_greatest = temperature(lazy("Air not above"))
    humidity_greatest = PercentField(label=lazy("Humidity not above"))
    dew_margin = MeasureField(
        "temperature_step", least=0, greatest=20, label=lazy("Above the dew point by")
    )

    class Meta:
        model = Sealer
        fields = [
            "name", "coats", "recoat_least_hours", "recoat_greatest_hours", "abrade_hours",
            "handle_hours", "light_use_hours", "full_use_hours", "least_age_hours",
            "celsius_least", "celsius_greatest", "humidity_greatest", "dew_margin", "notes",
            "two_part_urethane", "in_use",
        ]  # fmt: skip
        labels: ClassVar[dict[str, Any]] = {
            "name": lazy("Name"),
            "coats": lazy("Coats"),
            "notes": lazy("Notes"),
            "two_part_urethane": lazy("Two-part urethane (isocyanates)"),
            "in_use": lazy("In use: offered for new pieces"),
        }
        widgets: ClassVar[dict[str, Any]] = {"notes": notes()}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        for low, high, message in (
            (
                "celsius_least",
                "celsius_greatest",
                _("Not above the least: nothing could be sprayed."),
            ),
            (
                "recoat_least_hours",
                "recoat_greatest_hours",
                _("Not after the least: no window is open."),
            ),
        ):
            least, greatest = cleaned.get(low), cleaned.get(high)
            if least is not None and greatest is not None and greatest <= least:
                self.add_error(high, message)
        self._uses_in_order(cleaned)
        return cleaned

    def _uses_in_order(self, cleaned: dict[str, Any]) -> None:
        names = ("handle_hours", "light_use_hours", "full_use_hours")
        for before, after in pairwise(names):
            earlier, later = cleaned.get(before), cleaned.get(after)
            if earlier is not None and later is not None and later < earlier:
                self.add_error(after, _("Comes no sooner than the use before it."))


class RouteForm(ShopModelForm):
    drying_rule = forms.ChoiceField(
        label=lazy("How a piece is known to be dry"),
        choices=drying_choices,
        widget=forms.RadioSelect,
    )
    moisture_target = PercentField(
        label=lazy("Moisture target inside, for the model"),
        help_text=lazy(
            "Relative humidity inside the piece, at the depth a probe reads (ASTM F2170). 85 % is "
            "common practice: the sealer's data sheet governs, enter its figure."
        ),
    )
    weigh_percent = NumberField(
        label=lazy("Limit, for weighing"),
        unit="% a day",
        min_value=0.01,
        max_value=2,
        help_text=lazy(
            "Dry once it loses less of its weight than this in a day. 0.1 to 0.2 % is common "
            "practice, no source: the sealer's data sheet governs."
        ),
    )

    class Meta:
        model = Route
        fields = ["name", "drying_rule", "moisture_target", "weigh_percent", "notes", "in_use"]
        labels: ClassVar[dict[str, Any]] = {
            "name": lazy("Name"),
            "notes": lazy("Notes"),
            "in_use": lazy("In use: offered for new pieces"),
        }
        widgets: ClassVar[dict[str, Any]] = {"notes": notes()}

    def clean_moisture_target(self) -> float:
        target: float = self.cleaned_data["moisture_target"]
        if not LEAST_TARGET <= target <= GREATEST_TARGET:
            raise ValidationError(
                _("Between %(least)d and %(greatest)d %%: the model reckons no further.")
                % {"least": 100 * LEAST_TARGET, "greatest": 100 * GREATEST_TARGET}
            )
        return target


class NewRouteForm(ShopForm):
    name = forms.CharField(label=lazy("Name"), max_length=60)
    like = forms.ModelChoiceField(
        label=lazy("Begin with the steps of"),
        queryset=Route.objects.all(),
        required=False,
        empty_label=lazy("only the cast"),
    )

    def clean_name(self) -> str:
        name = str(self.cleaned_data["name"])
        if Route.objects.filter(name=name).exists():
            raise ValidationError(_("There is a route of this name already."))
        return name


class StepForm(ShopModelForm):
    hours_after_cast = hours(lazy("Hours after the cast"), help_text=lazy("By the clock."))
    hours_after_previous = hours(
        lazy("Hours after the step before"), help_text=lazy("By the clock.")
    )
    equivalent_hours = hours(
        lazy("Age, as hours at %(warmth)s"),
        required=False,
        help_text=lazy("Warm rooms reach it sooner. Empty: not waited for."),
    )
    strength_mpa = MeasureField(
        "strength",
        least=0,
        greatest=100,
        required=False,
        label=lazy("Strength"),
        help_text=lazy("From the mix's curve. Empty: not waited for."),
    )
    drying_hours = hours(
        lazy("Drying since the last wetting"),
        required=False,
        help_text=lazy("Starts again at every step that wets. Empty: not waited for."),
    )
    labour_hours = hours(lazy("Work a piece"), greatest=200)
    labour_hours_m2 = MeasureField(
        "labour_per_area", least=0, greatest=200, label=lazy("and work by area")
    )
    people = forms.IntegerField(label=lazy("People, together"), min_value=1, max_value=20)

    waits = (
        "hours_after_cast", "hours_after_previous", "equivalent_hours", "strength_mpa",
        "by_section", "drying_hours", "after_sealer_cure",
    )  # fmt: skip
    work = ("labour_hours", "labour_hours_m2", "people", "wets")

    class Meta:
        model = RouteStep
        fields = [
            "name", "kind", "hours_after_cast", "hours_after_previous", "equivalent_hours",
            "strength_mpa", "by_section", "drying_hours", "after_sealer_cure", "labour_hours",
            "labour_hours_m2", "people", "wets",
        ]  # fmt: skip
        labels: ClassVar[dict[str, Any]] = {
            "name": lazy("Name"),
            "kind": lazy("Kind of work"),
            "by_section": lazy("As strong as lifting the piece asks"),
            "after_sealer_cure": lazy("Waits until the sealer may be handled"),
            "wets": lazy("Wets the piece, so drying starts again"),
        }
        help_texts: ClassVar[dict[str, Any]] = {
            "by_section": lazy(
                "By the section of each piece, where one is entered: demolding waits for the "
                "gentlest way of stripping and the flip, crating, delivering and installing "
                "for carrying on edge. Other steps lift nothing."
            ),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rule = DryingRule(self.instance.route.drying_rule)
        cold = measures.warmth(self.shop, DRYING_COLD)
        self.fields["drying_hours"].help_text = str(DRYING_HELP[rule]) % {"cold": cold}

    def standing_version(self) -> int | None:
        return self.instance.route.version if self.instance.pk else None
