"""The weigh sheet of one run: what to put on the scale, in what order, to what step.

A run may serve several layers of one matrix: the matrix is weighed once, the fibre for each layer
by itself, and the sheet says how much matrix each layer takes.

References
----------
ASTM C94/C94M for tolerances of cement, aggregate, water and admixtures, from memory (water as
revised in 2021, read in trade news). Order of adding and the other tolerances: common practice, no
source; a product's data sheet governs.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from curing.limits import Note
from curing.mix_checks import LAYERS, Layer
from curing.mixture import CEMENTITIOUS, GRAINS, Component, Mix, Role
from curing.moist_sand import stock_weights
from curing.sections import above_zero

__all__ = [
    "ORDER",
    "STEPS",
    "TOLERANCES",
    "Line",
    "Load",
    "Ratio",
    "Sheet",
    "ratios_of",
    "weigh_sheet",
]

Array = NDArray[np.float64]

# Liquids first, so that pigment and admixture spread; powders, the finest last; fibre at the end
# and slowly, so that it is not chopped. Common practice, no source.
ORDER: tuple[Role, ...] = (
    "water",
    "polymer",
    "admixture",
    "pigment",
    "sand",
    "aggregate",
    "cement",
    "pozzolan",
    "fibre",
)
# What the scale shows [kg]: pigment and admixture to the gram. Common practice, no source.
STEPS: Mapping[Role, float] = {
    role: 0.001 if role in ("pigment", "admixture") else 0.01 for role in ORDER
}
C94 = "ASTM C94/C94M, from memory"
PRACTICE = "common practice, no source"
# Of the weight wanted, and what it rests on.
TOLERANCES: Mapping[Role, tuple[float, str]] = {
    "water": (0.015, "ASTM C94/C94M as revised in 2021: 1.5 % of the batch water"),
    "polymer": (0.02, PRACTICE),
    "admixture": (0.03, C94),
    "pigment": (0.01, PRACTICE),
    "sand": (0.02, C94),
    "aggregate": (0.02, C94),
    "cement": (0.01, C94),
    "pozzolan": (0.01, C94),
    "fibre": (0.02, PRACTICE),
}


@dataclass(frozen=True)
class Load:
    """What a run makes for one layer: its mix, and its weight with waste [kg].

    Raises
    ------
    ValueError
        A layer that is not known, a weight not above 0.
    """

    layer: Layer
    mix: Mix
    kg: float

    def __post_init__(self) -> None:
        if self.layer not in LAYERS:
            raise ValueError(f"{self.layer!r} is no layer; use one of {', '.join(LAYERS)}")
        above_zero(kg=self.kg)


@dataclass(frozen=True)
class Line:
    """One weighing.

    component : with the moisture at which it lies
    layer : of fibre, the layer it is for; None for the matrix
    exact_kg : what the recipe wants; weigh_kg : the same as the scale shows it; step_kg : of the
    scale; tolerance_kg : either side of exact_kg, never below half a step; basis : of the tolerance
    """

    component: Component
    layer: Layer | None
    exact_kg: float
    weigh_kg: float
    step_kg: float
    tolerance_kg: float
    basis: str

    @property
    def key(self) -> str:
        """The component's name, and for fibre ', ' and its layer."""
        return self.component.name + (f", {self.layer}" if self.layer else "")

    @property
    def error_kg(self) -> float:
        """What rounding adds [kg], at most half a step either way."""
        return self.weigh_kg - self.exact_kg


@dataclass(frozen=True)
class Ratio:
    """A share of the mix as the recipe has it and as it is weighed [-].

    exact, rounded : from the exact and the rounded weights
    rounding : (least, greatest) that rounding to these steps can make of it
    tolerance : (least, greatest) while every weight is within its tolerance
    """

    exact: float
    rounded: float
    rounding: tuple[float, float]
    tolerance: tuple[float, float]


@dataclass(frozen=True)
class Sheet:
    """A run's weighings in the order of adding.

    matrix_kg : of the matrix that each layer takes, before its fibre [kg]
    ratios : 'water_cement', 'water_cementitious', 'polymer', 'pozzolan', 'pigment', and
        'fibre_face', 'fibre_backer', 'fibre_rib' for the layers of this run
    notes : keys 'below-scale' (rounds to nothing) and 'coarse-scale' (half a step is more than the
        tolerance); figures exact_kg, weigh_kg, step_kg, tolerance_kg
    """

    lines: tuple[Line, ...]
    matrix_kg: Mapping[Layer, float] = field(hash=False)
    ratios: Mapping[str, Ratio] = field(hash=False)
    notes: tuple[Note, ...] = ()

    @property
    def exact_kg(self) -> float:
        """What the run weighs by the recipe [kg]."""
        return sum(line.exact_kg for line in self.lines)

    @property
    def weigh_kg(self) -> float:
        """What the run weighs by the sheet [kg]."""
        return sum(line.weigh_kg for line in self.lines)


