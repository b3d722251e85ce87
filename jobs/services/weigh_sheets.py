"""The weigh sheet of a mixer run: written once when the run is opened, and kept as it was.

What is kept says everything that is shown later: components, weights, steps, tolerances, ratios.
Nothing of it is worked out anew, so a recipe or a setting that changes leaves it alone.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import Any

from django.db.models import Max
from django.utils.translation import gettext as _

from curing.limits import Note
from curing.mix_checks import LAYERS, Layer
from curing.mixture import GRAINS, Component
from curing.runs import Run
from curing.weigh_record import Record, Weighing, record_weighed
from curing.weigh_sheet import TOLERANCES, Line, Load, Ratio, Sheet, weigh_sheet
from jobs.models import MixerRun, Weighed
from jobs.services.scales import Scale, large_scale, small_scale
from shop.models import Recipe, Shop
from shop.services.recipes import layer_mix

# Weighed to the gram whatever their weight.
FINE = ("pigment", "admixture")
Frozen = dict[str, Any]


def layer_words(layer: str) -> str:
    return {"face": _("face coat"), "backer": _("backer"), "rib": _("ribs and edges")}[layer]


# Writing.


def freeze(*, run: Run, recipe: Recipe, moisture: Mapping[str, float], shop: Shop) -> Frozen:
    """All that the sheet of this run says, as JSON. Names in `moisture` that are no sand or
    aggregate of the recipe are left out.

    Raises ValueError for what the engine refuses: moisture out of range, sand that brings more
    water than the mix adds, fibre for a recipe without any.
    """
    mixes = {layer: layer_mix(recipe, layer) for layer in run.by_layer()}
    loads = [Load(layer, mixes[layer], kg) for layer, kg in run.by_layer().items()]
    grains = {part.name for part in recipe.parts.all() if part.role in GRAINS}
    wet = {name: share for name, share in moisture.items() if name in grains}
    order = [part.name for part in recipe.parts.all()]
    scales = _scales(weigh_sheet(loads, wet, order=order), shop)
    steps = {name: scale.step_kg for name, scale in scales.items()}
    sheet = weigh_sheet(loads, wet, steps=steps, order=order)
    return {
        "recipe": {"mix": recipe.mix.name, "number": recipe.number},
        "loads": [
            {
                "layer": load.layer,
                "kg": load.kg,
                "m3": sum(part.m3 for part in run.parts if part.layer == load.layer),
                "fibre": load.mix.fibre,
            }
            for load in loads
        ],
        "moisture": wet,
        "lines": [
            asdict(line) | {"unit": scales[line.component.name].unit} for line in sheet.lines
        ],
        "matrix_kg": dict(sheet.matrix_kg),
        "ratios": {name: _numbers(ratio) for name, ratio in sheet.ratios.items()},
        "notes": [
            {"key": n.key, "text": n.text, "basis": n.basis, "figures": dict(n.figures)}
            for n in sheet.notes
        ],
    }


def _scales(sheet: Sheet, shop: Shop) -> dict[str, Scale]:
    """By component: the small scale for pigment, admixture and what is too light for the large one
    to show to its tolerance."""
    large, small = large_scale(shop), small_scale(shop)
    found: dict[str, Scale] = {}
    for line in sheet.lines:
        share, _basis = TOLERANCES[line.component.role]
        light = line.component.role in FINE or large.step_kg / 2 > share * line.exact_kg
        finer = light and small.step_kg < large.step_kg
        found[line.component.name] = small if finer else found.get(line.component.name, large)
    return found


def _numbers(ratio: Ratio) -> list[Any]:
    """JSON has no infinity: what has no bound is null."""
    pairs = [list(map(_finite, pair)) for pair in (ratio.rounding, ratio.tolerance)]
    return [_finite(ratio.exact), _finite(ratio.rounded), *pairs]


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


# Reading.


def sheet_of(run: MixerRun) -> Sheet:
    """The sheet as it was when the run was opened. Raises ValueError for a run without one."""
    return read_sheet(run.sheet)


def read_sheet(frozen: Mapping[str, Any]) -> Sheet:
    if not frozen.get("lines"):
        raise ValueError("this run has no weigh sheet")
    matrix: dict[Layer, float] = {
        layer: frozen["matrix_kg"][layer] for layer in LAYERS if layer in frozen["matrix_kg"]
    }
    return Sheet(
        lines=tuple(_line(row) for row in frozen["lines"]),
        matrix_kg=matrix,
        ratios={name: _ratio(*numbers) for name, numbers in frozen["ratios"].items()},
        notes=tuple(Note(**row) for row in frozen["notes"]),
    )


def _line(row: Mapping[str, Any]) -> Line:
    names = ("layer", "exact_kg", "weigh_kg", "step_kg", "tolerance_kg", "basis")
    return Line(Component(**row["component"]), **{name: row[name] for name in names})


def _ratio(exact: Any, rounded: Any, rounding: Sequence[Any], tolerance: Sequence[Any]) -> Ratio:
    def bound(pair: Sequence[Any]) -> tuple[float, float]:
        return _infinite(pair[0]), _infinite(pair[1])

    return Ratio(_infinite(exact), _infinite(rounded), bound(rounding), bound(tolerance))


def _infinite(value: float | None) -> float:
    return math.inf if value is None else value


def weighed_of(run: MixerRun) -> dict[str, Weighed]:
    """What counts of each line: the last that is not struck."""
    rows = sorted(run.weighed.all(), key=lambda row: row.pk)
    return {row.line: row for row in rows if row.struck_at is None}


def record_of(run: MixerRun) -> Record:
    """What was weighed, held against the sheet. Raises ValueError for a run without a sheet, or
    one of which no cement was weighed."""
    return record_with(run, {line: row.kg for line, row in weighed_of(run).items()})


def record_with(run: MixerRun, weighed: Mapping[str, float]) -> Record:
    return record_weighed(
        sheet_of(run),
        weighed,
        added_water_kg=run.added_water_kg,
        measured=run.unit_weight,
        needed_m3=sum(part["m3"] for part in run.parts) or None,
    )


# Showing.


@dataclass(frozen=True)
class ShownLine:
    """One line as the crew reads it, in the unit of its scale.

    amount, tolerance, deviation are words ('12.35 lb', '± 0.12 lb', '+0.05 lb, +0.4 %'); empty
    deviation and None in within: not weighed yet
    """

    line: Line
    scale: Scale
    weighed: Weighed | None = None

    @property
    def key(self) -> str:
        return self.line.key

    @property
    def name(self) -> str:
        return self.line.component.name

    @property
    def role(self) -> str:
        return self.line.component.role

    @property
    def layer(self) -> str:
        """Of fibre, the layer it is for, in words; empty for the rest."""
        return layer_words(self.line.layer) if self.line.layer else ""

    @property
    def unit(self) -> str:
        return self.scale.unit

    @property
    def digits(self) -> str:
        return self.scale.digits(self.line.weigh_kg)

    @property
    def amount(self) -> str:
        return self.scale.words(self.line.weigh_kg)

    @property
    def step(self) -> str:
        return self.scale.words(self.line.step_kg)

    @property
    def tolerance(self) -> str:
        return f"± {self.scale.words(self.line.tolerance_kg, more=1)}"

    @property
    def basis(self) -> str:
        return self.line.basis

    @cached_property
    def _held(self) -> Weighing:
        return Weighing(self.line, self.weighed.kg if self.weighed else None)

    @property
    def weighed_amount(self) -> str:
        return self.scale.words(self.weighed.kg) if self.weighed else ""

    @property
    def weighed_digits(self) -> str:
        return self.scale.digits(self.weighed.kg).replace("−", "-") if self.weighed else ""

    @property
    def lot(self) -> str:
        return self.weighed.lot if self.weighed else ""

    @property
    def at(self) -> dt.datetime | None:
        return self.weighed.at if self.weighed else None

    @property
    def deviation(self) -> str:
        off, share = self._held.deviation_kg, self._held.deviation
        if off is None or share is None:
            return ""
        return f"{self.scale.signed(off, more=1)}, {signed_percent(share)}"

    @property
    def within(self) -> bool | None:
        return self._held.within


def shown_lines(run: MixerRun, shop: Shop) -> list[ShownLine]:
    """Each line in the unit of the scale the sheet was written for, with what was weighed.

    Empty for a run without a sheet. `shop` is what the sheet falls back on where it names no unit.
    """
    return lines_of(run.sheet, shop, weighed_of(run))


def signed_percent(share: float, decimals: int = 1) -> str:
    """+0.4 %, −1.2 %; nothing has no sign."""
    text = f"{100 * share:+.{decimals}f}"
    return (text if float(text) else text[1:]).replace("-", "−") + " %"


def lines_of(
    frozen: Mapping[str, Any], shop: Shop, weighed: Mapping[str, Weighed] | None = None
) -> list[ShownLine]:
    if not frozen.get("lines"):
        return []
    found = []
    for row in frozen["lines"]:
        line = _line(row)
        scale = Scale(row.get("unit") or shop.scale_unit, line.step_kg)
        found.append(ShownLine(line, scale, (weighed or {}).get(line.key)))
    return found


def usual_lots(lines: Iterable[str]) -> dict[str, str]:
    """The lot last written down for each of these lines, one query: what lies open in the shop."""
    rows = Weighed.objects.filter(line__in=set(lines), struck_at=None).exclude(lot="")
    newest = rows.order_by().values("line").annotate(last=Max("pk")).values("last")
    return dict(Weighed.objects.filter(pk__in=newest).values_list("line", "lot"))
