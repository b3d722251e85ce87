"""What was really weighed, held against the sheet: deviations, ratios, yield.

References
----------
ASTM C138 for yield; ASTM C94/C94M for tolerances (`curing.weigh_sheet`), from memory.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from curing.limits import Note
from curing.mix_checks import Layer
from curing.mixture import Component, Mix
from curing.weigh_sheet import Line, Sheet, ratios_of
from curing.yield_check import batch_yield

__all__ = ["Record", "Weighing", "record_weighed"]

# A deviation is judged to this, beyond its tolerance [kg]: a hundredth of a gram.
CLOSE = 1e-5


@dataclass(frozen=True)
class Weighing:
    """One line of the sheet and what was weighed [kg]; None when it was not written down."""

    line: Line
    kg: float | None

    @property
    def deviation_kg(self) -> float | None:
        """What was weighed beyond what the recipe wants [kg], rounding included."""
        return None if self.kg is None else self.kg - self.line.exact_kg

    @property
    def deviation(self) -> float | None:
        """The same over what the recipe wants [-]."""
        return None if self.kg is None else (self.kg - self.line.exact_kg) / self.line.exact_kg

    @property
    def within(self) -> bool | None:
        """Whether that is within the line's tolerance."""
        off = self.deviation_kg
        return None if off is None else abs(off) <= self.line.tolerance_kg + CLOSE


@dataclass(frozen=True)
class Record:
    """A run as it was weighed. Lines that were not written down count as the sheet has them.

    weighings : in the sheet's order; added_water_kg : all water, ice and later additions beyond it
    total_kg : of all that went in
    ratios : as the sheet's, from what was weighed
    yield_m3 : total over the measured unit weight; None without one
    notes : keys 'weighed-off' (figures kg, exact_kg, tolerance_kg, deviation), 'not-weighed'
        (lines), 'water-added' (kg, water_cement, water_cementitious, before), 'short-yield'
        (yield_m3, needed_m3)
    """

    weighings: tuple[Weighing, ...]
    added_water_kg: float
    total_kg: float
    ratios: Mapping[str, float] = field(hash=False)
    yield_m3: float | None
    notes: tuple[Note, ...]
    matrix_kg: Mapping[Layer, float] = field(hash=False)

    def mix_of(self, layer: Layer) -> Mix:
        """The mix that a layer of this run really got, for checks and absolute volume.

        Raises
        ------
        ValueError
            A layer that this run does not serve.
        """
        if layer not in self.matrix_kg:
            raise ValueError(f"this run makes no {layer}")
        share = self.matrix_kg[layer] / sum(self.matrix_kg.values())
        kept: list[tuple[Component, float]] = []
        for w in self.weighings:
            kg = w.line.weigh_kg if w.kg is None else w.kg
            if w.line.layer is None:
                kept.append((w.line.component, kg * share))
            elif w.line.layer == layer:
                kept.append((w.line.component, kg))
        if self.added_water_kg:
            taken = {c.name for c, _ in kept}
            name = "added water"
            while name in taken:
                name += "'"
            kept.append((Component(name, "water", 0.0), self.added_water_kg * share))
        whole = sum(kg for _, kg in kept)
        return Mix(tuple(c for c, _ in kept), tuple(kg / whole for _, kg in kept))


def record_weighed(
    sheet: Sheet,
    weighed: Mapping[str, float],
    added_water_kg: float = 0.0,
    measured: float | None = None,
    needed_m3: float | None = None,
) -> Record:
    """Hold what was weighed against the sheet.

    weighed : by the lines' keys [kg], 0 or above
    added_water_kg : water, ice and later additions beyond the sheet's water
    measured : unit weight of the fresh mix [kg/m³]
    needed_m3 : that the run was to make, waste included

    Raises
    ------
    ValueError
        A key that is not on the sheet, weights below 0 or not finite, no cement, a unit weight not
        above 0.
    """
    keys = {line.key for line in sheet.lines}
    unknown = sorted(set(weighed) - keys)
    if unknown:
        raise ValueError(f"{', '.join(unknown)}: not on this sheet, which has {sorted(keys)}")
    for key, kg in weighed.items():
        if not 0 <= kg < math.inf:
            raise ValueError(f"{key}: a weight is 0 kg or above, got {kg}")
    if not 0 <= added_water_kg < math.inf:
        raise ValueError(f"added water is 0 kg or above, got {added_water_kg}")
    if needed_m3 is not None and not 0 < needed_m3 < math.inf:
        raise ValueError(f"a needed volume is above 0 m³, got {needed_m3}")
    weighings = tuple(Weighing(line, weighed.get(line.key)) for line in sheet.lines)
    used = [w.line.weigh_kg if w.kg is None else w.kg for w in weighings]
    if not any(
        kg > 0 for w, kg in zip(weighings, used, strict=True) if w.line.component.role == "cement"
    ):
        raise ValueError("no cement was weighed: mend the weights, or strike this run")
    total = sum(used) + added_water_kg
    made = None if measured is None else batch_yield(total, measured)
    record = Record(
        weighings,
        added_water_kg,
        total,
        ratios_of(sheet, used, added_water_kg),
        made,
        (),
        sheet.matrix_kg,
    )
    return replace(record, notes=tuple(_notes(record, sheet, needed_m3)))


def _notes(record: Record, sheet: Sheet, needed_m3: float | None) -> list[Note]:
    notes = [_off(w) for w in record.weighings if w.within is False]
    missing = [w.line.key for w in record.weighings if w.kg is None]
    if missing:
        notes.append(
            Note(
                "not-weighed",
                f"Not written down, and counted as on the sheet: {', '.join(missing)}.",
                "the weigh sheet",
                {"lines": float(len(missing))},
            )
        )
    if record.added_water_kg:
        now, before = record.ratios["water_cementitious"], sheet.ratios["water_cementitious"]
        notes.append(
            Note(
                "water-added",
                f"{record.added_water_kg:.3g} kg of water beyond the sheet: w/cm is {now:.3f} "
                f"instead of {before.exact:.3f}.",
                "free water over cementitious material, ACI 211.1",
                {
                    "kg": record.added_water_kg,
                    "water_cement": record.ratios["water_cement"],
                    "water_cementitious": now,
                    "before": before.exact,
                },
            )
        )
    if needed_m3 is not None and record.yield_m3 is not None and record.yield_m3 < needed_m3:
        notes.append(
            Note(
                "short-yield",
                f"The run made {1000 * record.yield_m3:.3g} L by its weight and unit weight; "
                f"{1000 * needed_m3:.3g} L with waste were wanted.",
                "ASTM C138: yield is weight over unit weight",
                {"yield_m3": record.yield_m3, "needed_m3": needed_m3},
            )
        )
    return notes


def _off(w: Weighing) -> Note:
    off, share = w.deviation_kg or 0.0, w.deviation or 0.0
    return Note(
        "weighed-off",
        f"{w.line.key}: {w.kg:.4g} kg weighed, {abs(off):.3g} kg ({abs(share):.1%}) "
        f"{'over' if off > 0 else 'under'} what the recipe wants; the tolerance is "
        f"{w.line.tolerance_kg:.3g} kg.",
        w.line.basis,
        {
            "kg": w.kg or 0.0,
            "exact_kg": w.line.exact_kg,
            "tolerance_kg": w.line.tolerance_kg,
            "deviation": share,
        },
    )