def weigh_sheet(
    loads: Sequence[Load],
    moisture: Mapping[str, float] | None = None,
    steps: Mapping[str, float] | None = None,
    tolerances: Mapping[str, float] | None = None,
    order: Sequence[str] = (),
) -> Sheet:
    """The weigh sheet of a run.

    loads : a layer each, of one matrix
    moisture : of sands by name as they lie, of dry weight; one that is not named is as written
    steps : of the scale [kg], by component's name or role; else `STEPS`
    tolerances : of the weight, a fraction, by component's name or role; else `TOLERANCES`
    order : components' names that come first, in this order; the rest follow by `ORDER`

    Raises
    ------
    ValueError
        No load, a layer twice, loads of different matrices, a name in `order` that is no component,
        or one in `steps`, `tolerances` that is neither that nor a role; a step not above 0, a
        tolerance not from 0 to 1; what `stock_weights` refuses.
    """
    matrix = _matrix(loads)
    first = loads[0].mix.components
    known = {c.name for c in first}
    _known("the order", order, known)
    _known("scales", steps or {}, known | set(ORDER))
    _known("tolerances", tolerances or {}, known | set(ORDER))

    takes = {load.layer: load.kg * (1 - load.mix.fibre) for load in loads}
    wants = stock_weights(matrix, sum(takes.values()), moisture)
    lines = []
    for c in sorted(first, key=lambda c: _rank(c, order)):
        if c.role == "fibre":
            weights: list[tuple[Layer | None, float]] = [
                (load.layer, load.kg * load.mix.kg[load.mix.components.index(c)])
                for load in sorted(loads, key=lambda load: LAYERS.index(load.layer))
            ]
        else:
            weights = [(None, wants[c.name])]
        lies = c
        if c.role in GRAINS:
            lies = replace(c, written_moisture=(moisture or {}).get(c.name, c.moisture))
        lines += [
            _line(lies, layer, kg, steps or {}, tolerances or {}) for layer, kg in weights if kg > 0
        ]
    found = tuple(lines)
    notes = tuple(note for line in found for note in _line_notes(line))
    exact = np.array([line.exact_kg for line in found])
    rounded = np.array([line.weigh_kg for line in found])
    half = np.array([line.step_kg / 2 for line in found])
    allowed = np.array([line.tolerance_kg for line in found])
    ratios = {}
    for name, (top, under) in _forms(found, takes).items():
        ratios[name] = Ratio(
            float(top @ exact / (under @ exact)),
            _quotient(top @ rounded, under @ rounded),
            _bounds(top, under, exact, half),
            _bounds(top, under, exact, allowed),
        )
    return Sheet(found, takes, ratios, notes)


def ratios_of(sheet: Sheet, weights: Sequence[float], added_water: float = 0.0) -> dict[str, float]:
    """The sheet's ratios from other weights [-], by the same names.

    weights : (n,) for the sheet's n lines [kg], 0 or above; added_water : beyond them [kg]

    Raises
    ------
    ValueError
        Another number of weights, weights below 0 or not finite.
    """
    kg = np.asarray(weights, dtype=float)
    if kg.shape != (len(sheet.lines),):
        raise ValueError(f"{len(sheet.lines)} lines need as many weights, got {kg.size}")
    if not (np.isfinite(kg).all() and (kg >= 0).all() and 0 <= added_water < math.inf):
        raise ValueError("weights must be finite and 0 kg or above")
    found = {}
    for name, (top, under) in _forms(sheet.lines, sheet.matrix_kg).items():
        more = added_water if name.startswith("water_") else 0.0
        if name.startswith("fibre_"):
            # The water goes into the matrix, of which the layer takes its share.
            share = sheet.matrix_kg[_layer_of(name)] / sum(sheet.matrix_kg.values())
            found[name] = _quotient(top @ kg, under @ kg + added_water * share)
        else:
            found[name] = _quotient(top @ kg + more, under @ kg)
    return found


