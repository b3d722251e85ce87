"""The fields of each kind of row of a section's form, their words, and which a row shows."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from django import forms
from django.utils.translation import gettext_lazy as lazy

from shop.forms import MeasureField

if TYPE_CHECKING:
    from django_stubs_ext import StrPromise

Rows = dict[str, int]
Field = forms.Field
Choices = list[tuple[str, Any]]

FARTHEST = 15.0  # m, as `jobs.shapes.checks` takes a piece
THINNEST = 0.003  # m, of an edge or rib
MOST_ROWS = 8
MOST_CORNERS = 24  # in rows of their own; more are typed as lines
MOST_RIBS = 12  # in one row
MOST_LETTERS = 60_000  # of a cutout as it is stored

KINDS: dict[str, StrPromise] = {
    "point": lazy("Corner"),
    "rim": lazy("Edge, row"),
    "rib": lazy("Ribs, row"),
    "cutout": lazy("Cutout"),
    "bar": lazy("Strongback"),
    "inlay": lazy("Inlay"),
}
# How many of each are offered at first, and how many one press adds.
OFFERED = {"point": 4, "rim": 1, "rib": 1, "cutout": 1, "bar": 1, "inlay": 1}
MOST = dict.fromkeys(KINDS, MOST_ROWS) | {"point": MOST_CORNERS}
ADDED = dict.fromkeys(KINDS, 1) | {"point": 4}

MATERIAL_CHOICES: Choices = [
    ("wood", lazy("softwood")),
    ("aluminium", lazy("aluminium")),
    ("steel", lazy("steel")),
]
ALONG: Choices = [("length", lazy("lengthwise")), ("width", lazy("front to back"))]
HOW: Choices = [
    ("count", lazy("evenly")),
    ("spacing", lazy("at a spacing")),
    ("at", lazy("one, placed")),
    ("points", lazy("point to point")),
]
FIGURE: Choices = [
    ("", lazy("a rectangle")),
    ("circle", lazy("round")),
    ("around", lazy("another: its box")),
]
DRAWN = ("polygon", lazy("corner by corner, as drawn"))
USES: Choices = [
    ("", lazy("not said")),
    ("sink", lazy("sink")),
    ("faucet hole", lazy("faucet hole")),
    ("cooktop", lazy("cooktop")),
    ("other", lazy("other")),
]
OPENS: Choices = [("", lazy("inside")), ("yes", lazy("open at a side"))]
BONDED: Choices = [("", lazy("clamped")), ("yes", lazy("glued all along"))]
# Chosen, not typed: a row of which nothing else is filled in is empty.
CHOSEN = {"how", "along", "figure", "use", "opens", "material", "bonded", "drawn"}


def long(label: Any, least: float, greatest: float = FARTHEST, help_text: Any = "") -> MeasureField:
    return MeasureField(
        "length", least=least, greatest=greatest, label=label, required=False, help_text=help_text
    )


def choice(label: Any, choices: Choices, **given: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=choices, required=False, **given)


def _place(label: Any) -> MeasureField:
    return long(label, -FARTHEST)


def _point() -> dict[str, Field]:
    return {
        "x": _place(lazy("Along")),
        "y": _place(lazy("Across")),
        "radius": long(lazy("Radius"), 0.0),
        "bow": _place(lazy("Bow")),
    }


def edge() -> dict[str, Field]:
    return {
        "width": long(lazy("Width"), THINNEST),
        "depth": long(lazy("Depth from the face"), THINNEST, 1.0),
    }


def _rim() -> dict[str, Field]:
    return {"sides": forms.CharField(label=lazy("Sides"), required=False, max_length=60), **edge()}


def _rib() -> dict[str, Field]:
    numeric = forms.TextInput(attrs={"inputmode": "numeric", "maxlength": 2})
    at = lazy("From the front edge, or the left end.")
    return {
        "how": choice(lazy("Where"), HOW),
        "count": forms.IntegerField(
            label=lazy("How many"), min_value=1, max_value=MOST_RIBS, required=False, widget=numeric
        ),
        "spacing": long(lazy("At most apart"), THINNEST),
        "along": choice(lazy("Running"), ALONG),
        "at": long(lazy("Its middle at"), -FARTHEST, help_text=at),
        "x0": _place(lazy("Starts, from the left")),
        "y0": _place(lazy("from the front")),
        "x1": _place(lazy("Ends, from the left")),
        "y1": _place(lazy("from the front")),
        "width": long(lazy("Width"), THINNEST, 1.0),
        "depth": long(lazy("Depth below slab"), THINNEST, 0.5),
    }


def _cutout() -> dict[str, Field]:
    drawn = forms.CharField(required=False, max_length=MOST_LETTERS, widget=forms.HiddenInput)
    return {
        "use": choice(lazy("For"), USES),
        "called": forms.CharField(label=lazy("Called"), required=False, max_length=40),
        "figure": choice(lazy("It is"), FIGURE),
        "length": long(lazy("Length"), 0.005),
        "width": long(lazy("Width"), 0.005),
        "radius": long(lazy("Corner radius"), 0.0),
        "diameter": long(lazy("Diameter"), 0.005),
        "x": _place(lazy("From the left end")),
        "y": _place(lazy("From the front edge")),
        "cx": _place(lazy("Its middle from the left")),
        "cy": _place(lazy("from the front")),
        "opens": choice(lazy("It lies"), OPENS),
        "drawn": drawn,
    }


def _bar() -> dict[str, Field]:
    own = lazy("Empty: the usual of the material.")
    return {
        "x": _place(lazy("From the left end")),
        "y": _place(lazy("From the front edge")),
        "length": long(lazy("Length"), THINNEST),
        "width": long(lazy("Width"), THINNEST, 1.0),
        "depth": long(lazy("Depth"), THINNEST, 0.5),
        "material": choice(lazy("Material"), MATERIAL_CHOICES),
        "bonded": choice(lazy("Fixed"), BONDED),
        "modulus": MeasureField(
            "modulus", least=500, greatest=250_000, label=lazy("Stiffness"), required=False,
            help_text=own,
        ),
        "density": MeasureField(
            "density", least=100, greatest=12_000, label=lazy("Unit weight"), required=False,
            help_text=own,
        ),
    }  # fmt: skip


def _inlay() -> dict[str, Field]:
    return {
        "words": forms.CharField(label=lazy("What"), required=False, max_length=60),
        "x": _place(lazy("From the left end")),
        "y": _place(lazy("From the front edge")),
        "length": long(lazy("Length"), 0.0),
        "width": long(lazy("Width"), 0.0),
    }


MAKE = {
    "point": _point, "edge": edge, "rim": _rim, "rib": _rib, "cutout": _cutout, "bar": _bar,
    "inlay": _inlay,
}  # fmt: skip
FIELDS: dict[str, tuple[str, ...]] = {kind: tuple(make()) for kind, make in MAKE.items()}

NEEDED: dict[str, tuple[str, ...]] = {
    "point": ("x", "y"),
    "edge": ("width", "depth"),
    "rim": ("sides", "width", "depth"),
    "bar": ("x", "y", "length", "width", "depth"),
    "inlay": ("words", "x", "y"),
}
_RIB = {
    "count": ("count", "along"),
    "spacing": ("spacing", "along"),
    "at": ("at", "along"),
    "points": ("x0", "y0", "x1", "y1"),
}
_CUTOUT = {
    "": ("length", "width", "radius", "x", "y"),
    "circle": ("diameter", "cx", "cy"),
    "around": ("length", "width", "x", "y"),
    "polygon": ("drawn", "x", "y"),
}
OPTIONAL = {"radius", "count", "called"}


def shown(kind: str, row: Mapping[str, Any]) -> tuple[str, ...]:
    """The fields that count in such a row: the others are not shown, whatever they hold."""
    if kind == "rib":
        return ("how", *_RIB[row.get("how") or "count"], "width", "depth")
    if kind == "cutout":
        called = ("called",) if row.get("use") == "other" else ()
        return ("use", *called, "figure", *_CUTOUT[row.get("figure") or ""], "opens")
    return FIELDS[kind]


def needed(kind: str, row: Mapping[str, Any]) -> tuple[str, ...]:
    if kind in NEEDED:
        return NEEDED[kind]
    left_open = OPTIONAL | (CHOSEN - {"drawn"})
    return tuple(name for name in shown(kind, row) if name not in left_open)


def fields_of(kind: str, place: int | str) -> dict[str, Field]:
    return {f"{kind}_{place}_{name}": field for name, field in MAKE[kind]().items()}


def row_values(kind: str, start: str, cleaned: Mapping[str, Any]) -> dict[str, Any]:
    return {name: cleaned.get(start + name) for name in FIELDS[kind]}
