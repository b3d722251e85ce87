"""Forms of what the shop casts with and tells of: ways, mixer, scales, words, tables."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from shop import defaults, measures
from shop.forms import MeasureField, NumberField, PercentField, ShopModelForm
from shop.models import CastingTable, Room, Shop
from shop.models.settings import ScaleUnit

# A scale's unit by the registry's name for it.
UNITS = {
    ScaleUnit.POUND: "pound", ScaleUnit.OUNCE: "ounce",
    ScaleUnit.KILOGRAM: "kilogram", ScaleUnit.GRAM: "gram",
}  # fmt: skip


def kg_in(unit: str) -> float:
    """Kilograms in one of a scale's units."""
    return float(measures.registry().Quantity(1, UNITS[ScaleUnit(unit)]).to("kg").magnitude)


@dataclass(frozen=True)
class Group:
    """Fields that belong together, under one heading."""

    title: Any
    about: Any
    fields: list[forms.BoundField]


class GroupedForm(ShopModelForm):
    """A page of the shop's settings: its fields in groups, each with a word of what they do."""

    parts: ClassVar[tuple[tuple[Any, Any, tuple[str, ...]], ...]] = ()

    @property
    def groups(self) -> Iterable[Group]:
        return [
            Group(title, about, [self[name] for name in names])
            for title, about, names in self.parts
        ]


def length(label: Any, least: float, greatest: float, help_text: Any = "") -> MeasureField:
    return MeasureField("length", least=least, greatest=greatest, label=label, help_text=help_text)


class WaysForm(GroupedForm):
    door_width_m = length(lazy("Narrowest door, clear width"), 0.3, 10)
    door_height_m = length(lazy("Narrowest door, clear height"), 0.5, 10)
    truck_length_m = length(lazy("Truck, length inside"), 0.5, 20)
    truck_width_m = length(lazy("Truck, width inside"), 0.5, 5)
    truck_height_m = length(
        lazy("Truck, height inside"), 0.3, 5, lazy("From the floor to what a piece would touch.")
    )
    concrete_density = MeasureField(
        "density",
        least=1000,
        greatest=3500,
        label=lazy("Unit weight of ordinary concrete"),
        help_text=lazy(
            "For a solid slab of the same outline. 150 lb/ft³ (2,403 kg/m³) is what is usually "
            "reckoned with for normal-weight concrete: common practice."
        ),
    )
    stone_density = MeasureField(
        "density",
        least=1000,
        greatest=3500,
        label=lazy("Unit weight of natural stone"),
        help_text=lazy("About that of granite, 2,700 kg/m³ (169 lb/ft³): common practice."),
    )

    parts = (
        (
            lazy("The way out"),
            lazy(
                "The tightest opening between the casting table and the truck. A piece that "
                "passes it neither flat nor on edge is marked so on its page."
            ),
            ("door_width_m", "door_height_m"),
        ),
        (
            lazy("The truck"),
            lazy("Pieces stand on edge in it. What does not fit is marked on the load list."),
            ("truck_length_m", "truck_width_m", "truck_height_m"),
        ),
        (
            lazy("What a piece's weight is compared with"),
            lazy("The customer reads the piece's weight beside that of a solid one."),
            ("concrete_density", "stone_density"),
        ),
    )

    class Meta:
        model = Shop
        fields = [
            "door_width_m", "door_height_m", "truck_length_m", "truck_width_m", "truck_height_m",
            "concrete_density", "stone_density",
        ]  # fmt: skip


class StepField(NumberField):
    """What a scale counts in, typed in the scale's own unit; cleans to that unit's number."""

    kg_in_one = 1.0  # of the unit that stands

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, (int, float)):
            return f"{value / self.kg_in_one:.6g}"
        return value


