"""A recipe as rows that are typed. Rows are added, taken out and moved by buttons, no script."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from curing.mixture import GRAINS, LIQUIDS, WATER_DENSITY
from shop.forms import MeasureField, NumberField, PercentField, ShopForm
from shop.models import ComponentRole, Shop, WrittenBy
from shop.services.recipe_faults import MOST_PARTS, Fault, Fibre, Part
from shop.setup.recipe_words import is_percent

# What data sheets give: powders over water, liquids by the gallon. kg/m3 in one of it.
GRAVITY = "sg"
US_DENSITIES = {GRAVITY: WATER_DENSITY, "lb/ft³": 16.018463373960142, "lb/gal": 119.82642731689663}
SI_DENSITIES = {GRAVITY: WATER_DENSITY, "kg/m³": 1.0, "kg/L": 1000.0}
EVERY_DENSITY = US_DENSITIES | SI_DENSITIES
BLANK = ("name", "amount", "density")


def density_units(shop: Shop) -> list[tuple[str, Any]]:
    units = US_DENSITIES if shop.us else SI_DENSITIES
    return [(unit, lazy("times water") if unit == GRAVITY else unit) for unit in units]


class PartForm(ShopForm):
    """One row. A row with neither name, amount nor density is none."""

    name = forms.CharField(label=lazy("Name"), required=False, max_length=60)
    role = forms.ChoiceField(label=lazy("What it is"), choices=ComponentRole.choices)
    amount = NumberField(label=lazy("Amount"), required=False, min_value=0)
    by = forms.ChoiceField(label=lazy("Written as"), choices=WrittenBy.choices)
    density = NumberField(label=lazy("Density"), required=False)
    density_unit = forms.ChoiceField(label=lazy("Density in"))
    solids = PercentField(label=lazy("Solids, % of its weight"), required=False)
    absorption = PercentField(label=lazy("Absorption, %"), required=False)
    written_moisture = PercentField(label=lazy("Moisture as written, %"), required=False)

    key: int

    def __init__(self, *args: Any, key: int, **kwargs: Any) -> None:
        super().__init__(*args, prefix=f"p{key}", use_required_attribute=False, **kwargs)
        self.key = key
        self.fields["density_unit"].choices = density_units(self.shop)  # type: ignore[attr-defined]
        # What an empty field stands for.
        self.fields["written_moisture"].widget.attrs["placeholder"] = _("surface-dry")
        self.fields["solids"].widget.attrs["placeholder"] = "100"

    @property
    def title(self) -> str:
        return str(self["name"].value() or "") or _("New part")

    @property
    def blank(self) -> bool:
        return not any(str(self.data.get(self.add_prefix(n)) or "").strip() for n in BLANK)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if self.blank:
            return cleaned
        for name, words in (
            ("name", _("Give it a name.")),
            ("amount", _("How much of it?")),
            ("density", _("Its data sheet has it; cement is about 3.15 times water.")),
        ):
            if name not in self.errors and cleaned.get(name) in (None, ""):
                self.add_error(name, words)
        return cleaned

    @property
    def part(self) -> Part:
        """What is not of its role is left out: its fields are not shown then."""
        typed = self.cleaned_data
        role, by, amount = typed["role"], typed["by"], typed["amount"]
        grains = role in GRAINS
        solids = typed["solids"] if role in LIQUIDS else None
        return Part(
            name=typed["name"].strip(),
            role=role,
            amount=amount / 100 if is_percent(by) else amount,
            by=by,
            density=typed["density"] * EVERY_DENSITY[typed["density_unit"]],
            solids=1.0 if solids is None else solids,
            absorption=(typed["absorption"] or 0.0) if grains else 0.0,
            written_moisture=typed["written_moisture"] if grains else None,
        )


def initial_of(part: Part) -> dict[str, Any]:
    amount = part.amount * 100 if is_percent(part.by) else part.amount
    return {
        "name": part.name,
        "role": part.role,
        "amount": f"{amount:.8g}",
        "by": part.by,
        "density": f"{part.density / WATER_DENSITY:.6g}",
        "density_unit": GRAVITY,
        "solids": part.solids if part.solids < 1 else None,
        "absorption": part.absorption or None,
        "written_moisture": part.written_moisture,
    }


class WholeForm(ShopForm):
    fibre_face = PercentField(label=lazy("In the face coat"))
    fibre_backer = PercentField(label=lazy("In the backer"))
    fibre_rib = PercentField(label=lazy("In ribs and edges"))
    note = forms.CharField(
        label=lazy("What is new in it"),
        required=False,
        max_length=200,
        help_text=lazy("For those who look at the versions later: why it was changed."),
    )
    seen = forms.IntegerField(widget=forms.HiddenInput, min_value=0, max_value=10**6)

    @property
    def fibre_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in ("fibre_face", "fibre_backer", "fibre_rib")]


class RecipeEditor:
    """Rows in the order of adding, and what is of the whole.

    Bound to what was posted, or filled from parts. A row's key stays its own while it moves.
    """

    def __init__(self, shop: Shop, whole: WholeForm, rows: list[PartForm]) -> None:
        self.shop, self.whole, self.rows = shop, whole, rows

    @classmethod
    def filled(cls, shop: Shop, parts: Iterable[Part], fibre: Fibre, seen: int) -> RecipeEditor:
        whole = WholeForm(
            shop=shop,
            initial={f"fibre_{layer}": share for layer, share in vars(fibre).items()}
            | {"seen": seen},
        )
        rows = [
            PartForm(shop=shop, key=key, initial=initial_of(part))
            for key, part in enumerate(parts, start=1)
        ]
        return cls(shop, whole, rows)

    @classmethod
    def posted(cls, shop: Shop, data: QueryDict) -> RecipeEditor:
        rows = [PartForm(data, shop=shop, key=key) for key in _keys(data)]
        return cls(shop, WholeForm(data, shop=shop), rows)

    @classmethod
    def rearranged(cls, shop: Shop, data: QueryDict, do: str) -> RecipeEditor:
        """As typed, unchecked, after one of the buttons: 'add', 'remove-3', 'up-3', 'down-3'."""
        keys = _moved(_keys(data), do)
        whole = WholeForm(shop=shop, initial=_raw(data, WholeForm.base_fields))
        rows = [
            PartForm(shop=shop, key=key, initial=_raw(data, PartForm.base_fields, f"p{key}-"))
            for key in keys
        ]
        return cls(shop, whole, rows)

    @property
    def filled_rows(self) -> list[PartForm]:
        return [row for row in self.rows if not row.blank]

    @property
    def full(self) -> bool:
        return len(self.rows) >= MOST_PARTS

    def is_valid(self) -> bool:
        checks = [row.is_valid() for row in self.filled_rows]  # all say what is wrong
        return all([self.whole.is_valid(), *checks])

    @property
    def parts(self) -> list[Part]:
        return [row.part for row in self.filled_rows]

    @property
    def fibre(self) -> Fibre:
        typed = self.whole.cleaned_data
        return Fibre(typed["fibre_face"], typed["fibre_backer"], typed["fibre_rib"])

    @property
    def seen(self) -> int:
        return int(self.whole.cleaned_data["seen"])

    def meet(self, number: int) -> None:
        """Saving again puts what was typed after this version."""
        data = self.whole.data.copy()
        data["seen"] = str(number)
        self.whole.data = data

    def tell(self, faults: Sequence[Fault]) -> None:
        rows = self.filled_rows
        for fault in faults:
            if fault.row is None:
                field = fault.field if fault.field in self.whole.fields else None
                self.whole.add_error(field, fault.words)
            else:
                row = rows[fault.row]
                row.add_error(fault.field if fault.field in row.fields else None, fault.words)

    @property
    def wrong(self) -> bool:
        """Something is marked at a field of a row or of the whole."""
        return bool(self.whole.errors) or any(row.is_bound and row.errors for row in self.rows)


def _keys(data: QueryDict) -> list[int]:
    """Each once, as many as can be shown."""
    sound = [k for k in data.getlist("row") if k.isascii() and k.isdigit() and len(k) < 5]
    return list(dict.fromkeys(int(k) for k in sound))[: MOST_PARTS + 6]


def _moved(keys: list[int], do: str) -> list[int]:
    what, _dash, number = do.partition("-")
    if what == "add":
        return [*keys, max(keys, default=0) + 1] if len(keys) < MOST_PARTS else keys
    if not number.isdecimal() or len(number) > 4 or int(number) not in keys:
        return keys
    here = keys.index(int(number))
    if what == "remove":
        return [key for key in keys if key != int(number)]
    there = here + {"up": -1, "down": 1}.get(what, 0)
    if 0 <= there < len(keys):
        keys[here], keys[there] = keys[there], keys[here]
    return keys


def _raw(data: QueryDict, names: Iterable[str], prefix: str = "") -> dict[str, Any]:
    return {name: data[f"{prefix}{name}"] for name in names if f"{prefix}{name}" in data}


LAYER_NAMES = [
    ("face", lazy("face coat")),
    ("backer", lazy("backer")),
    ("rib", lazy("ribs and edges")),
]


class ScaleForm(ShopForm):
    """For how much, of which layer, and how moist the sands lie."""

    weight = MeasureField("scale", least=0.001, greatest=20000, label=lazy("For"))
    layer = forms.ChoiceField(label=lazy("Mix of the"), choices=LAYER_NAMES, initial="backer")

    def __init__(self, *args: Any, sands: Sequence[str], **kwargs: Any) -> None:
        super().__init__(*args, auto_id="scale_%s", **kwargs)
        self.sands = {f"wet{place}": name for place, name in enumerate(sands)}
        for field, name in self.sands.items():
            self.fields[field] = PercentField(
                label=_("Moisture of %(name)s, of dry weight") % {"name": name},
                required=False,
                help_text=_("Empty: as the recipe has it."),
            )
        if not self.is_bound:
            self.initial["weight"] = 100 * 0.45359237 if self.shop.us else 50.0

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        for field in self.sands:
            if (cleaned.get(field) or 0.0) >= 0.5:
                self.add_error(field, _("Below 50 %: weigh it wet and oven-dry (ASTM C566)."))
        return cleaned

    @property
    def moisture(self) -> dict[str, float]:
        typed = {name: self.cleaned_data[field] for field, name in self.sands.items()}
        return {name: wet for name, wet in typed.items() if wet is not None}