def _matrix(loads: Sequence[Load]) -> Mix:
    """The matrix that all loads share, without its fibre."""
    if not loads:
        raise ValueError("a run needs something to make: give a layer with its weight")
    if len({load.layer for load in loads}) < len(loads):
        raise ValueError("a layer is given twice: add its weights up")

    def bare(mix: Mix) -> Mix:
        pairs = zip(mix.components, mix.kg, strict=True)
        kept = [(c, kg / (1 - mix.fibre)) for c, kg in pairs if c.role != "fibre"]
        return Mix(tuple(c for c, _ in kept), tuple(kg for _, kg in kept))

    first = bare(loads[0].mix)
    for load in loads[1:]:
        other = bare(load.mix)
        if load.mix.components != loads[0].mix.components or not np.allclose(
            other.kg, first.kg, rtol=1e-6, atol=1e-9
        ):
            raise ValueError(
                f"{load.layer} and {loads[0].layer} are not of one matrix: mix them in runs of "
                "their own"
            )
    return first


def _known(what: str, names: Mapping[str, float] | Sequence[str], known: set[str]) -> None:
    unknown = sorted(set(names) - known)
    if unknown:
        raise ValueError(f"{what}: {', '.join(unknown)} is not in this recipe")


def _rank(c: Component, order: Sequence[str]) -> tuple[int, int]:
    if c.name in order:
        return 0, list(order).index(c.name)
    return 1, ORDER.index(c.role)


def _line(
    c: Component,
    layer: Layer | None,
    kg: float,
    steps: Mapping[str, float],
    tolerances: Mapping[str, float],
) -> Line:
    step = steps.get(c.name, steps.get(c.role, STEPS[c.role]))
    above_zero(**{f"the scale's step for {c.name}": step})
    share, basis = TOLERANCES[c.role]
    own = tolerances.get(c.name, tolerances.get(c.role))
    if own is not None:
        share, basis = own, "set by the shop"
    if not 0 <= share <= 1:
        raise ValueError(f"{c.name}: a tolerance is a fraction from 0 to 1, got {share}")
    # Halves go up; the last digit of the division is not taken for a half.
    weigh = round(math.floor(kg / step + 0.5 + 1e-9) * step, 9)
    return Line(c, layer, kg, weigh, step, max(share * kg, step / 2), basis)


def _line_notes(line: Line) -> list[Note]:
    figures = {
        "exact_kg": line.exact_kg,
        "weigh_kg": line.weigh_kg,
        "step_kg": line.step_kg,
        "tolerance_kg": line.tolerance_kg,
    }
    wanted = f"{line.key}: {1000 * line.exact_kg:.3g} g on a scale that shows "
    wanted += f"{1000 * line.step_kg:.3g} g"
    if line.weigh_kg == 0:
        text = f"{wanted} rounds to nothing. Use a finer scale or a larger run."
        return [Note("below-scale", text, line.basis, figures)]
    if line.tolerance_kg <= line.step_kg / 2:
        text = f"{wanted} can be off by more than the tolerance. Use a finer scale."
        return [Note("coarse-scale", text, line.basis, figures)]
    return []


def _forms(lines: Sequence[Line], takes: Mapping[Layer, float]) -> dict[str, tuple[Array, Array]]:
    """Each ratio as two weightings of the lines: over, under."""

    def of(*roles: Role) -> Array:
        return np.array([float(line.component.role in roles) for line in lines])

    def solids(role: Role) -> Array:
        return of(role) * [line.component.solids for line in lines]

    water = np.array([line.component.free_water() for line in lines])
    cement, cementitious = of("cement"), of(*CEMENTITIOUS)
    forms = {
        "water_cement": (water, cement),
        "water_cementitious": (water, cementitious),
        "polymer": (solids("polymer"), cement),
        "pozzolan": (of("pozzolan"), cementitious),
        "pigment": (solids("pigment"), cement),
    }
    whole = sum(takes.values())
    for layer, kg in takes.items():
        fibre = np.array([float(line.layer == layer) for line in lines])
        matrix = np.array([float(line.layer is None) for line in lines])
        forms[f"fibre_{layer}"] = (fibre, fibre + matrix * kg / whole)
    return forms


def _layer_of(name: str) -> Layer:
    return next(layer for layer in LAYERS if name == f"fibre_{layer}")


def _quotient(top: float, under: float) -> float:
    return float(top / under) if under > 0 else math.inf


def _bounds(top: Array, under: Array, kg: Array, off: Array) -> tuple[float, float]:
    """Bounds of the ratio while each weight is off by no more than `off`, none below 0.

    Over and under are bounded each by itself: exact where no weight is in both, else wider.
    """
    least, greatest = np.maximum(kg - off, 0), kg + off
    low = np.where(top >= 0, top * least, top * greatest).sum()
    high = np.where(top >= 0, top * greatest, top * least).sum()
    small, large = float(under @ least), float(under @ greatest)
    return (
        _quotient(low, large if low >= 0 else small),
        _quotient(high, small if high >= 0 else large),
    )
