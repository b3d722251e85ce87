"""A run's weigh sheet in words beside its lines: what each layer takes, and its ratios."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _

from curing.mix_checks import LAYERS
from curing.weigh_record import Record
from curing.weigh_sheet import Sheet
from jobs.services.scales import Scale
from jobs.services.weigh_sheets import layer_words


@dataclass(frozen=True)
class Take:
    """What a layer takes of the matrix, its own fibre, and both together."""

    layer: str
    matrix: str
    fibre: str
    whole: str


@dataclass(frozen=True)
class RatioLine:
    """wanted : by the recipe; range : while every weight is within its tolerance; weighed : empty
    until something is"""

    name: str
    wanted: str
    range: str
    weighed: str


def takes_of(sheet: Sheet, scale: Scale) -> list[Take]:
    """More than one row says: mix the matrix once, divide it, then add each layer's fibre."""
    found = []
    for layer in LAYERS:
        if layer in sheet.matrix_kg:
            matrix = sheet.matrix_kg[layer]
            fibre = sum(line.exact_kg for line in sheet.lines if line.layer == layer)
            kilograms = (matrix, fibre, matrix + fibre)
            found.append(Take(layer_words(layer), *(scale.words(kg) for kg in kilograms)))
    return found


def ratio_lines(sheet: Sheet, record: Record | None = None) -> list[RatioLine]:
    names: Mapping[str, str] = {
        "water_cement": _("w/c"),
        "water_cementitious": _("w/cm"),
        "polymer": _("polymer solids, of cement"),
        "pozzolan": _("pozzolan, of cement and pozzolan"),
        "pigment": _("pigment, of cement"),
    } | {f"fibre_{layer}": _("fibre in %s") % layer_words(layer) for layer in LAYERS}
    found = []
    for key, ratio in sheet.ratios.items():
        if not ratio.exact:
            continue
        low, high = (_figure(key, value) for value in ratio.tolerance)
        weighed = _figure(key, record.ratios[key]) if record else ""
        found.append(RatioLine(names[key], _figure(key, ratio.exact), f"{low} – {high}", weighed))
    return found


def _figure(key: str, value: float) -> str:
    if not math.isfinite(value):
        return "–"
    return f"{value:.3f}" if key.startswith("water_") else f"{100 * value:.2f} %"