class MixingForm(GroupedForm):
    mixer_kg = MeasureField(
        "weight",
        least=1,
        greatest=5000,
        label=lazy("The mixer takes at once"),
        help_text=lazy(
            "Of finished mix, water and all: what it mixes well, which is less than what goes "
            "into it. From its plate and your own runs."
        ),
    )
    waste_face = PercentField(
        label=lazy("Waste of the face coat"),
        help_text=lazy(
            "Mixed beyond what the form holds. 15 to 20 % where it is sprayed, and for sinks: "
            "common practice, no source."
        ),
    )
    waste_backer = PercentField(
        label=lazy("Waste of backer and ribs"),
        help_text=lazy("10 % for slabs: common practice, no source. A piece may have its own."),
    )
    scale_step_kg = StepField(
        label=lazy("It counts in steps of"),
        help_text=lazy("In the unit chosen beside it: 0.05 for a scale that shows 0.05 lb."),
    )
    small_scale_step_kg = StepField(
        label=lazy("It counts in steps of"),
        help_text=lazy("In the unit chosen beside it: 1 for a scale that shows whole grams."),
    )

    parts = (
        (
            lazy("Mixer and waste"),
            lazy(
                "A cast is laid out in as few runs as the mixer can take, and each weigh sheet "
                "asks for the forms' volume and this much waste."
            ),
            ("mixer_kg", "waste_face", "waste_backer"),
        ),
        (
            lazy("The large scale"),
            lazy("Sand, cement, water and whatever else goes by the bucket."),
            ("scale_unit", "scale_step_kg"),
        ),
        (
            lazy("The small scale"),
            lazy("Pigment and admixture: small amounts that show in the colour and the set."),
            ("small_scale_unit", "small_scale_step_kg"),
        ),
    )
    # Of each step: its unit's field, the least and the greatest [kg].
    steps: ClassVar[dict[str, tuple[str, float, float]]] = {
        "scale_step_kg": ("scale_unit", 1e-5, 5.0),
        "small_scale_step_kg": ("small_scale_unit", 1e-6, 1.0),
    }

    class Meta:
        model = Shop
        fields = [
            "mixer_kg", "waste_face", "waste_backer", "scale_unit", "scale_step_kg",
            "small_scale_unit", "small_scale_step_kg",
        ]  # fmt: skip
        labels: ClassVar[dict[str, Any]] = {
            "scale_unit": lazy("It shows"),
            "small_scale_unit": lazy("It shows"),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, (unit, _least, _greatest) in self.steps.items():
            self.fields[name].kg_in_one = kg_in(self.initial[unit])  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        for name, (unit_field, least, greatest) in self.steps.items():
            step, unit = cleaned.get(name), cleaned.get(unit_field)
            if step is None or unit is None:
                continue
            kg = step * kg_in(unit)
            if least * (1 - 1e-9) <= kg <= greatest * (1 + 1e-9):
                cleaned[name] = kg
                continue
            words = _("From %(least)s to %(greatest)s %(unit)s. Look at the unit beside it.")
            limits = {"least": least / kg_in(unit), "greatest": greatest / kg_in(unit)}
            shown = {key: f"{value:.2g}" for key, value in limits.items()}
            self.add_error(name, ValidationError(words % {**shown, "unit": unit}))
        return cleaned


@dataclass(frozen=True)
class OwnWords:
    """A field for the shop's own words, and what is said while it is empty."""

    field: forms.BoundField
    usual: str


def words_field(label: Any, rows: int, longest: int, help_text: Any) -> forms.CharField:
    return forms.CharField(
        label=label,
        required=False,
        max_length=longest,
        help_text=help_text,
        widget=forms.Textarea(attrs={"rows": rows}),
    )


class WordsForm(GroupedForm):
    about_words = words_field(
        lazy("What a piece is"), 6, 1200, lazy("Why it is hollow behind, and strong all the same.")
    )
    ageing_words = words_field(
        lazy("How it will age"), 6, 1200, lazy("What is to be expected of concrete and its sealer.")
    )
    care_words = words_field(
        lazy("Care"), 8, 1600, lazy("One line for each thing to do or to leave.")
    )
    site_ready_words = words_field(
        lazy("What must be ready on site"),
        8,
        1200,
        lazy("On the load list, and for the customer before an install. A job may have its own."),
    )
    usual: ClassVar[dict[str, str]] = {
        "about_words": defaults.ABOUT_WORDS,
        "ageing_words": defaults.AGEING_WORDS,
        "care_words": defaults.CARE_WORDS,
        "site_ready_words": defaults.SITE_READY_WORDS,
    }

    class Meta:
        model = Shop
        fields = ["about_words", "ageing_words", "care_words", "site_ready_words"]

    @property
    def own_words(self) -> list[OwnWords]:
        return [OwnWords(self[name], usual) for name, usual in self.usual.items()]


class TableForm(ShopModelForm):
    length_m = length(lazy("Length"), 0.3, 20, lazy("Of what a form may stand on."))
    width_m = length(lazy("Width"), 0.3, 20)

    class Meta:
        model = CastingTable
        fields = ["name", "room", "length_m", "width_m", "in_use"]
        labels: ClassVar[dict[str, Any]] = {
            "name": lazy("Name"),
            "room": lazy("Stands in"),
            "in_use": lazy("In use: offered for casts"),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rooms = Room.objects.filter(Q(in_use=True) | Q(pk=self.instance.room_id))
        self.fields["room"].queryset = rooms.order_by("name")  # type: ignore[attr-defined]
        if len(rooms) == 1 and self.instance.pk is None:
            self.initial["room"] = rooms[0].pk
