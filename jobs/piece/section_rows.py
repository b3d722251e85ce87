"""The rows of the section's form: their fields, and how each is stored and read back."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby
from typing import TYPE_CHECKING, Any

from django import forms
from django.utils.translation import gettext_lazy as lazy

from jobs.services.shape import MATERIALS
from shop.forms import MeasureField

if TYPE_CHECKING:
    from django_stubs_ext import StrPromise

Rows = dict[str, int]
Field = forms.Field

LEAST = 0.02  # m, of an outline
THINNEST = 0.003  # m, of an edge or rib
MOST_ROWS = 8
MOST_RIBS = 12  # in one row
CLOSE = 1e-6  # m

EDGES: dict[str, StrPromise] = {
    "front": lazy("Front edge"),
    "back": lazy("Back edge"),
    "left": lazy("Left end"),
    "right": lazy("Right end"),
}
KINDS: dict[str, StrPromise] = {
    "rib": lazy("Ribs, row"),
    "cutout": lazy("Cutout"),
    "bar": lazy("Strongback"),
}
PARTS = {"rib": "ribs", "cutout": "cutouts", "bar": "strongbacks"}
NEEDED: dict[str, tuple[str, ...]] = {
    "edge": ("width", "depth"),
    "rib": ("width", "depth"),
    "cutout": ("x", "y", "length", "width"),
    "bar": ("x", "y", "length", "width", "depth"),
}
MATERIAL_CHOICES = [
    ("wood", lazy("softwood")),
    ("aluminium", lazy("aluminium")),
    ("steel", lazy("steel")),
]
ALONG = [("length", lazy("along the length")), ("width", lazy("across, front to back"))]
AROUND = [("", lazy("a rectangle")), ("yes", lazy("the rectangle around another shape"))]
BONDED = [("", lazy("clamped: it slips")), ("yes", lazy("glued over its whole length"))]


def _long(label: Any, least: float, greatest: float = 8.0, help_text: Any = "") -> MeasureField:
    return MeasureField(
        "length", least=least, greatest=greatest, label=label, required=False, help_text=help_text
    )


def _choice(label: Any, choices: list[tuple[str, Any]]) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=choices, required=False)


def _count() -> forms.IntegerField:
    numeric = forms.TextInput(attrs={"inputmode": "numeric", "maxlength": 2})
    return forms.IntegerField(
        label=lazy("How many"), min_value=1, max_value=MOST_RIBS, required=False, widget=numeric
    )


def _edge() -> dict[str, Field]:
    return {
        "width": _long(lazy("Width"), THINNEST),
        "depth": _long(lazy("Depth from the face"), THINNEST, 1.0),
    }


def _rib() -> dict[str, Field]:
    help_at = lazy("From the front edge, or the left end. Empty: evenly.")
    return {
        "count": _count(),
        "along": _choice(lazy("Running"), ALONG),
        "width": _long(lazy("Width"), THINNEST, 1.0),
        "depth": _long(lazy("Depth below slab"), THINNEST, 0.5),
        "at": _long(lazy("Its middle at"), 0.0, help_text=help_at),
    }


def _cutout() -> dict[str, Field]:
    return {
        "x": _long(lazy("From the left end"), -8.0),
        "y": _long(lazy("From the front edge"), -8.0),
        "length": _long(lazy("Length"), 0.005),
        "width": _long(lazy("Width"), 0.005),
        "around": _choice(lazy("It is"), AROUND),
    }


def _bar() -> dict[str, Field]:
    own = lazy("Empty: the usual of the material.")
    return {
        "x": _long(lazy("From the left end"), 0.0),
        "y": _long(lazy("From the front edge"), 0.0),
        "length": _long(lazy("Length"), THINNEST),
        "width": _long(lazy("Width"), THINNEST, 1.0),
        "depth": _long(lazy("Depth"), THINNEST, 0.5),
        "material": _choice(lazy("Material"), MATERIAL_CHOICES),
        "bonded": _choice(lazy("Fixed"), BONDED),
        "modulus": MeasureField(
            "modulus", least=500, greatest=250_000, label=lazy("Stiffness"), required=False,
            help_text=own,
        ),
        "density": MeasureField(
            "density", least=100, greatest=12_000, label=lazy("Unit weight"), required=False,
            help_text=own,
        ),
    }  # fmt: skip


MAKE = {"edge": _edge, "rib": _rib, "cutout": _cutout, "bar": _bar}
FIELDS: dict[str, tuple[str, ...]] = {kind: tuple(make()) for kind, make in MAKE.items()}


def fields_of(kind: str, place: int | str) -> dict[str, Field]:
    return {f"{kind}_{place}_{name}": field for name, field in MAKE[kind]().items()}


def row_values(kind: str, start: str, cleaned: Mapping[str, Any]) -> dict[str, Any]:
    return {name: cleaned.get(start + name) for name in FIELDS[kind]}


# From a row to what is stored.


def stored_ribs(row: Mapping[str, Any], length: float, width: float) -> list[dict[str, Any]]:
    """Several in a row stand evenly between the sides: n ribs part the piece into n + 1."""
    along = row["along"] or "length"
    reach = width if along == "length" else length
    count = row["count"] or 1
    places = [row["at"]] if row["at"] is not None else _evenly(count, reach)
    rib = {"width": row["width"], "depth": row["depth"], "along": along}
    return [{"at": at, **rib} for at in places]


def stored_cutout(row: Mapping[str, Any]) -> dict[str, Any]:
    sizes = {name: row[name] for name in NEEDED["cutout"]}
    return sizes | {"around": bool(row["around"])}


def stored_bar(row: Mapping[str, Any]) -> dict[str, Any]:
    material = row["material"] or "wood"
    modulus, density = MATERIALS[material]
    return {name: row[name] for name in NEEDED["bar"]} | {
        "material": material,
        "bonded": bool(row["bonded"]),
        "modulus": row["modulus"] if row["modulus"] is not None else modulus,
        "density": row["density"] if row["density"] is not None else density,
    }


def _evenly(count: int, reach: float) -> list[float]:
    return [reach * place / (count + 1) for place in range(1, count + 1)]


# From what is stored to the form.


def initial_of(shape: Mapping[str, Any] | None) -> dict[str, Any]:
    if not shape:
        return {}
    start = {"length": shape["length"], "width": shape["width"]}
    for edge in shape.get("edges", ()):
        start |= _named("edge", edge["side"], edge)
    for place, row in enumerate(_rib_rows(shape)):
        start |= _named("rib", place, row)
    for place, hole in enumerate(shape.get("cutouts", ())):
        start |= _named("cutout", place, hole | {"around": "yes" if hole.get("around") else ""})
    for place, bar in enumerate(shape.get("strongbacks", ())):
        start |= _named("bar", place, _bar_row(bar))
    return start


def rows_of(shape: Mapping[str, Any] | None) -> Rows:
    """How many rows a section fills; at least one of each is offered."""
    filled = {
        "rib": len(_rib_rows(shape or {})),
        **{kind: len((shape or {}).get(PARTS[kind], ())) for kind in ("cutout", "bar")},
    }
    return {kind: max(count, 1) for kind, count in filled.items()}


def _named(kind: str, place: int | str, row: Mapping[str, Any]) -> dict[str, Any]:
    return {f"{kind}_{place}_{name}": row[name] for name in FIELDS[kind] if name in row}


def _rib_rows(shape: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Ribs that were typed in one row, and stand evenly, are that row again."""
    rows: list[dict[str, Any]] = []
    for size, group in groupby(shape.get("ribs", ()), key=_typed_together):
        _row, along, width, depth = size
        row = {"along": along, "width": width, "depth": depth}
        places = [rib["at"] for rib in group]
        even = _evenly(len(places), shape["width" if along == "length" else "length"])
        if all(abs(a - b) < CLOSE for a, b in zip(places, even, strict=True)):
            rows.append({"count": len(places), **row})
        else:
            rows += [{"count": 1, "at": at, **row} for at in places]
    return rows


def _typed_together(rib: Mapping[str, Any]) -> tuple[Any, ...]:
    return rib.get("row"), rib["along"], rib["width"], rib["depth"]


def _bar_row(bar: Mapping[str, Any]) -> dict[str, Any]:
    usual = MATERIALS.get(bar.get("material", ""), (None, None))
    own = {
        name: None if bar[name] == standard else bar[name]
        for name, standard in zip(("modulus", "density"), usual, strict=True)
    }
    return {**bar, **own, "bonded": "yes" if bar["bonded"] else ""}
